"""The names of a base's settings files, and of its folder of exports."""

from __future__ import annotations

EXAM, STUDY, GLOSSARY = "exam.yaml", "study.yaml", "glossary.yaml"
EXPORTS = "exports"
"""The one folder in a base into which commands write files for other programs."""
