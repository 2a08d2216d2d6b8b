"""The area "From a client" without a browser: dropped files, the inbox, views, the reply, and a visit from it."""

import csv
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from calibration.pipeline import correct_bytes
from estimator.access.roles import NotAllowedError, Person, Role
from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from estimator.pages import person, remote_kept
from estimator.records.place import SalonPlace
from tests.estimator.intake.browserless import Browserless

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
SCREEN = (
    "from estimator.pages import remote\nfrom estimator.pages.showing import one_sentence\n"
    "with one_sentence():\n    remote.show()"
)
HOSTILE = "![a](http://example.org/a.png) <img src=http://example.org/b.png>"


@pytest.fixture(scope="module")
def small() -> bytes:
    """A photograph with a card, small enough to be read in a moment."""
    whole = cv2.imread(str(SAMPLES / "head.jpg"))
    return cv2.imencode(".jpg", cv2.resize(whole, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA))[1].tobytes()


@pytest.fixture
def inbox(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Inbox:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return Inbox(SalonPlace(tmp_path / "salon"))


def _page() -> AppTest:
    return AppTest.from_string(SCREEN, default_timeout=60).run()


def _words(page: AppTest) -> str:
    assert not page.exception
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text, *page.header))


def _sent(inbox: Inbox, photo: bytes, words: str = "") -> str:
    made = inbox.invite()
    client = Browserless(intake_app(inbox))
    here = f"/intake/{made.code}"
    client.agree(made.code)
    assert client.photo(made.code, photo).status == 303
    client.post(f"{here}/hair", {"age_years": "34", "relaxer_weeks_ago": "never"})
    client.post(f"{here}/health", {"dye_reaction_before": "severe"})
    client.post(f"{here}/wish", {"level": "9", "tone": "beige", "words": words})
    client.post(f"{here}/send", {})
    return made.invitation.id


def _part(page: AppTest, name: str) -> AppTest:
    parts = next(group for group in page.button_group if str(group.key).startswith("remote_part_"))
    return parts.set_value(name).run()


def test_a_consultation_of_the_inbox_is_read_answered_and_becomes_a_visit(inbox, small):
    sent_id = _sent(inbox, small, HOSTILE)
    page = _page()
    assert "Agreed to" in _words(page)
    page = page.button(key="read_sent_0").click().run()
    assert "1 view proposed" in _words(page)
    page = page.button(key="confirm_0").click().run()
    assert "proposed" not in _words(page)
    page = page.button(key="main_action").click().run()
    words = _words(page)
    assert "reaction before" in words  # a severe reaction stops, and the stop stands first
    assert words.index("reaction before") < words.index("Starting level")
    assert "never learned from" in words
    assert "weeks since the last relaxer: never" in words
    assert HOSTILE in [text.value for text in page.text]
    assert HOSTILE not in " ".join(each.value for each in page.markdown)
    page = page.button(key="main_action").click().run()
    assert "no promise" in page.text_area[0].value
    assert "Name the client" in _words(page)
    page = page.text_input[0].set_value("Q. R.").run()
    assert [each.client for each in inbox.sent()] == ["Q. R."]
    assert "For: Q. R." in page.text_area[0].value
    page = page.button(key="main_action").click().run()
    visit = page.session_state["draft"]
    assert (visit.client, visit.before, visit.answers) == ("Q. R.", None, {})
    assert visit.told_before == {"age_years": 34.0, "relaxer_weeks_ago": 999.0, "dye_reaction_before": "severe"}
    assert (visit.wished_level, visit.wished_tone, visit.wishes) == (9.0, "beige", {})
    assert sent_id


def test_what_the_colourist_has_written_is_not_overwritten(inbox, small):
    _sent(inbox, small)
    page = _part(_page().button(key="read_sent_0").click().run(), "Reply")
    page = page.text_area[0].set_value("Dear client, my own words.").run()
    page = page.text_input[0].set_value("Q. R.").run()
    assert page.text_area[0].value == "Dear client, my own words."
    assert "changed since" in _words(page)
    page = page.button(key="reply_anew").click().run()
    assert "For: Q. R." in page.text_area[0].value


def test_dropped_photos_are_sorted_and_an_unread_one_is_told(inbox, small):
    page = _page()
    page = page.file_uploader[0].upload("IMG_back.jpg", small).upload("cut.jpg", small[:4_000]).run()
    page = page.button(key="main_action").click().run()
    words = _words(page)
    assert "2 views proposed" in words
    views = [group.value for group in page.button_group if str(group.key).startswith("view_")]
    assert views == ["back", None]
    page = _part(page, "What they say")
    assert "No answers came with the photos" in _words(page)


