"""Records encrypted at rest: published vectors, no readable byte in any file, wrong words, damage, kills, way back."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import select

from estimator import cli
from estimator.errors import BadInputError
from estimator.feedback.journal import Journal
from estimator.records import key_file, model, swapping, unlocking
from estimator.records.backing_up import back_up, restore
from estimator.records.beside import salon_clock, salon_journal
from estimator.records.checking import _database, check_all, everything_well
from estimator.records.clients import client
from estimator.records.converting import decrypt_salon, encrypt_salon
from estimator.records.database import make_engine
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.errors import LockedError, RecordsError
from estimator.records.exporting import client_rows, export_client
from estimator.records.place import KEY_FILE, SALON_VARIABLE, SalonPlace
from estimator.records.rewrapping import change_code, change_passphrase
from estimator.records.sealing import (
    BrokenSealError,
    Cost,
    derived,
    from_words,
    gcm_decrypted,
    gcm_encrypted,
    hidden,
    seal,
    shown,
    unseal,
)
from estimator.records.store import Store, open_store
from estimator.records.unlocking import PASSPHRASE_FILE_VARIABLE, PASSPHRASE_VARIABLE
from estimator.records.visits import keep_visit
from tests.counts import drilled
from tests.estimator.records.invented import DAY, photo, visit

ROOT = Path(__file__).parents[3]
WORDS = "lantern orchard thimble nine"
QUICK = Cost(n=2**10)  # the tests try the program's ways, not the time that a guess takes


def _quick(**told: int) -> Cost:
    return Cost(**told) if told else QUICK


@pytest.fixture(autouse=True)
def nothing_remembered(monkeypatch):
    """Each test begins as a program does, with a passphrase in the environment and a quick key."""
    monkeypatch.setattr(key_file, "Cost", _quick)
    monkeypatch.setenv(PASSPHRASE_VARIABLE, WORDS)
    monkeypatch.delenv(PASSPHRASE_FILE_VARIABLE, raising=False)
    unlocking.forget()
    yield
    unlocking.forget()


@pytest.fixture(scope="session")
def sealed_folder(tmp_path_factory, new_folder) -> Path:
    """A salon with a client, a visit, a draft, a journal and a clock, and then encrypted; to be copied."""
    place = SalonPlace(tmp_path_factory.mktemp("sealed") / "salon")
    shutil.copytree(new_folder, place.folder)
    with open_store(place) as store:
        keep_visit(store, SEEDED)
    _seed_beside(place)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(key_file, "Cost", _quick)
        encrypt_salon(place, WORDS)
    return place.folder


@pytest.fixture
def salon(tmp_path, sealed_folder) -> SalonPlace:
    """An encrypted salon with a client, a visit, a draft, a journal and a clock."""
    shutil.copytree(sealed_folder, tmp_path / "salon")
    return SalonPlace(tmp_path / "salon")


def _rows(place: SalonPlace, code: str) -> dict:
    with open_store(place) as store, store.looking() as session:
        row = session.scalars(select(model.Client).where(model.Client.code == code)).one()
        return client_rows(session.connection(), row.id)


# --- published values


def test_aes_256_gcm_gives_the_published_values():
    # McGrew & Viega, The Galois/Counter Mode of Operation (submission to NIST), appendix B, test case 16.
    key = bytes.fromhex("feffe9928665731c6d6a8f9467308308" * 2)
    nonce, bound = bytes.fromhex("cafebabefacedbaddecaf888"), bytes.fromhex("feedfacedeadbeeffeedfacedeadbeefabaddad2")
    content = bytes.fromhex(
        "d9313225f88406e5a55909c5aff5269a86a7a9531534f7da2e4c303d8a318a72"
        "1c3c0c95956809532fcf0e2449a6b525b16aedf5aa0de657ba637b39"
    )
    encrypted = bytes.fromhex(
        "522dc1f099567d07f47f37a32a84427d643a8cdcbfe5c0c97598a2bd2555d1aa"
        "8cb08e48590dbb3da7b08b1056828838c5f61e6393ba7a0abcc9f662"
        "76fc6ece0f4e1768cddf8853bb2d551b"
    )
    assert gcm_encrypted(key, nonce, content, bound) == encrypted
    assert gcm_decrypted(key, nonce, encrypted, bound) == content


def test_hkdf_gives_the_published_values():
    # RFC 5869, appendix A.1 and A.3 (SHA-256; the second without salt and info).
    made = derived(b"\x0b" * 22, bytes(range(0xF0, 0xFA)), bytes(range(13)), 42)
    assert made.hex() == "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf34007208d5b887185865"
    made = derived(b"\x0b" * 22, b"", None, 42)
    assert made.hex() == "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d9d201395faa4b61a96c8"


@pytest.mark.parametrize(
    ("words", "salt", "cost", "expected"),
    [  # RFC 7914, section 12
        (b"", b"", Cost(16, 1, 1), "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442"
         "fcd0069ded0948f8326a753a0fc81f17e8d3e0fb2e0d3628cf35e20c38d18906"),
        (b"password", b"NaCl", Cost(1024, 8, 16), "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
         "2eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640"),
    ],
)  # fmt: skip
def test_scrypt_gives_the_published_values(words, salt, cost, expected):
    assert from_words(words, salt, cost, 64).hex() == expected


def test_aes_siv_gives_the_published_values():
    # RFC 5297, appendix A.1; the key there has 256 bits, ours 512: the library takes both.
    key = bytes.fromhex("fffefdfcfbfaf9f8f7f6f5f4f3f2f1f0f0f1f2f3f4f5f6f7f8f9fafbfcfdfeff")
    bound = bytes.fromhex("101112131415161718191a1b1c1d1e1f2021222324252627")
    name = bytes.fromhex("112233445566778899aabbccddee")
    assert hidden(key, name, bound).hex() == "85632d07c6e8f37f950acd320a2ecc9340c02b9690c4dc04daef7f6afe5c"
    assert shown(key, hidden(key, name, bound), bound) == name


def test_a_guess_costs_at_least_what_was_promised():
    # The weakest settings that the decision allows: 2^17, 8, 1 (128 r N bytes = 128 MB, RFC 7914 section 2).
    assert (Cost().n, Cost().r, Cost().p) == (2**17, 8, 1)


def test_what_is_sealed_opens_only_whole_in_its_place_and_with_its_key():
    key = bytes(range(32))
    sealed = seal(key, b"content", b"here")
    assert unseal(key, sealed, b"here") == b"content"
    assert seal(key, b"content", b"here") != sealed  # a nonce of its own each time
    changed = [sealed[:at] + bytes([sealed[at] ^ 1]) + sealed[at + 1 :] for at in range(len(sealed))]
    for other in (*changed, sealed[:-1], b"", sealed + b"x"):
        with pytest.raises(BrokenSealError):
            unseal(key, other, b"here")
    for wrong in ((bytes(32), b"here"), (key, b"there")):
        with pytest.raises(BrokenSealError):
            unseal(wrong[0], sealed, wrong[1])


# --- no byte of a person

SECRET = "Wilhelmina-Seeded"
SEEDED = visit(
    "SEEDED-CODE",
    client_name=SECRET,
    contact="seeded-contact@example.org",
    notes=("seeded-note-text",),
    facts={"note": "seeded-health-fact"},
    photos=(photo("seeded", size=40_000),),
    documents=(type(visit().documents[0])("pdf", b"%PDF seeded-report-bytes" * 50),),
)
NEEDLES = [
    *(text.encode() for text in (SECRET, SECRET.lower(), "SEEDED-CODE", "seeded-code", "seeded-contact",
      "seeded-note-text", "seeded-health-fact", "seeded-report-bytes", "seeded-draft", "seeded-clock")),
    *(SEEDED.photos[0].content[at : at + 16] for at in (0, 9_000, 39_900)),
    SEEDED.photos[0].thumbnail[:16],
    SEEDED.photos[0].original_sha256.encode(),
]  # fmt: skip


def _seed_beside(place: SalonPlace) -> None:
    from estimator.lifting.clock_events import Kind, new_event
    from estimator.lifting.clock_store import instant_now

    Drafts(place).keep("a" * 32, "seeded-draft", {"x": SECRET}, {"b" * 64: lambda: SEEDED.photos[0].content})
    clock = salon_clock(place.folder)
    clock.add(new_event(Kind.START, "seeded-clock", instant_now(), most_minutes=20.0, check_minutes=5.0))
    salon_journal(place.folder).change(lambda _: Journal())
    (place.earlier).mkdir(exist_ok=True)
    (place.earlier / "records-0001-x.sqlite").write_bytes(b"SQLite format 3 " + SECRET.encode())


def _found(folder: Path) -> list[str]:
    """Every file in whose bytes or name a needle stands."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return [f"{n!r} in {p.name}" for p in files for n in NEEDLES if n in p.read_bytes() or n in p.name.encode()]


