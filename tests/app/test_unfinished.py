"""A visit that is being entered is on the disk: found again after a reload, offered, and taken out."""

import dataclasses
import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from calibration.photo import Box
from estimator.care.answers import Answer
from estimator.errors import BadInputError
from estimator.pages import draft as entered
from estimator.pages.draft import (
    Draft,
    OutlinedZone,
    SheetPicture,
    Shot,
    StrandEntry,
    StrandPicture,
    StrandTried,
    Wish,
)
from estimator.pages.draft_json import as_json, from_json
from estimator.records.drafts import Drafts
from estimator.records.place import SalonPlace
from estimator.zones.outline import Setting, StrandPattern, Zone

ROOT = Path(__file__).parents[2]
PHOTO = (ROOT / "sample_images" / "strands_before.jpg").read_bytes()


@pytest.fixture(autouse=True)
def salon(tmp_path, monkeypatch) -> SalonPlace:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return SalonPlace(tmp_path / "salon")


def _everything() -> Draft:
    mask = np.random.default_rng(1).random((13, 9)) > 0.5
    exact = Zone(
        "nape", Box(2, 3, 15, 12), mask, Setting.BOARD, StrandPattern.COILY, (50.0, 1.0, 2.0), True, (1.0, 2.0)
    )
    shot = Shot(
        PHOTO,
        "a" * 64,
        (900.0, 140.0, 25.0),
        (OutlinedZone("nape", ((1.0, 2.0), (3.5, 4.0), (5.0, 6.0)), StrandPattern.COILY, exact), OutlinedZone("crown")),
        Setting.BOARD,
        wet=True,
        selected=1,
        serial=4,
        revision=2,
        sheet=SheetPicture("d" * 64, PHOTO),
    )
    return Draft(
        salon="Saltmarsh Lane",
        client="M. D. \u202e ![x](http://e.org)",
        day=date(2026, 10, 5),
        demo=True,
        before=shot,
        after=dataclasses.replace(shot, sha256="b" * 64),
        answers={"age_years": 34.0, "earlier_colour": ["dark", "henna"], "scalp_state": "sound"},
        wishes={"nape": Wish(9.0, "beige")},
        tests={"x": Answer(code="x", who="w", when=date(2026, 10, 1), what="fine", strength_volume=6.0, place="nape")},
        own={"nape": {"porosity": "high"}},
        dates={"visit_at": "2026-10-05T10:00:00+02:00"},
        strands={"nape": StrandEntry((StrandPicture(5.0, "c" * 64, PHOTO),), ((5.0, 7.0),), start_level=6.0)},
        station_toml='name = "chair 2"',
        swatch=dataclasses.replace(shot, sha256="e" * 64, sheet=None),
        swatch_spot=(10.0, 20.0, 5.0),
        trial=dataclasses.replace(shot, sha256="f" * 64, sheet=None),
        tried={"nape": StrandTried("sound", 10.0, (("Violet pearl, demo", 2.0),), (57.0, 6.0, 19.0))},
        trial_used=True,
    )


def _plain(value):
    """A value without its pictures and steps of undo, to be compared."""
    if dataclasses.is_dataclass(value):
        fields = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
        return {name: _plain(held) for name, held in fields.items() if name not in ("photo_bytes", "earlier")}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, dict):
        return {key: _plain(held) for key, held in value.items()}
    return [_plain(held) for held in value] if isinstance(value, tuple | list) else value


def test_everything_that_can_be_entered_comes_back(salon):
    whole, drafts = _everything(), Drafts(salon)
    told = as_json(whole)
    drafts.keep("f" * 32, whole.client, told.content, told.photos)
    kept = drafts.load("f" * 32)
    back = from_json(json.loads(json.dumps(kept.content)), dict(kept.photos))
    assert _plain(back) == _plain(whole)
    assert [draft.client for draft in drafts.listed()] == [whole.client]
    assert sorted(kept.photos) == [letter * 64 for letter in "abcdef"]


