"""The shape of the program: imports go one way, and slow libraries stay off the path from photo to numbers."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Each part may import itself and what stands before it, never what stands after.
ORDER = (
    "calibration",
    "estimator.errors",
    "estimator.plain_files",
    "estimator.spreadsheet_cells",
    "estimator.synced_folders",
    "estimator.whole_files",
    "estimator.one_writer",
    "estimator.zones",
    "estimator.reading",
    "estimator.scale",
    "estimator.care",
    "estimator.toning",
    "estimator.lifting",
    "estimator.feedback",
    "estimator.scene",
    "estimator.scene_rows",
    "estimator.records",
    "estimator.access",
    "estimator.reports",
    "estimator.files",
    "estimator.salon_settings",
    "estimator.visit",
    "estimator.remote",
    "estimator.intake",
    "estimator.exchange",
    "estimator.visit_entries",
    "estimator.visit_file",
    "estimator.lift_file",
    "estimator.lift_arguments",
    "estimator.keeping",
    "estimator.batch",
    "estimator.pages",
    "estimator.serving",
    "estimator.console",
    "estimator.lift_console",
    "estimator.remote_console",
    "estimator.commands",
    "estimator.cli",
)
INSIDE_CALIBRATION = (
    "calibration.findings",
    "calibration.errors",
    "calibration.photo",
    "calibration.colourspaces",
    "calibration.transfer",
    "calibration.formats",
    "calibration.sniffing",
    "calibration.profiles",
    "calibration.opening",
    "calibration.private_tags",
    "calibration.thresholds",
    "calibration.cards",
    "calibration.corrected",
    "calibration.correcting",
    "calibration.references",
    "calibration.judging",
    "calibration.ways",
    "calibration.pipeline",
    "calibration.measuring_print",
    "calibration.station",
    "calibration.correction_rows",
)


def _module_name(path: Path) -> str:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    return name.removesuffix(".__init__")


@cache
def _imports(path: Path) -> frozenset[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: imports are written in full"
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return frozenset(found)


def _place(module: str, order: tuple[str, ...]) -> int | None:
    places = [rank for rank, part in enumerate(order) if module == part or module.startswith(part + ".")]
    return max(places) if places else None


def _modules(*folders: str) -> list[Path]:
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


@pytest.mark.parametrize("order", [ORDER, INSIDE_CALIBRATION], ids=["packages", "inside calibration"])
def test_imports_go_one_way(order):
    backwards = []
    for path in _modules("calibration", "estimator"):
        mine = _place(_module_name(path), order)
        for imported in _imports(path):
            theirs = _place(imported, order)
            if mine is not None and theirs is not None and theirs > mine:
                backwards.append(f"{_module_name(path)} imports {imported}")
    assert not backwards


def test_calibration_knows_nothing_of_hair():
    assert not [path for path in _modules("calibration") if any(i.startswith("estimator") for i in _imports(path))]


def test_only_pages_and_the_door_know_the_page_library():
    users = [_module_name(path) for path in _modules("calibration", "estimator") if "streamlit" in _imports(path)]
    assert all(user.startswith(("estimator.pages", "estimator.serving")) for user in users), users


@pytest.mark.slow
def test_from_photo_to_numbers_nothing_slow_is_imported():
    # colour takes seconds and scipy.optimize most of one to import: neither may stand between a photo and its table.
    script = (
        "import sys, estimator.visit, estimator.scene\n"
        "slow = ('colour', 'scipy.optimize', 'streamlit', 'matplotlib', 'skimage')\n"
        "print([name for name in slow if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_the_chart_finder_is_the_one_we_rely_on():
    # A package that pins OpenCV 4 would take the finder away without a word.
    import cv2

    assert cv2.__version__.startswith("5.")
    assert hasattr(cv2, "mcc")


def test_top_level_holds_what_was_agreed():
    ran = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if ran.returncode:
        pytest.skip("not a git checkout: the list of files is not known")
    visible = {line.split("/")[0] for line in ran.stdout.splitlines() if not line.startswith(".")}
    assert visible <= {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "estimator", "app.py", "calibration", "tests",
        "sample_images", "docs", "LICENSE", "requirements.lock",
    }  # fmt: skip


def test_python_sources_pass_the_linter():
    ran = subprocess.run([sys.executable, "-m", "ruff", "check", "."], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout


@pytest.mark.slow
def test_both_packages_pass_the_strict_type_checker():
    ran = subprocess.run([sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout
