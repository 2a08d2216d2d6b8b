"""Why a reading is as wide as it is, and what would make it tighter: each change is tried, and the interval read off.

Nothing is said from a list: the zone is read again as it would be without one source of doubt, or with one thing more
in the shot, and what that does to the interval of L* is told.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from calibration.corrected import CorrectedPhoto, Correction
from calibration.photo import Box, FloatArray, Photo, XyzD65
from estimator.reading.flat_tress import PATTERNS_IF_NOT_STATED, SeenZone, TressColour
from estimator.reading.joint import colour_together
from estimator.reading.zone_colour import ReadingModel, read_seen, seen_zones, shipped_model
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.zones.outline import Setting, Zone

LEAST_GAIN = 0.03  # of the width: less is not worth a colourist's minute
GOOD_HELD_OUT_DE2000 = 1.0  # what the card of a careful photo in one light leaves


class Help(StrEnum):
    """What a person can do for a tighter reading."""

    STATE_PATTERN = "state the strand pattern"
    SWATCH = "put the swatch in the shot"
    TURNED = "take a second photo turned under the lamp"
    CARD = "put a card in the shot"
    BETTER_CARD = "a better lit card"
    MORE_HAIR = "outline more hair"
    PLAIN_GROUND = "lay hair and card on one plain surface"
    ONE_LAMP = "use one kind of lamp"
    ORIGINAL_FILE = "send the photo as a file"


@dataclass(frozen=True)
class Tighter:
    """One thing to do. half_then : Half the nine-in-ten interval of L* once it is done."""

    help: Help
    half_then: float


@dataclass(frozen=True)
class Explanation:
    """What one zone's reading rests on.

    pixels : Hair pixels. held_out_de2000 : Of the correction. pattern : "" where not stated.
    half_now : Half the nine-in-ten interval of L*.
    tighter : What would help, the most helpful first; empty where nothing that is known of would.
    """

    zone: str
    setting: Setting
    verified: bool
    held_out_de2000: float
    pixels: int
    pattern: str
    swatches: tuple[str, ...]
    half_now: float
    tighter: tuple[Tighter, ...]


@dataclass(frozen=True, eq=False)
class _SameButSurer:
    """A correction whose card errs less."""

    of: Correction
    held_out_de2000: float

    @property
    def method(self) -> str:
        return self.of.method

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> XyzD65:
        """As the correction that it stands for."""
        return self.of.xyz_d65(photo, box, row_step)

    def lab_covariance(self) -> FloatArray:
        """In proportion to the square of the smaller error."""
        covariance: FloatArray = (
            self.of.lab_covariance() * (self.held_out_de2000 / max(self.of.held_out_de2000, 1e-6)) ** 2
        )
        return covariance


@dataclass(frozen=True, eq=False)
class _Shot:
    """The zones of one photograph in one setting, as they were read."""

    corrected: CorrectedPhoto
    seen: tuple[SeenZone, ...]
    colours: tuple[TressColour, ...]
    model: ReadingModel

    @property
    def setting(self) -> Setting:
        return self.seen[0].zone.setting

    def read_again(self, corrected: CorrectedPhoto, seen: tuple[SeenZone, ...]) -> tuple[TressColour, ...]:
        """The colours as they would read."""
        return read_seen(corrected, seen, self.model.lights[self.setting], self.model.colours[self.setting])

    def half_with(self, place: int, one: SeenZone) -> float:
        """Half the interval of the zone at `place`, were it seen so."""
        seen = (*self.seen[:place], one, *self.seen[place + 1 :])
        return _half(self.read_again(self.corrected, seen)[place].covariance)


def explain(
    corrected: CorrectedPhoto, zones: tuple[Zone, ...], model: ReadingModel | None = None
) -> tuple[Explanation, ...]:
    """What each zone of a photograph rests on, in the order of the zones; those that can't be read are left out."""
    model = model or shipped_model()
    seen, _ = seen_zones(corrected, zones)
    explained: dict[str, Explanation] = {}
    for setting in Setting:
        mine = tuple(one for one in seen if one.zone.setting is setting)
        if mine:
            colours = read_seen(corrected, mine, model.lights[setting], model.colours[setting])
            shot = _Shot(corrected, mine, colours, model)
            explained |= {
                one.zone.name: _explained(shot, place)
                for place, one in enumerate(mine)
                if one.zone.known_lab_d65 is None
            }
    return tuple(explained[zone.name] for zone in zones if zone.name in explained)


