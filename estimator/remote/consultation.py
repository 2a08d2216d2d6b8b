"""A consultation from photographs that a client sent: sorted and judged, and what they say, with wide intervals."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from calibration.errors import PhotoRefusedError
from calibration.findings import Finding, Severity
from calibration.opening import open_photo
from calibration.photo import EncodedRgb
from calibration.references import References
from estimator.care.verdicts import CareVerdict, CareWord
from estimator.lifting.lift_plan import ZoneLift
from estimator.remote.bundle import Bundle, SentFile
from estimator.remote.copies import Pictured, looks_like_a_screen, pictured, same_pictures
from estimator.remote.filters import filter_suspected
from estimator.remote.views import asked_views, proposed_view
from estimator.scale.level import level_of
from estimator.scale.warmth import warmth_of
from estimator.toning.targets import Target
from estimator.visit import Consultation, PhotoReading, ReadZone, check, read_photo
from estimator.visit.lifting import LiftWishes, plan_lift

# Nobody at the salon saw how a sent photograph was taken, so each of its intervals is widened to this many times its
# width, even with a card in it. [our assumption]
SENT_IS_WIDER = 1.5


@dataclass(frozen=True, eq=False)
class SentPhoto:
    """One photograph that was sent.

    view : Which view it shows; "" while nobody knows. view_stated : A person said so, rather than the file's name.
    marks : What speaks against it: a copy, a picture of a screen, a filter, or what the capture checks found.
    reading : None where it can't be read.
    """

    name: str
    view: str
    view_stated: bool
    marks: tuple[Finding, ...]
    reading: PhotoReading | None

    @property
    def serves(self) -> bool:
        """It can be read, and nothing makes it a second or a false witness."""
        spoilt = any(mark.severity is Severity.RETAKE for mark in self.marks)
        return self.reading is not None and bool(self.reading.zones) and not spoilt


@dataclass(frozen=True)
class Estimate:
    """What the hair is likely to be before anybody has touched it.

    level_low, level_high : From the lowest to the highest that any photograph allows.
    stages : Of warmth, each once.
    verified : A card stands behind every photograph that served.
    """

    level: float
    level_low: float
    level_high: float
    stages: tuple[str, ...]
    photos: int
    verified: bool


@dataclass(frozen=True, eq=False)
class RemoteConsultation:
    """All that a set of sent photographs gives.

    missing_views : Titles of views that nobody sent. estimate : None where no photograph can be read.
    care : The verdict on what is known of the client. lift : The likely path; None without a wish or an estimate.
    """

    photos: tuple[SentPhoto, ...]
    left_out: tuple[str, ...]
    missing_views: tuple[str, ...]
    estimate: Estimate | None
    care: CareVerdict
    lift: ZoneLift | None

    @property
    def tests_first(self) -> tuple[str, ...]:
        """What must be done before anything is mixed."""
        findings = self.care.findings_of(CareWord.STOP) + self.care.findings_of(CareWord.TEST_FIRST)
        return tuple(dict.fromkeys(finding.remedy for finding in findings if not finding.missing))

    @property
    def open_questions(self) -> tuple[str, ...]:
        """Facts that nobody has given yet, each named once."""
        return tuple(dict.fromkeys(name for finding in self.care.findings for name in finding.missing))


@dataclass(frozen=True)
class AboutPhotos:
    """What a person says of the photographs. views : by name. references : what each one's colours may lean on."""

    views: Mapping[str, str] = field(default_factory=dict)
    references: Mapping[str, References] = field(default_factory=dict)


def consult(
    bundle: Bundle, consultation: Consultation, about: AboutPhotos | None = None, wish: Target | None = None
) -> RemoteConsultation:
    """The consultation on all that was sent.

    wish : Of the whole hair; its zone is "hair".
    """
    return concluded(sort_photos(bundle, about or AboutPhotos()), bundle.left_out, consultation, wish)


def concluded(
    photos: tuple[SentPhoto, ...], left_out: tuple[str, ...], consultation: Consultation, wish: Target | None = None
) -> RemoteConsultation:
    """What sorted photographs say together with what is known of the client; nothing is read anew."""
    served = [photo for photo in photos if photo.serves]
    shown = {photo.view for photo in photos if photo.view}
    missing = tuple(view.title for view in asked_views() if view.code not in shown)
    lift = _lift(served, consultation, wish) if wish is not None and served else None
    return RemoteConsultation(photos, left_out, missing, _estimate(served), check(consultation), lift)


def sort_photos(bundle: Bundle, about: AboutPhotos) -> tuple[SentPhoto, ...]:
    """Every photograph with its view, what speaks against it, and its reading."""
    copies = copies_in(bundle)
    return tuple(
        sorted_photo(
            file.name,
            about,
            copy_of(copies[file.name])
            if file.name in copies
            else read_sent(file.photo_bytes, about.references.get(file.name, References())),
        )
        for file in bundle.photos
    )


