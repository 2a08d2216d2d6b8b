"""`python -m tests.benchmarks NAME`: ratios measured side by side in one run. Benchmarks, not timed tests."""

import importlib
import sys
from pathlib import Path

PARTS = {"__main__", "timing", "scenes"}  # what the benchmarks share
NAMES = sorted({path.stem for path in Path(__file__).parent.glob("*.py")} - PARTS)

if len(sys.argv) < 2 or sys.argv[1] not in NAMES:
    sys.exit(f"Say which benchmark: {', '.join(NAMES)}")
importlib.import_module(f"tests.benchmarks.{sys.argv[1]}").main()
