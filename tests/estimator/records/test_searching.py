"""Finding clients and visits by what a salon knows of them; on both databases."""

from datetime import date, timedelta

import pytest

from estimator.errors import BadInputError
from estimator.records.clients import change_client, client
from estimator.records.searching import Asked, find_clients, find_visits, latest_visits
from estimator.records.showing import client_page, visit_page
from estimator.records.visit_record import FindingRecord
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import DAY, reading, visit


def _codes(found):
    return [each.code for each in found]


def test_a_client_is_found_by_the_beginning_of_any_word_whatever_its_accents(store):
    keep_visit(store, visit("A1", client_name="Zoë Lindqvist-Åberg"))
    keep_visit(store, visit("B2", client_name="Lind Marlow"))
    assert _codes(find_clients(store, "lind")) == ["B2", "A1"]
    assert _codes(find_clients(store, "ZOE lindq")) == ["A1"]
    assert _codes(find_clients(store, "b")) == ["B2"]
    assert _codes(find_clients(store, "qvist")) == []
    with pytest.raises(BadInputError):
        find_clients(store, "  ")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("schulz", ["H"]),
        ("meyer-sch", ["H"]),
        ("lena meyer", ["H"]),
        ("o'brien", ["A", "C"]),
        ("o\N{RIGHT SINGLE QUOTATION MARK}brien", ["A", "C"]),  # as telephones write it
        ("brien", ["A", "C"]),
        ("bo", ["B"]),
        ("rien", []),
    ],
)
def test_what_a_hyphen_an_apostrophe_or_a_bracket_parts_finds_as_well(store, asked, found):
    names = {
        "H": "Anna-Lena Meyer-Schulz",
        "A": "Una O'Brien",
        "C": "Una O\N{RIGHT SINGLE QUOTATION MARK}Brien",
        "B": "(Bo) Li",
    }
    for code, name in names.items():
        keep_visit(store, visit(code, client_name=name))
    assert sorted(_codes(find_clients(store, asked))) == sorted(found)


def test_a_new_name_finds_and_the_old_one_finds_no_more_until_it_is_undone(store):
    keep_visit(store, visit("A1", client_name="Old Name"))
    change_client(store, client(store, "A1"), name="New Name")
    assert _codes(find_clients(store, "new")) == ["A1"]
    assert _codes(find_clients(store, "old")) == []
    store.undo()
    assert _codes(find_clients(store, "old")) == ["A1"]
    assert _codes(find_clients(store, "new")) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        (Asked(level=7), ["first"]),
        (Asked(level=6), ["first", "second"]),  # 5.6 and 5.5 are both told as level 6
        (Asked(stage="yellow"), ["first"]),
        (Asked(level=9, stage="yellow"), ["first"]),
        (Asked(level=7, stage="yellow"), []),
        (Asked(tone="beige"), ["first", "second"]),
        (Asked(finding="ask-a-doctor", level=7), ["first"]),
        (Asked(finding="none-such"), []),
        (Asked(finding="only-second"), ["second"]),
        (Asked(finding="only-second", level=7), []),
        (Asked(finding="only-second", level=6, tone="beige"), ["second"]),
        (Asked(text="seco", level=6), ["second"]),
        (Asked(text="seco", level=7), []),
        (Asked(first_day=DAY + timedelta(1)), ["first"]),
        (Asked(last_day=DAY), ["second"]),
        (Asked(level=6, first_day=DAY + timedelta(1)), ["first"]),
    ],
)
def test_visits_are_found_by_level_warmth_tone_finding_and_date(file_store, asked, expected):
    keep_visit(file_store, visit("first", day=DAY + timedelta(days=2)))
    only = FindingRecord("care", "only-second", "caution", "", "m", "r", "our assumption")
    both = (*visit().findings, only)
    keep_visit(file_store, visit("second", readings=(reading("crown", 5.5, stage="orange"),), findings=both))
    assert _codes(find_visits(file_store, asked)) == expected


@pytest.mark.slow
def test_pages_of_visits_go_on_where_the_last_one_ended(store):
    for number in range(7):
        keep_visit(store, visit(f"client {number}", day=DAY + timedelta(days=number // 2), photos=(), documents=()))
    seen, after = [], None
    while page := latest_visits(store, after, most=3):
        seen += page
        after = page[-1].place
    assert len({each.id for each in seen}) == 7
    assert [each.day for each in seen] == sorted((each.day for each in seen), reverse=True)
    levels, after = [], None
    while page := find_visits(store, Asked(level=7), after, most=3):
        levels += page
        after = page[-1].place
    assert [each.id for each in levels] == [each.id for each in seen]


def test_a_name_that_too_many_answer_to_asks_for_more_letters(file_store, monkeypatch):
    monkeypatch.setattr("estimator.records.searching.MOST_NAMED", 1)
    keep_visit(file_store, visit("A1", client_name="Mara"))
    keep_visit(file_store, visit("A2", client_name="Marlow"))
    with pytest.raises(BadInputError, match="Type more letters"):
        find_visits(file_store, Asked(text="mar", level=7))


@pytest.mark.slow
def test_a_client_s_page_shows_consents_visits_and_notes(store):
    kept = keep_visit(store, visit())
    keep_visit(store, visit(day=date(2026, 11, 9)))
    page = client_page(store, "M. D.")
    assert [(consent.scope, consent.withdrawn_on) for consent in page.consents] == [
        ("health answers", None),
        ("record", None),
    ]
    assert [(each.day, each.photos) for each in page.visits] == [(date(2026, 11, 9), 2), (DAY, 2)]
    assert page.notes == ("Likes it cool.", "Likes it cool.")
    shown = visit_page(store, kept.id[:10])
    assert [(each.side, each.zone, each.level.level) for each in shown.readings] == [
        ("before", "crown", 7.2),
        ("before", "nape", 5.6),
        ("after", "crown", 8.6),
    ]
    assert shown.mixed[0].shade_grams == [["violet", 20.5], ["clear", 10.0]]
