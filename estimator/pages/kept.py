"""Results kept by the photograph's hash, so that moving between screens never waits for the same work twice.

The only file of the pages that calls the verbs of a visit. What is kept is shared between sessions and never changed.
"""

import datetime
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from calibration.correcting.neutral_reference import NeutralPoint
from estimator.errors import BadInputError
from estimator.pages import taught
from estimator.pages.draft import Draft, OutlinedZone, Shot, Wish, current
from estimator.pages.outlines import drawn_zones
from estimator.zones.outline import Setting, Zone

if TYPE_CHECKING:  # these bring numpy, OpenCV and the fits along; a first page should not wait for them
    from calibration.corrected import CorrectedPhoto
    from estimator.care.dates import VisitDates
    from estimator.care.facts import Facts
    from estimator.care.verdicts import CareVerdict
    from estimator.reading.comparing import ZoneDifference
    from estimator.reading.explaining import Explanation
    from estimator.scale.level import LevelScale
    from estimator.toning.plan import HairFacts
    from estimator.toning.recipes import Progress
    from estimator.toning.shades import Shelf
    from estimator.toning.targets import Target
    from estimator.visit import CheckedPlan, Consultation, PhotoReading, ReadColour, TargetWish, Wishes
    from estimator.zones.specification import ZoneSpec

PHOTOS_KEPT = 6  # a 12-megapixel photograph takes 36 MB
RESULTS_KEPT = 24
DATED = {"patch_tested_at": "patch_test_age_hours", "strand_tested_at": "strand_test_days_ago"}  # date -> its age
SCREEN_COPY_PX = 1440  # a little larger, and the page would shrink it once more at every turn


@dataclass(frozen=True)
class Picture:
    """A copy of a photograph for the screen.

    jpeg : Its bytes.
    width_px, height_px : Size of the photograph itself, in whose pixels all points are counted.
    beyond_screen_share : Share of its pixels whose colour no sRGB screen can show. [0-1]
    """

    jpeg: bytes
    width_px: int
    height_px: int
    beyond_screen_share: float


def hash_of(photo_bytes: bytes) -> str:
    """Name of a photograph in records: SHA-256 of its bytes."""
    return hashlib.sha256(photo_bytes).hexdigest()


@st.cache_resource(max_entries=PHOTOS_KEPT, show_spinner="Finding the card, correcting the colours")
def _corrected(
    sha256: str, neutral: tuple[float, float, float] | None, print_toml: str, _photo_bytes: bytes
) -> "CorrectedPhoto":
    from calibration.cards.measured_card import kept_card
    from calibration.pipeline import correct_bytes
    from calibration.references import References

    prints = (kept_card(print_toml),) if print_toml else ()
    return correct_bytes(_photo_bytes, References(prints, neutral=NeutralPoint(*neutral) if neutral else None))


def corrected(shot: Shot) -> "CorrectedPhoto":
    """The photograph with its colours corrected; raises PhotoRefusedError."""
    return _corrected(shot.sha256, shot.neutral, current().print_toml, shot.photo_bytes)


@st.cache_resource(max_entries=PHOTOS_KEPT, show_spinner=False)
def _picture(sha256: str, neutral: tuple[float, float, float] | None, print_toml: str, _shot: Shot) -> Picture:
    from estimator.reports.pictures import corrected_picture

    photo = corrected(_shot)
    copy = corrected_picture(photo, SCREEN_COPY_PX)
    return Picture(copy.jpeg, photo.photo.width_px, photo.photo.height_px, copy.beyond_screen_share)


def picture(shot: Shot) -> Picture:
    """A small corrected copy of the photograph."""
    return _picture(shot.sha256, shot.neutral, current().print_toml, shot)


def zones(shot: Shot) -> tuple[Zone, ...]:
    """The zones as drawn; one from a file or a proposal that nobody touched keeps its exact shape."""
    from estimator.zones.inputs import zones_of
    from estimator.zones.specification import PolygonZones, ZoneSpec

    drawn = drawn_zones(shot)
    by_hand = {zone.name: zone for zone in drawn if zone.exact is None}
    polygons = {name: (np.array(zone.points_px, dtype=np.float64),) for name, zone in by_hand.items()}
    strands = {name: zone.strand_pattern for name, zone in by_hand.items() if zone.strand_pattern}
    spec = ZoneSpec(shot.setting, PolygonZones(polygons), strands)
    made = {zone.name: zone for zone in zones_of(spec, corrected(shot))} if polygons else {}
    return tuple(_stated(zone, shot.setting) if zone.exact else made[zone.name] for zone in drawn)


def with_zones_from_file(shot: Shot, path: Path) -> Shot:
    """The photograph with the zones of a file on this machine: polygons, or a label picture; raises BadInputError."""
    from estimator.zones.inputs import load_zone_spec

    return with_spec(shot, load_zone_spec(path))


def with_spec(shot: Shot, spec: "ZoneSpec") -> Shot:
    """The photograph with the zones that a description names."""
    from estimator.pages.tracing import outlined
    from estimator.zones.inputs import zones_of

    found = tuple(outlined(zone) for zone in zones_of(spec, corrected(shot)))
    return replace(shot.with_zones(found, selected=0, revision=shot.revision + 1), setting=spec.setting)


def with_uploaded_zones(shot: Shot, files: Mapping[str, bytes]) -> Shot:
    """The photograph with the zones of uploaded files: one JSON, and its label picture where it numbers its zones."""
    from estimator.zones.inputs import zone_spec_from_json, zone_spec_from_label_picture

    documents = [content for name, content in files.items() if name.lower().endswith(".json")]
    pictures = [content for name, content in files.items() if name.lower().endswith(".png")]
    if len(documents) != 1 or len(pictures) > 1:
        raise BadInputError("Choose one JSON file, and one label picture (PNG) if the JSON numbers its zones.")
    if pictures:
        return with_spec(shot, zone_spec_from_label_picture(documents[0], pictures[0]))
    return with_spec(shot, zone_spec_from_json(documents[0]))


def with_whole_hair(shot: Shot) -> Shot:
    """The photograph with the whole hair proposed as one zone, in hand."""
    from estimator.zones.proposing import propose_hair

    return _with_zone(shot, propose_hair(corrected(shot)))


def with_fitted_outline(shot: Shot) -> Shot:
    """The photograph with the zone in hand drawn close to its hair."""
    from estimator.zones.proposing import refine_outline

    rough = shot.zones[shot.selected]
    fitted = refine_outline(corrected(shot), np.array(rough.points_px, dtype=np.float64), (), ())
    return _with_zone(shot, replace(fitted, name=rough.name, strand_pattern=rough.strand_pattern))


def _with_zone(shot: Shot, zone: Zone) -> Shot:
    from estimator.pages.outlines import choose
    from estimator.pages.tracing import outlined

    chosen = choose(shot, zone.name)
    number = chosen.selected
    return chosen.with_zones((*chosen.zones[:number], outlined(zone), *chosen.zones[number + 1 :]))


def _stated(zone: OutlinedZone, setting: Setting) -> Zone:
    assert zone.exact is not None
    return replace(zone.exact, name=zone.name, setting=setting, strand_pattern=zone.strand_pattern)


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner="Reading the zones")
def _reading(key: str, _shot: Shot) -> "PhotoReading":
    from estimator import visit
    from estimator.reading.wet_hair import refused_as_wet

    found = corrected(_shot)
    return visit.read_zones(refused_as_wet(found) if _shot.wet else found, zones(_shot), own_scale())


def own_scale() -> "LevelScale | None":
    """The salon's own level scale, where one was handed over; None for the default scale."""
    return _scale(current().scale_toml) if current().scale_toml else None


def checked_scale(content: bytes) -> str:
    """The text of a level scale, once it can be used. Raises BadInputError."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The scale is not text. Make it with `tressmeter scale fit`.") from problem
    _scale(text)
    return text


def checked_print(content: bytes) -> str:
    """The text of a measured card, once it can be used. Raises BadInputError or CardFileError."""
    from calibration.cards.measured_card import kept_card

    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The card's file is not text. Make it with `tressmeter card measure`.") from problem
    kept_card(text)
    return text


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner=False)
def _scale(text: str) -> "LevelScale":
    from estimator.scale.scale_file import kept_scale

    return kept_scale(text).scale


def reading_key(shot: Shot) -> str:
    """Changes whenever a reading of this photograph would."""
    drawn = [(zone.name, zone.points_px, zone.strand_pattern, zone.exact is None) for zone in drawn_zones(shot)]
    return repr((shot.sha256, shot.neutral, shot.setting, shot.wet, drawn, current().scale_toml, current().print_toml))


def reading(shot: Shot) -> "PhotoReading":
    """Every outlined zone, read."""
    return _reading(reading_key(shot), shot)


def explained(read: "PhotoReading") -> "tuple[Explanation, ...]":
    """What each zone's reading rests on and what would make it tighter."""
    zones = [(zone.name, str(zone.zone.strand_pattern), tuple(map(float, zone.reading.lab_d65))) for zone in read.zones]
    return _explained(repr((read.corrected.photo.sha256, zones)), read)


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner=False)
def _explained(key: str, _read: "PhotoReading") -> "tuple[Explanation, ...]":
    from estimator import visit

    return visit.explain(_read)


