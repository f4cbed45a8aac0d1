"""Run missbook: `missbook` and `python -m kb` begin here."""

import gc

from kb.cli import main


def run() -> None:
    """Do what the command line says."""
    try:
        main(prog_name="missbook")
    finally:
        gc.freeze()  # or Python looks for garbage among all objects once more before it ends


if __name__ == "__main__":
    run()
