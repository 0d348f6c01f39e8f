"""The stock: what is in which container, across jobs. A fold of its own entries in the log, joined with the jobs."""
