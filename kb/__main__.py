"""Run missbook: `missbook` and `python -m kb` begin here."""

import os
import sys


def run() -> None:
    """Begin what can go on while the rest is loaded, then do what the command line says."""
    from kb.storage.ahead import set_out

    set_out(sys.argv[1:], os.environ)
    from kb.cli import main

    main(prog_name="missbook")


if __name__ == "__main__":
    run()
