"""The whole table of how well hair is read: on scenes that the fit did not see, and the shipped model on its own.

    python -m tests.studies.hair_table

Every scene is read as the program reads it, once with a model fitted without that scene and once with the shipped one.
A zone of a refused photo counts as 25 ΔE2000 and as outside. Zones under 800 pixels are read and not scored. The known
swatch and the painted-over card have commands of their own (known_swatch, neutral_scenes), whose figures are printed
last. The scenes are looked for in ../shared/truth; without them the study says so and stops.
"""

import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.colourspaces import delta_e_2000, lab_to_lch
from calibration.photo import FloatArray
from estimator.reading.zone_colour import ReadingModel
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import default_scale, level_of, level_of_colour
from estimator.scale.warmth import default_stages, warmth_of
from estimator.scene import SceneReading, read_scene
from estimator.zones.inputs import load_zone_spec
from tests.studies import fit_flat_tress, known_swatch, neutral_scenes

UNREAD_DE2000 = 25.0
WARM_FROM_CHROMA = 8.0
NOTHING_KNOWN = np.zeros((3, 3))
HEADER = f"{'':24} {'zones':>5} {'ΔE2000':>6} {'half level':>10} {'in L*':>6} {'in a*b*':>7} {'in level':>8} {'w/e':>4}"
WARM_HEADER = f" {'hue':>5} {'C*':>4} {'stage':>6}"
# What must be reached and what is aimed at, in ΔE2000, by setting and condition.
AIMS = {
    ("board", "all"): "2.8, 1.6",
    ("board", "hard"): "6.0, 4.5",
    ("board", "other"): "3.3, 2.0",
    ("head", "clean"): "7.0, 4.5",
    ("head", "phone"): "7.0, 4.5",
    ("head", "hard"): "-, 8",
    ("head", "other"): "-, 7.0",
}


@dataclass(frozen=True)
class Scored:
    """One zone of one photo against its truth; NaN where it says nothing."""

    de2000: float
    half_level: float
    inside: tuple[float, float, float]
    width: float
    off: float
    warm: tuple[float, float, float]


Groups = dict[tuple[str, str], list[Scored]]
Change = tuple[float, FloatArray]  # error, and whether L*, a*, b* of the true change lie inside


def main() -> None:
    if not fit_flat_tress.SCENES.exists():
        sys.exit(f"No scenes in {fit_flat_tress.SCENES}: nothing was measured.")
    seen = list(fit_flat_tress.seen_in_scenes())
    for title, model_for in (
        ("scenes left out", lambda scene: fit_flat_tress.left_out_model(seen, scene)),
        ("fitted on these", lambda _: None),
    ):
        print(f"\n{title}\n{HEADER}{WARM_HEADER}   must, aim (ΔE2000)")
        _print(*_read_all(model_for))
    print("\na lock declared known, scenes left out")
    known_swatch.main()
    print("\ncard painted over but for one grey patch, fitted on these")
    sys.argv = sys.argv[:1]
    neutral_scenes.main()


def _read_all(model_for: Callable[[str], ReadingModel | None]) -> tuple[Groups, list[Change], list[str]]:
    """Every zone scored, by setting and condition; every change; what went wrong with refusing photos."""
    groups: Groups = defaultdict(list)
    changes: list[Change] = []
    refusals: list[str] = []
    for folder in sorted(fit_flat_tress.SCENES.glob("scene*")):
        truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        read = _read(folder, model_for(folder.name))
        for condition, which, readings in _shots(truth, read):
            for zone, value in truth[which].items():
                if value["pixels"] >= fit_flat_tress.MIN_PIXELS:
                    true = np.array(value["lab_d65"])
                    groups[truth["kind"], condition].append(_scored(readings.get(zone), true))
        changes += _changes(truth, read)
        refusals += _refusals(truth, read)
    return groups, changes, refusals


def _read(folder: Path, model: ReadingModel | None) -> SceneReading:
    spec = load_zone_spec(folder / "zones.png")
    return read_scene(spec, {name: (folder / name).read_bytes() for name in (*spec.photos, *spec.after)}, model)


def _shots(truth: dict[str, Any], read: SceneReading) -> Iterator[tuple[str, str, dict[str, ZoneReading]]]:
    """Condition, where its truth stands, and the readings by zone, of each photo and of all together."""
    by_name = {photo.name: photo for photo in read.photos}
    for shot in truth["photos"]:
        if shot["condition"] != "bad":
            which = "truth_after" if shot["condition"].startswith("after") else "truth"
            yield shot["condition"], which, {one.zone: one for one in by_name[shot["file"]].readings}
    yield "all", "truth", {one.zone: one for one in read.together}
    if truth["truth_after"]:
        yield "all-after", "truth_after", {one.zone: one for one in read.together_after}


