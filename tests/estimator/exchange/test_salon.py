"""A whole salon out and in: equal in every row and file, idempotent, readable by the usual tools."""

import csv
import hashlib
import io
import json
import shutil
import subprocess
import sys
import zipfile
from datetime import date

import jsonschema
import pytest

from estimator.errors import BadInputError, OutputError
from estimator.exchange.salon import export_salon, import_salon
from estimator.records.adding import add_note
from estimator.records.clients import client_row, withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.exporting import client_rows
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import DAY, visit

CODES = ("M. D.", "B. B.", "=1+1")


@pytest.fixture
def kept(store):
    for code in CODES:
        keep_visit(store, visit(code))
    return store


@pytest.fixture
def other(tmp_path, empty_salon):
    """The records of another salon, empty."""
    shutil.copytree(empty_salon, tmp_path / "other")
    with open_store(SalonPlace(tmp_path / "other")) as opened:
        yield opened


def rows_of(store, code):
    with store.looking() as session:
        return client_rows(session.connection(), client_row(session, code).id)


@pytest.mark.slow
def test_a_salon_comes_back_equal_in_every_row_and_file(kept, other, tmp_path):
    handed = export_salon(kept, tmp_path / "all.zip")
    taken = import_salon(other, tmp_path / "all.zip")
    assert handed.clients == taken.clients == 3
    assert handed.files == taken.files == 3 * (2 * 2 + 2)  # two photographs with a small one each, two reports
    for code in CODES:
        assert rows_of(other, code) == rows_of(kept, code)
    assert set(other.files.all_hashes()) == set(kept.files.all_hashes())
    assert all(other.files.is_sound(sha256) for sha256 in other.files.all_hashes())


@pytest.mark.slow
def test_taking_in_twice_changes_nothing_and_who_differs_is_left_alone(kept, other, tmp_path):
    export_salon(kept, tmp_path / "all.zip")
    import_salon(other, tmp_path / "all.zip")
    again = import_salon(other, tmp_path / "all.zip")
    assert (again.clients, again.known, again.left_alone) == (0, 3, [])
    add_note(other, "B. B.", date(2026, 10, 6), "written here")
    before = rows_of(other, "B. B.")
    third = import_salon(other, tmp_path / "all.zip")
    assert (third.clients, third.known) == (0, 2)
    assert len(third.left_alone) == 1
    assert "B. B." in third.left_alone[0]
    assert rows_of(other, "B. B.") == before


@pytest.mark.slow
def test_the_file_is_read_with_nothing_but_zip_csv_json_and_hashes(kept, tmp_path):
    export_salon(kept, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        names = set(archive.namelist())
        for line in archive.read("SHA256SUMS").decode().splitlines():
            sha256, name = line.split("  ", 1)
            assert hashlib.sha256(archive.read(name)).hexdigest() == sha256
            names.discard(name)
        assert names == {"SHA256SUMS", "manifest.json"}
        schema = json.loads(archive.read("schemas/client.schema.json"))
        tables = {
            name: list(csv.DictReader(io.StringIO(archive.read(f"tables/{name}.csv").decode(), newline="")))
            for name in ("clients", "visits", "readings", "mixed", "outcomes")
        }
        for row in tables["clients"]:
            jsonschema.validate(json.loads(archive.read(f"{row['folder']}/client.json")), schema)
    # The invented visit: three readings, one mix, one outcome; three clients have one each.
    assert {name: len(rows) for name, rows in tables.items()} == {
        "clients": 3, "visits": 3, "readings": 9, "mixed": 3, "outcomes": 3,
    }  # fmt: skip
    assert {row["code"] for row in tables["clients"]} == {"M. D.", "B. B.", "'=1+1"}
    crown = next(row for row in tables["readings"] if row["client"] == "M. D." and row["side"] == "after")
    assert (crown["zone"], crown["level [1-10]"], crown["stage"]) == ("crown", "8.6", "yellow")
    assert json.loads(tables["mixed"][0]["shade_grams [shade and g]"]) == [["violet", 20.5], ["clear", 10.0]]


@pytest.mark.slow
def test_who_took_the_consent_back_is_not_handed_out(kept, tmp_path):
    withdraw_consent(kept, "B. B.", Scope.RECORD, DAY, "spoken")
    handed = export_salon(kept, tmp_path / "all.zip")
    assert handed.clients == 2
    assert "B. B." in handed.left_alone[0]
    assert b"B. B." not in (tmp_path / "all.zip").read_bytes()


def test_an_empty_salon_a_file_that_is_there_and_a_damaged_one_are_refused(store, tmp_path):
    with pytest.raises(BadInputError, match="nothing to hand out"):
        export_salon(store, tmp_path / "all.zip")
    assert not (tmp_path / "all.zip").exists()
    keep_visit(store, visit())
    export_salon(store, tmp_path / "all.zip")
    with pytest.raises(OutputError, match="not overwritten"):
        export_salon(store, tmp_path / "all.zip")
    content = bytearray((tmp_path / "all.zip").read_bytes())
    content[len(content) // 2] ^= 1
    (tmp_path / "bad.zip").write_bytes(content)
    with pytest.raises(BadInputError, match="damaged"):
        import_salon(store, tmp_path / "bad.zip")


@pytest.mark.slow
def test_the_commands_hand_a_salon_from_one_folder_to_another(kept, salon, tmp_path):
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", "estimator", "records", *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
        )

    out = run("export-all", tmp_path / "all.zip", "--salon", salon)
    assert "3 clients" in out.stdout, out.stderr
    taken = run("import-all", tmp_path / "all.zip", "--salon", tmp_path / "third")
    assert "3 clients taken in" in taken.stdout, taken.stderr
    again = run("import-all", tmp_path / "all.zip", "--salon", tmp_path / "third")
    assert "3 were there already" in again.stdout
    contacts = run("contacts", tmp_path / "c.vcf", "--salon", tmp_path / "third")
    assert "3 clients" in contacts.stdout
    looked = run("take-contacts", tmp_path / "c.vcf", "--salon", salon)
    assert "3 known already" in looked.stdout
    assert "Nothing was written" in looked.stdout
