"""What one salon keeps beside its records: its settings in `salon.toml`, and the one running clock."""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from estimator.care.questions import FACT_TABLE
from estimator.errors import BadInputError
from estimator.files import write_text
from estimator.lifting.clock_store import ClockStore
from estimator.records.beside import salon_clock
from estimator.records.place import SETTINGS_FILE, usual_folder

_DAYS = "patch_valid_days"


@dataclass(frozen=True)
class SalonSettings:
    """patch_valid_days : For how long the salon accepts a clear patch test; the maker's text stands above it."""

    patch_valid_days: float = 7.0

    def __post_init__(self) -> None:
        if fault := FACT_TABLE.specs[_DAYS].fault_of(self.patch_valid_days):
            raise BadInputError(fault)


def load_settings(folder: Path) -> SalonSettings:
    """What the salon of this folder has set; what is usual where it has set nothing. Raises BadInputError."""
    written = tomllib.loads(_text(folder))
    days = written.get(_DAYS, SalonSettings.patch_valid_days)
    if isinstance(days, bool) or not isinstance(days, int | float):
        raise BadInputError(f"{_DAYS} in {SETTINGS_FILE} is {days!r}. Write a number of days, such as 7.")
    return SalonSettings(float(days))


def keep_patch_valid_days(folder: Path, days: float) -> SalonSettings:
    """The settings with these days, on disk; every other line of the file stays. Raises BadInputError, OutputError."""
    settings, line = SalonSettings(days), f"{_DAYS} = {days:g}"
    text = _text(folder)
    if re.search(rf"^{_DAYS}\s*=", text, re.MULTILINE):
        text = re.sub(rf"^{_DAYS}\s*=.*$", line, text, flags=re.MULTILINE)
    else:
        # Before all else: behind the head of a table the line would belong to that table.
        text = f"{line}\n{text}"
    write_text(folder / SETTINGS_FILE, text)
    return settings


def _text(folder: Path) -> str:
    path = folder / SETTINGS_FILE
    try:
        text = path.read_text(encoding="utf-8")
        tomllib.loads(text)
    except FileNotFoundError:
        return ""
    except (OSError, ValueError, RecursionError) as problem:
        raise BadInputError(f"{path} can't be read: {problem}. Mend it, or move it away.") from problem
    return text


def clock_store(folder: Path | None = None) -> ClockStore:
    """The running clock of the salon in this folder; of the usual one where None."""
    return salon_clock(folder or usual_folder())
