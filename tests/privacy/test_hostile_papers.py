"""Hostile texts on every paper: they are seen as they were written, and do nothing."""

import csv
import io
import re
from functools import cache
from html.parser import HTMLParser

import icalendar
import pytest
import vobject
from pypdf import PdfReader

from estimator.spreadsheet_cells import from_cell
from tests.privacy import papers
from tests.privacy.hostile_texts import everyday_and_slow, hostile_texts, on_paper, squeezed

GROUPS = everyday_and_slow()
# Of a reply's texts only the code and the salon and the photographs' names are shown; of an intake sheet the salon.
ACTIVE_TAGS = {"script", "iframe", "object", "embed", "link", "base", "foreignobject", "a", "use"}
ADDRESS_ATTRIBUTES = {"src", "href", "xlink:href", "action", "data", "poster", "srcset", "background"}


def test_there_are_a_hundred_texts_and_more():
    assert len(set(hostile_texts())) >= 100


def seen(texts):
    """Those texts of a group that anybody can see."""
    return [text for text in texts if squeezed(text.replace("_", " "))]


# --- PDF


@cache
def printed(paper: str, texts: tuple[str, ...]) -> bytes:
    """The paper with these texts."""
    return papers.PDFS[paper](texts)


def printed_words(pdf: bytes) -> str:
    """Every word of a PDF in reading order, without blanks."""
    return squeezed("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)).replace("_", "")


@pytest.mark.slow
@pytest.mark.parametrize("texts", GROUPS)
@pytest.mark.parametrize("paper", papers.PDFS)
def test_every_text_stands_in_the_pdf_as_it_was_written(paper, texts):
    words = printed_words(printed(paper, texts))
    assert [text for text in seen(texts) if not on_paper(text).search(words)] == []


@pytest.mark.slow
@pytest.mark.parametrize("texts", GROUPS)
@pytest.mark.parametrize("paper", papers.PDFS)
def test_no_pdf_does_anything(paper, texts):
    reader = PdfReader(io.BytesIO(printed(paper, texts)))
    assert not reader.trailer["/Root"].keys() & {"/OpenAction", "/AA", "/AcroForm"}
    names = reader.trailer["/Root"].get("/Names", {})
    assert not names.keys() & {"/JavaScript", "/EmbeddedFiles"}
    actions = [link for page in reader.pages for link in page.get("/Annots", [])]
    assert actions == []


# --- pages


class Reading(HTMLParser):
    """What a page holds: its words, its tags, the attributes that could do or fetch something."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.faults: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag, attrs):
        if tag in ACTIVE_TAGS:
            self.faults.append(tag)
        for name, value in attrs:
            address = name in ADDRESS_ATTRIBUTES and not (value or "").startswith("data:image/")
            if name.startswith("on") or address:
                self.faults.append(f"{tag} {name}={value}")
            if name in ("alt", "aria-label", "title"):
                self.words.append(value or "")
        self._silent += tag == "style"

    def handle_endtag(self, tag):
        self._silent -= tag == "style"

    def handle_data(self, data):
        if not self._silent:
            self.words.append(data)


def read(page: bytes) -> Reading:
    reading = Reading()
    reading.feed(page.decode("utf-8"))
    reading.close()
    return reading


@pytest.mark.slow
@pytest.mark.parametrize("texts", GROUPS)
@pytest.mark.parametrize("paper", papers.PAGES)
def test_every_text_stands_on_the_page_and_is_no_part_of_it(paper, texts):
    reading = read(papers.PAGES[paper](texts))
    assert reading.faults == []
    words = squeezed("".join(reading.words)).replace("_", "")
    missing = [text for text in seen(texts) if not re.search(
        re.escape(squeezed(text.replace("_", " "))), words, re.IGNORECASE)]  # fmt: skip
    assert missing == []


@pytest.mark.slow
@pytest.mark.parametrize("paper", papers.PAGES)
def test_tags_of_a_page_are_the_same_whatever_was_written(paper):
    """A text can't open or close anything: as many of each tag as with plain names."""
    plain = [f"zone {letter}" for letter in "abcdefgh"]
    hostile = [text for text in hostile_texts() if "<" in text][:8]
    assert len(hostile) == 8
    tags = [re.findall(rb"<(\w+|/\w+)", papers.PAGES[paper](texts)) for texts in (plain, hostile)]
    assert sorted(tags[0]) == sorted(tags[1])


# --- plain texts


@pytest.mark.parametrize("texts", GROUPS)
@pytest.mark.parametrize("paper", ["letter", "reply"])
def test_every_text_stands_in_the_letter_as_text(paper, texts):
    words = squeezed(papers.TEXTS[paper](texts).decode("utf-8")).replace("_", "")
    assert [text for text in seen(texts) if not on_paper(text).search(words)] == []


@pytest.mark.parametrize("texts", GROUPS)
def test_a_trend_in_csv_brings_every_text_back(texts):
    rows = list(csv.DictReader(io.StringIO(papers.TEXTS["trend"](texts).decode("utf-8"), newline="")))
    assert [from_cell(row["zone"]) for row in rows] == [*texts, *texts]
    assert [from_cell(row["scale"]) for row in rows] == [*texts, *texts]


def _calendar_words(text: str) -> str:
    """The text as RFC 5545 can hold it: line ends as one, no other control character."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(sign for sign in lines if sign in "\t\n" or (ord(sign) >= 32 and ord(sign) != 127))


@pytest.mark.parametrize("texts", GROUPS)
def test_a_calendar_holds_as_many_events_as_reminders_and_every_text(texts):
    content = papers.TEXTS["calendar"](texts)
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    wanted = [_calendar_words(text) for text in texts]
    assert [str(event["DESCRIPTION"]) for event in events] == wanted
    assert {name for event in events for name in event} <= {
        *("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "CATEGORIES", "CLASS", "TRANSP"),
    }  # fmt: skip
    assert [len(event.walk("VALARM")) for event in events] == [1] * len(events)
    (calendar,) = vobject.readComponents(content.decode("utf-8"))
    assert [event.description.value for event in calendar.vevent_list] == wanted
    assert max(len(line) for line in content.split(b"\r\n")) <= 75  # RFC 5545, 3.1, in octets
    assert b"\n" not in content.replace(b"\r\n", b"")
