"""The commands on results, run as a colourist would: from a visit file with the sample photographs."""

import io
import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from PIL import Image

from calibration.pipeline import correct_bytes
from estimator.cli import main

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "sample_images"
TRIAL = """
[[trial]]
zone = "crown"
photo = "{samples}/strands_after.jpg"
outline = "{samples}/strands_zones.png"
parts = {{ "Violet pearl, demo" = 2, "Clear gloss, demo" = 1 }}
minutes = 10
"""
DONE = "\n[done.crown]\nminutes = 9\n\n[done.fringe]\nminutes = 8\n"


def visit_file(folder: Path, more: str = "", facts: str = "", before: str = "strands_before.jpg") -> Path:
    """The sample visit with more entries, its photographs named by whole paths."""
    text = (SAMPLES / "visit.toml").read_text("utf-8")
    for name in ("strands_before.jpg", "strands_after.jpg", "strands_zones.png"):
        text = text.replace(f'"{name}"', f'"{SAMPLES / (before if name == "strands_before.jpg" else name)}"')
    if facts:
        text = text.replace("age_years = 34", facts)
    path = folder / "visit.toml"
    path.write_text(text + more.format(samples=SAMPLES), "utf-8")
    return path


@dataclass(frozen=True)
class Ran:
    """What a command printed, and its exit code."""

    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """The command as the shell would start it, in a house without settings."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr("estimator.console._console.width", 200, raising=False)

    def ran(*arguments: str | Path) -> Ran:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        return Ran(int(left.value.code or 0), " ".join(out.split()), " ".join(err.split()))

    return ran


def without_card(folder: Path) -> Path:
    """The sample photograph before, its card painted over with a grey that the zones' description points at."""
    photo_bytes = (SAMPLES / "strands_before.jpg").read_bytes()
    corners = correct_bytes(photo_bytes).sighting.corners_px
    picture = Image.open(io.BytesIO(photo_bytes)).convert("RGB")
    box = [*(int(v) - 25 for v in corners.min(axis=0)), *(int(v) + 25 for v in corners.max(axis=0))]
    picture.paste((150, 150, 150), tuple(box))
    picture.save(folder / "no_card.png")
    described = json.loads((SAMPLES / "strands_zones.json").read_text("utf-8"))
    described["neutral"] = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2, 20]
    (folder / "zones.json").write_text(json.dumps(described), "utf-8")
    shutil.copy(SAMPLES / "strands_zones.png", folder / "zones.png")
    return folder / "no_card.png"


@pytest.mark.slow
def test_a_trial_shows_what_the_strand_told_and_the_plan_before_and_after(run, tmp_path):
    ran = run("trial", visit_file(tmp_path, TRIAL))
    assert ran.returncode == 0, ran.stderr
    assert "Strand of crown, 10 minutes" in ran.stdout
    assert "before the trial: 1.00 times" in ran.stdout
    assert "Before the trial" in ran.stdout
    assert ("the same bowls" in ran.stdout) != ("nothing rests on it" in ran.stdout)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("", "holds no strand trial"),
        (TRIAL.replace('"crown"', '"elbow"'), "no target"),
        (TRIAL.replace("Violet pearl, demo", "Nobody's violet"), "No shade on the shelf"),
        (TRIAL.replace("minutes = 10", "minutes = 0"), "minutes"),
        (TRIAL.replace("strands_after.jpg", "strands_blurred.jpg"), "taken again"),
        (TRIAL.replace("strands_after.jpg", "nowhere.jpg"), "There is no photograph"),
    ],
)
def test_a_trial_that_can_not_be_used_is_refused_in_one_sentence(run, tmp_path, entry, said):
    ran = run("trial", visit_file(tmp_path, entry))
    assert ran.returncode == 1
    assert said in ran.stderr
    assert "Traceback" not in ran.stderr


@pytest.mark.slow
def test_rescue_tells_signs_causes_and_first_aid_in_order(run, tmp_path):
    ran = run("rescue", visit_file(tmp_path))
    assert ran.returncode == 0, ran.stderr
    assert "in 10)" in ran.stdout
    assert ran.stdout.index("Rinse with lukewarm water") < ran.stdout.index("Second bowl")
    assert "[common practice]" in ran.stdout


@pytest.mark.slow
def test_rescue_behind_a_stop_shows_no_second_mix(run, tmp_path):
    ran = run("rescue", visit_file(tmp_path, facts="age_years = 15"))
    assert ran.returncode == 0, ran.stderr
    assert "not today (bowl)" in ran.stdout
    assert "Second bowl" not in ran.stdout
    assert "weigh" not in ran.stdout
    assert "Tone once more" not in ran.stdout
    assert "Rinse with lukewarm water" in ran.stdout


@pytest.mark.slow
def test_what_is_learned_can_be_shown_and_taken_back(run, tmp_path):
    visit, journal = visit_file(tmp_path, DONE), tmp_path / "visit.outcomes.jsonl"
    learned = run("learn", visit, "--confirmed")
    assert learned.returncode == 0, learned.stderr
    assert "learned: crown" in learned.stdout
    assert len(journal.read_text("utf-8").splitlines()) == 3
    again = run("learn", visit, "--confirmed")
    assert again.returncode == 1
    assert "counts once" in again.stderr
    shown = run("learn", visit, "--show")
    assert "2 outcomes" in shown.stdout
    assert "client Marigold" in shown.stdout
    undone = run("learn", visit, "--undo")
    assert "0 outcomes" in undone.stdout
    assert len(journal.read_text("utf-8").splitlines()) == 1


@pytest.mark.slow
def test_nothing_is_learned_from_an_unverified_photograph(run, tmp_path):
    visit = visit_file(tmp_path, DONE, before=str(without_card(tmp_path)))
    text = visit.read_text("utf-8").replace("zones = ", f'after_zones = "{SAMPLES}/strands_zones.png"\nzones = ', 1)
    visit.write_text(text.replace(f'\nzones = "{SAMPLES}/strands_zones.png"', '\nzones = "zones.png"'), "utf-8")
    ran = run("learn", visit, "--confirmed")
    assert ran.returncode == 1
    assert "unverified" in ran.stdout
    assert "learned: crown" not in ran.stdout.replace("not learned", "")
    assert not (tmp_path / "visit.outcomes.jsonl").exists()


@pytest.mark.slow
def test_a_visit_that_does_not_say_what_was_done_teaches_nothing(run, tmp_path):
    ran = run("learn", visit_file(tmp_path))
    assert ran.returncode == 1
    assert "what was done" in ran.stderr


def test_a_damaged_journal_is_told_and_left_as_it_is(run, tmp_path):
    journal = tmp_path / "kept.jsonl"
    journal.write_text("no journal\n", "utf-8")
    ran = run("learn", visit_file(tmp_path, DONE), "--outcomes", journal)
    assert ran.returncode == 1
    assert "no journal of outcomes" in ran.stderr
    assert journal.read_text("utf-8") == "no journal\n"


def test_learning_without_a_visit_or_a_journal_asks_for_one(run):
    ran = run("learn", "--show")
    assert ran.returncode == 1
    assert "--outcomes" in ran.stderr
