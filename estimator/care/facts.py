"""What is known of a client, the hair and the plan: one flat record, in which every answer may still be open."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, TypedDict, Unpack

from estimator.care.expressions import Kind, Value
from estimator.care.questions import FACT_TABLE, FactSpec
from estimator.care.unknown import UNKNOWN, Unknown
from estimator.errors import BadInputError

YesNo = bool | Unknown
Number = float | Unknown  # whole numbers are floats too
Word = str | Unknown
Words = frozenset[str] | Unknown


class PlanFigures(TypedDict, total=False):
    """The figures that a plan adds to the facts; units as in `Facts`."""

    wants_lightener: YesNo
    wants_oxidative_dye: YesNo
    wants_toner: YesNo
    wants_direct_dye: YesNo
    wants_straightening: YesNo
    straightening_same_day: YesNo
    wants_brows_or_lashes: YesNo
    touches_scalp: YesNo
    touches_relaxed_hair: YesNo
    touches_lightened_hair: YesNo
    lightener_volume: Number
    dye_volume: Number
    levels_to_lift: Number
    lightening_passes_today: Number
    added_heat: YesNo
    minutes_planned: Number
    visits_needed: Number


@dataclass(frozen=True, kw_only=True)
class Facts:
    """The flat record that rules look at. tables/questions.toml says what each fact may hold, in which unit, and why.

    Answers start as UNKNOWN. Wishes start as no and figures of the plan as 0 (nothing is planned until somebody
    says so), but where the mix will lie (`touches_...`) starts as UNKNOWN.
    Raises BadInputError, with all faults at once, where a value is not allowed.
    """

    age_years: Number = UNKNOWN
    pregnant_or_nursing: YesNo = UNKNOWN
    scalp_state: Word = UNKNOWN
    face_rash: YesNo = UNKNOWN
    hours_since_wash_or_scratch: Number = UNKNOWN
    tension_style_off_hours: Number = UNKNOWN
    skin_condition: Word = UNKNOWN
    dye_reaction_before: Word = UNKNOWN
    black_henna_tattoo: Word = UNKNOWN
    cross_allergy: YesNo = UNKNOWN
    lightener_reaction_before: Word = UNKNOWN
    asthma: YesNo = UNKNOWN
    patch_test: Word = UNKNOWN
    patch_test_age_hours: Number = UNKNOWN
    patch_same_product: YesNo = UNKNOWN
    patch_valid_days: Number = 7
    hair_loss: Word = UNKNOWN
    cancer_treatment: Word = UNKNOWN
    cancer_treatment_months: Number = UNKNOWN
    medicine_affects_skin: YesNo = UNKNOWN
    scalp_medicine: YesNo = UNKNOWN
    relaxer_kind: Word = UNKNOWN
    relaxer_weeks_ago: Number = UNKNOWN
    relaxer_overlapped: YesNo = UNKNOWN
    perm_weeks_ago: Number = UNKNOWN
    smoothing_kind: Word = UNKNOWN
    smoothing_weeks_ago: Number = UNKNOWN
    earlier_colour: Words = UNKNOWN
    metal_test: Word = UNKNOWN
    dark_dye_layers: Number = UNKNOWN
    copper_exposure: YesNo = UNKNOWN
    lightened_weeks_ago: Number = UNKNOWN
    lightened_times_12_months: Number = UNKNOWN
    iron_days_per_week: Number = UNKNOWN
    iron_celsius: Number = UNKNOWN
    elasticity: Word = UNKNOWN
    breakage: Word = UNKNOWN
    wig_friction: Word = UNKNOWN
    porosity: Word = UNKNOWN
    curl_pattern: Word = UNKNOWN
    strand_diameter: Word = UNKNOWN
    density: Word = UNKNOWN
    strand_test: Word = UNKNOWN
    strand_test_days_ago: Number = UNKNOWN
    curl_elongation_percent: Number = UNKNOWN
    visits_budget: Number = UNKNOWN

    wants_lightener: YesNo = False
    wants_oxidative_dye: YesNo = False
    wants_toner: YesNo = False
    wants_direct_dye: YesNo = False
    wants_straightening: YesNo = False
    straightening_same_day: YesNo = False
    wants_brows_or_lashes: YesNo = False
    touches_scalp: YesNo = UNKNOWN
    touches_relaxed_hair: YesNo = UNKNOWN
    touches_lightened_hair: YesNo = UNKNOWN
    lightener_volume: Number = 0
    dye_volume: Number = 0
    levels_to_lift: Number = 0
    lightening_passes_today: Number = 0
    added_heat: YesNo = False
    minutes_planned: Number = 0
    visits_needed: Number = 1

    def __post_init__(self) -> None:
        faults = [fault for spec in FACT_TABLE.specs.values() if (fault := spec.fault_of(self.by_name[spec.fact]))]
        if faults:
            raise BadInputError(" ".join([*faults, "Correct the answer, or leave it open."]))

    @cached_property
    def by_name(self) -> Mapping[str, Value]:
        """Every fact by its name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @cached_property
    def settled(self) -> Mapping[str, Value]:
        """Every fact by its name, as rules see it: an open answer that nobody needs counts as its harmless word."""
        questions = (q for q in FACT_TABLE.questions if q.if_not_needed is not UNKNOWN)
        spared = {
            q.fact: q.if_not_needed
            for q in questions
            if self.by_name[q.fact] is UNKNOWN and q.needed_if and q.needed_if.decide(self.by_name).truth is False
        }
        return {**self.by_name, **spared}

    def with_plan_figures(self, **figures: Unpack[PlanFigures]) -> "Facts":
        """The same client with the figures of a plan; figures not named stay as they are."""
        strange = sorted(set(figures) - {spec.fact for spec in FACT_TABLE.plan_figures})
        if strange:
            raise BadInputError(f"{', '.join(strange)} is no figure of a plan; answers are given to Facts itself.")
        return replace(self, **figures)

    def with_answers(self, answers: Mapping[str, object]) -> "Facts":
        """The same record with answers as a form or a file holds them; see `facts_from_answers`."""
        return replace(self, **_read_answers(answers))

    def as_answers(self) -> dict[str, bool | float | str | list[str]]:
        """Every fact as a form or a file holds it: sets as sorted lists, what is open as "not known"."""
        return {name: _written(value) for name, value in self.by_name.items()}


