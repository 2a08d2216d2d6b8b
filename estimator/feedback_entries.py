"""Entries of a visit file on what results teach: strand trials, and what was really done to each zone."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

STRICT = ConfigDict(frozen=True, extra="forbid")
Name = Annotated[str, Field(min_length=1, max_length=80)]
Parts = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]
Minutes = Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)]


class TrialInFile(BaseModel):
    """A test strand toned with a mix for known minutes.

    zone : Of the head that it stands for: its hair, and its reading before where `before` names no photograph.
    photo, outline, outlined_as : The strand after, its outline, and the outline's name where that is not the zone's.
    before, before_outline : The strand before, where it was photographed apart.
    """

    model_config = STRICT
    zone: Name
    photo: Name
    outline: Name
    outlined_as: str = ""
    before: str | None = None
    before_outline: str | None = None
    parts: Annotated[dict[Name, Parts], Field(min_length=1, max_length=12)]
    minutes: Minutes


class DoneInFile(BaseModel):
    """What was really done to one zone: minutes on the hair, and the mix where it was not the plan's bowl."""

    model_config = STRICT
    minutes: Minutes
    parts: Annotated[dict[Name, Parts], Field(max_length=12)] = {}