def reading_before(visit_draft: Draft) -> "PhotoReading":
    """What is read of the hair before, from its photograph and the one turned under the lamp, if there is one."""
    from estimator import visit

    assert visit_draft.before is not None
    first, turned = reading(visit_draft.before), visit_draft.turned
    if turned is None or not drawn_zones(turned):
        return first
    return visit.together((first, reading(turned)), own_scale())


def before_key(visit_draft: Draft) -> str:
    """Changes whenever the reading of the hair before would."""
    shots = (visit_draft.before, visit_draft.turned)
    return repr([reading_key(shot) if shot else "" for shot in shots])


def facts(visit_draft: Draft) -> "Facts":
    """The consultation so far; what nobody answered stays open, and a dated test is as old as its date says."""
    from estimator import visit
    from estimator.care.facts import facts_from_answers
    from estimator.records.place import usual_folder
    from estimator.salon_settings import load_settings

    setting = {"patch_valid_days": load_settings(usual_folder()).patch_valid_days}
    dated = {DATED[name] for name in visit_draft.dates if name in DATED}
    answers = {fact: answer for fact, answer in visit_draft.answers.items() if fact not in dated}
    return visit.facts_with_dates(facts_from_answers(setting | answers), dates(visit_draft))


def dates(visit_draft: Draft) -> "VisitDates":
    """The dates of this visit; one without an hour is at ten in the morning."""
    from estimator.care.dates import VisitDates

    told = {name: datetime.datetime.fromisoformat(text) for name, text in visit_draft.dates.items()}
    day = visit_draft.day or datetime.date.today()
    at = told.pop("visit_at", datetime.datetime.combine(day, datetime.time(10)).astimezone())
    return VisitDates(visit_at=at, **told)  # type: ignore[arg-type]  # only names of dates are kept


def care(visit_draft: Draft) -> "CareVerdict":
    """What may not be done, and what must be tested first."""
    from estimator import visit

    asked = visit.check_lightening if visit_draft.lightens else visit.check
    return asked(consultation(visit_draft))


def consultation(visit_draft: Draft) -> "Consultation":
    """Facts of the head and of its zones, answers and the day of this visit."""
    from estimator import visit

    day = visit_draft.day or datetime.date.today()
    return visit.Consultation(facts(visit_draft), day, tuple(visit_draft.tests.values()), visit_draft.own)


def plan_key(visit_draft: Draft) -> str:
    """Changes whenever a plan for this visit would."""
    wanted = (visit_draft.answers, visit_draft.wishes, visit_draft.max_bowls, visit_draft.shelf_csv, visit_draft.tests)
    return repr((before_key(visit_draft), *wanted, visit_draft.own, visit_draft.dates, taught.key(visit_draft)))


def shelf(shelf_csv: str) -> "Shelf":
    """The salon's own shelf, every row checked; the invented one where none was handed over."""
    from estimator.toning.shades import demo_shelf
    from estimator.toning.shelf_file import load_shelf

    return load_shelf(shelf_csv) if shelf_csv else demo_shelf()


