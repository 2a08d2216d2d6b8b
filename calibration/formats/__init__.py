"""One module per kind of picture file: what its header says, and its pixels; nothing here knows of light or cards."""
