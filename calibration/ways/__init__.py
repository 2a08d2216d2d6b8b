"""The ways from a photograph to its colours, one module for each kind of reference; `pipeline` knows their order."""