def checked_shelf_csv(content: bytes) -> str:
    """The text of a shelf file, once every row of it can be used. Raises BadInputError, EmptyShelfError."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The shelf is not text (UTF-8). Save the table as CSV, then try again.") from problem
    shelf(text)
    return text


def hair(visit_draft: Draft) -> "dict[str, HairFacts]":
    """What the hair of each zone with a target is like."""
    from estimator.toning.plan import Density, HairFacts, Porosity, StrandDiameter

    return {
        zone: HairFacts(
            wish.length_cm, StrandDiameter(wish.strand_diameter), Density(wish.density), Porosity(wish.porosity)
        )
        for zone, wish in visit_draft.wishes.items()
    }


@st.cache_resource(show_spinner=False)
def _plans() -> "dict[str, CheckedPlan]":
    return {}


def targets(visit_draft: Draft) -> "tuple[Target, ...]":
    """What each zone shall become, in whichever way that was told."""
    from estimator import visit

    wished = {zone: _wished(visit_draft, wish) for zone, wish in visit_draft.wishes.items()}
    return visit.targets_from(wished, visit.colours_of(reading_before(visit_draft)), own_scale())


def _wished(visit_draft: Draft, wish: Wish) -> "TargetWish":
    from estimator.visit import PickedColour, TargetWish

    if wish.way == "like":
        return TargetWish(like=wish.like)
    if wish.way == "lightest":
        return TargetWish(no_warmer_than=wish.tone)
    if wish.way == "picked":
        return TargetWish(picked=PickedColour(picked(visit_draft, wish), "on the picture"))
    return TargetWish(wish.level, wish.tone)


def picked(visit_draft: Draft, wish: Wish) -> "ReadColour":
    """The colour of the spot that was pointed at. Raises BadInputError where its picture is gone or shows no hair."""
    shot = next((one for one in (visit_draft.picture, visit_draft.before) if one and one.sha256 == wish.spot_on), None)
    if shot is None or wish.spot is None:
        raise BadInputError("The picture that was pointed at is no longer here. Point again, or choose a tone.")
    return _picked(f"{shot.sha256} {wish.spot} {shot.neutral} {shot.setting} {own_scale()}", shot, wish.spot)


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner="Reading the place")
def _picked(key: str, _shot: Shot, _spot: tuple[float, float, float]) -> "ReadColour":
    from estimator import visit

    return visit.pick_colour(corrected(_shot), _spot, own_scale(), _shot.setting)


def wishes(visit_draft: Draft) -> "Wishes":
    """Targets, hair and shelf, with what earlier outcomes tell of shades and of this client."""
    from estimator import visit
    from estimator.toning.plan import PlanSettings

    settings = PlanSettings(max_bowls=visit_draft.max_bowls, scale=own_scale())
    wanted = visit.Wishes(targets(visit_draft), hair(visit_draft), shelf(visit_draft.shelf_csv), settings)
    return visit.with_outcomes(wanted, taught.code(visit_draft), taught.earlier(visit_draft))


def plan(visit_draft: Draft, progress: "Progress | None" = None) -> "CheckedPlan":
    """The bowls for this visit, between two judgements of care. progress : Told the share done while it is made."""
    from estimator import visit

    if visit_draft.before is None or not visit_draft.wishes:
        raise BadInputError("No zone has a target yet. Choose a level and a tone for one zone at least.")
    key, held = plan_key(visit_draft), _plans()
    if key not in held:
        # Not st.cache_resource: what is drawn while it is made, the bar and its way to stop, must stay alive.
        made = visit.plan(reading_before(visit_draft), consultation(visit_draft), wishes(visit_draft), progress)
        while len(held) >= RESULTS_KEPT:
            held.pop(next(iter(held)), None)
        held[key] = made
    return held[key]


def differences(visit_draft: Draft) -> "tuple[ZoneDifference, ...]":
    """What changed in each zone that both photographs hold."""
    from estimator import visit

    if visit_draft.before is None or visit_draft.after is None:
        return ()
    return visit.compare(reading_before(visit_draft), reading(visit_draft.after))


def with_outlines_of(shot: Shot, other: Shot) -> Shot:
    """The photograph with the outlines of another one, to be moved where the hair lies now."""
    here, there = corrected(shot).photo, corrected(other).photo
    same_size = (here.width_px, here.height_px) == (there.width_px, there.height_px)
    across, down = here.width_px / there.width_px, here.height_px / there.height_px
    copied = tuple(
        replace(
            zone,
            points_px=tuple((x * across, y * down) for x, y in zone.points_px),
            exact=zone.exact if same_size else None,
        )
        for zone in drawn_zones(other)
    )
    return replace(shot.with_zones(copied, selected=0, revision=shot.revision + 1), setting=other.setting)


def checked(visit_draft: Draft) -> "CheckedPlan":
    """The plan between its two judgements; where nothing was wished, care alone. Raises BadInputError."""
    from estimator.visit import CheckedPlan

    if visit_draft.wishes:
        return plan(visit_draft)
    verdict = care(visit_draft)
    return CheckedPlan(verdict, None, verdict)
