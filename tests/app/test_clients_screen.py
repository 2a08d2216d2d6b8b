"""The Clients area: found by touch, nothing without consent, nothing but for whoever may look."""

import re
from datetime import date
from pathlib import Path

import pytest

from estimator.access.roles import Person, Role
from estimator.pages import person
from estimator.records.consent_scopes import Scope
from estimator.records.withdrawing import withdraw
from tests.app.kept_clients import HOSTILE, area, keep, keys, opened, part, today, words
from tests.estimator.records.invented import reading

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def salon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return tmp_path / "salon"


def test_looking_begins_no_records(salon: Path) -> None:
    assert "Nothing is kept here yet" in words(area())
    assert not salon.exists()


def test_today_s_and_the_last_visits_stand_there_without_typing(salon: Path) -> None:
    keep(salon, "M. D.")
    keep(salon, "Q. R.", 1, client_name="Quill Rushford", demo=True)
    page = area()
    assert [heading.value for heading in page.subheader] == ["Today", "Earlier"]
    lines = [button.label for button in page.button if button.key.startswith("line_")]
    assert lines == ["**M. D.** Marigold Dunmore, today", "**Q. R.** Quill Rushford, yesterday, DEMO"]
    page = next(button for button in page.button if "Quill" in button.label).click().run()
    assert page.title[0].value == "Q. R."


def test_more_visits_come_page_after_page_and_none_twice(salon: Path) -> None:
    for number in range(23):
        keep(salon, f"C{number}", number + 2, photos=())
    page = area()
    counts = []
    for _ in range(3):
        lines = [button.label for button in page.button if button.key.startswith("line_")]
        counts.append(len(lines))
        assert len(set(lines)) == len(lines)
        if "clients_more" in keys(page):
            page = page.button(key="clients_more").click().run()
    assert counts == [10, 20, 23]
    assert "clients_more" not in keys(page)


@pytest.mark.parametrize(("typed", "found"), [("mari", True), ("M.", True), ("dun mar", True), ("arigold", False)])
def test_a_client_is_found_by_the_beginning_of_name_or_code(salon: Path, typed: str, found: bool) -> None:
    keep(salon)
    page = area()
    page.text_input(key="clients_text").set_value(typed)
    seen = words(page.button(key="main_action").click().run())
    assert ("Marigold Dunmore" in seen) == found
    assert ("name or code begins like that" in seen) != found


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ({"find_level": 7}, ["A."]),
        ({"find_tone": "beige"}, ["A."]),
        ({"find_topic": "scalp", "find_finding_scalp": "ask-a-doctor"}, ["B."]),
        ({"find_topic": "photo: light", "find_finding_photo: light": "glare"}, ["B."]),
        ({"find_days": "yesterday"}, ["B."]),
        ({"find_days": "last 7 days"}, ["A.", "B."]),
        ({"find_level": 9, "find_tone": "beige"}, []),
    ],
)
def test_visits_are_found_by_level_tone_finding_and_day(
    salon: Path, asked: dict[str, object], codes: list[str]
) -> None:
    keep(salon, "A.", readings=(reading("crown", 7.2),), findings=())
    keep(salon, "B.", 1, readings=(reading("nape", 5.0),), zones=_zones_without_wish())
    page = area()
    for key, value in asked.items():
        page = page.button_group(key=key).set_value(value).run()
    lines = [button.label.split("**")[1] for button in page.button if button.key.startswith("line_")]
    assert sorted(lines) == codes


def _zones_without_wish() -> tuple[object, ...]:
    from estimator.records.visit_record import ZoneRecord

    return (ZoneRecord("nape", "head", "", {}, {}),)


def test_a_day_that_is_none_is_told_in_a_sentence(salon: Path) -> None:
    keep(salon)
    page = area().button_group(key="find_days").set_value("one day").run()
    assert "is no day" in words(page.text_input(key="find_day").set_value("5.10.").run())
    page = page.text_input(key="find_day").set_value(today().isoformat()).run()
    assert "Marigold" in words(page)


def test_without_the_consent_to_the_record_no_visit_is_listed_and_nothing_shown(salon: Path) -> None:
    keep(salon)
    with opened(salon) as store:
        withdraw(store, "M. D.", Scope.RECORD, today(), "spoken")
    page = area()
    assert "No visit answers" in words(page)
    page = page.text_input(key="clients_text").set_value("mari").run()
    assert "consent taken back" in words(page)  # it must be found, to be erased
    page = next(button for button in page.button if button.key.startswith("line_")).click().run()
    seen = words(page)
    for private in ("Marigold", "marigold@example.org", "level", "Likes it cool", "EUR"):
        assert private not in seen
    assert list(page.button_group(key="client_part").options) == ["Consents", "More"]
    assert "main_action" not in keys(page)


