"""Keeping a visit on the page: consent first, nobody else's visits in sight, and the way back."""

import io
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from estimator.lifting.clock_events import Kind, new_event
from estimator.lifting.clock_store import instant_now
from estimator.pages import draft
from estimator.pages.demo import demo_visit
from estimator.pages.draft import Wish
from estimator.salon_settings import clock_store

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def salon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return tmp_path / "salon"


def _section(script: str, visit: "draft.Draft") -> AppTest:
    """One part of a screen alone, with a visit in hand."""
    page = AppTest.from_string(script, default_timeout=30)
    page.session_state["draft"] = visit
    return page.run()


KEEPING = "from estimator.pages import draft, keeping\nkeeping.show(draft.current())"
EARLIER = (
    "from estimator.pages import draft, earlier\nfrom estimator.pages.showing import one_sentence\n"
    "with one_sentence():\n    earlier.show(draft.current())"
)
PAPERS = "from estimator.pages import draft, papers\npapers.show(draft.current())"


@pytest.fixture
def visit() -> "draft.Draft":
    """A visit of the 5th of October with one wish: invented, but not marked so, as a real one comes."""
    made = demo_visit()
    return replace(made, demo=False, client="Q. R.", day=date(2026, 10, 5), wishes={}, before=made.before)


def words(page: AppTest) -> str:
    assert not page.exception
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text))


