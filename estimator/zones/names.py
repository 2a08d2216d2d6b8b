"""The trade's names for zones: offered on the page, never demanded."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources


@dataclass(frozen=True)
class ZoneName:
    """A zone of the head as the trade names it."""

    name: str
    borders: str
    look_out: str
    source: str

    def __post_init__(self) -> None:
        if not all((self.name, self.borders, self.look_out, self.source)):
            raise ValueError(f"The zone name {self.name!r} needs its borders, what to look out for, and a source.")


@cache
def zone_names() -> tuple[ZoneName, ...]:
    """The trade's zones, front to back."""
    text = resources.files("estimator.zones").joinpath("tables", "zone_names.toml").read_text(encoding="utf-8")
    return tuple(ZoneName(**row) for row in tomllib.loads(text)["zone"])
