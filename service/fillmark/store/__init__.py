"""The log: append-only, in one order, the only truth."""
