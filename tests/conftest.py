"""For every test: no salon of whoever runs them is touched."""

import os
import tempfile

os.environ["TRESSMETER_SALON"] = tempfile.mkdtemp(prefix="tressmeter-tests-")
os.environ.pop("TRESSMETER_DATABASE", None)
