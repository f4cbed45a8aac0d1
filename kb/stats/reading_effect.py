"""Does reading a note work: how many of the misses at risk it takes away."""

from __future__ import annotations

# Own starting value: half of what is at risk on a note is taken to be won back by reading it,
# until the learner's own retries say otherwise.
PRIOR_FRACTION = 0.5