def test_every_kind_of_entry_has_a_form_on_the_disk():
    # A field of a new kind must be among those above, or a visit with it would not be kept.
    kinds = {each for each in vars(entered).values() if dataclasses.is_dataclass(each) and isinstance(each, type)}
    made = {type(each) for each in _walk(_everything())}
    assert {kind for kind in kinds if kind.__module__ == entered.__name__} <= made


def _walk(value):
    yield value
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _walk(getattr(value, field.name))
    elif isinstance(value, dict):
        for held in value.values():
            yield from _walk(held)
    elif isinstance(value, tuple | list):
        for held in value:
            yield from _walk(held)


@pytest.mark.parametrize("damage", [{}, {"is": "Draft", "before": 3}, {"is": "Shot"}, {"is": "os.system"}, [1], None])
def test_a_damaged_draft_is_told_in_a_sentence(damage):
    with pytest.raises(BadInputError, match="Begin a new"):
        from_json(damage, {})


def test_private_tags_stay_out_of_a_draft(salon):
    exif = b"Exif\0\0II*\0\x08\0\0\0\0\0serial-number-4711"
    tagged = PHOTO[:2] + b"\xff\xe1" + (2 + len(exif)).to_bytes(2, "big") + exif + PHOTO[2:]
    told = as_json(Draft(before=Shot(tagged, "d" * 64)))
    Drafts(salon).keep("f" * 32, "", told.content, told.photos)
    kept = [path.read_bytes() for path in salon.drafts.rglob("*") if path.is_file()]
    assert any(PHOTO[-100:] in content for content in kept)
    assert not any(b"serial-number-4711" in content for content in kept)


def test_a_draft_that_can_t_be_written_stays_as_it_was(salon, monkeypatch):
    drafts = Drafts(salon)
    drafts.keep("f" * 32, "first", {"n": 1}, {})

    def full(*_words):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("estimator.records.photo_files.os.fsync", full)
    with pytest.raises(Exception, match="could not be kept"):
        drafts.keep("f" * 32, "second", {"n": 2}, {})
    monkeypatch.undo()
    assert drafts.load("f" * 32).content == {"n": 1}
    assert sorted(path.name for path in (salon.drafts / ("f" * 32)).iterdir()) == ["draft.json"]


@pytest.mark.parametrize("name", ["", "..", "../../x", "F" * 32, "f" * 31, "f" * 33])
def test_an_address_names_no_file_outside_the_drafts(salon, name):
    with pytest.raises(BadInputError):
        Drafts(salon).load(name)


@pytest.mark.slow
def test_a_reload_finds_the_visit_where_it_was(demo: AppTest, forward, salon):
    page = forward(demo, 1)
    name = str(page.query_params["visit"])
    assert [draft.id for draft in Drafts(salon).listed()] == [name]
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    again.query_params["visit"] = name
    again = again.run()
    assert not again.exception
    before, after = page.session_state["draft"], again.session_state["draft"]
    assert _plain(after) == _plain(before)
    # Going on changes the same draft, and makes no second one.
    forward(again, 2)
    assert [draft.id for draft in Drafts(salon).listed()] == [name]


@pytest.mark.slow
def test_unfinished_visits_are_offered_and_taken_out(demo: AppTest, salon, monkeypatch):
    assert not demo.exception
    fresh = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30).run()
    assert "Unfinished visits" in [head.value for head in fresh.subheader]
    going_on = fresh.button(key="go_on_0").click().run()
    assert going_on.session_state["draft"].client == "Marigold"
    gone = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30).run().button(key="take_out_0").click().run()
    assert Drafts(salon).listed() == []
    assert "Unfinished visits" not in [head.value for head in gone.subheader]


@pytest.mark.slow
def test_an_address_of_a_visit_that_is_gone_is_told_and_a_new_one_begins(salon):
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    page.query_params["visit"] = "e" * 32
    page = page.run()
    assert not page.exception
    assert any("not here any more" in shown.value for shown in page.markdown)
