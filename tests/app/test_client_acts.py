"""What is done on a client's screen: each act, what is said of it, and what is refused with nothing lost."""

import io
import json
import sqlite3
import zipfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from estimator.keeping import record_of_file
from estimator.pages import draft
from estimator.records.clients import change_client, client, give_consent
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visit_record import ConsentRecord, FindingRecord, PlanRecord
from estimator.records.visits import keep_visit
from estimator.records.withdrawing import withdraw
from estimator.visit_file import run_visit
from tests.app.kept_clients import AREA, SCREENS, area, keep, keys, opened, part, today, words

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"


@pytest.fixture(autouse=True)
def salon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return tmp_path / "salon"


def rows(salon: Path, question: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(salon / "records.sqlite") as kept:
        return kept.execute(question).fetchall()


# --- what is seen


def test_a_client_s_visits_stand_with_readings_small_pictures_and_the_trend(salon: Path) -> None:
    keep(salon)
    keep(salon, days_ago=40)
    page = area("M. D.")
    seen = words(page)
    assert "Marigold Dunmore, marigold@example.org" in seen
    assert seen.count("Crown, before: level 7.2 (6.8 to 7.6), gold; wanted beige") == 2
    assert 'aria-label="Level of the crown' in seen
    pictures = "".join(element.proto.body for element in page.get("html"))
    assert pictures.count("data:image/jpeg;base64,") == 4


def test_answers_stand_beside_what_they_were_before(salon: Path) -> None:
    keep(salon, days_ago=40, facts={"asthma": False, "age_years": 34.0})
    keep(salon, facts={"asthma": True, "age_years": 34.0})
    seen = words(part(area("M. D."), "Answers"))
    assert "Asthma: <b>yes</b>" in seen
    assert "no</span>" in seen
    assert seen.count("Before, on") == 1


def test_a_visit_s_screen_tells_what_was_planned_mixed_timed_and_seen(salon: Path) -> None:
    visit_id = keep(salon)
    page = area("M. D.").button(key=f"open_{visit_id}").click().run()
    seen = words(page)
    for told in (
        "Bowl 1: 2 parts violet, 1 part clear",
        "Bowl 1: violet 20.5 g, clear 10 g; developer 61 g, 6 volume on crown, 12 minutes. a little more",
        "crown: as wished",
        "crown: start",
        "Likes it cool.",
        "1 to 2 visits, 2 to 3.5 hours in all, 90 to 140 EUR",
        "Ask a doctor.",
    ):
        assert told in seen
    assert len(page.get("download_button")) == 2
    assert words(page.button(key="visit_back").click().run()).count("Begin a visit") == 1


def test_a_plan_or_finding_of_another_program_is_shown_as_far_as_it_is_understood(salon: Path) -> None:
    strange = FindingRecord("care", "new-rule", "a word to come", "", "Look here.", "Do that.", "common practice")
    visit_id = keep(salon, plan=PlanRecord("shelf", {"bowls": [{}, {"number": 4}]}), findings=(strange,))
    page = area("M. D.").button(key=f"open_{visit_id}").click().run()
    assert "Look here." in words(page)
    assert "Bowl 4" in words(page)


# --- consents


def test_a_consent_is_given_and_taken_back_by_one_tap_each(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "Consents")
    page = page.button(key="agree_PORTFOLIO").click().run()
    assert "Agreed to, spoken: pictures shown to others" in words(page)
    kept = rows(salon, "SELECT text, given_on, withdrawn_on FROM consent WHERE scope = 'portfolio'")
    assert kept == [(scope_texts()[Scope.PORTFOLIO].text, today().isoformat(), None)]
    page = page.button(key="take_back_PORTFOLIO").click().run()
    assert "Take down those that were handed out" in words(page)
    assert rows(salon, "SELECT withdrawn_on FROM consent WHERE scope = 'portfolio'") == [(today().isoformat(),)]
    assert "agree_PORTFOLIO" in keys(page)


def test_health_answers_go_with_their_consent_and_the_screen_says_how_many(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "Consents").button(key="take_back_HEALTH").click().run()
    assert "5 rows erased" in words(page)  # one consultation, answer and finding of care, two reports
    assert rows(salon, "SELECT count(*) FROM consultation") == [(0,)]
    assert "does not agree" in words(part(page, "Answers"))


def test_answers_that_wait_in_the_visit_in_hand_go_with_their_consent(salon: Path) -> None:
    keep(salon)
    page = AppTest.from_string(AREA, default_timeout=30)
    page.session_state["client_open"] = "M. D."
    page.session_state["draft"] = draft.Draft(client="m. d.", told_before={"asthma": True}, told_on=today())
    page = part(page.run(), "Consents").button(key="take_back_HEALTH").click().run()
    assert page.session_state["draft"].told_before == {}


def test_what_was_agreed_to_before_and_taken_back_stays_to_be_seen(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "Consents").button(key="take_back_RECORD").click().run()
    seen = words(page)
    assert "Nothing more is kept or shown" in seen
    assert f"Agreed on 5 October 2026, signed; taken back on {today().day} " in seen
    page = page.button(key="agree_RECORD").click().run()
    assert "Marigold Dunmore" in words(page)


# --- what is added


def test_a_note_is_kept_and_an_empty_one_refused_in_a_sentence(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "Notes")
    assert "The note is empty" in words(page.button(key="keep_note").click().run())
    page.text_area(key="note_0").set_value("Less *gold*.")
    page = page.button(key="keep_note").click().run()
    assert "The note is kept" in words(page)
    assert "Less *gold*." in words(page)
    assert page.text_area(key="note_1").value == ""


def test_what_it_takes_is_kept_and_a_wrong_range_refused_with_what_was_typed(salon: Path) -> None:
    keep(salon, quote=None)
    page = part(area("M. D."), "Notes")
    page.number_input(key="quote_low_0").set_value(180.0)
    page.number_input(key="quote_high_0").set_value(90.0)
    page = page.button(key="keep_quote").click().run()
    assert "the lower figure first" in words(page)
    assert page.number_input(key="quote_low_0").value == 180.0
    page.number_input(key="quote_high_0").set_value(240.0)
    page = page.button(key="keep_quote").click().run()
    assert "1 visit, 2 hours in all, 180 to 240 EUR" in words(page)


def test_what_was_really_mixed_and_what_came_of_it_are_added_to_a_visit(salon: Path) -> None:
    visit_id = keep(salon, mixed=(), outcomes=())
    page = area("M. D.").button(key=f"open_{visit_id}").click().run()
    assert "Nothing was weighed" in words(page.button(key="keep_mixed").click().run())
    page.number_input(key="grams_bowl 1_0_0").set_value(18.5)
    page.number_input(key="dev_bowl 1_0").set_value(37.0)
    page = page.button(key="keep_mixed").click().run()
    assert "Bowl 1: violet 18.5 g; developer 37 g" in words(page)
    assert "Nothing was said" in words(page.button(key="keep_outcome").click().run())
    page.button_group(key="oz_1").set_value("nape")
    page.button_group(key="outcome_quick_1").set_value("too warm")
    page.text_input(key="outcome_words_1").set_value("at the ends")
    page = page.button(key="keep_outcome").click().run()
    assert "nape: too warm, at the ends" in words(page)
    assert rows(salon, "SELECT zone, told FROM outcome") == [("nape", "too warm, at the ends")]


def test_a_mix_that_was_not_planned_is_written_in_one_line(salon: Path) -> None:
    visit_id = keep(salon, mixed=(), plan=None)
    page = area("M. D.").button(key=f"open_{visit_id}").click().run()
    page.text_input(key="weighed_0").set_value("violet 20")
    assert "Write each shade with its grams" in words(page.button(key="keep_mixed").click().run())
    page.text_input(key="weighed_0").set_value("violet=20, clear=4.5")
    assert "violet 20 g, clear 4.5 g" in words(page.button(key="keep_mixed").click().run())


# --- details, conflict, undo


def _typed(page: AppTest, salon: Path, **texts: str) -> AppTest:
    with opened(salon) as store:
        seen = client(store, "M. D.")
    for what, text in texts.items():
        page.text_input(key=f"details_{what}_{seen.id}_{seen.seen_version}").set_value(text)
    return page


def test_name_and_contact_are_changed(salon: Path) -> None:
    keep(salon)
    page = _typed(part(area("M. D."), "More"), salon, name="Mari", contact="")
    page = page.button(key="keep_details").click().run()
    assert "The changes are kept" in words(page)
    assert rows(salon, "SELECT name, contact FROM client") == [("Mari", "")]


def test_a_code_that_another_client_has_is_refused_and_what_was_typed_stays(salon: Path) -> None:
    keep(salon)
    keep(salon, "Q. R.")
    page = _typed(part(area("M. D."), "More"), salon, code="q. r.", name="Mari")
    page = page.button(key="keep_details").click().run()
    assert "Another client has the code" in words(page)
    assert "Mari" in {field.value for field in page.text_input}


@pytest.mark.parametrize(
    ("choice", "name"),
    [("conflict_mine", "Mine"), pytest.param("conflict_theirs", "Theirs", marks=pytest.mark.slow)],
)
def test_the_second_of_two_phones_sees_both_and_chooses(salon: Path, choice: str, name: str) -> None:
    keep(salon)
    page = _typed(part(area("M. D."), "More"), salon, name="Mine")
    with opened(salon) as store:  # the other phone is quicker
        change_client(store, client(store, "M. D."), name="Theirs")
    page = page.button(key="keep_details").click().run()
    seen = words(page)
    assert "Changed meanwhile" in seen
    assert "<td>Theirs</td><td>Mine</td>" in seen
    assert rows(salon, "SELECT name FROM client") == [("Theirs",)]
    page = page.button(key=choice).click().run()
    assert "Changed meanwhile" not in words(page)
    assert rows(salon, "SELECT name FROM client") == [(name,)]


def test_undo_says_what_it_undoes_and_undoes_that(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "Notes")
    page.text_area(key="note_0").set_value("A slip.")
    page = part(page.button(key="keep_note").click().run(), "More")
    assert "Undo: a note was written" in words(page)
    page = page.button(key="client_undo").click().run()
    assert "Undone: a note was written." in words(page)
    assert "A slip." not in words(part(page, "Notes"))


def test_another_client_s_change_is_neither_told_nor_undone_here(salon: Path) -> None:
    keep(salon)
    keep(salon, "Q. R.", client_name="Quill Rushford")
    page = part(area("M. D."), "More")
    assert "not of this client" in words(page)
    assert "client_undo" not in keys(page)
    assert "Quill" not in words(page)


def test_an_undo_that_came_too_late_is_refused(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "More")
    assert "client_undo" in keys(page)
    with opened(salon) as store:
        change_client(store, client(store, "M. D."), name="Theirs")
    assert "changed meanwhile by somebody else" in words(page.button(key="client_undo").click().run())
    assert rows(salon, "SELECT name FROM client") == [("Theirs",)]


def test_undoing_the_only_visit_of_a_new_client_ends_on_a_sentence(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "More").button(key="client_undo").click().run()
    assert "not in the records any more" in words(page)
    assert "Clients" in words(page.button(key="clients_back").click().run())


# --- handing out and erasing


def test_everything_of_a_client_is_handed_out_as_one_file(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "More").button(key="client_export").click().run()
    words(page)
    with zipfile.ZipFile(io.BytesIO(page.session_state["client_zip"])) as made:
        told = json.loads(made.read("client.json"))
    assert told["client"][0]["name"] == "Marigold Dunmore"
    assert len(page.get("download_button")) == 1


def test_a_client_is_erased_in_two_steps_and_the_receipt_names_nobody(salon: Path) -> None:
    keep(salon)
    page = part(area("M. D."), "More").button(key="client_erase_open").click().run()
    page.text_input(key="client_erase_code").set_value("M.D.")
    page = page.button(key="client_erase_do").click().run()
    assert "Nothing was erased" in words(page)
    assert rows(salon, "SELECT count(*) FROM client") == [(1,)]
    page.text_input(key="client_erase_code").set_value("M. D.")
    page = page.button(key="client_erase_do").click().run()
    seen = words(page)
    ((receipt,),) = rows(salon, "SELECT id FROM erasure")
    assert f"Receipt {receipt}" in seen
    assert "M. D." not in seen
    assert rows(salon, "SELECT count(*) FROM client") == [(0,)]
    left = b"".join(path.read_bytes() for path in salon.rglob("*") if path.is_file())
    assert b"Marigold" not in left


def test_the_visit_in_hand_of_an_erased_client_is_let_go_and_written_nowhere(salon: Path) -> None:
    keep(salon)
    page = AppTest.from_string(SCREENS, default_timeout=30)
    page.session_state["client_open"] = "M. D."
    page.session_state["draft"] = draft.Draft(client="m. d.")
    page = part(page.run(), "More").button(key="client_erase_open").click().run()
    page.text_input(key="client_erase_code").set_value("M. D.")
    page = page.button(key="client_erase_do").click().run()
    assert "Receipt" in words(page)
    assert page.session_state["draft"].client == ""
    assert not list((salon / "drafts").glob("*"))


def test_record_and_letter_of_a_kept_visit_are_made(salon: Path) -> None:
    from pypdf import PdfReader

    visit_id = keep(salon)
    page = area("M. D.").button(key=f"open_{visit_id}").click().run()
    for what in ("visit-record", "letter"):
        page = page.button(key=f"make_{what}").click().run()
        words(page)
    made = page.session_state["client_papers"]
    for (what, _, _), pdf in made.items():
        text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(pdf)).pages)
        assert "M. D." in text, what
        assert "Marigold" not in text, what
    assert len(page.get("download_button")) == 4