def _explained(shot: _Shot, place: int) -> Explanation:
    one, half_now = shot.seen[place], _half(shot.colours[place].covariance)
    tried = [Tighter(what, half) for what, of in _TRIALS.items() if (half := of(shot, place)) is not None]
    helpful = sorted((each for each in tried if each.half_then < (1 - LEAST_GAIN) * half_now), key=_by_half)
    return Explanation(
        zone=one.zone.name,
        setting=shot.setting,
        verified=shot.corrected.verified,
        held_out_de2000=shot.corrected.correction.held_out_de2000,
        pixels=one.light.pixels,
        pattern=str(one.zone.strand_pattern or ""),
        swatches=tuple(other.zone.name for other in shot.seen if other.zone.known_lab_d65 is not None),
        half_now=half_now,
        tighter=tuple(helpful),
    )


def _by_half(each: Tighter) -> tuple[float, str]:
    return each.half_then, each.help


def _half(covariance: FloatArray) -> float:
    return NINE_IN_TEN * float(np.sqrt(covariance[0, 0]))


def _with_pattern(shot: _Shot, place: int) -> float | None:
    """The mean over the patterns that it may be."""
    one = shot.seen[place]
    if one.zone.strand_pattern is not None:
        return None
    stated = [replace(one, zone=replace(one.zone, strand_pattern=pattern)) for pattern in PATTERNS_IF_NOT_STATED]
    return float(np.mean([shot.half_with(place, each) for each in stated]))


def _with_swatch(shot: _Shot, place: int) -> float | None:
    """A swatch that looks just as its colour should beside this zone."""
    if any(one.zone.known_lab_d65 is not None for one in shot.seen):
        return None
    one, colour = shot.seen[place], shot.colours[place]
    lab = (float(colour.lab_d65[0]), float(colour.lab_d65[1]), float(colour.lab_d65[2]))
    swatch = replace(one, zone=replace(one.zone, known_lab_d65=lab))
    return _half(shot.read_again(shot.corrected, (*shot.seen, swatch))[place].covariance)


def _with_second_photo(shot: _Shot, place: int) -> float | None:
    """The same zone once more, the light falling the other way round."""
    first = shot.colours[place].evidence
    return _half(colour_together((first, replace(first, log_light=-first.log_light))).covariance)


def _with_surer_card(shot: _Shot, place: int) -> float | None:
    corrected = shot.corrected
    if corrected.verified and corrected.correction.held_out_de2000 <= GOOD_HELD_OUT_DE2000:
        return None
    surer = replace(corrected, correction=_SameButSurer(corrected.correction, GOOD_HELD_OUT_DE2000))
    return _half(shot.read_again(surer, shot.seen)[place].covariance)


def _where(holds: Callable[[CorrectedPhoto], bool]) -> Callable[[_Shot, int], float | None]:
    """A surer card as the trial of something else, for photographs of which `holds` is true."""
    return lambda shot, place: _with_surer_card(shot, place) if holds(shot.corrected) else None


def _card_itself(corrected: CorrectedPhoto) -> bool:
    return corrected.verified and not {"mixed_light", "messenger_copy"} & set(corrected.verdict.codes)


def _without_own_scatter(shot: _Shot, place: int) -> float | None:
    """Four times as much hair of the same kind: the mean is known twice as well."""
    one = shot.seen[place]
    return shot.half_with(place, replace(one, light=replace(one.light, mean_covariance=one.light.mean_covariance / 4)))


def _with_ground(shot: _Shot, place: int) -> float | None:
    one = shot.seen[place]
    if one.surroundings is not None or shot.setting is not Setting.BOARD or not shot.corrected.verified:
        return None
    return shot.half_with(place, replace(one, surroundings=np.zeros(1)))


_TRIALS: dict[Help, Callable[[_Shot, int], float | None]] = {
    Help.STATE_PATTERN: _with_pattern,
    Help.SWATCH: _with_swatch,
    Help.TURNED: _with_second_photo,
    Help.CARD: _where(lambda corrected: not corrected.verified),
    Help.BETTER_CARD: _where(_card_itself),
    Help.MORE_HAIR: _without_own_scatter,
    Help.PLAIN_GROUND: _with_ground,
    Help.ONE_LAMP: _where(lambda corrected: corrected.verified and "mixed_light" in corrected.verdict.codes),
    Help.ORIGINAL_FILE: _where(lambda corrected: corrected.verified and "messenger_copy" in corrected.verdict.codes),
}
