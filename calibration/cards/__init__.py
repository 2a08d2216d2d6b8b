"""Reference cards: what they look like, where they lie in a photograph, what colour their patches have there."""
