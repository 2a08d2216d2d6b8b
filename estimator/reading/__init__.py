"""The colour of a zone as a flat tress would read in an instrument, with its covariance."""
