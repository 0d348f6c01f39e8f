"""The agent's edge: from what a device says to records of a channel. Every driver of a real device ends here."""
