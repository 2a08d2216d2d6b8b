"""The commands on records, from a visit that is kept to a client that is erased, as a person would type them."""

import hashlib
import json
import shutil
import subprocess
import sys
import zipfile
from datetime import date
from pathlib import Path

import pytest

from estimator import cli
from estimator.records.place import DATABASE_VARIABLE, SALON_VARIABLE
from tests.estimator.records.invented import reading, visit

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "sample_images"


@pytest.fixture
def command(monkeypatch, capsys, tmp_path):
    """Runs the command in this process on a salon of its own; returns its exit code and all that it said."""
    monkeypatch.setenv(SALON_VARIABLE, str(tmp_path / "salon"))
    monkeypatch.delenv(DATABASE_VARIABLE, raising=False)

    def run(*words) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        text = said.out + said.err
        assert "Traceback" not in text
        return int(ended.value.code or 0), " ".join(text.split())

    return run


@pytest.mark.slow
def test_a_visit_is_kept_found_shown_handed_out_and_erased(command, tmp_path):
    keep = ("visit", SAMPLES / "visit.toml", "--out", tmp_path / "out", "--keep", tmp_path / "salon")
    code, said = command(*keep)
    assert (code, "Kept as visit" in said) == (0, True), said
    name = said.split("Kept as visit ")[1].split()[0]
    assert "Kept already" in command(*keep)[1]
    assert "Marigold" in command("records", "list")[1]
    assert "Marigold" in command("records", "find", "mari")[1]
    assert name in command("records", "find", "--tone", "beige")[1]
    assert "No visit answers" in command("records", "find", "--level", "1")[1]
    assert "health answers" in command("records", "show", "marigold")[1]
    assert "Planned, bowl 1" in command("records", "show", name)[1]
    assert command("doctor")[0] == 0
    assert "found whole" in command("backup", tmp_path / "backup.zip")[1]
    assert "compared with the backup" in command("restore", tmp_path / "backup.zip", tmp_path / "restored")[1]
    assert command("doctor", "--salon", tmp_path / "restored")[0] == 0
    assert command("export", "Marigold", tmp_path / "client.zip")[0] == 0
    with zipfile.ZipFile(tmp_path / "client.zip") as archive:
        assert any(entry.endswith(".pdf") for entry in archive.namelist())
    code, said = command("erase", "Marigold")
    assert (code, "would go for good" in said) == (1, True)
    assert "names nobody" in command("erase", "Marigold", "--yes")[1]
    trail = command("access", "trail")[1]
    for happened in ("a backup was written", "a client's records were handed out", "a client was erased"):
        assert trail.count(happened) == 1, trail
    assert "Marigold" not in trail
    assert command("records", "show", "Marigold")[0] == 1
    again = ("restore", tmp_path / "backup.zip", tmp_path / "again", "--erased-in", tmp_path / "salon")
    assert "1 clients erased again" in command(*again)[1]
    assert command("records", "show", "Marigold", "--salon", tmp_path / "again")[0] == 1
    assert "Taken in: Marigold" in command("records", "import", tmp_path / "client.zip")[1]
    assert "Marigold" in command("records", "find", "mari")[1]


@pytest.mark.slow
def test_without_consent_nothing_is_kept_and_the_sentence_says_how_to_give_it(command, tmp_path):
    for sample in SAMPLES.glob("strands_*"):
        shutil.copy(sample, tmp_path)
    text = (SAMPLES / "visit.toml").read_text(encoding="utf-8").split("[[consent]]")[0]
    (tmp_path / "visit.toml").write_text(text, encoding="utf-8")
    code, said = command("visit", tmp_path / "visit.toml", "--out", tmp_path / "out", "--keep", tmp_path / "salon")
    assert code == 1
    assert 'tressmeter records consent "Marigold" --scope "record"' in said
    assert not list((tmp_path / "salon" / "files").glob("??/??/*"))


