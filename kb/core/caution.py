"""What every page, print and export says first."""

from __future__ import annotations

CAUTION = (
    "Revision notes for an exam, not advice for care: follow current local guidelines and the"
    " formulary; licensed practice decides. Never record anything that identifies a patient."
)
