"""Backup and restore, export and import, erasure: whole, compared, and searched byte for byte; on both databases."""

import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import func, select

from estimator.errors import BadInputError, OutputError
from estimator.feedback.journal import Journal
from estimator.feedback.journal_store import SALON_JOURNAL, JournalStore
from estimator.records import model
from estimator.records.backing_up import back_up, restore
from estimator.records.clients import change_client, client
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.errors import NotKeptError
from estimator.records.exporting import check_tables_version, client_rows, export_client, import_client
from estimator.records.place import SalonPlace
from estimator.records.searching import Asked, find_clients, find_visits
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import photo, visit
from tests.synthetic.taught_visits import head, salon, toned

HOSTILE = (
    "../../etc/passwd", "a" * 200, "\u202egnirts\u202c", "\U0001f9d1\u200d\U0001f9b1", "CON", "![x](http://e.org/a.png)",
    "<script>alert(1)</script>", "{{ 7*7 }}", "#import \"x\"", "'; DROP TABLE client; --", "=1+1", "@x", "-5", "\tx",
    "a\r\nb", "%s%n", "\\", "e\u0301 \u00e9", "\u0130stanbul \u00df",
)  # fmt: skip


@pytest.fixture
def other_place(place: SalonPlace, request: pytest.FixtureRequest, tmp_path: Path) -> SalonPlace:
    """A second, empty salon on the same kind of database."""
    address = "" if place.on_sqlite else request.getfixturevalue("postgres").new_address()
    return SalonPlace(tmp_path / "other", address)


def _rows(store, code):
    with store.looking() as session:
        row = session.scalars(select(model.Client).where(model.Client.code == code)).one()
        return client_rows(session.connection(), row.id)


def _filled(store):
    keep_visit(store, visit())
    keep_visit(store, visit("Other", client_name="Otto Sandpiper", contact="otto@example.org"))
    change_client(store, client(store, "M. D."), contact="by post only")


# --- backup


@pytest.mark.slow
def test_a_backup_restores_to_the_same_rows_and_files_and_goes_on_counting(store, other_place, tmp_path):
    _filled(store)
    done = back_up(store, tmp_path / "backup.zip")
    again = restore(tmp_path / "backup.zip", other_place)
    assert (again.rows, again.files, done.missing) == (done.rows, done.files, ())
    with open_store(other_place) as restored:
        assert _rows(restored, "M. D.") == _rows(store, "M. D.")
        assert sorted(restored.files.all_hashes()) == sorted(store.files.all_hashes())
        assert [each.code for each in find_clients(restored, "sandp")] == ["Other"]
        assert keep_visit(restored, visit("Third")).new
        assert [restored.undo(), restored.undo()] == ["visit kept", "client"]
        assert client(restored, "M. D.").contact == "marigold@example.org"


@pytest.mark.slow
def test_a_backup_moves_a_salon_from_its_folder_to_a_server(file_store, postgres, tmp_path):
    _filled(file_store)
    back_up(file_store, tmp_path / "backup.zip")
    there = SalonPlace(tmp_path / "group", postgres.new_address())
    restore(tmp_path / "backup.zip", there)
    with open_store(there) as restored:
        assert _rows(restored, "M. D.") == _rows(file_store, "M. D.")