def _scored(reading: ZoneReading | None, true: FloatArray) -> Scored:
    scale = default_scale()
    true_level = level_of_colour(true, NOTHING_KNOWN).level
    judged = scale.lightness[0] < true[0] < scale.lightness[-1]
    chroma, hue = (float(value) for value in lab_to_lch(true)[1:])
    warm = chroma > WARM_FROM_CHROMA
    nothing = float("nan")
    if reading is None:
        stage = 0.0 if warm else nothing
        level_inside = 0.0 if judged else nothing
        return Scored(UNREAD_DE2000, 0.0, (0.0, 0.0, level_inside), nothing, nothing, (nothing, nothing, stage))
    inside = (reading.lab_low <= true) & (true <= reading.lab_high)
    level = level_of(reading)
    in_level = float(level.level_low <= true_level <= level.level_high) if judged else nothing
    return Scored(
        float(delta_e_2000(reading.lab_d65, true)),
        float(abs(level.level - true_level) <= 0.5),
        (float(inside[0]), float(inside[1:].mean()), in_level),
        float(reading.lab_high[0] - reading.lab_low[0]),
        float(abs(reading.lab_d65[0] - true[0])),
        _warmth(reading, true, (chroma, hue)) if warm else (nothing, nothing, nothing),
    )


def _warmth(reading: ZoneReading, true: FloatArray, chroma_hue: tuple[float, float]) -> tuple[float, float, float]:
    """Errors of hue and chroma, and whether the stage is right."""
    chroma, hue = (float(value) for value in lab_to_lch(reading.lab_d65)[1:])
    turned = abs((hue - chroma_hue[1] + 180) % 360 - 180)
    right = warmth_of(reading).stage == default_stages().of(float(true[1]), float(true[2]))
    return turned, abs(chroma - chroma_hue[0]), float(right)


def _changes(truth: dict[str, Any], read: SceneReading) -> Iterator[Change]:
    for pair in read.differences:
        after, before = (np.array(truth[which][pair.change.zone]["lab_d65"]) for which in ("truth_after", "truth"))
        true = after - before
        yield (
            float(np.linalg.norm(pair.change.d_lab - true)),
            (pair.change.d_low <= true) & (true <= pair.change.d_high),
        )


def _refusals(truth: dict[str, Any], read: SceneReading) -> Iterator[str]:
    """What each refused or faulty photo came to, in words that can be counted."""
    by_name = {photo.name: photo for photo in read.photos}
    for shot in truth["photos"]:
        photo = by_name[shot["file"]]
        if shot["fault"]:
            yield (
                "faulty, refused by its fault"
                if photo.refused and shot["fault"] in photo.verdict.codes
                else "faulty, missed"
            )
        elif photo.refused:
            yield f"{shot['condition']} refused"


def _print(groups: Groups, changes: list[Change], refusals: list[str]) -> None:
    for setting, condition in sorted(groups):
        aim = AIMS.get((setting, condition), AIMS[setting, "other"])
        print(f"{_line(f'{setting} {condition}', groups[setting, condition])}   {aim}")
    together = {
        "boards clean and phone": ("board", ("clean", "phone")),
        "heads clean and phone": ("head", ("clean", "phone")),
    }
    for name, (setting, conditions) in together.items():
        print(_line(name, [one for condition in conditions for one in groups[setting, condition]]))
    print(_line("all but hard", [one for key, part in groups.items() if key[1] != "hard" for one in part]))
    if changes:
        inside = 100 * np.mean([one[1] for one in changes])
        print(f"before to after, {len(changes)} changes: error {np.mean([one[0] for one in changes]):.2f} (must 2.5, "
              f"aim 1.5), inside {inside:.0f} % (84-96 %)")  # fmt: skip
    print("; ".join(f"{refusals.count(word)} {word}" for word in sorted(set(refusals))))


def _line(name: str, part: list[Scored]) -> str:
    inside = 100 * np.nanmean([one.inside for one in part], axis=0)
    hue, chroma, stage = np.nanmean([one.warm for one in part], axis=0)
    off, width = np.nanmean([one.off for one in part]), np.nanmean([one.width for one in part])
    return (
        f"{name:24} {len(part):5d} {np.mean([one.de2000 for one in part]):6.2f} "
        f"{100 * np.mean([one.half_level for one in part]):8.0f} % {inside[0]:4.0f} % {inside[1]:5.0f} % "
        f"{inside[2]:6.0f} % {width / off:4.1f} {hue:5.1f} {chroma:4.1f} {100 * stage:4.0f} %"
    )


if __name__ == "__main__":
    main()
