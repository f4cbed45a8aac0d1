"""Records, ids, errors and names that every other folder may use; nothing here imports kb."""
