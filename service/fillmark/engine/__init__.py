"""What is true about a job: events in, state and outputs out. Pure."""
