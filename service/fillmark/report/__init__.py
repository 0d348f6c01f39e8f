"""The job record for people: a pure function of the log. The same log gives the same bytes on every machine."""
