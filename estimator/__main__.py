"""`python -m estimator` is the command `tressmeter`."""

from estimator.cli import main

main()