def test_a_name_is_shown_as_it_is_written(salon: Path) -> None:
    """No mark stands bare where Markdown or HTML would act on it; in a browser it is tried once more."""
    keep(salon, HOSTILE, client_name=HOSTILE, contact=HOSTILE, notes=(HOSTILE,))
    acting = re.compile(r"(?<!\\)(<img|\]\(|!\[)|:red\[")
    page = area()
    assert not acting.search(next(button.label for button in page.button if button.key.startswith("line_")))
    page = area(HOSTILE)
    for name in ("Visits", "Consents", "Answers", "Notes", "More"):
        page = part(page, name)
        shown = [*(element.value for element in page.title), *(button.label for button in page.button)]
        assert not [text for text in shown if acting.search(text)]
        assert not [element for element in page.markdown if "<img" in element.value]


def _as(role: Role, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(person, "who", lambda: Person("p", "Ana", role))


def test_a_viewer_sees_and_has_no_key_that_changes_or_hands_out(salon: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(salon)
    _as(Role.VIEWER, monkeypatch)
    page = area("M. D.")
    assert "Crown, before: level 7.2" in words(page)
    changing = {"main_action", "keep_note", "keep_quote", "client_export", "client_erase_open", "client_undo"}
    for name in ("Visits", "Consents", "Answers", "Notes", "More"):
        page = part(page, name)
        words(page)
        assert not changing & keys(page)
        assert not [key for key in keys(page) if key.startswith(("agree_", "take_back_"))]


def test_only_an_owner_hands_out_and_erases(salon: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(salon)
    _as(Role.COLOURIST, monkeypatch)
    assert not {"client_export", "client_erase_open"} & keys(part(area("M. D."), "More"))
    _as(Role.OWNER, monkeypatch)
    assert {"client_export", "client_erase_open"} <= keys(part(area("M. D."), "More"))


def test_on_a_phone_the_pin_comes_once_more_before_handing_out_and_erasing(salon: Path, monkeypatch) -> None:
    from estimator.access.roles import NotAllowedError
    from estimator.pages import kept_clients, person

    keep(salon)
    details = kept_clients.memory_of("M. D.").details
    told: list[str] = []
    owner = Person("b" * 32, "Ilse", Role.OWNER)
    gate = person.Gate(lambda: owner, told.append, lambda: bool(told))
    monkeypatch.setattr(person, "_door", person.NetworkDoor(None, "https://192.168.1.2", gate))
    page = part(area("M. D."), "More")
    assert "client_export" not in keys(page)
    page = page.button(key="client_erase_open").click().run()
    assert "client_erase_do" not in keys(page)
    for act in (lambda: kept_clients.exported("M. D."), lambda: kept_clients.erase(details, "M. D.")):
        with pytest.raises(NotAllowedError, match="Give your PIN once more"):
            act()
    page.text_input(key="pin_typed_before_erasing").set_value("482915")
    page = page.button(key="FormSubmitter:pin_before_erasing-Confirm").click().run()
    assert told == ["482915"]
    assert {"client_export", "client_erase_do"} <= keys(page)
    assert kept_clients.exported("M. D.").startswith(b"PK")


@pytest.mark.parametrize("role", [Role.VIEWER, pytest.param(Role.COLOURIST, marks=pytest.mark.slow)])
def test_every_act_asks_the_right_where_it_happens(salon: Path, monkeypatch: pytest.MonkeyPatch, role: Role) -> None:
    """However the key came to be pressed, the records stay as they are."""
    from estimator.access.roles import NotAllowedError
    from estimator.pages import kept_clients, kept_records

    visit_id = keep(salon)
    details = kept_clients.memory_of("M. D.").details
    for_owners = (lambda: kept_clients.exported("M. D."), lambda: kept_clients.erase(details, "M. D."))
    for_work = (
        lambda: kept_clients.give("M. D.", Scope.PORTFOLIO, "spoken"),
        lambda: kept_clients.take_back("M. D.", Scope.HEALTH, "spoken"),
        lambda: kept_clients.add_note("M. D.", "x"),
        lambda: kept_clients.add_outcome(visit_id, "crown", "x"),
        lambda: kept_clients.change(details, "X", "X", "X"),
        lambda: kept_clients.paper("letter", visit_id),
        lambda: kept_records.take_back(visit_id),
    )
    _as(role, monkeypatch)
    for act in (*for_owners, *(for_work if role is Role.VIEWER else ())):
        with pytest.raises(NotAllowedError):
            act()
    assert kept_clients.memory_of("M. D.").details == details


def test_a_change_tells_who_made_it(salon: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from estimator.pages import kept_clients

    keep(salon)
    _as(Role.COLOURIST, monkeypatch)
    kept_clients.add_note("M. D.", "Less gold.")
    seen = words(part(area("M. D."), "More"))
    assert "a note was written" in seen
    assert "by Ana" in seen
    assert f"{date.today().day} " in seen