def test_the_portfolio_picture_of_a_kept_visit_is_offered_while_the_consent_stands(salon: Path) -> None:
    outcome = run_visit(SAMPLES / "visit.toml")
    record = replace(record_of_file(SAMPLES / "visit.toml", outcome, ()), demo=False)
    with open_store(SalonPlace(salon)) as store:
        visit_id = keep_visit(store, record).id
    page = area(record.client_code).button(key=f"open_{visit_id}").click().run()
    assert "has not agreed to be shown to others" in words(page)
    with open_store(SalonPlace(salon)) as store:
        give_consent(store, record.client_code, ConsentRecord(Scope.PORTFOLIO, record.day, "signed"))
    page = page.run()
    page = page.button_group(key="kept_portfolio_hide").set_value("plain grey").run()
    page = page.button(key="make_portfolio-cut").click().run()
    words(page)
    ((picture,),) = [page.session_state["client_papers"].values()]
    assert picture.startswith(b"\x89PNG")
    with open_store(SalonPlace(salon)) as store:
        withdraw(store, record.client_code, Scope.PORTFOLIO, record.day, "spoken")
    page = page.run()
    assert "has not agreed to be shown to others" in words(page)
    assert not any("portfolio" in button.label for button in (*page.button, *page.get("download_button")))


