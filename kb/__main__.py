"""Run missbook: `missbook` and `python -m kb` begin here."""

from kb.cli import main


def run() -> None:
    """Do what the command line says."""
    main(prog_name="missbook")


if __name__ == "__main__":
    run()