def facts_from_answers(answers: Mapping[str, object]) -> Facts:
    """The record that these answers make, everything else left open.

    answers : fact -> true/false, "yes"/"no", number or number as text, word, list of words; None, "" or "not known"
        leave a fact open.
    Raises BadInputError, with all faults at once.
    """
    return Facts().with_answers(answers)


def baseline_facts(**changes: Any) -> Facts:
    """The harmless client with no plan, apart from `changes`: for tests and examples, never for a person."""
    return Facts(**{name: spec.baseline for name, spec in FACT_TABLE.specs.items()} | changes)


def _written(value: Value) -> bool | float | str | list[str]:
    if isinstance(value, frozenset):
        return sorted(value)
    return str(value) if value is UNKNOWN else value


def _read_answers(answers: Mapping[str, object]) -> dict[str, Any]:
    strange = sorted(set(answers) - set(FACT_TABLE.specs))
    if strange:
        raise BadInputError(f"'{', '.join(strange)}' is nothing that the consultation asks; check the spelling.")
    read = {name: _read_answer(FACT_TABLE.specs[name], given) for name, given in answers.items()}
    faults = [fault for name, value in read.items() if (fault := FACT_TABLE.specs[name].fault_of(value))]
    if faults:
        raise BadInputError(" ".join([*faults, "Correct the answer, or leave it open."]))
    return read


_YES_NO = {"yes": True, "no": False, "true": True, "false": False}


def _read_answer(spec: FactSpec, given: object) -> object:
    """`given` as the fact holds it; what can't be read is handed back for the check to name."""
    if given is None or given is UNKNOWN or given in ("", str(UNKNOWN)):
        return UNKNOWN
    if spec.kind is Kind.SET:
        words = given if isinstance(given, list | tuple | set | frozenset) else (given,)
        return frozenset(str(word) for word in words if word != "none")
    if isinstance(given, str):
        text = given.strip()
        if spec.kind is Kind.YES_NO:
            return _YES_NO.get(text.lower(), text)
        return _number(text) if spec.kind is Kind.NUMBER else text
    return given


def _number(text: str) -> object:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return text