@pytest.mark.slow
def test_no_byte_of_a_client_is_readable_in_an_encrypted_folder_even_while_it_is_open(tmp_path, new_folder):
    shutil.copytree(new_folder, tmp_path / "salon")
    place = SalonPlace(tmp_path / "salon")
    with open_store(place) as store:
        keep_visit(store, SEEDED)
    _seed_beside(place)
    assert len({line.split(" in ")[0] for line in _found(place.folder)}) >= len(NEEDLES) - 1  # the search does find
    encrypt_salon(place, WORDS)
    assert _found(place.folder) == []
    plain = [p for p in place.folder.rglob("*") if p.is_file() and p.read_bytes().startswith(b"SQLite format 3")]
    assert plain == []
    _seed_beside_again(place)
    with open_store(place) as store:
        keep_visit(store, visit("SEEDED-CODE", client_name=SECRET, day=DAY.replace(day=9), photos=SEEDED.photos))
        log = place.sealed_database_file.with_name("records.sealed-wal")
        assert log.stat().st_size > 10_000  # the log is there and was searched
        with store.files.noted(["c" * 64]):
            assert _found(place.folder) == []
            assert not [n for n in place.pending.glob("*.json") if b"c" * 64 in n.read_bytes()]
        back_up(store, tmp_path / "salon" / "backup.zip")
        assert _found(place.folder) == []


