"""Entries of a visit file beyond the photographs: zones that differ, dates, the lift and its test strands."""

import datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from estimator.lifting.laying import WHOLE

STRICT = ConfigDict(frozen=True, extra="forbid")
MOST_PHOTOS = 60  # of one test strand
Name = Annotated[str, Field(min_length=1, max_length=80)]
Minute = Annotated[float, Field(ge=0, le=240, allow_inf_nan=False)]
LevelNumber = Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)]


class ZoneInFile(BaseModel):
    """What one zone has otherwise than the head, and where along its length a lightener is laid."""

    model_config = STRICT
    facts: dict[str, Any] = {}
    laid: str = WHOLE


class DatesInFile(BaseModel):
    """Dates that run out, and from which reminders follow. A time without a zone is the salon's own."""

    model_config = STRICT
    visit_at: datetime.datetime | None = None
    patch_tested_at: datetime.datetime | None = None
    strand_tested_at: datetime.datetime | None = None
    lightened_at: datetime.datetime | None = None


class StrandInFile(BaseModel):
    """One test strand: photographs and looks by eye at known minutes, and the mix that it was tested with.

    zone : Whose hair it is. photos, looks : (file, minute) and (minute, level). outline : Zones file for the photos.
    """

    model_config = STRICT
    zone: Name
    photos: Annotated[tuple[tuple[Name, Minute], ...], Field(max_length=MOST_PHOTOS)] = ()
    looks: Annotated[tuple[tuple[Minute, LevelNumber], ...], Field(max_length=MOST_PHOTOS)] = ()
    outline: str | None = None
    outlined_as: str = ""
    developer_volume: Annotated[float, Field(gt=0, le=40, allow_inf_nan=False)]
    start_level: LevelNumber | None = None
    stretch: str | None = None
    heat: str | None = None


class LiftInFile(BaseModel):
    """The lift of a visit; its targets are those of the toner."""

    model_config = STRICT
    additive_percent: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] = 0.0
    card_pitch_mm: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    strand: tuple[StrandInFile, ...] = ()