def copies_in(bundle: Bundle) -> dict[str, str]:
    """By the name of each copy the name of the larger picture that it is the same as."""
    looked = [(file.name, _looked_at(file)) for file in bundle.photos]
    seen = [(name, picture) for name, picture in looked if picture is not None]
    same = same_pictures([picture for _, picture in seen])
    return {name: seen[other][0] for (name, _), other in zip(seen, same, strict=True) if other is not None}


def _looked_at(file: SentFile) -> Pictured | None:
    try:
        return pictured(open_photo(file.photo_bytes))
    except PhotoRefusedError:
        return None


@dataclass(frozen=True, eq=False)
class SeenInPhoto:
    """What one photograph gave by itself: what speaks against it, and its reading, whose pixels are let go."""

    marks: tuple[Finding, ...]
    reading: PhotoReading | None


def copy_of(name: str) -> SeenInPhoto:
    """What a copy of the picture `name` gives: nothing but that."""
    return SeenInPhoto((_copy(name),), None)


def sorted_photo(name: str, about: AboutPhotos, seen: SeenInPhoto) -> SentPhoto:
    """One photograph with its view: as a person stated it, else as its name proposes."""
    view = about.views.get(name, proposed_view(name))
    return SentPhoto(name, view, name in about.views, seen.marks, seen.reading)


def read_sent(photo_bytes: bytes, references: References) -> SeenInPhoto:
    """One photograph read by itself, with every interval widened."""
    try:
        reading = read_photo(photo_bytes, references=references)
    except PhotoRefusedError as refusal:
        return SeenInPhoto((refusal.finding,), None)
    photo, patches = reading.corrected.photo, reading.corrected.patches
    marks = [*reading.corrected.verdict.findings, *reading.unread]
    if looks_like_a_screen(photo):
        marks.append(_screen())
    words = filter_suspected(patches, photo.encoding) if patches is not None and reading.corrected.verified else ""
    if words:
        marks.append(_filter(words))
    return SeenInPhoto(tuple(marks), _without_pixels(_widened(reading)))


def _without_pixels(reading: PhotoReading) -> PhotoReading:
    """The reading without the picture behind it: forty pictures of 12 megapixels would take 1.4 GB."""
    photo = reading.corrected.photo
    small = replace(photo, encoded_rgb=EncodedRgb(photo.encoded_rgb[:1, :1].copy()))
    return replace(reading, corrected=replace(reading.corrected, photo=small))


def _widened(reading: PhotoReading) -> PhotoReading:
    """The reading with every interval widened."""
    return replace(reading, zones=tuple(map(_wider, reading.zones)))


def _wider(zone: ReadZone) -> ReadZone:
    covariance = SENT_IS_WIDER**2 * zone.reading.covariance
    reading = replace(zone.reading, covariance=covariance)
    return replace(zone, reading=reading, level=level_of(reading), warmth=warmth_of(reading))


def _estimate(served: list[SentPhoto]) -> Estimate | None:
    zones = [zone for photo in served for zone in _zones_of(photo)]
    if not zones:
        return None
    levels = [zone.level for zone in zones]
    return Estimate(
        level=sum(level.level for level in levels) / len(levels),
        level_low=min(level.level_low for level in levels),
        level_high=max(level.level_high for level in levels),
        stages=tuple(dict.fromkeys(zone.warmth.stage for zone in zones)),
        photos=len(served),
        verified=all(zone.reading.verified for zone in zones),
    )


def _zones_of(photo: SentPhoto) -> tuple[ReadZone, ...]:
    return photo.reading.zones if photo.reading is not None else ()


def _lift(served: list[SentPhoto], consultation: Consultation, wish: Target) -> ZoneLift | None:
    """The path of the darkest hair that was seen: the rest has less far to go."""
    readings = [photo.reading for photo in served if photo.reading is not None]
    darkest = min(readings, key=lambda reading: min(zone.level.level for zone in reading.zones))
    zone = min(darkest.zones, key=lambda one: one.level.level)
    plan = plan_lift(darkest, consultation, LiftWishes((replace(wish, zone=zone.name),)))
    return plan.zone(zone.name)


def _copy(name: str) -> Finding:
    return Finding("copy", Severity.RETAKE, f"This is the same picture as {name}.", "Nothing to do: it counts once.")


def _screen() -> Finding:
    return Finding(
        "screenshot",
        Severity.RETAKE,
        "This looks like a picture of a screen: its colours are the screen's.",
        "Ask for the photograph itself, sent as a file.",
    )


def _filter(words: str) -> Finding:
    return Finding(
        "filter_suspected", Severity.RETAKE, words, "Ask for a photograph without filter, portrait or beauty mode."
    )
