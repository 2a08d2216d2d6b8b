"""From trustworthy colour to level, warmth, plan, record and report. The verbs of a visit are in `estimator.visit`."""
