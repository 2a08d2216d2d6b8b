"""How long the command takes to say its help, beside an empty Python and the bare command-line library."""

import subprocess
import sys

from tests.benchmarks.timing import median_seconds


def main() -> None:
    rows = {
        "an empty Python": [sys.executable, "-c", "pass"],
        "importing typer": [sys.executable, "-c", "import typer"],
        "tressmeter --help": [sys.executable, "-m", "estimator", "--help"],
    }
    for name, command in rows.items():
        taken = median_seconds(lambda command=command: subprocess.run(command, capture_output=True, check=True), 20)
        print(f"{name:20} {taken:.3f} s")
