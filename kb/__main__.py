"""Run missbook: `missbook` and `python -m kb` begin here."""

import gc

GC_THRESHOLD = 2_000_000
"""New objects between two runs of the garbage collector. A command makes many records that live
until its end, a million of a large base; at Python's own 700 the runs cost a quarter of the time it
takes to read a base."""

gc.set_threshold(GC_THRESHOLD)  # before the imports, which make many objects too

from kb.cli import main  # noqa: E402


def run() -> None:
    """Do what the command line says."""
    try:
        main(prog_name="missbook")
    finally:
        gc.freeze()  # or Python looks for garbage among all objects once more before it ends


if __name__ == "__main__":
    run()