def _seed_beside_again(place: SalonPlace) -> None:
    Drafts(place).keep("d" * 32, "seeded-draft", {"x": SECRET}, {"b" * 64: lambda: SEEDED.photos[0].content})


@pytest.mark.slow
def test_a_photograph_that_somebody_has_can_t_be_looked_for_by_its_hash(salon):
    from estimator.records.photo_files import hash_of

    known = hash_of(SEEDED.photos[0].content)
    assert not [path for path in salon.folder.rglob("*") if known in path.name or known[:16] in path.name]
    with open_store(salon) as store:
        assert known in set(store.files.all_hashes())  # the program itself finds it


# --- round trips


@pytest.mark.slow
def test_an_encrypted_salon_works_as_an_open_one_and_comes_back_equal(tmp_path, new_folder, monkeypatch):
    shutil.copytree(new_folder, tmp_path / "salon")
    place = SalonPlace(tmp_path / "salon")
    with open_store(place) as store:
        keep_visit(store, SEEDED)
        keep_visit(store, visit("Other"))
    _seed_beside(place)
    before, drafts = _rows(place, "Other"), Drafts(place).listed()
    clock = salon_clock(place.folder).load()
    encrypt_salon(place, WORDS)
    assert _rows(place, "Other") == before
    assert [(d.id, d.client, int(d.changed_utc.timestamp())) for d in Drafts(place).listed()] == [
        (d.id, d.client, int(d.changed_utc.timestamp())) for d in drafts
    ]
    assert Drafts(place).load("a" * 32).photos == {"b" * 64: SEEDED.photos[0].content}
    assert salon_clock(place.folder).load() == clock
    with open_store(place) as store:
        assert keep_visit(store, visit("Third")).new
        assert everything_well(check_all(store))
        assert store.undo() == "visit kept"
        erase_client(store, "SEEDED-CODE")
        assert client(store, "Other").name == "Marigold Dunmore"
    decrypt_salon(place)
    assert not (place.folder / KEY_FILE).exists()
    unlocking.forget()
    monkeypatch.delenv(PASSPHRASE_VARIABLE)
    assert _rows(place, "Other") == before
    with open_store(place) as store:
        assert everything_well(check_all(store))


