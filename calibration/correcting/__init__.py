"""Correction models, and the choice among them by patches that the fit did not see."""
