"""What may not be done, what must be tested first: judged from facts before any recipe exists."""