@pytest.mark.slow
def test_old_copies_of_the_database_are_made_encrypted_too(salon, monkeypatch):
    from estimator.records import migrating

    with open_store(salon) as store:
        engine = store.engine
        migrating._copy_aside(salon, "0002")
    assert engine is not None
    (copy,) = salon.earlier.iterdir()
    assert copy.stat().st_size > 10_000
    assert _found(salon.folder) == []


# --- words


@pytest.mark.parametrize("words", ["lantern orchard thimble ten", "", "\N{LATIN SMALL LETTER E WITH ACUTE}" * 12])
def test_without_the_right_words_a_sentence_says_so_and_nothing_is_written(salon, monkeypatch, words):
    unlocking.forget()
    monkeypatch.setenv(PASSPHRASE_VARIABLE, words)
    before = {path: path.read_bytes() for path in salon.folder.rglob("*") if path.is_file()}
    expected = "does not open these records" if words else "are encrypted.* Set TRESSMETER_PASSPHRASE"
    with pytest.raises(LockedError, match=expected):
        open_store(salon)
    with pytest.raises(LockedError):
        Drafts(salon).keep("e" * 32, "x", {}, {})
    with pytest.raises(LockedError):
        salon_clock(salon.folder).load()
    assert {path: path.read_bytes() for path in salon.folder.rglob("*") if path.is_file()} == before


def test_the_words_may_stand_in_a_file_and_an_accent_typed_otherwise_is_the_same(salon, monkeypatch, tmp_path):
    change_passphrase(salon, "caf\u00e9 au lait, merci")
    unlocking.forget()
    monkeypatch.delenv(PASSPHRASE_VARIABLE)
    (tmp_path / "words.txt").write_text("cafe\u0301 au lait, merci\n", encoding="utf-8")
    monkeypatch.setenv(PASSPHRASE_FILE_VARIABLE, str(tmp_path / "words.txt"))
    assert _rows(salon, "SEEDED-CODE")
    unlocking.forget()
    monkeypatch.setenv(PASSPHRASE_FILE_VARIABLE, str(tmp_path / "nothing.txt"))
    with pytest.raises(BadInputError, match=r"nothing\.txt can't be read"):
        open_store(salon)


def test_a_changed_passphrase_opens_and_the_old_one_does_not(salon, monkeypatch):
    before = (salon.folder / "records.sealed").read_bytes()
    change_passphrase(salon, "quite other words now")
    assert (salon.folder / "records.sealed").read_bytes() == before  # only the wrap is new
    unlocking.forget()
    with pytest.raises(LockedError):
        open_store(salon)
    monkeypatch.setenv(PASSPHRASE_VARIABLE, "quite other words now")
    assert _rows(salon, "SEEDED-CODE")
    with pytest.raises(BadInputError, match="12 or more"):
        change_passphrase(salon, "short")


def test_the_code_for_writing_down_opens_however_it_is_typed_and_a_new_one_ends_it(salon, monkeypatch):
    code = change_code(salon)
    unlocking.forget()
    monkeypatch.setenv(PASSPHRASE_VARIABLE, code.lower().replace("-", " "))
    assert _rows(salon, "SEEDED-CODE")
    change_code(salon)
    unlocking.forget()
    with pytest.raises(LockedError):
        open_store(salon)


def test_a_keyring_opens_without_words_and_where_there_is_none_a_sentence_says_so(salon, monkeypatch):
    import keyring
    from keyring.backend import KeyringBackend

    class Held(KeyringBackend):
        priority = 1  # type: ignore[assignment]

        def __init__(self) -> None:
            super().__init__()
            self.held: dict[tuple[str, str], str] = {}

        def get_password(self, service: str, username: str) -> str | None:
            return self.held.get((service, username))

        def set_password(self, service: str, username: str, password: str) -> None:
            self.held[service, username] = password

        def delete_password(self, service: str, username: str) -> None:
            del self.held[service, username]

    from keyring.backends.fail import Keyring as NoKeyring

    from estimator.records.rewrapping import opened

    held, usual = opened(salon), keyring.get_keyring()
    try:
        keyring.set_keyring(NoKeyring())
        with pytest.raises(BadInputError, match="no keyring that could hold the key"):
            unlocking.put_into_keyring(held.key_file, held.key)
        keyring.set_keyring(Held())
        unlocking.put_into_keyring(held.key_file, held.key)
        unlocking.forget()
        monkeypatch.delenv(PASSPHRASE_VARIABLE)
        assert _rows(salon, "SEEDED-CODE")
        assert unlocking.take_out_of_keyring(held.key_file)
        unlocking.forget()
        with pytest.raises(LockedError, match="are encrypted"):
            open_store(salon)
    finally:
        keyring.set_keyring(usual)