@pytest.mark.slow
def test_taking_back_consent_to_health_answers_erases_them(command, file_store, tmp_path):
    from estimator.records.showing import client_page, visit_page
    from estimator.records.visits import keep_visit

    kept = keep_visit(file_store, visit("Mari", client_name=""))
    code, said = command("records", "consent", "Mari", "--scope", "health answers", "--withdrawn")
    assert (code, "rows on health were erased" in said) == (0, True), said
    page = visit_page(file_store, kept.id)
    assert (page.care_verdict, [weight for weight, _ in page.findings]) == ("", ["care"])  # the card's glare stays
    assert client_page(file_store, "Mari").consents[0].withdrawn_on is not None
    needles = (b"ask-a-doctor", b"the client's doctor", b"scalp_state", b"%PDF Mari")
    files = [path for path in file_store.place.folder.rglob("*") if path.is_file()]
    assert not [needle for path in files for needle in needles if needle in path.read_bytes()]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("records", "list"), "There are no records in"),
        (("records", "find", "--from", "soon"), "is no day"),
        (("records", "consent", "X", "--scope", "everything"), "There is no consent to"),
        (("records", "consent", "X", "--scope", "record", "--on", "2999-01-01"), "still to come"),
        (("records", "find", "--stage", "golden"), "little warmth, red, red-brown, orange, gold, yellow"),
        (("restore", "nothing.zip", "new"), "There is no file at"),
    ],
)
def test_what_can_t_be_done_is_said_in_a_sentence(command, words, sentence, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    code, said = command(*words)
    assert (code, sentence in said) == (1, True), said
    assert not (tmp_path / "salon").exists()


def test_an_address_of_a_database_that_is_none_is_refused(command, monkeypatch):
    monkeypatch.setenv(DATABASE_VARIABLE, "mysql://somewhere/salon")
    code, said = command("records", "list")
    assert (code, "Write postgresql://" in said) == (1, True)


def test_a_server_that_does_not_answer_is_told_in_a_sentence(command, monkeypatch):
    monkeypatch.setenv(DATABASE_VARIABLE, "postgresql://salon@127.0.0.1:9/salon?connect_timeout=2")
    code, said = command("records", "list")
    assert (code, "does not answer" in said) == (1, True), said


@pytest.mark.slow
def test_no_database_library_is_loaded_before_records_are_used():
    script = (
        "import sys; from estimator.cli import app\n"
        "for words in (['--help'], ['records', '--help'], ['read', '--help']):\n"
        "    try: app(words)\n    except SystemExit: pass\n"
        "import estimator.visit, estimator.visit_file\n"
        "print([name for name in ('sqlalchemy', 'alembic', 'psycopg') if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.strip().endswith("[]")


@pytest.mark.slow
def test_what_was_really_mixed_is_kept_beside_the_plan_and_undone_at_a_word(command, file_store):
    from estimator.records.showing import visit_page
    from estimator.records.visits import keep_visit

    name = keep_visit(file_store, visit("Mari")).id
    weighed = ("--grams", "violet=19.5,clear = 11", "--developer-grams", 60, "--volume", 6, "--zones", "crown, nape")
    assert command("records", "mixed", name[:10], *weighed, "--minutes", 9)[0] == 0
    (_, mixed) = visit_page(file_store, name).mixed
    assert (mixed.shade_grams, mixed.zones, mixed.minutes) == (
        [["violet", 19.5], ["clear", 11.0]],
        ["crown", "nape"],
        9,
    )
    assert "violet 19.5 g" in command("records", "show", name[:10])[1]
    assert "Undone: mixed" in command("records", "undo")[1]
    assert len(visit_page(file_store, name).mixed) == 1
    assert command("records", "note", "Mari", "Likes tea.")[0] == 0
    assert "Likes tea." in command("records", "show", "Mari")[1]
    code, said = command("records", "mixed", name, "--grams", "violet", "--developer-grams", 60, "--volume", 6)
    assert (code, "Write each shade with its grams" in said) == (1, True)
    command("records", "consent", "Mari", "--scope", "record", "--withdrawn")
    assert "has not agreed" in command("records", "note", "Mari", "one more")[1]


def test_letters_that_steer_a_terminal_are_shown_and_not_obeyed(command, file_store):
    from estimator.records.visits import keep_visit

    keep_visit(file_store, visit("Esc", client_name="\x1b[2Jgone \u202e [bold]x[/bold] \r\nnext"))
    said = command("records", "find", "esc")[1]
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert "[bold]x[/bold]" in said


@pytest.mark.slow
@pytest.mark.parametrize(("out", "begins"), [("trend.html", "<!DOCTYPE"), ("trend.csv", "day,side,zone")])
def test_the_trend_of_a_client_is_printed_and_written(command, file_store, tmp_path, out, begins):
    salon = ("--salon", file_store.place.folder)
    from estimator.records.visits import keep_visit

    keep_visit(file_store, visit())
    keep_visit(file_store, visit(day=date(2026, 11, 2), readings=(reading("crown"),)))
    assert "in 28 days: deeper by 1.4" in command("records", "trend", "m. d.", *salon)[1]
    assert command("records", "trend", "M. D.", "--out", tmp_path / out, *salon)[0] == 0
    assert (tmp_path / out).read_text(encoding="utf-8").startswith(begins)
    assert "there already" in command("records", "trend", "M. D.", "--out", tmp_path / out, *salon)[1]
    assert "not as .doc" in command("records", "trend", "M. D.", "--out", tmp_path / "trend.doc", *salon)[1]
    assert "No client has the code" in command("records", "trend", "Nobody", *salon)[1]


@pytest.mark.slow
def test_a_quote_is_kept_and_wrong_figures_are_told(command, file_store):
    from estimator.records.visits import keep_visit

    keep_visit(file_store, visit())
    words = ("--visits", 2, "--hours", 5, "--price-low", 180, "--currency", "EUR", "--salon", file_store.place.folder)
    code, said = command("records", "quote", "M. D.", "--price-high", 240, *words)
    assert (code, "Kept: 2 visits, 5 hours in all, 180 to 240 EUR" in said) == (0, True), said
    code, said = command("records", "quote", "M. D.", "--price-high", 90, *words)
    assert (code, "lower figure first" in said) == (1, True), said
    assert "Quote, " in command("records", "show", "M. D.", "--salon", file_store.place.folder)[1]
    assert "180 to 240 EUR" in command("records", "show", "M. D.", "--salon", file_store.place.folder)[1]


@pytest.mark.slow
def test_who_took_back_the_consent_to_the_record_is_shown_by_code_and_consents_alone(command, file_store):
    from estimator.records.clients import withdraw_consent
    from estimator.records.consent_scopes import Scope
    from estimator.records.visits import keep_visit

    salon = ("--salon", file_store.place.folder)
    kept, told = keep_visit(file_store, visit("Gone", client_name="Wilma Sand")), ("Wilma", kept_note())
    keep_visit(file_store, visit("Here", client_name="Otto Sand"))
    assert "Wilma" in command("records", "list", *salon)[1]
    withdraw_consent(file_store, "Gone", Scope.RECORD, date(2026, 10, 6), "spoken")
    looked = [("list",), ("find", "sand"), ("find", "--tone", "beige"), ("find", "sand", "--tone", "beige")]
    for words in (*looked, ("show", "Gone"), ("show", kept.id[:10])):
        said = command("records", *words, *salon)[1]
        assert not [each for each in told if each in said], said
        assert ("Gone" in said) == (words[0] == "show" or words == ("find", "sand")), said
    assert "Not shown: 1 visits" in command("records", "list", *salon)[1]
    assert "nothing else is shown" in command("records", "show", "Gone", *salon)[1]
    assert "has taken back the consent" in command("records", "show", kept.id[:10], *salon)[1]
    assert "Otto" in command("records", "list", *salon)[1]


@pytest.mark.slow
def test_what_was_mixed_goes_on_zones_of_the_visit(command, file_store):
    from estimator.records.showing import visit_page
    from estimator.records.visits import keep_visit

    name = keep_visit(file_store, visit("Mari")).id
    weighed = ("records", "mixed", name[:10], "--grams", "violet=19.5", "--developer-grams", 40, "--volume", 6)
    code, said = command(*weighed, "--zones", "crown, neck")
    assert (code, "This visit has no zone 'neck'. Its zones are: crown, nape." in said) == (1, True), said
    assert len(visit_page(file_store, name).mixed) == 1
    assert command(*weighed, "--zones", "crown, nape")[0] == 0
    bare = keep_visit(file_store, visit("Bare", zones=(), readings=(), mixed=(), clock=(), outcomes=())).id
    code, said = command(*weighed[:2], bare[:10], *weighed[3:], "--zones", "crown")
    assert (code, "This visit has no zones" in said) == (1, True), said


@pytest.mark.slow
def test_a_consent_is_not_taken_back_before_it_was_given(command, file_store):
    from estimator.records.showing import client_page
    from estimator.records.visits import keep_visit

    keep_visit(file_store, visit("Mari"))  # who agreed on 5 October
    words = ("records", "consent", "Mari", "--scope", "health answers", "--withdrawn", "--on")
    code, said = command(*words, "2026-10-04")
    assert (code, "was given on 2026-10-05" in said) == (1, True), said
    assert all(each.withdrawn_on is None for each in client_page(file_store, "Mari").consents)
    assert command(*words, "2026-10-05")[0] == 0


@pytest.mark.parametrize("words", [("backups",), ("backups", "--check")])
@pytest.mark.parametrize("where", ["file.txt", "folder", "nowhere"])
def test_what_is_no_folder_of_backups_is_told(command, tmp_path, where, words):
    (tmp_path / "file.txt").write_text("x")
    (tmp_path / "folder").mkdir()
    code, said = command("records", *words, tmp_path / where)
    assert (code, "holds no backups" in said) == (1, True), said


@pytest.mark.parametrize("act", ["import", "import-all"])
@pytest.mark.parametrize("there", [True, False])
def test_an_import_that_is_refused_begins_no_records(command, tmp_path, act, there):
    (tmp_path / "not.zip").write_bytes(b"no zip")
    salon = tmp_path / "salon"
    if there:
        salon.mkdir()
        (salon / "salon.toml").write_text("", encoding="utf-8")
    code, said = command("records", act, tmp_path / "not.zip")
    assert (code, "damaged or is no file of this kind" in said) == (1, True), said
    assert {path.name for path in tmp_path.rglob("*")} == {"not.zip"} | ({"salon", "salon.toml"} if there else set())
    assert salon.exists() == there


@pytest.mark.slow
@pytest.mark.parametrize("act", ["import", "import-all"])
def test_a_client_that_is_refused_begins_no_records(command, file_store, tmp_path, act):
    from estimator.records.visits import keep_visit

    keep_visit(file_store, visit("Mari"))
    out = {"import": ("export", "Mari"), "import-all": ("records", "export-all")}[act]
    assert command(*out, tmp_path / "good.zip", "--salon", file_store.place.folder)[0] == 0
    _with_rows_of_nobody(tmp_path / "good.zip", tmp_path / "bad.zip")
    code, said = command("records", act, tmp_path / "bad.zip", "--salon", tmp_path / "new")
    assert (code, "don't belong together" in said, (tmp_path / "new").exists()) == (1, True, False), said
    code, said = command("records", act, tmp_path / "good.zip", "--salon", tmp_path / "new")
    assert code == 0, said
    assert "Mari" in command("records", "list", "--salon", tmp_path / "new")[1]


def _with_rows_of_nobody(good: Path, bad: Path) -> None:
    """The same file, sound by its manifest, whose visits belong to a client who is not in it."""
    with zipfile.ZipFile(good) as source:
        members = {name: source.read(name) for name in source.namelist()}
    (rows_name,) = [name for name in members if name.endswith("client.json")]
    rows = json.loads(members[rows_name])
    for each in rows["visit"]:
        each["client_id"] = "0" * 32
    members[rows_name] = json.dumps(rows).encode()
    about = json.loads(members["manifest.json"])
    about["sha256"][rows_name] = hashlib.sha256(members[rows_name]).hexdigest()
    members["manifest.json"] = json.dumps(about).encode()
    with zipfile.ZipFile(bad, "w") as target:
        for name, content in members.items():
            target.writestr(name, content)


def kept_note() -> str:
    """What the invented visit's first note says."""
    return visit().notes[0]
