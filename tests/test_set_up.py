"""The set-up: the lock holds exact versions and no addresses, and a missing system library is named as a package."""

import re
import tomllib
from pathlib import Path

import pytest

from estimator import first_run

ROOT = Path(__file__).resolve().parent.parent
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")


def test_lock_names_exact_versions_with_hashes_and_no_addresses():
    assert "://" not in LOCK
    requirements = re.split(r"\n(?=\S)", LOCK.strip())
    assert all(re.match(r"[a-zA-Z0-9._\[\]-]+==\S+", requirement) for requirement in requirements)
    assert all("--hash=sha256:" in requirement for requirement in requirements)


def test_lock_holds_every_package_the_project_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = project["dependencies"] + project["optional-dependencies"]["dev"]
    locked = {name.lower().replace("_", "-") for name in re.findall(r"^([a-zA-Z0-9._-]+)==", LOCK, re.MULTILINE)}
    names = {re.match(r"[a-zA-Z0-9._-]+", entry).group().lower().replace("_", "-") for entry in asked}
    assert names <= locked


def test_missing_system_library_is_named_as_the_package_that_brings_it():
    # The loader's own words (glibc), as Python repeats them.
    message = "ImportError: libGL.so.1: cannot open shared object file: No such file or directory"
    assert first_run.package_for("cv2", message) == "libgl1"


def test_an_unknown_loader_fault_is_told_as_it_stands():
    with pytest.raises(first_run.SetUpError, match="undefined symbol"):
        first_run.package_for("cv2", "ImportError: undefined symbol: frobnicate")


def test_old_python_is_refused_in_a_sentence(monkeypatch, capsys):
    monkeypatch.setattr(first_run, "OLDEST_PYTHON", (99, 0))
    assert first_run.main(["demo"]) == 1
    assert "needs Python" in capsys.readouterr().err


def test_set_up_is_skipped_while_the_lock_is_unchanged(monkeypatch, tmp_path):
    python = tmp_path / "bin" / "python"
    python.parent.mkdir()
    python.touch()
    (tmp_path / "locked.sha256").write_text(first_run.lock_digest())
    monkeypatch.setattr(first_run, "ENVIRONMENT", tmp_path)
    monkeypatch.setattr(first_run, "make_environment", lambda: pytest.fail("set up again"))
    first_run.set_up()


def test_first_run_uses_only_what_python_brings():
    # It runs before anything is installed.
    import ast
    import sys

    tree = ast.parse((ROOT / "estimator" / "first_run.py").read_text(encoding="utf-8"))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in imported} <= set(sys.stdlib_module_names)
