"""The names of a base's settings files."""

from __future__ import annotations

EXAM, STUDY, GLOSSARY = "exam.yaml", "study.yaml", "glossary.yaml"