# --- a new visit


def test_a_new_visit_takes_over_the_code_and_no_answer_on_health(salon: Path) -> None:
    keep(salon, days_ago=40, facts={"asthma": True, "scalp_state": "sound", "curl_pattern": "coily"})
    page = AppTest.from_string(SCREENS, default_timeout=30)
    page.session_state["client_open"] = "M. D."
    page = page.run().button(key="main_action").click().run()
    assert page.title[0].value == "Photograph"
    begun = page.session_state["draft"]
    assert (begun.client, begun.answers) == ("M. D.", {"curl_pattern": "coily"})
    assert (begun.told_before, begun.asked_anew) == ({"asthma": True}, {"scalp_state": "sound"})
    assert begun.told_on == today() - timedelta(days=40)


def test_an_earlier_answer_counts_once_the_client_has_said_that_it_holds() -> None:
    page = AppTest.from_string("from estimator.pages import care\ncare.show()", default_timeout=30)
    page.session_state["pages"] = {}
    page.session_state["draft"] = draft.Draft(
        client="M. D.", told_before={"asthma": True}, asked_anew={"scalp_state": "sound"}, told_on=today()
    )
    page = page.run()
    assert "Still so: asthma: yes" in words(page)
    assert "state of the scalp: sound" in words(page)
    page = page.button(key="still_asthma").click().run()
    assert page.session_state["draft"].answers == {"asthma": True}
    assert "still_asthma" not in keys(page)
