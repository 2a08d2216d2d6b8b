"""Hostile texts in every field of the records: kept, handed out, taken in, backed up and shown letter by letter."""

import json
import re
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import select

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.backing_up import back_up, restore
from estimator.records.drafts import Drafts
from estimator.records.exporting import client_rows, export_client, import_client
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.privacy.hostile_texts import EVERYDAY_STEP, hostile_texts, squeezed, when
from tests.privacy.visits import LONGEST_CODE, texts_in, visit_saying

KEPT = tuple(text for text in hostile_texts() if "\0" not in text)  # no database keeps a null: told in a sentence
EVERYDAY = KEPT[:: 2 * EVERYDAY_STEP]
PARTS = [
    pytest.param(EVERYDAY, id="everyday"),
    *(pytest.param(KEPT[start::8], id=f"{start}", marks=when(start)) for start in range(8)),
]

# Every table in which a person's own words can stand.
WITH_TEXTS = (
    *("client", "consent", "consultation", "visit", "zone", "reading", "answer", "plan", "mixed", "clock_event"),
    *("outcome", "note", "quote"),
)


def _short(rows) -> set[str]:
    return {text[:LONGEST_CODE] for text in texts_in(rows)}


def _code(number: int, text: str) -> str:
    return f"{number} {text}"[:180]


def _filled(store, texts):
    """A client for each text, who says nothing else; the codes by text."""
    codes = {text: _code(number, text) for number, text in enumerate(texts)}
    for text, code in codes.items():
        keep_visit(store, visit_saying(text, code))
    return codes


def _rows(store, code):
    with store.looking() as session:
        row = session.scalars(select(model.Client).where(model.Client.code == code)).one()
        return client_rows(session.connection(), row.id)


@pytest.fixture(scope="module", params=PARTS)
def filled(request, tmp_path_factory):
    """A salon with a client for each text, its store, the codes by text, and the folder that holds nothing else."""
    folder = tmp_path_factory.mktemp("hostile")
    with open_store(SalonPlace(folder / "salon")) as store:
        yield store, _filled(store, request.param), folder


@pytest.mark.slow
def test_every_field_comes_back_letter_by_letter_from_an_export(filled, tmp_path):
    store, codes, _ = filled
    with open_store(SalonPlace(tmp_path / "other")) as other:
        for number, (text, code) in enumerate(codes.items()):
            path = tmp_path / "out" / f"{number}.zip"
            export_client(store, code, path)
            assert import_client(other, path) == code
            rows = _rows(store, code)
            assert _rows(other, code) == rows
            assert [name for name in WITH_TEXTS if text[:LONGEST_CODE] not in _short(rows[name])] == []
            _check_members(path)
    assert {path.relative_to(tmp_path).parts[0] for path in _files(tmp_path)} == {"out", "other"}


def _check_members(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        members = archive.namelist()
    assert [name for name in members if not re.fullmatch(r"(photos/(small/)?|reports/)?[\w -]+\.\w+", name)] == []


@pytest.mark.slow
def test_every_field_comes_back_letter_by_letter_from_a_backup(filled, tmp_path):
    store, codes, _ = filled
    back_up(store, tmp_path / "backup.zip")
    restore(tmp_path / "backup.zip", SalonPlace(tmp_path / "restored"))
    with open_store(SalonPlace(tmp_path / "restored")) as restored:
        assert all(_rows(restored, code) == _rows(store, code) for code in codes.values())


@pytest.mark.slow
def test_no_file_is_named_by_a_text_or_lies_outside_the_salon(filled):
    store, codes, folder = filled
    drafts = Drafts(store.place)
    for number, text in enumerate(codes):
        drafts.keep(f"{number:032x}", text, {"client": text, text: text}, {})
    assert {draft.client for draft in drafts.listed()} == set(codes)
    assert {path.relative_to(folder).parts[0] for path in _files(folder)} == {"salon"}
    # Hashes, marks of our own, and the names that the program itself gives.
    own = re.compile(
        r"[0-9a-f]{32}(\.json)?|[0-9a-f]{64}|draft\.json|records\.sqlite(-wal|-shm)?|READ ME\.txt|\.[a-z-]+"
        r"|last_backup\.txt"
    )
    assert [path.name for path in _files(folder) if not own.fullmatch(path.name)] == []


def _files(folder: Path) -> set[Path]:
    return {path for path in folder.rglob("*") if path.is_file()}


CONTROLS = set("\x1b\x07\u202e\u2066\u200f")


@pytest.mark.slow
def test_every_text_is_shown_and_steers_nothing(filled, command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "400")
    store, codes, _ = filled
    salon = ("--salon", store.place.folder)
    for text, code in codes.items():
        exit_code, said = command("records", "show", *salon, "--", code)
        assert exit_code == 0
        # Letters that steer are shown as U+FFFD; everything else as it is, wherever the line breaks.
        assert squeezed("".join(letter if letter.isprintable() else "\ufffd" for letter in text)) in squeezed(said)
        assert not set(said) & CONTROLS
    for words in (("records", "list"), ("records", "find", "0"), ("records", "drafts")):
        exit_code, said = command(*words, *salon)
        assert exit_code == 0
        assert not set(said) & CONTROLS


def test_a_null_is_refused_in_a_sentence_and_nothing_is_kept(store):
    with pytest.raises(BadInputError, match="no record can keep"):
        keep_visit(store, visit_saying("a\0b", "code"))
    assert list(store.files.all_hashes()) == []


@pytest.mark.slow
@pytest.mark.parametrize("verb", ["note", "quote", "consent"])
def test_what_is_typed_on_the_command_line_is_kept_as_it_was_typed(verb, store, command):
    codes = _filled(store, EVERYDAY[::2])
    for text, code in codes.items():
        typed = f"typed {text}"
        words = {
            "note": ("records", "note", "--", code, typed),
            "quote": ("records", "quote", "--visits", 1, "--hours", 2, "--price-low", 5, "--price-high", 6,
                      "--currency", "EUR", "--text", typed, "--", code),
            "consent": ("records", "consent", "--scope", "portfolio", "--how", typed, "--text", f"{typed}!",
                        "--", code),
        }[verb]  # fmt: skip
        assert command(*words)[0] == 0
        told = json.dumps(_rows(store, code)[verb], ensure_ascii=False)
        assert json.dumps(typed, ensure_ascii=False)[1:-1] in told
