"""Hostile names in an address book: a card for each client, each name as it was, in files that other programs read."""

import csv
import io

import pytest
import vobject

from estimator.records.clients import client
from estimator.records.visits import keep_visit
from estimator.spreadsheet_cells import from_cell
from tests.counts import NIGHT
from tests.privacy.hostile_texts import EVERYDAY_STEP, hostile_texts
from tests.privacy.visits import visit_saying

pytestmark = pytest.mark.slow

LONGEST_NAME = 200
# A name is one line in an address book (RFC 6350, 6.2.1): of line ends and control characters only a space may stay.
KEPT = tuple(text for text in hostile_texts() if "\0" not in text)
GROUPS = [
    pytest.param(KEPT[::EVERYDAY_STEP], id="everyday"),
    pytest.param(KEPT, id="all", marks=NIGHT),
]


@pytest.fixture(params=GROUPS)
def names(request, store):
    """The names of a salon's clients, in the order of their codes."""
    found = []
    for number, text in enumerate(request.param):
        keep_visit(store, visit_saying("plain", f"code {number:03}", client_name=text[:LONGEST_NAME], photos=()))
        found.append(client(store, f"code {number:03}").name)
    return found


def _line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() or sign.isspace() else "" for sign in text).split())


def test_every_name_stands_in_its_own_card(names, tmp_path, command):
    code, said = command("records", "contacts", tmp_path / "book.vcf")
    assert code == 0, said
    content = (tmp_path / "book.vcf").read_bytes()
    cards = list(vobject.readComponents(content.decode("utf-8")))
    assert len(cards) == len(names)
    told = sorted(_line(card.fn.value) for card in cards)
    assert told == sorted(_line(name) for name in names)
    assert b"\n" not in content.replace(b"\r\n", b"")


def test_every_name_stands_in_its_own_row(names, tmp_path, command):
    code, said = command("records", "contacts", tmp_path / "book.csv")
    assert code == 0, said
    rows = list(csv.reader(io.StringIO((tmp_path / "book.csv").read_bytes().decode("utf-8-sig"), newline="")))
    assert len(rows) == len(names) + 1
    cells = {_line(from_cell(cell)) for row in rows[1:] for cell in row}
    assert [name for name in names if _line(name) not in cells] == []
    first = {cell[:1] for row in rows[1:] for cell in row}
    assert not first & set("=+@\t\r\n")
