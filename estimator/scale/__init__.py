"""Level and remaining warmth, each with a nine-in-ten interval."""
