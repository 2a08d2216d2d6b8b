"""One file per screen: widgets in, estimator.visit called, values shown."""
