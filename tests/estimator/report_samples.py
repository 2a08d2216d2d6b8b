"""Invented visits for the tests of the reports: hand-made numbers, a small painted photograph, no measurement."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from calibration.cards.sighting import CardSighting
from calibration.colourspaces import SRGB_TO_XYZ_D65, lab_to_xyz, xyz_to_srgb8
from calibration.corrected import CorrectedPhoto
from calibration.correcting.applying import TableCorrection
from calibration.findings import CaptureVerdict, Finding, Severity, Verdict, verdict_from
from calibration.photo import Box, EncodedRgb, Encoding, Photo
from estimator.care.verdicts import CareFinding, CareVerdict, CareWord
from estimator.reading.comparing import difference
from estimator.reading.evenness import Evenness, evenness
from estimator.reading.zone_reading import NINE_IN_TEN, ProfilePoint, ZoneReading
from estimator.reports.document import BeforeAfter, Heading
from estimator.scale.appearance import Level, Warmth
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import Bowl, Plan, Reason, ZonePlan
from estimator.toning.shades import ShadeKind
from estimator.toning.targets import TONES, Target
from estimator.zones.outline import Setting, StrandPattern, Zone

SCALE = (17.0, 20.0, 23.5, 27.5, 32.0, 37.5, 44.0, 51.0, 59.0, 68.0)
COVARIANCE = np.array([[4.0, 0.3, 0.5], [0.3, 1.6, 1.0], [0.5, 1.0, 5.0]])
NAMES = ("crown", "nape")
COLOURS = {"before": ((58.0, 6.0, 30.0), (50.0, 9.0, 33.0)), "after": ((52.0, 4.0, 16.0), (49.6, 8.8, 32.5))}
WIDTH_PX, HEIGHT_PX = 240, 200


@dataclass(frozen=True, eq=False)
class SampleZone:
    zone: Zone
    reading: ZoneReading
    level: Level
    warmth: Warmth
    parts: tuple[()] = ()


@dataclass(frozen=True, eq=False)
class SampleReading:
    corrected: CorrectedPhoto
    zones: tuple[SampleZone, ...]
    outlined: tuple[Zone, ...]
    unread: tuple[Finding, ...] = ()
    evenness: Evenness | None = None


def srgb_encoding() -> Encoding:
    """The curve that IEC 61966-2-1 prints, as a table."""
    codes = np.arange(256) / 255
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return Encoding(np.stack([linear] * 3), SRGB_TO_XYZ_D65.copy(), "sRGB")


def photo_of(srgb: np.ndarray, sha256: str = "0123456789abcdef" * 4) -> Photo:
    return Photo(EncodedRgb(srgb), srgb_encoding(), sha256, "PNG", 8)


def corrected_of(photo: Photo, verified: bool = True, findings: tuple[Finding, ...] = ()) -> CorrectedPhoto:
    encoding = photo.encoding
    correction = TableCorrection("3x3", 2.4, encoding.tables, encoding.to_xyz_d65, np.diag([4.0, 1.0, 1.0]))
    corners = np.array([[140.0, 140.0], [220.0, 140.0], [220.0, 190.0], [140.0, 190.0]])
    quads = np.repeat(corners[None], 24, axis=0)
    sighting = CardSighting("classic24", corners, quads, False, 0.0, np.zeros(24, dtype=bool))
    return CorrectedPhoto(photo, correction, verdict_from(findings), sighting if verified else None, None, ())


def painted(colours: Sequence[tuple[float, float, float]]) -> np.ndarray:
    """A grey board with one upright lock for each colour."""
    srgb = np.full((HEIGHT_PX, WIDTH_PX, 3), 119, dtype=np.uint8)
    for number, lab_d65 in enumerate(colours):
        left = 20 + 60 * number
        srgb[40:120, left : left + 40] = xyz_to_srgb8(lab_to_xyz(np.array(lab_d65)))
    srgb[140:190, 140:220] = 200
    return srgb


def zone_of(number: int, name: str, proposed: bool = False) -> Zone:
    left = 20 + 60 * number
    box = Box(40, left, 120, left + 40)
    return Zone(name, box, np.ones((80, 40), dtype=bool), Setting.BOARD, StrandPattern.WAVY, proposed=proposed)


def level_of_lightness(lightness: float, sd: float = 2.0) -> Level:
    """A level read off SCALE by straight lines; enough for a drawing."""
    reach = NINE_IN_TEN * sd
    middle, low, high = np.interp([lightness, lightness - reach, lightness + reach], SCALE, range(1, 11))
    return Level(float(middle), float(low), float(high), "", "default scale (an assumption)")


def warmth_of_colour(lab_d65: np.ndarray) -> Warmth:
    chroma = float(np.hypot(lab_d65[1], lab_d65[2]))
    hue_deg = float(np.degrees(np.arctan2(lab_d65[2], lab_d65[1])) % 360)
    return Warmth(chroma, chroma - 3.2, chroma + 3.2, hue_deg, 6.0, "gold", ("yellow",))


def reading_of(zone: Zone, lab_d65: tuple[float, float, float], verified: bool = True) -> SampleZone:
    lab = np.array(lab_d65)
    profile = tuple(
        ProfilePoint(share, (lab[0] - 4 + 8 * share, lab[1], lab[2] + 3 * share), 1.1) for share in np.linspace(0, 1, 6)
    )
    reading = ZoneReading(
        zone.name,
        zone.setting,
        zone.strand_pattern,
        lab,
        COVARIANCE,
        0.8 * COVARIANCE,
        np.array([1.9, 0.7, 1.5]),
        profile,
        zone.pixels,
        verified,
        zone.proposed,
        CaptureVerdict(Verdict.USABLE, ()),
        (),
        ("Locks on a board, strand pattern as stated.",),
    )
    return SampleZone(zone, reading, level_of_lightness(lab[0]), warmth_of_colour(lab))


def side(
    word: str, names: Sequence[str] = NAMES, verified: bool = True, findings: tuple[Finding, ...] = ()
) -> SampleReading:
    zones = tuple(zone_of(number, name) for number, name in enumerate(names))
    corrected = corrected_of(photo_of(painted(COLOURS[word])), verified, findings)
    read = tuple(reading_of(zone, lab, verified) for zone, lab in zip(zones, COLOURS[word], strict=False))
    return SampleReading(corrected, read, zones, evenness=evenness(tuple(zone.reading for zone in read)))


def care_of(*findings: CareFinding) -> CareVerdict:
    return CareVerdict(findings[0].verdict if findings else CareWord.CLEAR, findings)


STOP = CareFinding(
    "scalp-broken", CareWord.STOP, "The scalp is broken or sore.", "Wait until it has healed.", "common practice", 5
)
CAUTION = CareFinding(
    "porous-ends", CareWord.CAUTION, "The ends take colour fast.", "Do the ends last.", "common practice", 2
)
GLARE = Finding("glare", Severity.CARE, "Two patches of the card shine.", "Tilt the card a little.", "card")


def plan_for(reading: SampleReading, shade: str = "evening violet") -> Plan:
    names = tuple(read.zone.name for read in reading.zones)
    strength, on_head = PeroxideStrength.from_volume(6), PeroxideStrength.from_volume(4)
    bowl = Bowl(
        1,
        ((shade, 2), ("clear", 1)),
        ((shade, 23.5), ("clear", 11.75)),
        strength,
        "1:2",
        70.5,
        110.0,
        on_head,
        names,
        next(iter(ShadeKind)),
    )
    zones = tuple(_zone_plan(read) for read in reading.zones)
    return Plan((bowl,), zones, True, ("One bowl will do.",), 99, "demo shelf", True)


def _zone_plan(read: SampleZone) -> ZonePlan:
    now = read.reading.lab_d65
    predicted, target = now + np.array([-5.0, -1.5, -12.0]), now + np.array([-4.0, -1.0, -15.0])
    reason = Reason("too-warm", "Too warm to hide.", "Lift first, or choose a warmer target.")
    return ZonePlan(
        read.zone.name,
        1,
        Target(read.zone.name, 8.5, next(iter(TONES))),
        target,
        now,
        predicted,
        1.5 * COVARIANCE,
        level_of_lightness(predicted[0]),
        warmth_of_colour(predicted),
        3.4,
        0.66,
        0.4,
        18.0,
        5.0,
        12.0,
        2.0,
        3.0,
        "Two minutes more cost about 2 L*.",
        (reason,) if read.zone.name == "nape" else (),
        "",
    )


def visit(after: bool = True, care: CareVerdict | None = None, **heading: object) -> BeforeAfter:
    """An invented visit of two zones: the crown changes clearly, the nape does not."""
    before = side("before", findings=(GLARE,))
    later = side("after") if after else None
    pairs = zip(before.zones, later.zones, strict=True) if later else ()
    changes = tuple(difference(old.reading, new.reading) for old, new in pairs)
    whose = {"client_code": "Marigold", "salon": "Saltmarsh Lane", "day": date(2026, 11, 25), "demo": True, **heading}
    return BeforeAfter(
        Heading(**whose),
        before,
        care or care_of(CAUTION),
        plan_for(before),
        SCALE,
        later,
        changes,  # type: ignore[arg-type]
    )


def renamed(document: BeforeAfter, name: str) -> BeforeAfter:
    """The visit with one text in every place where a person may have typed one."""
    before = side("before", names=(name, "nape"))
    heading = replace(document.heading, client_code=name, salon=name)
    return replace(document, heading=heading, before=before, plan=plan_for(before, name), after=None, differences=())