def rows(salon: Path, question: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(salon / "records.sqlite") as kept:
        return kept.execute(question).fetchall()


def agreed_and_kept(page: AppTest, *uses: str) -> AppTest:
    page = page.button(key="keep_open").click().run()
    for use in uses:
        page.button_group(key=f"agrees_{use}").set_value("the client agrees")
    page.button_group(key="agrees_how").set_value("signed")
    page.text_input(key="agrees_on").set_value("2026-10-04")
    return page.button(key="keep").click().run()


def test_a_visit_is_kept_with_the_consent_as_it_was_shown_and_taken_back(visit: "draft.Draft", salon: Path) -> None:
    page = _section(KEEPING, visit)
    shown = words(page.button(key="keep_open").click().run())
    assert not (salon / "records.sqlite").exists()
    page = agreed_and_kept(_section(KEEPING, visit), "record")
    assert "Kept under Q. R." in words(page)
    assert "has not agreed that health answers are kept" in words(page)
    ((text, given_on, how),) = rows(salon, "SELECT text, given_on, how FROM consent")
    assert text in shown
    assert (given_on, how) == ("2026-10-04", "signed")
    assert rows(salon, "SELECT count(*) FROM reading") == [(4,)]
    assert rows(salon, "SELECT count(*) FROM answer") == [(0,)]
    seen = words(_section(EARLIER, visit))
    assert "5 October 2026" in seen
    assert "Crown, before: level" in seen
    page = page.button(key="keep_undo").click().run()
    assert "Kept under" not in words(page)
    assert "level" not in words(_section(EARLIER, visit))
    assert agreed_and_kept(_section(KEEPING, visit), "record")
    assert "5 October 2026" in words(_section(EARLIER, visit))


def test_nothing_is_written_without_the_consent_to_the_record(visit: "draft.Draft", salon: Path) -> None:
    page = agreed_and_kept(_section(KEEPING, visit), "portfolio")
    assert "has not agreed to the record" in words(page)
    assert not (salon / "records.sqlite").exists()


def test_a_visit_without_a_client_s_code_is_refused_in_a_sentence(visit: "draft.Draft") -> None:
    page = _section(KEEPING, replace(visit, client="")).button(key="keep_open").click().run()
    assert "Give initials or a code" in words(page)
    assert not [button for button in page.button if button.key == "keep"]


@pytest.mark.parametrize(("day", "sentence"), [("5.10.", "is no day"), ("9999-01-01", "still to come")])
def test_a_day_that_is_none_is_refused_and_nothing_is_kept(
    visit: "draft.Draft", salon: Path, day: str, sentence: str
) -> None:
    page = _section(KEEPING, visit).button(key="keep_open").click().run()
    page.button_group(key="agrees_record").set_value("the client agrees")
    page.text_input(key="agrees_on").set_value(day)
    assert sentence in words(page.button(key="keep").click().run())
    assert not (salon / "records.sqlite").exists()


def test_how_the_client_agreed_has_to_be_said(visit: "draft.Draft", salon: Path) -> None:
    page = _section(KEEPING, visit).button(key="keep_open").click().run()
    page.button_group(key="agrees_record").set_value("the client agrees")
    page = page.button(key="keep").click().run()
    assert "Say how the client agreed" in words(page)
    assert rows(salon, "SELECT count(*) FROM visit") == [(0,)]


def test_nobody_s_visits_are_shown_but_those_of_the_code_that_was_entered(visit: "draft.Draft") -> None:
    agreed_and_kept(_section(KEEPING, visit), "record")
    assert _section(EARLIER, replace(visit, client="q. r.")).expander
    for other in ("Q. R", "Q. R. S.", "%"):
        page = _section(EARLIER, replace(visit, client=other))
        assert not page.expander
        assert "level" not in words(page)


def test_visits_of_two_days_are_drawn_with_what_faded_between_them(visit: "draft.Draft", salon: Path) -> None:
    from estimator.records.place import salon_place
    from estimator.records.store import open_store
    from estimator.records.visits import keep_visit
    from tests.estimator.records.invented import reading
    from tests.estimator.records.invented import visit as invented

    with open_store(salon_place(salon)) as store:
        keep_visit(store, invented("Q. R."))
        keep_visit(store, invented("Q. R.", day=date(2026, 11, 2), readings=(reading("crown"),)))
        keep_visit(store, invented("Q. R. S.", day=date(2026, 11, 9)))
    seen = words(_section(EARLIER, visit))
    assert 'aria-label="Level of the crown: 5 October 2026 before 7.2' in seen
    assert "From 5 October 2026, in 28 days: deeper by 1.4" in seen
    assert "9 November" not in seen


def test_visits_are_not_shown_once_the_consent_is_taken_back(visit: "draft.Draft", salon: Path) -> None:
    from estimator.records.clients import withdraw_consent
    from estimator.records.consent_scopes import Scope
    from estimator.records.place import salon_place
    from estimator.records.store import open_store

    agreed_and_kept(_section(KEEPING, visit), "record")
    with open_store(salon_place(salon)) as store:
        withdraw_consent(store, "Q. R.", Scope.RECORD, date(2026, 10, 6), "spoken")
    seen = words(_section(EARLIER, visit))
    assert "taken back the consent" in seen
    assert "Crown" not in seen


def test_demo_data_never_stand_among_a_client_s_visits(visit: "draft.Draft", salon: Path) -> None:
    agreed_and_kept(_section(KEEPING, visit), "record")
    page = _section(KEEPING, replace(visit, demo=True)).button(key="keep_open").click().run()
    assert "is kept as a real client" in words(page)
    assert rows(salon, "SELECT count(*) FROM visit") == [(1,)]


def test_a_changed_visit_takes_the_place_of_the_one_kept_before(visit: "draft.Draft", salon: Path) -> None:
    page = agreed_and_kept(_section(KEEPING, visit), "record")
    page.session_state["draft"] = replace(visit, wishes={"crown": Wish(9.0, "beige")})
    page = page.run()
    assert "was changed since" in words(page)
    page = page.button(key="keep_open").click().run()
    assert "Agreed on 4 October 2026" in words(page)
    page.button(key="keep").click().run()
    assert rows(salon, "SELECT count(*) FROM visit WHERE NOT removed") == [(1,)]
    assert "wanted beige" in words(_section(EARLIER, visit))


def test_what_is_agreed_to_later_is_kept_though_the_visit_was_there_already(visit: "draft.Draft", salon: Path) -> None:
    agreed_and_kept(_section(KEEPING, visit), "record")
    page = _section(KEEPING, visit).button(key="keep_open").click().run()
    page.button_group(key="agrees_portfolio").set_value("the client agrees")
    page.button_group(key="agrees_how").set_value("by a tap")
    page.button(key="keep").click().run()
    assert sorted(rows(salon, "SELECT scope, how FROM consent")) == [("portfolio", "by a tap"), ("record", "signed")]
    assert rows(salon, "SELECT count(*) FROM visit") == [(1,)]


@pytest.mark.parametrize("other", [{"day": date(2026, 11, 2)}, {}])
def test_another_visit_of_the_same_client_stands_beside_the_first(
    visit: "draft.Draft", salon: Path, other: dict[str, date]
) -> None:
    page = agreed_and_kept(_section(KEEPING, visit), "record")
    page.session_state["draft"] = replace(visit, wishes={"crown": Wish(9.0, "beige")}, **other)
    page.session_state["draft_name"] = "f" * 32
    page = page.run()
    assert "was changed since" not in words(page)
    page.button(key="keep_open").click().run().button(key="keep").click().run()
    assert rows(salon, "SELECT count(*) FROM visit WHERE NOT removed") == [(2,)]


def test_what_was_learned_from_a_visit_is_kept_with_it_and_nothing_of_another(
    visit: "draft.Draft", salon: Path
) -> None:
    from estimator.feedback.journal_store import JournalStore
    from estimator.feedback.outcome import Outcome, ShadeUsed
    from estimator.toning.plan import Porosity

    page = agreed_and_kept(_section(KEEPING, visit), "record")
    lab, rows_of = (60.0, 5.0, 20.0), ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    shades = (ShadeUsed("violet", (60.0, 14.0, -20.0), 1.0, False),)
    mine = Outcome("a", "Q. R.", date(2026, 10, 5), "crown", Porosity.NORMAL, 12.0, 20.0, lab, shades, lab, rows_of,
                   lab, rows_of, rows_of)  # fmt: skip
    learned = (mine, replace(mine, key="b", client="Q. R. S."), replace(mine, key="c", day=date(2026, 9, 1)))
    JournalStore(salon / "outcomes.jsonl").change(lambda held: held.with_outcomes(learned))
    page = page.run()
    assert "was changed since" in words(page)
    page.button(key="keep_open").click().run().button(key="keep").click().run()
    assert rows(salon, "SELECT zone, told FROM outcome") == [("crown", "learned from, 12 minutes on the hair")]


def test_the_clock_that_was_started_in_this_visit_is_kept_with_it_and_taken_back(
    visit: "draft.Draft", salon: Path
) -> None:
    clock, limits = clock_store(salon), {"most_minutes": 30.0, "check_minutes": 5.0}
    clock.add(new_event(Kind.START, "nape", instant_now(), visit="a" * 32, **limits))  # type: ignore[arg-type]
    clock.add(new_event(Kind.START, "back", instant_now(), visit="b" * 32, **limits))  # type: ignore[arg-type]
    page = AppTest.from_string(KEEPING, default_timeout=30)
    page.session_state["draft"], page.session_state["draft_name"] = visit, "a" * 32
    page = agreed_and_kept(page.run(), "record")
    assert rows(salon, "SELECT kind, zone FROM clock_event WHERE NOT removed") == [("start", "nape")]
    clock.add(new_event(Kind.RINSE, "nape", instant_now()))
    page = page.run()
    assert "The visit was changed since" in words(page)
    page.button(key="keep_undo").click().run()
    assert rows(salon, "SELECT kind FROM clock_event WHERE NOT removed") == []


def test_a_damaged_clock_keeps_no_visit_from_being_kept_and_is_told(visit: "draft.Draft", salon: Path) -> None:
    salon.mkdir()
    (salon / "clock.json").write_text("{", encoding="utf-8")
    page = agreed_and_kept(_section(KEEPING, visit), "record")
    assert "Kept under Q. R." in words(page)
    assert "events were left out." in words(page)
    assert rows(salon, "SELECT count(*) FROM visit WHERE NOT removed") == [(1,)]


def test_a_portfolio_picture_needs_the_consent_for_it(visit: "draft.Draft") -> None:
    import PIL.Image

    page = _section(PAPERS, visit).button(key="make_portfolio").click().run()
    assert "There is no consent" in words(page)
    agreed_and_kept(_section(KEEPING, visit), "record", "portfolio")
    page = _section(PAPERS, visit).button(key="make_portfolio").click().run()
    assert "There is no consent" not in words(page)
    ((paper,),) = page.session_state["papers"].values()
    assert PIL.Image.open(io.BytesIO(paper.content)).format == "PNG"
    page.button_group(key="portfolio_hide").set_value("plain grey")
    page = page.run().button(key="make_portfolio").click().run()
    _, (cut,) = page.session_state["papers"].values()
    blurred, plain = (PIL.Image.open(io.BytesIO(each.content)).convert("RGB") for each in (paper, cut))
    assert len(plain.getcolors(1_000_000)) < len(blurred.getcolors(1_000_000))


def test_bowl_sheet_and_letter_can_be_taken_away_and_a_stop_hides_the_bowls(visit: "draft.Draft") -> None:
    from pypdf import PdfReader

    toned = replace(visit, wishes={"crown": Wish(9.0, "beige")})
    for age, said in ((30.0, "developer"), (15.0, "stop")):
        page = _section(PAPERS, replace(toned, answers={**visit.answers, "age_years": age}))
        page = page.button(key="make_bowls").click().run()
        page = page.button(key="make_letter").click().run()
        words(page)
        made = [paper for papers in page.session_state["papers"].values() for paper in papers]
        (bowls, *pictures), (text, letter) = made[:-2], made[-2:]
        pages = PdfReader(io.BytesIO(bowls.content)).pages
        sheet = "".join(each.extract_text() for each in pages)
        assert len(pictures) == len(pages)
        # A5 is 148 mm wide (ISO 216): at 200 dots per inch 1165 pixels.
        assert {Image.open(io.BytesIO(each.content)).size[0] for each in pictures} == {1165}
        assert said in sheet.lower()
        assert ("Bowl 1" in sheet) == (age == 30.0)
        assert letter.content.startswith(b"%PDF")
        assert b" g of " not in text.content
        assert b"Crown" in text.content


def test_no_database_library_is_loaded_before_records_are_used() -> None:
    script = "import sys, app_screens\nprint('sqlalchemy' in sys.modules)".replace(
        "app_screens", "estimator.pages.after, estimator.pages.photograph, estimator.pages.targets"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"
