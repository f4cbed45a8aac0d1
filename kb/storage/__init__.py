"""The only code that writes to the user's disk, and what is derived from the base."""
