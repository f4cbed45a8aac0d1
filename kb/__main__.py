"""Run missbook as a module: python -m kb."""

from kb.cli import main

main(prog_name="missbook")