def test_a_photo_without_a_card_is_read_by_a_white_sheet_and_marked_unverified(inbox, small):
    bare = cv2.imdecode(np.frombuffer(small, np.uint8), cv2.IMREAD_COLOR)
    corners = correct_bytes(small).sighting.corners_px
    middle = corners.mean(axis=0)
    # A plain sheet lies where the card was.
    cv2.fillConvexPoly(bare, (middle + 1.4 * (corners - middle)).astype(np.int32), (200, 205, 210))
    page = _page()
    page = page.file_uploader[0].upload("back.jpg", cv2.imencode(".jpg", bare)[1].tobytes()).run()
    page = page.button(key="main_action").click().run()
    assert "Point at a white sheet in back.jpg" in [box.label for box in page.expander]
    page = next(key for key in page.button if key.label == "Show the photo to point at").click().run()
    assert not page.exception
    case = page.session_state["remote_case"]
    spot = (float(middle[0]), float(middle[1]), 10.0)
    page.session_state["remote_case"] = replace(case, neutrals={"back.jpg": spot})  # as the board tells it
    page = page.run()
    assert 'class="unverified"' in _words(page)
    page = _part(page, "What they say")
    assert "No card in every photo" in _words(page)
    assert "rough" in _part(page, "Reply").text_area[0].value


def test_what_holds_no_photo_is_told_and_nothing_is_taken(inbox):
    page = _page()
    page = page.file_uploader[0].upload("chat.txt", b"hello").run()
    page = page.button(key="main_action").click().run()
    assert "no photograph" in _words(page)
    assert "remote_case" not in page.session_state


def test_discarding_is_asked_twice(inbox, small):
    _sent(inbox, small)
    page = _page().button(key="discard_0").click().run()
    assert len(inbox.sent()) == 1
    page = page.button(key="discard_not_0").click().run()
    assert len(inbox.sent()) == 1
    page = page.button(key="discard_0").click().run().button(key="discard_sure_0").click().run()
    assert inbox.sent() == []
    assert "Nothing was sent" in _words(page)


def test_an_erased_client_is_in_hand_no_more(inbox, small):
    _sent(inbox, small)
    page = _page().button(key="read_sent_0").click().run()
    page = page.text_input[0].set_value("Q. R.").run()
    script = "from estimator.pages import remote_kept\nremote_kept.forget_client({!r}, '')"
    for name, still in (("S. T.", True), ("q. r.", False)):
        after = AppTest.from_string(script.format(name), default_timeout=30)
        after.session_state["remote_case"] = page.session_state["remote_case"]
        after = after.run()
        assert not after.exception
        assert ("remote_case" in after.session_state) is still


def test_an_invitation_is_shown_once_listed_and_revoked(inbox):
    page = _page()
    page.text_input(key="invite_address").set_value("https://salon.example:8443")
    page = page.button(key="invite").click().run()
    link = page.text_input(key="invite_link").value
    assert link.startswith("https://salon.example:8443/intake/")
    assert "<svg" in " ".join(each.value for each in page.markdown)
    assert Browserless(intake_app(inbox)).get(link.removeprefix("https://salon.example:8443")).status == 200
    page = page.button(key="invite_done").click().run()
    assert link not in _words(page)
    assert link not in [box.value for box in page.text_input]
    page = page.button(key="revoke_0").click().run()
    assert "revoked" in _words(page)
    page.text_input(key="invite_address").set_value("not an address")
    page = page.button(key="invite").click().run()
    assert "no address of a page" in _words(page)
    assert len(inbox.invitations()) == 1


def test_who_may_only_look_reads_invites_and_discards_nothing(inbox, small, monkeypatch):
    _sent(inbox, small)
    viewer = Person("v", "Vi", Role.VIEWER)
    monkeypatch.setattr(person, "who", lambda: viewer)
    page = _page()
    assert "may not" in _words(page)
    assert not [button for button in page.button if str(button.key).startswith(("read_sent", "discard"))]
    with pytest.raises(NotAllowedError):
        remote_kept.inbox()


def test_nothing_is_learned_from_sent_photos(inbox, small):
    """The salon's journal, from which shades and clients are learned, is untouched by a whole consultation."""
    _sent(inbox, small)
    page = _part(_page().button(key="read_sent_0").click().run(), "Reply")
    page = page.text_input[0].set_value("Q. R.").run()
    page = page.button(key="main_action").click().run()
    folder = inbox.place.folder
    assert [path.name for path in folder.iterdir() if path.name not in ("intake", "drafts")] == []
    visit = page.session_state["draft"]
    assert (visit.before, visit.turned, visit.after) == (None, None, None)


def test_truth_lies_in_the_interval_that_is_shown(inbox):
    """Lightness of the rendered head's lengths, from its truth table, against the wide interval of the screen."""
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if line[0] != "#")
    truth = sorted(float(row["lab_l"]) for row in rows if row["photo"] == "head.jpg")
    _sent(inbox, (SAMPLES / "head.jpg").read_bytes())
    page = _page().button(key="read_sent_0").click().run()
    case = page.session_state["remote_case"]
    zone = remote_kept.photos_of(case)[0][0].reading.zones[0].reading
    assert zone.lab_low[0] <= truth[len(truth) // 2] <= zone.lab_high[0]


def test_two_views_confirmed_before_the_screen_is_drawn_anew_both_count(inbox, small):
    page = _page()
    page = page.file_uploader[0].upload("IMG_back.jpg", small).upload("IMG_left.jpg", small).run()
    page = page.button(key="main_action").click().run()
    assert "2 views proposed" in _words(page)
    page.button(key="confirm_0").click()
    page = page.button(key="confirm_1").click().run()
    assert "proposed" not in _words(page)
