"""The lift: what lightening will do to a strand, what it needs, and the clock that watches it."""
