"""The plan and what it is made of: what was asked for each zone, the bowls, and what each zone becomes."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import LevelScale
from estimator.toning.peroxide import LIFT_STARTS_AT_VOLUME, PeroxideStrength
from estimator.toning.shades import ShadeKind
from estimator.toning.targets import Target
from estimator.toning.uptake import Uptake, UptakeBasis

MOST_ZONES = 24
MOST_BOWLS = 12


class StrandDiameter(StrEnum):
    """Thickness of a single hair, by touch: below 60, 60 to 80, above 80 µm."""

    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"


class Density(StrEnum):
    """Hairs per area of scalp, by eye."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class Porosity(StrEnum):
    """How fast hair takes up water: a drop beads, sinks slowly, sinks at once, or differs along the strand."""

    LOW = "low"
    NORMAL = "normal"
    HIGH = "high"
    UNEVEN = "uneven"


@dataclass(frozen=True)
class HairFacts:
    """What the colourist states of a zone's hair, for grams and minutes.

    length_cm : From scalp to tip, stretched. [cm], 1-200.
    """

    length_cm: float = 30.0
    strand_diameter: StrandDiameter = StrandDiameter.MEDIUM
    density: Density = Density.MEDIUM
    porosity: Porosity = Porosity.NORMAL

    def __post_init__(self) -> None:
        if not 1 <= self.length_cm <= 200:
            raise BadInputError(f"A hair length of {self.length_cm:g} cm was given; 1 to 200 cm is allowed.")
        # Words from a form or a file arrive as plain text: each is turned into its own type here, or refused.
        for name, words in (("strand_diameter", StrandDiameter), ("density", Density), ("porosity", Porosity)):
            word = getattr(self, name)
            if word not in tuple(words):
                raise BadInputError(f"{name} is {word!r}; choose one of {', '.join(words)}.")
            object.__setattr__(self, name, words(word))


@dataclass(frozen=True, eq=False)
class ZoneRequest:
    """One zone to tone: how it reads now, and what it shall become.

    lab_d65, covariance : Of the reading. float64, shapes (3,) and (3, 3).
    uptake : What a strand trial or earlier results tell of this hair; None for common practice.
    """

    zone: str
    lab_d65: FloatArray
    covariance: FloatArray
    level: Level
    warmth: Warmth
    target: Target
    hair: HairFacts = HairFacts()
    uptake: Uptake | None = None

    def __post_init__(self) -> None:
        if np.shape(self.lab_d65) != (3,) or np.shape(self.covariance) != (3, 3):
            raise ValueError(f"Zone {self.zone}: a reading has 3 numbers and a 3 by 3 covariance.")
        if not (np.all(np.isfinite(self.lab_d65)) and np.all(np.isfinite(self.covariance))):
            raise BadInputError(f"Zone {self.zone!r} was not read, so nothing can be planned for it. Read it again.")


@dataclass(frozen=True)
class PlanSettings:
    """What the colourist allows.

    max_bowls : At most so many bowls. 1-12; most hands manage two well.
    most_shades, most_parts : In one bowl; clear not counted among the shades, but among the parts.
    bowl_price : What one more bowl must gain, over all zones together. [ΔE2000]
    shade_price : What each further shade in a bowl must gain, in every zone of it. [ΔE2000]
    mismatch_price : What each step of unlike timing within a bowl costs. [ΔE2000]
    haste_price : What each halving of a zone's minutes below five costs: seconds would decide. [ΔE2000]
    risk_price : What each unit of spread of the result costs, beside its mean. [ΔE2000 per ΔE2000]
    gram_price : What each gram of mix laid on a zone must gain there. [ΔE2000 per g]
    developer : What is poured; None for what is usual with the kind of colour. At most 10 volume.
    scale : The salon's own levels; the default scale where None.
    """

    max_bowls: int = 2
    most_shades: int = 3
    most_parts: int = 6
    bowl_price: float = 1.0
    shade_price: float = 0.2
    mismatch_price: float = 0.1
    haste_price: float = 0.5
    risk_price: float = 0.25
    gram_price: float = 0.003
    developer: PeroxideStrength | None = None
    scale: LevelScale | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.max_bowls <= MOST_BOWLS:
            raise BadInputError(f"{self.max_bowls} bowls were asked for; 1 to {MOST_BOWLS} are allowed.")
        if not (1 <= self.most_shades <= 3 and 1 <= self.most_parts <= 6):
            raise BadInputError("A bowl holds one to three shades in one to six parts.")
        if self.developer is not None and self.developer.volume > LIFT_STARTS_AT_VOLUME:
            raise BadInputError(
                f"A developer of {self.developer.volume:g} volume lifts natural hair. Tone with 10 volume or less."
            )


