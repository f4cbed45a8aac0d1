"""Foreign text -> drafts and problems, one file for each format."""
