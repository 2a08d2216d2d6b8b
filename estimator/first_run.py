"""Set-up and first run with nothing but Python: `python3 -m estimator.first_run demo` or `... tests`.

Makes .venv beside the project, installs the locked packages and the project into it, then runs the main job or the
tests there. Everything here is standard library, since nothing else is installed yet. It can be run again at any
time: the set-up is skipped while the lock file and the project file are unchanged.
"""

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"
OLDEST_PYTHON = (3, 11)
# Shared libraries that the wheels expect of the system, and Debian's and Ubuntu's packages that bring them.
PACKAGE_OF_LIBRARY = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libxcb.so.1": "libxcb1",
    "libX11.so.6": "libx11-6",
    "libgomp.so.1": "libgomp1",
    "libstdc++.so.6": "libstdc++6",
}
# The imports that load those libraries, without the slow rest of the program.
NATIVE_IMPORTS = "import cv2, simplejpeg, pi_heif, rawpy, imagecodecs, typst"


class SetUpError(Exception):
    """The set-up can't go on; the text says what is missing and how to get it."""


def main(words: list[str]) -> int:
    """Set up if need be, then run what was asked for. Returns the exit code."""
    if not words or words[0] not in ("demo", "tests"):
        print("Say what to run:  python3 -m estimator.first_run demo   or   python3 -m estimator.first_run tests")
        return 2
    try:
        set_up()
    except SetUpError as problem:
        print(f"\n{problem}", file=sys.stderr)
        return 1
    # A worker for each core, but no crowd: some tests start a browser or a database server of their own.
    in_parallel = ["-n", "auto", "--maxprocesses", "8"]
    command = ["-m", "estimator", "demo"] if words[0] == "demo" else ["-m", "pytest", *in_parallel]
    return subprocess.run([str(python_inside()), *command, *words[1:]], cwd=ROOT, check=False).returncode


def set_up() -> None:
    """Leave a virtual environment that holds exactly what the lock file names."""
    if sys.version_info < OLDEST_PYTHON:
        have = ".".join(map(str, sys.version_info[:3]))
        raise SetUpError(f"Tressmeter needs Python 3.11 or newer; this is {have}. Run it with a newer python3.")
    stamp = ENVIRONMENT / "locked.sha256"
    wanted = lock_digest()
    if stamp.exists() and stamp.read_text().strip() == wanted and python_inside().exists():
        return
    print("Setting up once: a virtual environment in .venv and the locked packages (about 1.5 GB) ...", flush=True)
    make_environment()
    pip("install", "--requirement", "requirements.lock", "--require-hashes")
    pip("install", "--no-deps", "--no-build-isolation", "--editable", ".")
    check_system_libraries()
    stamp.write_text(wanted + "\n")


def lock_digest() -> str:
    """SHA-256 over the files that decide what is installed, and over the Python that installs it."""
    parts = [(ROOT / name).read_bytes() for name in ("requirements.lock", "pyproject.toml")]
    return hashlib.sha256(b"\0".join([*parts, sys.version.encode(), str(ROOT).encode()])).hexdigest()


def make_environment() -> None:
    try:
        venv.create(ENVIRONMENT, with_pip=True, clear=True)
    except (subprocess.CalledProcessError, ModuleNotFoundError) as problem:
        version = f"{sys.version_info[0]}.{sys.version_info[1]}"
        raise SetUpError(
            f"Python can't make a virtual environment here. On Debian or Ubuntu: apt install python{version}-venv"
        ) from problem
    except OSError as problem:
        why = problem.strerror
        raise SetUpError(f"The folder {ROOT} can't be written ({why}). Copy the project to one that can.") from problem


def python_inside() -> Path:
    return ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def pip(*words: str) -> None:
    command = [str(python_inside()), "-m", "pip", "--quiet", "--disable-pip-version-check", *words]
    surroundings = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore"}
    if subprocess.run(command, cwd=ROOT, env=surroundings, check=False).returncode != 0:
        raise SetUpError(
            "The packages could not be installed (see the lines above). Check the connection and the free space, "
            "then run the same command again. Once installed, Tressmeter needs no network."
        )


def check_system_libraries() -> None:
    """Say which system packages are missing, all at once where the loader tells."""
    missing: list[str] = []
    for module in NATIVE_IMPORTS.removeprefix("import ").split(", "):
        tried = subprocess.run(
            [str(python_inside()), "-c", f"import {module}"], cwd=ROOT, check=False, capture_output=True, text=True
        )
        if tried.returncode:
            missing.append(package_for(module, tried.stderr))
    if missing:
        names = " ".join(dict.fromkeys(missing))
        raise SetUpError(f"System packages are missing. On Debian or Ubuntu: apt install {names}")


def package_for(module: str, loader_message: str) -> str:
    """Debian's package for the library that `loader_message` names; the message itself where none is known."""
    for library, package in PACKAGE_OF_LIBRARY.items():
        if library in loader_message:
            return package
    last_line = loader_message.strip().splitlines()[-1] if loader_message.strip() else "unknown reason"
    raise SetUpError(f"The package {module} does not load: {last_line}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
