"""A visit as a file: what the colourist photographed, knows and wants, in one TOML document that a person can write."""

import datetime
import tomllib
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from estimator.errors import BadInputError

_STRICT = ConfigDict(frozen=True, extra="forbid")
_Name = Annotated[str, Field(min_length=1, max_length=80)]


class HairInFile(BaseModel):
    """What the hair of one zone is like, for grams and minutes."""

    model_config = _STRICT
    length_cm: Annotated[float, Field(gt=0, le=200, allow_inf_nan=False)] = 30.0
    strand_diameter: str = "medium"
    density: str = "medium"
    porosity: str = "normal"


class TargetInFile(BaseModel):
    """What one zone should become."""

    model_config = _STRICT
    level: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)]
    tone: str


class VisitFile(BaseModel):
    """One visit, as written down. Paths are relative to the file itself."""

    model_config = _STRICT
    salon: _Name = "Salon"
    client: _Name = "Client"
    date: datetime.date
    demo: bool = False
    before: str
    zones: str | None = None
    after: str | None = None
    after_zones: str | None = None
    shelf: str | None = None
    max_bowls: Annotated[int, Field(ge=1, le=6)] = 2
    facts: dict[str, Any] = {}
    hair: HairInFile = HairInFile()
    hair_of_zone: dict[str, HairInFile] = {}
    targets: dict[str, TargetInFile] = {}


def load_visit_file(path: Path) -> VisitFile:
    """The visit written in `path`.

    Raises
    ------
    BadInputError : The file is missing, is not TOML, or an entry is unknown or out of range; every fault is named.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as problem:
        raise BadInputError(f"The visit file {path.name} can't be read. Check its path; it must be text.") from problem
    except tomllib.TOMLDecodeError as problem:
        raise BadInputError(f"The visit file {path.name} is not valid TOML: {problem}. Mend that line.") from problem
    try:
        return VisitFile.model_validate(document)
    except ValidationError as problem:
        faults = "; ".join(f"{'.'.join(map(str, fault['loc']))}: {fault['msg']}" for fault in problem.errors())
        raise BadInputError(f"The visit file {path.name} has entries that can't be used: {faults}.") from problem