@pytest.mark.slow
def test_a_damaged_backup_is_named_and_nothing_is_restored(file_store, tmp_path):
    _filled(file_store)
    path = tmp_path / "backup.zip"
    back_up(file_store, path)
    whole = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        member = next(info for info in archive.infolist() if info.filename.startswith("files/"))
    whole[member.header_offset + 200] ^= 0xFF
    for damaged in (bytes(whole), bytes(whole[: len(whole) // 2]), b"", b"no zip at all"):
        path.write_bytes(damaged)
        with pytest.raises(BadInputError, match=r"damaged|manifest"):
            restore(path, SalonPlace(tmp_path / "new"))
        assert not (tmp_path / "new").exists()


@pytest.mark.slow
def test_a_backup_that_somebody_has_changed_is_refused_though_it_is_a_sound_zip(file_store, tmp_path):
    _filled(file_store)
    back_up(file_store, tmp_path / "backup.zip")
    with zipfile.ZipFile(tmp_path / "backup.zip") as whole, zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        for name in whole.namelist():
            content = whole.read(name)
            other.writestr(name, content.replace(b"Marigold", b"Somebody") if "client.jsonl" in name else content)
    with pytest.raises(BadInputError, match="is not as it was written"):
        restore(tmp_path / "other.zip", SalonPlace(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


@pytest.mark.slow
def test_a_backup_never_goes_over_anything(file_store, tmp_path):
    _filled(file_store)
    path = tmp_path / "backup.zip"
    back_up(file_store, path)
    with pytest.raises(OutputError, match="is there already"):
        back_up(file_store, path)
    with pytest.raises(OutputError, match="not empty"):
        restore(path, file_store.place)
    assert [each for each in tmp_path.iterdir() if each.name.startswith(".")] == []


@pytest.mark.slow
def test_a_backup_says_which_files_are_missing(file_store, tmp_path):
    _filled(file_store)
    gone = next(iter(sorted(file_store.files.all_hashes())))
    file_store.files.remove(gone)
    assert back_up(file_store, tmp_path / "backup.zip").missing == (gone,)


# --- export


def test_an_export_holds_everything_and_comes_back_equal(store, other_place, tmp_path):
    _filled(store)
    export_client(store, "m. d.", tmp_path / "client.zip")
    with zipfile.ZipFile(tmp_path / "client.zip") as archive:
        rows = json.loads(archive.read("client.json"))
        assert rows["note"][0]["text"] == "Likes it cool."
        assert archive.read("photos/2026-10-05-001-before.jpg") == photo("M. D. before").content
        reports = [name for name in archive.namelist() if name.startswith("reports/")]
        assert sorted(name[-4:] for name in reports) == [".pdf", "html"]
        assert "Sandpiper" not in "".join(map(str, rows.values()))
    with open_store(other_place) as other:
        assert import_client(other, tmp_path / "client.zip") == "M. D."
        assert _rows(other, "M. D.") == _rows(store, "M. D.")
        assert [each.code for each in find_visits(other, Asked(text="marig", level=7))] == ["M. D."]
        assert import_client(other, tmp_path / "client.zip") == "M. D."  # again: nothing changes
        change_client(other, client(other, "M. D."), name="Somebody else")
        with pytest.raises(OutputError, match="not as in the file"):
            import_client(other, tmp_path / "client.zip")


@pytest.mark.slow
def test_an_export_of_the_tables_before_comes_in_and_goes_on_as_one_of_today(store, other_place, tmp_path):
    earlier = Path(__file__).with_name("frozen") / "client_0002.zip"  # written before outlines were kept
    assert import_client(store, earlier) == "Demo E"
    with zipfile.ZipFile(earlier) as archive:
        (told,) = json.loads(archive.read("client.json"))["visit"]
    assert [found.day.isoformat() for found in find_visits(store, Asked(level=7))] == [told["day"]]
    assert import_client(store, earlier) == "Demo E"  # known already, and equal
    export_client(store, "Demo E", tmp_path / "again.zip")
    with open_store(other_place) as other:
        assert import_client(other, tmp_path / "again.zip") == "Demo E"


def test_an_export_of_tables_to_come_is_refused_and_says_what_to_do(store, tmp_path):
    keep_visit(store, visit())
    export_client(store, "M. D.", tmp_path / "one.zip")
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        about = json.loads(archive.read("manifest.json")) | {"tables_version": "9999"}
    with pytest.raises(BadInputError, match="Install the newer version"):
        check_tables_version(about, "one.zip")


@pytest.mark.slow
def test_hostile_texts_come_back_letter_by_letter_and_make_no_file(file_store, tmp_path):
    for number, text in enumerate(HOSTILE):
        keep_visit(
            file_store, visit(f"{number} {text}"[:200], client_name=text, contact=text, notes=(text,), photos=())
        )
    back_up(file_store, tmp_path / "backup.zip")
    restore(tmp_path / "backup.zip", SalonPlace(tmp_path / "restored"))
    with open_store(SalonPlace(tmp_path / "restored")) as restored, restored.looking() as session:
        assert set(session.scalars(select(model.Client.name))) == set(HOSTILE)
        assert set(session.scalars(select(model.Note.text))) == set(HOSTILE)
    export_client(file_store, f"0 {HOSTILE[0]}", tmp_path / "out" / "client.zip")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["backup.zip", "out", "restored", "salon"]
    names = [path.name for path in file_store.place.folder.rglob("*") if path.is_file()]
    assert not [name for name in names if any(text[:8] in name for text in HOSTILE if len(text) > 7)]


# --- erasure

SECRETS = {
    "code": "Qx7-secret-code", "name": "Wilhelmina Zz-secret-name", "contact": "secret-contact@example.org",
    "note": "secret-note-text", "told": "secret-outcome-text", "zone": "secret-zone-name", "new": "secret-new-contact",
    "fact": "secret-fact", "answer": "secret-answer", "mixed": "secret-mixed", "quote": "secret-quote",
    "plan": "secret-plan", "report": "secret-report-bytes", "draft": "secret-draft-content",
}  # fmt: skip


def _secret_visit():
    base = visit(SECRETS["code"])
    old, new = (type(base.answers[0]), type(base.outcomes[0]))
    return visit(
        SECRETS["code"],
        client_name=SECRETS["name"],
        contact=SECRETS["contact"],
        notes=(SECRETS["note"],),
        facts={"note": SECRETS["fact"]},
        answers=(old("code", "who", base.day, SECRETS["answer"], None, ""),),
        outcomes=(new(SECRETS["zone"], SECRETS["told"]),),
        mixed=(type(base.mixed[0])(1, ("crown",), (("violet", 1.0),), 1.0, 6.0, None, SECRETS["mixed"]),),
        quote=type(base.quote)(base.day, (1, 1), (1.0, 1.0), (1.0, 1.0), "EUR", SECRETS["quote"]),
        plan=type(base.plan)(SECRETS["plan"], {"text": SECRETS["plan"]}),
        documents=(type(base.documents[0])("pdf", SECRETS["report"].encode() * 30),),
    )


def _found_in(folder: Path, needles: list[bytes]) -> list[str]:
    """Every file below the folder, hidden ones too, in whose bytes or name one of the needles stands."""
    return [
        f"{needle!r} in {path.name}"
        for path in folder.rglob("*")
        if path.is_file()
        for needle in needles
        if needle in path.read_bytes() or needle in path.name.encode()
    ]


def _needles():
    texts = [text.encode() for text in SECRETS.values()]
    words = [b"qx7-secret-code", b"wilhelmina", b"zz-secret-name"]  # as they are looked up
    photos = [photo(f"{SECRETS['code']} {side}") for side in ("before", "after")]
    parts = [shown.content[at : at + 24] for shown in photos for at in (0, 1000, 2900)]
    hashes = [shown.original_sha256.encode() for shown in photos]
    return texts + words + parts + [shown.thumbnail[:24] for shown in photos] + hashes


@pytest.mark.slow
@pytest.mark.parametrize("place", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)], indirect=True)
def test_no_byte_of_an_erased_client_is_left_and_others_stay_as_they_were(store, request):
    keep_visit(store, visit("Other", client_name="Otto Sandpiper"))
    keep_visit(store, _secret_visit())
    change_client(store, client(store, SECRETS["code"]), contact=SECRETS["new"])
    Drafts(store.place).keep("a" * 32, SECRETS["code"], {"x": SECRETS["draft"]}, {"b" * 64: SECRETS["draft"].encode})
    before, needles = _rows(store, "Other"), _needles()
    erased_id = client(store, SECRETS["code"]).id
    assert len(_found_in(store.place.folder, needles)) >= 8  # the search does find what is there
    receipt = erase_client(store, SECRETS["code"])
    assert receipt.files == 5
    assert receipt.drafts == 1
    assert _found_in(store.place.folder, needles) == []
    with pytest.raises(NotKeptError):
        client(store, SECRETS["code"])
    assert _rows(store, "Other") == before
    assert all(store.files.get(sha256) for sha256 in store.files.all_hashes())
    with store.looking() as session:
        assert session.scalars(select(model.Erasure.client_id)).all() == [erased_id]
    if not store.place.on_sqlite:
        _search_server(request.getfixturevalue("postgres"), store, needles)


def _search_server(server, store, needles):
    server.write_out()
    with store.looking() as session:  # other tests keep their own clients in other databases of this server
        asked = "SELECT oid FROM pg_database WHERE datname = current_database()"
        number = session.connection().exec_driver_sql(asked).scalar()
    tables = server.folder / "data" / "base" / str(number)
    assert _found_in(tables, [b"Otto Sandpiper"]) != []
    assert _found_in(tables, [needle for needle in needles if len(needle) > 8]) == []


@pytest.mark.slow
def test_a_photograph_that_two_clients_share_stays_for_the_other(file_store):
    shared = photo("both in one picture")
    keep_visit(file_store, visit("A", photos=(shared,)))
    keep_visit(file_store, visit("B", photos=(shared,)))
    erase_client(file_store, "A")
    with file_store.looking() as session:
        (row,) = session.scalars(select(model.Photo)).all()
    assert file_store.files.get(row.sha256) == shared.content


@pytest.mark.slow
def test_what_was_undone_is_erased_as_well(file_store):
    keep_visit(file_store, _secret_visit())
    file_store.undo()
    keep_visit(file_store, _secret_visit())
    erase_client(file_store, SECRETS["code"])
    assert _found_in(file_store.place.folder, _needles()) == []
    with file_store.looking() as session:
        assert session.scalar(select(func.count()).select_from(model.Version)) == 0


@pytest.mark.slow
def test_what_was_learned_from_an_erased_client_is_gone_and_from_others_stays(file_store):
    truth = salon(np.random.default_rng(3))
    visits = [
        toned(truth, head(number, own), None, own) for number, own in enumerate(map(np.random.default_rng, (0, 1)))
    ]
    outcomes = [outcome for each in visits for outcome in each.outcomes]
    journal = JournalStore(file_store.place.folder / SALON_JOURNAL)
    journal.change(lambda _: Journal().with_outcomes(outcomes))
    gone, stays = outcomes[0].client, outcomes[-1].client
    assert gone != stays
    keep_visit(file_store, visit(gone))
    receipt = erase_client(file_store, gone)
    assert {outcome.client for outcome in journal.load().outcomes} == {stays}
    assert receipt.outcomes == sum(outcome.client == gone for outcome in outcomes)
    assert _found_in(file_store.place.folder, [gone.encode()]) == []
