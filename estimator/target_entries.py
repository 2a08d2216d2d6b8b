"""Targets of a visit file: in words, like another zone, a place on a photograph, or as light as possible."""

from pathlib import Path
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from estimator import visit
from estimator.files import load_photo
from estimator.scale.level import LevelScale
from estimator.zones.outline import Setting

_STRICT = ConfigDict(frozen=True, extra="forbid")
_Pixels = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)]


class PickedInFile(BaseModel):
    """A place that was pointed at on a photograph with a card in it. radius : Of the spot. [px]"""

    model_config = _STRICT
    photo: str
    x: _Pixels
    y: _Pixels
    radius: Annotated[float, Field(ge=1, le=10_000, allow_inf_nan=False)]
    setting: Setting = Setting.HEAD


class TargetInFile(BaseModel):
    """What one zone should become, in exactly one of four ways."""

    model_config = _STRICT
    level: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)] | None = None
    tone: str = ""
    like: str = ""
    picked: PickedInFile | None = None
    no_warmer_than: str = ""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        in_words = self.level is not None or bool(self.tone)
        ways = sum([in_words, bool(self.like), self.picked is not None, bool(self.no_warmer_than)])
        if ways != 1 or (in_words and (self.level is None or not self.tone)):
            raise ValueError("give level and tone, or like, or picked, or no_warmer_than, and only one of them")
        return self

    def wish(self, folder: Path, scale: LevelScale | None) -> visit.TargetWish:
        """The wish, with the colour that was picked read from its photograph in `folder`."""
        found = None
        if self.picked is not None:
            spot = (self.picked.x, self.picked.y, self.picked.radius)
            read = visit.pick_colour(load_photo(folder / self.picked.photo), spot, scale, self.picked.setting)
            found = visit.PickedColour(read, f"on {self.picked.photo}")
        return visit.TargetWish(self.level, self.tone, self.like, found, self.no_warmer_than)
