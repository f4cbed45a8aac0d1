"""missbook: short revision notes linked to the exam questions that were missed."""

import os

__version__ = "0.1.0"

# Before NumPy is imported: over matrices of fifty rows, waiting for each other costs its threads
# several times what the work does.
for _library in ("OPENBLAS", "MKL", "VECLIB"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
