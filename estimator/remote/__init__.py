"""A consultation from a client's own photographs: taken out of what was sent, sorted, judged, read, and answered."""
