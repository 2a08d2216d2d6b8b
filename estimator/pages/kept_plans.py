"""The consultation, wishes and plan of this visit, so that moving between screens never makes a plan twice.

Calls the verbs of a visit that judge and plan. What is kept is shared between sessions and never changed.
"""

import datetime
import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import kept_readings, kept_scales, taught
from estimator.pages.draft import Draft, Shot, Wish

if TYPE_CHECKING:  # these bring numpy, OpenCV and the fits along; a first page should not wait for them
    from estimator.care.dates import VisitDates
    from estimator.care.facts import Facts
    from estimator.care.verdicts import CareVerdict
    from estimator.toning.plan import HairFacts
    from estimator.toning.recipes import Progress
    from estimator.toning.targets import Target
    from estimator.visit import CheckedPlan, Consultation, ReadColour, TargetWish, Wishes

PLANS_KEPT = 24
DATED = {"patch_tested_at": "patch_test_age_hours", "strand_tested_at": "strand_test_days_ago"}  # date -> its age


@dataclass(frozen=True)
class CameOut:
    """How a test strand came out: in words, and what care then counts as answered for its zone."""

    words: str
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def serves(self) -> bool:
        """Whether the strand may tell anything of the mix."""
        return not self.facts


# Care's own answers, so that care's own rules stop the zone: no rule stands here. Hair that this very mix left
# without its spring counts as the worst of what it may be.
CAME_OUT = {
    "sound": CameOut("whole, and springs back"),
    "stretched": CameOut("stretched, does not spring back", {"elasticity": "gummy", "strand_test": "damaged"}),
    "broke": CameOut("broke", {"breakage": "snapping", "strand_test": "damaged"}),
}


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
    return visit.Consultation(facts(visit_draft), day, tuple(visit_draft.tests.values()), own(visit_draft))


def own(visit_draft: Draft) -> dict[str, dict[str, Any]]:
    """What zones answer otherwise than the head; what a test strand of a zone did counts as answered for it."""
    told = {zone: CAME_OUT[tried.came_out].facts for zone, tried in visit_draft.tried.items() if tried.came_out}
    answered = {zone: facts for zone, facts in told.items() if facts}
    return visit_draft.own | {zone: {**visit_draft.own.get(zone, {}), **facts} for zone, facts in answered.items()}


def plan_key(visit_draft: Draft) -> str:
    """Changes whenever a plan for this visit would."""
    if visit_draft.trial_used:
        from estimator.pages import kept_trial

        return repr((key_before_trial(visit_draft), kept_trial.trial_key(visit_draft)))
    return key_before_trial(visit_draft)


def key_before_trial(visit_draft: Draft) -> str:
    """Changes whenever a plan without what a strand trial tells would."""
    wanted = (visit_draft.answers, visit_draft.wishes, visit_draft.max_bowls, visit_draft.shelf_csv, visit_draft.tests)
    return repr(
        (kept_readings.before_key(visit_draft), *wanted, own(visit_draft), visit_draft.dates, taught.key(visit_draft))
    )


def mark(visit_draft: Draft) -> str:
    """A short mark of all that `key_before_trial` tells."""
    return hashlib.sha256(key_before_trial(visit_draft).encode()).hexdigest()[:16]


def is_asked_for(visit_draft: Draft) -> bool:
    """Whether a plan was asked for, and nothing that it rests on has changed since."""
    return bool(visit_draft.wishes) and visit_draft.planned == mark(visit_draft)


def is_made(visit_draft: Draft) -> bool:
    """Whether the plan is at hand, so that showing it takes no time."""
    return key_before_trial(visit_draft) in _plans()


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
    return visit.targets_from(
        wished, visit.colours_of(kept_readings.reading_before(visit_draft)), kept_scales.own_scale()
    )


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
    return _picked(
        f"{kept_readings.correction_key(shot)} {wish.spot} {shot.setting} {kept_scales.own_scale()}", shot, wish.spot
    )


@st.cache_resource(max_entries=PLANS_KEPT, show_spinner="Reading the place")
def _picked(key: str, _shot: Shot, _spot: tuple[float, float, float]) -> "ReadColour":
    from estimator import visit

    return visit.pick_colour(kept_readings.corrected(_shot), _spot, kept_scales.own_scale(), _shot.setting)


def wishes(visit_draft: Draft) -> "Wishes":
    """Targets, hair and shelf, with what earlier outcomes tell of shades and of this client."""
    from estimator import visit
    from estimator.toning.plan import PlanSettings

    settings = PlanSettings(max_bowls=visit_draft.max_bowls, scale=kept_scales.own_scale())
    wanted = visit.Wishes(targets(visit_draft), hair(visit_draft), kept_scales.shelf(visit_draft.shelf_csv), settings)
    return visit.with_outcomes(wanted, taught.code(visit_draft), taught.earlier(visit_draft))


def plan(visit_draft: Draft, progress: "Progress | None" = None) -> "CheckedPlan":
    """The bowls for this visit, between two judgements of care. progress : Told the share done while it is made."""
    made = before_trial(visit_draft, progress)
    if not visit_draft.trial_used:
        return made
    from estimator.pages import kept_trial

    return kept_trial.to_follow(visit_draft)


def wishes_in_use(visit_draft: Draft) -> "Wishes":
    """The wishes that `plan` rests on: with what a strand trial tells, as long as it is in use."""
    if not visit_draft.trial_used:
        return wishes(visit_draft)
    from estimator.pages import kept_trial

    return kept_trial.wishes_to_follow(visit_draft)


def before_trial(visit_draft: Draft, progress: "Progress | None" = None) -> "CheckedPlan":
    """The bowls as they are planned without what a strand trial tells; as `plan`."""
    from estimator import visit

    if visit_draft.before is None or not visit_draft.wishes:
        raise BadInputError("No zone has a target yet. Choose a level and a tone for one zone at least.")
    key, held = key_before_trial(visit_draft), _plans()
    if key not in held:
        # Not st.cache_resource: what is drawn while it is made, the bar and its way to stop, must stay alive.
        made = visit.plan(
            kept_readings.reading_before(visit_draft), consultation(visit_draft), wishes(visit_draft), progress
        )
        while len(held) >= PLANS_KEPT:
            held.pop(next(iter(held)), None)
        held[key] = made
    return held[key]


def checked(visit_draft: Draft) -> "CheckedPlan":
    """The plan between its two judgements; where nothing was wished, care alone. Raises BadInputError."""
    from estimator.visit import CheckedPlan

    if visit_draft.wishes:
        return plan(visit_draft)
    verdict = care(visit_draft)
    return CheckedPlan(verdict, None, verdict)