def test_a_key_file_that_asks_for_endless_work_or_is_gone_is_told_of(salon):
    path = salon.folder / KEY_FILE
    whole = path.read_bytes()
    told = json.loads(whole)
    told["wraps"][0]["cost"]["n"] = 2**40
    for damaged in (json.dumps(told).encode(), whole[:50], b"", b"[]"):
        path.write_bytes(damaged)
        with pytest.raises(RecordsError, match=r"key\.json is damaged"):
            open_store(salon)
    path.unlink()
    with pytest.raises(RecordsError, match=r"key\.json is gone"):
        open_store(salon)
    path.write_bytes(whole)
    assert _rows(salon, "SEEDED-CODE")


# --- damage


def test_one_changed_byte_in_any_kind_of_file_is_found_and_told(salon):
    with open_store(salon) as store:
        sha256 = sorted(store.files.all_hashes())[0]
        path = store.files.path_of(sha256)
        whole = path.read_bytes()
        for at in (0, 12, len(whole) // 2, len(whole) - 1):
            path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
            with pytest.raises(RecordsError, match="is damaged"):
                store.files.get(sha256)
        (found,) = [each for each in check_all(store) if each.what == "files"]
        assert "1 damaged" in found.told
        path.write_bytes(whole)
        other = store.files.path_of(sorted(store.files.all_hashes())[1])
        other.write_bytes(whole)  # a whole file of the same salon in another's place
        assert not everything_well(check_all(store))
    draft = salon.drafts / ("a" * 32) / "draft.json"
    draft.write_bytes(draft.read_bytes()[:-1] + b"x")
    assert Drafts(salon).load("a" * 32) is None


def test_a_changed_page_of_the_database_is_found_and_told(salon):
    content = bytearray(salon.sealed_database_file.read_bytes())
    content[5 * 4096 + 700] ^= 1
    salon.sealed_database_file.write_bytes(content)
    store = Store(salon, make_engine(salon))
    try:
        assert not _database(store).well
    except RecordsError as problem:
        assert "damaged" in str(problem)  # noqa: PT017 - either way of being told will do
    finally:
        store.close()


def test_files_that_lie_open_in_an_encrypted_salon_are_told_of(salon):
    (salon.drafts / "left.txt").write_text("left by an old program")
    with open_store(salon) as store:
        (found,) = [each for each in check_all(store) if each.what == "encryption"]
    assert ("1 files in the folder are not sealed" in found.told, found.well) == (True, False)


# --- backup and handing out


@pytest.mark.slow
def test_a_backup_of_an_encrypted_salon_opens_by_the_passphrase_on_an_empty_machine(salon, tmp_path):
    before = _rows(salon, "SEEDED-CODE")
    with open_store(salon) as store:
        done = back_up(store, tmp_path / "backup.zip")
    assert not [needle for needle in NEEDLES if needle in (tmp_path / "backup.zip").read_bytes()]
    shutil.rmtree(salon.folder)
    unlocking.forget()  # nothing but the file and the words
    new = SalonPlace(tmp_path / "new")
    again = restore(tmp_path / "backup.zip", new)
    assert (again.rows, again.files) == (done.rows, done.files)
    assert _rows(new, "SEEDED-CODE") == before
    assert _found(new.folder) == []


@pytest.mark.slow
def test_a_damaged_or_foreign_sealed_backup_is_told_of_and_nothing_is_restored(salon, tmp_path, monkeypatch):
    path = tmp_path / "backup.zip"
    with open_store(salon) as store:
        back_up(store, path)
    whole = path.read_bytes()
    places = [30, 400, len(whole) // 2, len(whole) - 30]
    changed = [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in places]
    for damaged in (*changed, whole[: len(whole) // 2]):
        path.write_bytes(damaged)
        with pytest.raises(BadInputError, match="damaged"):
            restore(path, SalonPlace(tmp_path / "new"))
        assert not (tmp_path / "new").exists()
    path.write_bytes(whole)
    unlocking.forget()
    monkeypatch.setenv(PASSPHRASE_VARIABLE, "not the words at all")
    with pytest.raises(LockedError):
        restore(path, SalonPlace(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


def test_pieces_of_a_sealed_backup_can_t_be_moved_or_left_out(tmp_path):
    import io

    from estimator.records.key_file import new_key, new_key_file
    from estimator.records.sealed_stream import PIECE, SealedReader, SealedWriter
    from estimator.records.sealing import TAG_BYTES

    key = new_key()
    told = new_key_file(key, WORDS, "A" * 32)
    content = os.urandom(3 * PIECE + 5)
    file = io.BytesIO()
    writer = SealedWriter(file, told, key)
    for at in range(0, len(content), 1000):
        writer.write(content[at : at + 1000])
    writer.finish()
    whole = file.getvalue()
    reader = SealedReader(io.BytesIO(whole), lambda _: key)
    assert reader.read() == content
    assert (reader.seek(PIECE - 3), reader.read(6)) == (PIECE - 3, content[PIECE - 3 : PIECE + 3])
    begins = len(whole) - len(content) - 4 * TAG_BYTES
    piece = PIECE + TAG_BYTES
    first, second, rest = (whole[begins + n * piece : begins + (n + 1) * piece] for n in range(3))
    for other in (second + first + rest, first + second, first):
        with pytest.raises(BrokenSealError):
            SealedReader(io.BytesIO(whole[:begins] + other), lambda _: key).read()


def test_an_export_is_plain_since_it_is_handed_out(salon, tmp_path):
    import zipfile

    with open_store(salon) as store:
        export_client(store, "SEEDED-CODE", tmp_path / "client.zip")
    with zipfile.ZipFile(tmp_path / "client.zip") as archive:
        assert SECRET in archive.read("client.json").decode()


# --- kills and others who work


def drill(name: str, folder: Path, count: int) -> dict:
    command = [sys.executable, "-m", "tests.estimator.records.drills_sealed", name, str(folder), str(count)]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr[-3000:]
    told: dict = json.loads(ran.stdout)
    return told


@pytest.mark.slow
@pytest.mark.parametrize("kills", drilled(2, 20, 50))
def test_a_salon_is_whole_after_its_encryption_was_killed_at_any_moment(tmp_path, kills):
    found = drill("kill_while_encrypting", tmp_path / "salons", kills)
    assert found["faults"] == []
    assert found["turned"] or kills < 20  # some were hit after it was decided, and some before
    assert found["finished"] < kills


@pytest.mark.slow
@pytest.mark.parametrize("steps", [4, *(pytest.param(n, marks=pytest.mark.slow) for n in (1, 2, 3, 5, 6, 7, 8, 9, 10))])
def test_what_was_decided_is_finished_by_whoever_comes_next(salon, monkeypatch, steps):
    """The few moments between the decision and its end are hit by chance too rarely: here the program ends in each."""
    before, taken, usual = _rows(salon, "SEEDED-CODE"), [], swapping._take_out

    def ends(path: Path) -> None:
        taken.append(path.name)
        if len(taken) == steps:
            raise KeyboardInterrupt
        usual(path)

    monkeypatch.setattr(swapping, "_take_out", ends)
    with pytest.raises(KeyboardInterrupt):
        decrypt_salon(salon)
    monkeypatch.setattr(swapping, "_take_out", usual)
    assert not swapping.is_settled(salon.folder)
    assert Drafts(salon).load("a" * 32).photos == {"b" * 64: SEEDED.photos[0].content}  # no matter who comes
    assert _rows(salon, "SEEDED-CODE") == before
    left = {path.name for path in salon.folder.iterdir()}
    assert not left & {KEY_FILE, "records.sealed", "converting"}
    assert not [name for name in left if name.startswith("building-")]


@pytest.mark.slow
def test_a_program_that_held_the_open_records_can_t_write_into_what_is_gone(tmp_path, new_folder):
    shutil.copytree(new_folder, tmp_path / "salon")
    place = SalonPlace(tmp_path / "salon")
    with open_store(place) as early:
        keep_visit(early, visit("Early"))
        encrypt_salon(place, WORDS)
        with pytest.raises(RecordsError, match="encrypted or decrypted meanwhile"):
            keep_visit(early, visit("Late"))
    with open_store(place) as store:
        assert keep_visit(store, visit("Late")).new
        assert everything_well(check_all(store))
    assert _found(place.folder) == []


@pytest.mark.slow
def test_on_a_server_the_files_are_encrypted_and_the_database_is_left_alone(tmp_path, postgres, new_tables):
    place = SalonPlace(tmp_path / "salon", postgres.new_address(new_tables))
    with open_store(place) as store:
        keep_visit(store, SEEDED)
    encrypt_salon(place, WORDS)
    assert _found(place.folder) == []
    assert not place.sealed_database_file.exists()
    with open_store(place) as store:
        assert everything_well(check_all(store))
        assert client(store, "SEEDED-CODE").name == SECRET


# --- commands


@pytest.fixture
def command(monkeypatch, capsys, tmp_path):
    """Runs the command in this process on a salon of its own; returns its exit code and all that it said."""
    monkeypatch.setenv(SALON_VARIABLE, str(tmp_path / "salon"))

    def run(*words) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return int(ended.value.code or 0), " ".join((said.out + said.err).split())

    return run


@pytest.mark.slow
def test_the_commands_encrypt_change_the_words_and_open_again(command, file_store, tmp_path, monkeypatch):
    keep_visit(file_store, SEEDED)
    code, said = command("records", "encrypt")
    assert (code, "There is no backup of today" in said) == (1, True), said
    code, said = command("records", "encrypt", "--backup", tmp_path / "b.zip")
    assert (code, "Backed up first" in said, "everything is lost" in said) == (0, True, True), said
    recovery = next(word for word in said.split() if word.count("-") == 7)
    assert _found(tmp_path / "salon") == []
    assert "already" in command("records", "encrypt", "--backup", tmp_path / "c.zip")[1]
    assert "on, opened by passphrase or recovery code" in command("doctor")[1]
    (tmp_path / "new.txt").write_text("four words stand here")
    assert "Changed." in command("records", "passphrase", "--new-file", tmp_path / "new.txt")[1]
    unlocking.forget()
    code, said = command("records", "list")
    assert (code, said) == (1, "The passphrase in TRESSMETER_PASSPHRASE does not open these records. "
                               "Check it, then try again.")  # fmt: skip
    monkeypatch.setenv(PASSPHRASE_VARIABLE, recovery)
    assert SECRET in command("records", "list")[1]
    assert "Recovery code" in command("records", "passphrase", "--new-code")[1]
    assert command("records", "passphrase", "--forget")[0] == 0
    assert command("records", "decrypt")[0] == 1
    assert "Open again" in command("records", "decrypt", "--yes")[1]
    assert "not encrypted" in command("records", "decrypt", "--yes")[1]
    monkeypatch.delenv(PASSPHRASE_VARIABLE)
    assert SECRET in command("records", "list")[1]


# --- the page


def _told_on_the_first_screen(monkeypatch, salon: SalonPlace, client_code: str = "") -> list[str]:
    from streamlit.testing.v1 import AppTest

    monkeypatch.setenv(SALON_VARIABLE, str(salon.folder))
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60).run()
    if client_code:
        page.text_input[0].set_value(client_code)
        page.run()
    assert not page.exception
    return [told.value for told in page.markdown]


@pytest.mark.slow
def test_the_page_opens_encrypted_records_by_the_environment_and_says_one_sentence_without_it(salon, monkeypatch):
    told = _told_on_the_first_screen(monkeypatch, salon, "SEEDED-CODE")
    assert any("level 7.2" in text for text in told)  # the earlier visit, out of the sealed database
    unlocking.forget()
    monkeypatch.delenv(PASSPHRASE_VARIABLE)
    told = _told_on_the_first_screen(monkeypatch, salon, "SEEDED-CODE")
    assert sum("These records are encrypted" in text for text in told) == 1
    assert not [text for text in told if SECRET in text or "level 7.2" in text]
