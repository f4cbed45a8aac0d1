"""The order in which the help lists commands: by how often they are used, never by alphabet."""

from __future__ import annotations

GROUPS = (
    ("Every day", ("today", "log", "note", "find", "brief", "read", "undo")),
    ("Notes to fix", ("queue", "retry", "rewrite", "compare", "merge", "history", "map")),
    (
        "Where you stand",
        ("standing", "forecast", "sitting", "mixups", "reasons", "certainty", "gaps"),
    ),
    ("Weeks ahead", ("plan", "reread", "draw", "rota", "calendar")),
    ("Take away", ("print", "carry", "serve", "chart")),
    ("The base", ("new", "rename", "check", "pack", "unpack", "graph", "items", "help")),
)
"""Headings, each with its commands."""
