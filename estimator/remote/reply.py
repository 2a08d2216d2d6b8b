"""The reply to a client who sent photographs, as a draft in plain words. The colourist changes it and sends it."""

from estimator.care.cautions import usual_cautions
from estimator.care.questions import FACT_TABLE
from estimator.remote.consultation import RemoteConsultation, SentPhoto
from estimator.reports import wording
from estimator.reports.client_letter import PLEASE_TELL, ClientLetter, Passage
from estimator.reports.composing import DEMO
from estimator.reports.document import Heading
from estimator.reports.lift_wording import visits_text

ALWAYS_FIRST = ("allergy-test",)
MOST_QUESTIONS = 12  # a client answers a short list; the rest is asked at the chair


def reply_to(heading: Heading, consultation: RemoteConsultation) -> ClientLetter:
    """The reply: what was seen, what could not be, the likely way, tests first, and what is still to be answered."""
    passages = (
        Passage("What your photographs show", _shown(consultation)),
        Passage("Photographs we would like again", tuple(_again(consultation))),
        Passage("The likely way", tuple(filter(None, (way_words(consultation),)))),
        Passage("What comes first", _first(consultation)),
        Passage("Please answer", _questions(consultation)),
        Passage("Please tell us", PLEASE_TELL),
        Passage("How far this goes", (_HOW_FAR,)),
    )
    told = tuple(passage for passage in passages if passage.sentences)
    who = (("For", heading.client_code), ("From", heading.salon), ("Date", wording.date_text(heading.day)))
    return ClientLetter("Your photographs", DEMO if heading.demo else "", who, told)


_HOW_FAR = (
    "This is a first look at photographs and no promise. What is possible is decided at the chair, with your hair in "
    "our hands, by a licensed colourist; the maker's instructions and the law stand above it."
)


def _shown(consultation: RemoteConsultation) -> tuple[str, ...]:
    estimate = consultation.estimate
    if estimate is None:
        return ("None of the photographs can be measured yet. The list below says why, and how to take new ones.",)
    low, high = wording.plain_text(estimate.level_low), wording.plain_text(estimate.level_high)
    about = wording.number_text(estimate.level, 0)
    count = wording.count_text(estimate.photos, "photograph")
    sentences = [
        f"From {count}: about level {about}, somewhere between {low} and {high}; 1 is black, 10 the lightest blonde.",
        f"Warmth in it: {wording.list_text(estimate.stages)}.",
    ]
    if not estimate.verified:
        sentences.append("There was no colour card in every photograph, so this is rough.")
    return tuple(sentences)


def _again(consultation: RemoteConsultation) -> list[str]:
    sentences = [_of_photo(photo) for photo in consultation.photos if not photo.serves and not _is_copy(photo)]
    if consultation.missing_views:
        sentences.append(f"Not seen yet: {wording.list_text([title.lower() for title in consultation.missing_views])}.")
    return sentences


def _is_copy(photo: SentPhoto) -> bool:
    return any(mark.code == "copy" for mark in photo.marks)


def _of_photo(photo: SentPhoto) -> str:
    if not photo.marks:
        return f"{photo.name}: no hair could be made out in it. Take it again nearer, in even light."
    mark = photo.marks[0]
    return f"{photo.name}: {mark.message} {mark.remedy}"


def way_words(consultation: RemoteConsultation) -> str:
    """The likely way to what is wished for, in one sentence; "" without a wish or an estimate."""
    lift = consultation.lift
    if lift is None or consultation.estimate is None:
        return ""
    if consultation.care.stops_everything:
        return "Before anything is planned, what comes first must be settled."
    to = wording.plain_text(lift.target.level)
    if lift.reachable_today and lift.levels_today <= 0:
        return f"Level {to} asks for no lightening; a toner may do."
    if lift.visits is None:
        return f"Level {to} may not be within reach for this hair; we would talk about a deeper wish."
    return f"Towards level {to}: {visits_text(lift.visits)}, if a strand test agrees."


def _first(consultation: RemoteConsultation) -> tuple[str, ...]:
    """What care asks for, and the tests that always come first."""
    always = (f"{caution.title}: {caution.text}" for caution in usual_cautions() if caution.code in ALWAYS_FIRST)
    return tuple(dict.fromkeys((*consultation.tests_first, *always)))


def _questions(consultation: RemoteConsultation) -> tuple[str, ...]:
    asked = [FACT_TABLE.question_of[name] for name in consultation.open_questions if name in FACT_TABLE.question_of]
    return tuple(question.text for question in asked[:MOST_QUESTIONS])