@dataclass(frozen=True)
class Reason:
    """Why a target is out of reach, or what to know about it: code, what was seen, what to do."""

    code: str
    message: str
    remedy: str


@dataclass(frozen=True)
class Bowl:
    """One mix, to the gram.

    parts : Shade and whole parts, the largest first; clear among them. shade_grams : the same in grams.
    developer : As poured; NO_OXIDANT (0 volume) for a colour that takes none. on_head : strength in the mix.
    ratio_text : Colour to developer by weight, such as "1:2".
    total_grams : Everything, a tenth of waste included, rounded up to 5 g.
    price : Of the colour in it, in the salon's currency; None where a price is unknown.
    why : The three weightiest reasons for this very mix, in sentences.
    """

    number: int
    parts: tuple[tuple[str, int], ...]
    shade_grams: tuple[tuple[str, float], ...]
    developer: PeroxideStrength
    ratio_text: str
    developer_grams: float
    total_grams: float
    on_head: PeroxideStrength
    zones: tuple[str, ...]
    kind: ShadeKind
    price: float | None = None
    why: tuple[str, ...] = ()


@dataclass(frozen=True)
class SecondBest:
    """The best plan that does without at least one of the mixes of the plan.

    bowls : The parts of each of its bowls, the largest first, and the zones that it serves; empty where the zones are
        better left as they are.
    costs : How much worse it is by the plan's measure, over all zones together. [ΔE2000], 0 or more.
    worst_zone, worst_by : The zone that suffers most, and by how much on the mean. [ΔE2000]
    """

    bowls: tuple[tuple[tuple[tuple[str, int], ...], tuple[str, ...]], ...]
    costs: float
    worst_zone: str
    worst_by: float


@dataclass(frozen=True, eq=False)
class ZonePlan:
    """What one zone gets and becomes.

    bowl_number : None where the zone is left as it is, or out of reach.
    deposit_strength : Share of the full dye that is let in. 0-1; 0 without a bowl.
    predicted_lab_d65, predicted_covariance : Of the result: reading, shades, uptake and model together.
    expected_delta_e_2000 : Mean ΔE2000 to the target over the reading's uncertainty.
    odds_inside : Share of the possible results that lie inside the target's region. 0-1.
    minutes_low, minutes_high : When the target is likely reached; the eye decides, the clock is the outer limit.
    if_left_longer : One sentence, from the same prediction with more dye.
    out_of_reach : Empty where the target can be reached.
    nearest_text : The nearest tone that can be reached, in words; "" where the target can be.
    rests_on : What uptake and minutes rest on.
    """

    zone: str
    bowl_number: int | None
    target: Target
    target_lab_d65: FloatArray
    now_lab_d65: FloatArray
    predicted_lab_d65: FloatArray
    predicted_covariance: FloatArray
    predicted_level: Level
    predicted_warmth: Warmth
    expected_delta_e_2000: float
    odds_inside: float
    deposit_strength: float
    grams: float
    minutes_low: float
    minutes_high: float
    first_check_minutes: float
    check_every_minutes: float
    if_left_longer: str
    out_of_reach: tuple[Reason, ...] = ()
    nearest_text: str = ""
    notes: tuple[str, ...] = ()
    rests_on: UptakeBasis = UptakeBasis.COMMON_PRACTICE


@dataclass(frozen=True)
class Plan:
    """Bowls shared between zones.

    proved_best : No other choice of recipes, among those weighed, does better by the plan's measure.
    notes : Plain sentences that belong beside the plan, the weightiest first.
    recipes_weighed : How many recipes were compared.
    second_best : What would have been mixed otherwise; None where there is nothing else.
    scale : The scale on which its levels stand; the default scale where None.
    """

    bowls: tuple[Bowl, ...]
    zones: tuple[ZonePlan, ...]
    proved_best: bool
    notes: tuple[str, ...]
    recipes_weighed: int = 0
    shelf_name: str = ""
    shelf_demo: bool = False
    second_best: SecondBest | None = None
    scale: LevelScale | None = None

    def bowl(self, number: int) -> Bowl:
        """The bowl of this number."""
        return next(bowl for bowl in self.bowls if bowl.number == number)
