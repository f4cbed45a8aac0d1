"""Statistics of one learner: attempts in, numbers out. Nothing here reads a file or a clock."""
