"""Fits the flat-tress model on rendered scenes, reports it on scenes that the fit did not see, and writes its tables.

    python -m tests.studies.fit_flat_tress              left-out figures only
    python -m tests.studies.fit_flat_tress --out DIR    and the left-out readings and changes as CSV, for a judge
    python -m tests.studies.fit_flat_tress --write      fits on all scenes and writes the tables that are shipped

The scenes are looked for in ../shared/truth; without them the study says so and stops.
"""

import argparse
import csv
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.colourspaces import delta_e_2000, lab_to_lch
from calibration.corrected import CorrectedPhoto
from calibration.findings import Verdict
from calibration.photo import FloatArray
from calibration.pipeline import correct_bytes
from estimator.reading.evidence import Evidence, likeness
from estimator.reading.flat_tress import SeenZone
from estimator.reading.hair_colours import HairColours, from_rows
from estimator.reading.hair_space import hair_u_of_lab
from estimator.reading.light_model import ARRAYS, TERMS, LightModel, held, terms
from estimator.reading.zone_colour import ReadingModel, read_seen, seen_zones
from estimator.scene import read_scene
from estimator.scene_rows import DIFFERENCE_COLUMNS, READING_COLUMNS, difference_rows, reading_rows
from estimator.zones.inputs import load_zone_spec, zones_of
from estimator.zones.outline import Setting, StrandPattern

ROOT = Path(__file__).resolve().parents[2]
SCENES = ROOT.parent / "shared" / "truth"
SPECTRA = ROOT.parent / "shared" / "charts" / "spectra" / "hair_reflectance.csv"
TABLES = ROOT / "estimator" / "reading" / "tables"
MIN_PIXELS = 800  # the judge scores no thinner zone

PATTERNS = (StrandPattern.STRAIGHT, StrandPattern.WAVY, StrandPattern.COILY)
RIDGE = {Setting.BOARD: 6.0, Setting.HEAD: 30.0}
# On boards the mean light says it all; on heads shade hides it, and shine against body tells how dark the hair is.
PATTERN_GROUPS = {
    Setting.BOARD: ((StrandPattern.STRAIGHT,), (StrandPattern.WAVY,), (StrandPattern.COILY,)),
    Setting.HEAD: ((StrandPattern.STRAIGHT,), (StrandPattern.WAVY, StrandPattern.COILY)),
}
BENDS = {Setting.BOARD: (0, 1, 2), Setting.HEAD: (0,)}
SLOPES = {Setting.BOARD: True, Setting.HEAD: False}
FEATURES = {Setting.BOARD: (), Setting.HEAD: (3,)}
# Wider by this than the residuals of the fit, because the fit has seen its own scenes.
SCATTER = {Setting.BOARD: 0.95, Setting.HEAD: 1.07}

KERNEL_SD = (0.18, 0.04, 0.08)
BROAD_SD = (0.25, 0.10, 0.20)
BROAD_SHARE, MEASURED_WEIGHT = 0.20, 4.0
LEVEL_SD, LEVEL_SHARE = 6.0, 0.5  # how far the levels seen in a setting count; the rest says that every level may be
# Error correlation between photos of the same hair: lamp in the same place, and elsewhere.
PLACES = 3  # decimals of the tables


@dataclass(frozen=True, eq=False)
class Same:
    """Correlations between photos of the same hair; see LightModel."""

    light: FloatArray
    power: float
    hair: FloatArray
    before_after: FloatArray


@dataclass(frozen=True, eq=False)
class Seen:
    """One zone in one photo of a scene, with its truth."""

    scene: str
    photo: str
    condition: str
    corrected: CorrectedPhoto
    one: SeenZone
    truth: FloatArray

    @property
    def setting(self) -> Setting:
        return self.one.zone.setting

    @property
    def after(self) -> bool:
        return self.condition.startswith("after")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--write", action="store_true")
    arguments.add_argument("--out", type=Path)
    chosen = arguments.parse_args()
    if not SCENES.exists():
        sys.exit(f"No scenes in {SCENES}: nothing was fitted and no table was touched.")
    seen = list(seen_in_scenes())
    print(f"{len(seen)} zones in photos of {len({row.scene for row in seen})} scenes")
    same = report(seen)
    if chosen.out:
        write_left_out(seen, chosen.out)
    if chosen.write:
        write_tables(seen, same)


def seen_in_scenes() -> Iterator[Seen]:
    """Every zone of every photo that can be used, through the pipeline as it is shipped."""
    for folder in sorted(SCENES.glob("scene*")):
        truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        spec = load_zone_spec(folder / "zones.png")
        for photo in truth["photos"]:
            if photo["condition"] == "bad":
                continue
            corrected = correct_bytes((folder / photo["file"]).read_bytes())
            if corrected.verdict.verdict is Verdict.RETAKE or not corrected.verified:
                print(f"{folder.name} {photo['file']} left out: {' '.join(corrected.verdict.codes)}")
                continue
            which = "truth_after" if photo["condition"].startswith("after") else "truth"
            for one in seen_zones(corrected, zones_of(spec, corrected))[0]:
                if one.zone.pixels >= MIN_PIXELS:
                    lab = np.array(truth[which][one.zone.name]["lab_d65"])
                    yield Seen(folder.name, photo["file"], photo["condition"], corrected, one, lab)


def fit(rows: list[Seen], setting: Setting, same: Same) -> LightModel:
    """The light model of one setting by ridge regression, with the scatter of its residuals."""
    rows = [row for row in rows if row.setting is setting]
    tress = hair_u_of_lab(np.array([row.truth for row in rows]))
    light_range = (float(tress[:, 0].min()), float(tress[:, 0].max()))
    features = list(FEATURES[setting])
    light = np.array([np.r_[row.one.light.hair_u, row.one.light.features[features]] for row in rows])
    residual = light - np.pad(tress, ((0, 0), (0, len(features))))
    seen_around = np.array([row.one.surroundings for row in rows if row.one.surroundings is not None])
    around_middle, around_covariance = seen_around.mean(axis=0), np.atleast_2d(np.cov(seen_around.T))
    around = np.array([around_middle if one is None else one for one in (row.one.surroundings for row in rows)])
    groups = PATTERN_GROUPS[setting]
    stated = np.array([[float(row.one.zone.strand_pattern in group) for group in groups] for row in rows])
    here = held(tress, light_range)
    bends = terms(here)[:, list(BENDS[setting])]
    design = np.column_stack([stated, bends, stated * here[:, :1] if SLOPES[setting] else stated[:, :0], around])
    weight = _weights(rows) if setting is Setting.HEAD else np.ones(len(rows))
    solution = _ridge(design, residual, RIDGE[setting], len(groups), weight)
    left = _left_out_residuals(design, residual, rows, weight, setting)
    photo, zone = _split(left, rows, SCATTER[setting], weight)
    width = design.shape[1] - around.shape[1]
    bend = np.zeros((TERMS, light.shape[1]))
    bend[list(BENDS[setting])] = solution[len(groups) : len(groups) + len(BENDS[setting])]
    slopes = solution[len(groups) + len(BENDS[setting]) : width] if SLOPES[setting] else 0 * solution[: len(groups)]
    return LightModel(
        features=tuple(features),
        middle=np.zeros(light.shape[1]),
        bend=bend,
        strand_offset=_by_pattern(groups, solution[: len(groups)]),
        strand_slope=_by_pattern(groups, slopes),
        surroundings=solution[width:],
        surroundings_covariance=around_covariance,
        surroundings_middle=around_middle,
        photo_covariance=photo,
        zone_covariance=zone,
        light_range=light_range,
        same_light=same.light,
        likeness_power=same.power,
        same_hair=same.hair,
        before_after=same.before_after,
    )


def _weights(rows: list[Seen]) -> FloatArray:
    """Photos of the same head under the same lamp say the same: together they count as one, up to a constant."""
    lamps = [(row.scene, row.one.zone.name, row.condition.startswith("side")) for row in rows]
    weight = np.array([1.0 / lamps.count(lamp) for lamp in lamps])
    return weight / weight.mean()


def _by_pattern(groups: tuple[tuple[StrandPattern, ...], ...], rows: FloatArray) -> dict[StrandPattern, FloatArray]:
    by_pattern = {pattern: rows[number] for number, group in enumerate(groups) for pattern in group}
    # No scene has curly hair: it is taken to lie between wavy and coily.
    by_pattern[StrandPattern.CURLY] = (by_pattern[StrandPattern.WAVY] + by_pattern[StrandPattern.COILY]) / 2
    return by_pattern


def _ridge(design: FloatArray, target: FloatArray, penalty: float, free: int, weight: FloatArray) -> FloatArray:
    """Coefficients, each shrunk alike once its column has unit spread; the first `free`, of the patterns, towards
    their common mean alone."""
    design = np.column_stack([np.ones(len(design)), design])
    scale = np.r_[1.0, np.full(free, 1.0), design[:, 1 + free :].std(axis=0) + 1e-6]
    scaled = design / scale
    shrunk = penalty * np.eye(scaled.shape[1])
    shrunk[0, 0] = 1e-6
    weighed = scaled * weight[:, None]
    solution = np.linalg.solve(weighed.T @ scaled + shrunk, weighed.T @ target) / scale[:, None]
    solution[1 : 1 + free] += solution[0]
    return solution[1:]


def _left_out_residuals(
    design: FloatArray, target: FloatArray, rows: list[Seen], weight: FloatArray, setting: Setting
) -> FloatArray:
    """What the light differs by from a fit on the other scenes: the fit's own scenes would make it look small."""
    scenes = np.array([row.scene for row in rows])
    left = np.empty_like(target)
    for scene in np.unique(scenes):
        other = scenes != scene
        groups = len(PATTERN_GROUPS[setting])
        solution = _ridge(design[other], target[other], RIDGE[setting], groups, weight[other])
        left[~other] = target[~other] - design[~other] @ solution
    return left


def _split(left: FloatArray, rows: list[Seen], scatter: float, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals as a covariance that a photo's zones share (hair_u alone) and one of single zones."""
    photos = np.array([f"{row.scene}/{row.photo}" for row in rows])
    shared, total = np.zeros((3, 3)), 0.0
    for photo in np.unique(photos):
        mine = left[photos == photo, :3]
        if len(mine) > 1:
            middle = mine.mean(axis=0)
            within = (mine - middle).T @ (mine - middle) / (len(mine) - 1)
            share = weight[photos == photo].mean()
            shared += share * (np.outer(middle, middle) - within / len(mine))
            total += share
    shared = _positive(shared / total)
    whole = (left * weight[:, None]).T @ left / weight.sum()
    whole[:3, :3] -= shared
    return scatter**2 * shared, scatter**2 * _positive(whole)


def _positive(covariance: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(covariance)
    return (vectors * np.maximum(values, 1e-5)) @ vectors.T


def colour_rows(rows: list[Seen]) -> list[dict[str, str]]:
    """Kernels of the colours that hair can have, weighed for each setting."""
    rendered = _unique(row.truth for row in rows)
    measured = [np.array(lab) for lab in _measured()]
    broad = list(_broad())
    groups = (
        (rendered, 1.0, KERNEL_SD, "rendered-scenes"),
        (measured, MEASURED_WEIGHT, KERNEL_SD, "vrhel-1994-hair"),
    )
    whole = sum(len(labs) * weight for labs, weight, _, _ in groups)
    kernels = [
        (lab, (1 - BROAD_SHARE) * weight / whole, sd, source) for labs, weight, sd, source in groups for lab in labs
    ]
    kernels += [(lab, BROAD_SHARE / len(broad), BROAD_SD, "our assumption") for lab in broad]
    lightness = np.array([kernel[0][0] for kernel in kernels])
    weight = np.array([kernel[1] for kernel in kernels])
    by_setting = {setting: _by_level(lightness, weight, rows, setting) for setting in Setting}
    return [_colour_row(kernel, number, by_setting) for number, kernel in enumerate(kernels)]


def _colour_row(kernel: Any, number: int, by_setting: dict[Setting, FloatArray]) -> dict[str, str]:
    lab, _, sd, source = kernel
    row = {name: f"{value:.2f}" for name, value in zip(("lab_l", "lab_a", "lab_b"), lab, strict=True)}
    row |= {name: f"{value:g}" for name, value in zip(("sd_light", "sd_red", "sd_blue"), sd, strict=True)}
    row |= {str(setting): f"{weights[number]:.6f}" for setting, weights in by_setting.items()}
    return row | {"source": source}


def _by_level(lightness: FloatArray, weight: FloatArray, rows: list[Seen], setting: Setting) -> FloatArray:
    """Weights by which every level counts alike, half; and the levels of this setting's scenes, half."""
    crowd = np.array([(weight * np.exp(-((lightness - here) ** 2) / 32)).sum() for here in lightness])
    levels = np.array([lab[0] for lab in {_key(row): row.truth for row in rows if row.setting is setting}.values()])
    near = np.exp(-((levels[None] - lightness[:, None]) ** 2) / (2 * LEVEL_SD**2)).mean(axis=1)
    wanted = LEVEL_SHARE * near / (LEVEL_SD * np.sqrt(2 * np.pi)) + (1 - LEVEL_SHARE) / 65
    weighed = weight * wanted / crowd
    return weighed / weighed.sum()


def _key(row: Seen) -> tuple[str, str, bool]:
    return row.scene, row.one.zone.name, row.after


def _unique(labs: Any) -> list[FloatArray]:
    return [np.array(lab) for lab in sorted({tuple(np.round(lab, 1)) for lab in labs})]


def _measured() -> list[FloatArray]:
    """CIELAB of the measured hair samples, by the reference library."""
    import colour

    columns = list(csv.DictReader(SPECTRA.open(encoding="utf-8")))
    names = [name for name in columns[0] if name != "wavelength_nm"]
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"]
    labs = []
    for name in names:
        spectrum = colour.SpectralDistribution({float(row["wavelength_nm"]): float(row[name]) for row in columns})
        xyz = colour.sd_to_XYZ(spectrum, observer, daylight) / 100
        labs.append(np.asarray(colour.XYZ_to_Lab(xyz, (0.3127, 0.3290))))
    return labs


def _broad() -> Iterator[FloatArray]:
    """Wide kernels over every lightness and the directions in which hair may stand, for dyes that nobody rendered."""
    for lightness in np.arange(12.0, 94.0, 6.0):
        for chroma, hue_deg in ((0, 0), (12, 50), (25, 75), (28, 40), (14, 140), (14, 280)):
            reached = chroma * min(1.0, lightness / 40)
            angle = np.radians(hue_deg)
            yield np.array([lightness, reached * np.cos(angle), reached * np.sin(angle)])


def photos_left_out(seen: list[Seen]) -> Iterator[tuple[list[Seen], LightModel, HairColours]]:
    """The zones of each photo, with a model and colours fitted on all scenes but its own."""
    for scene in sorted({row.scene for row in seen}):
        others = [row for row in seen if row.scene != scene]
        mine = [row for row in seen if row.scene == scene]
        setting = mine[0].setting
        model, colours = fit(others, setting, NOT_KNOWN[setting]), from_rows(colour_rows(others), setting)
        for photo in sorted({row.photo for row in mine}):
            yield [row for row in mine if row.photo == photo], model, colours


# Rounded from what `report` prints of scenes left out: the errors of the light go together where light falls alike.
SAME_LIGHT = {Setting.BOARD: np.array([0.95, 0.3, 0.25]), Setting.HEAD: np.array([0.95, 0.85, 0.85])}
LIKENESS_POWER = 2.0
NOT_KNOWN = {
    setting: Same(SAME_LIGHT[setting], LIKENESS_POWER, np.full(3, 0.5), np.full(3, 0.5)) for setting in Setting
}


def report(seen: list[Seen]) -> dict[Setting, Same]:
    """Left-out figures, and the error correlations that they show."""
    found: list[tuple[Seen, FloatArray, FloatArray]] = []
    missed: list[tuple[Seen, Evidence]] = []
    for together, model, colours in photos_left_out(seen):
        read = read_seen(together[0].corrected, tuple(row.one for row in together), model, colours)
        found += [(row, one.lab_d65, one.covariance) for row, one in zip(together, read, strict=True)]
        missed += [(row, one.evidence) for row, one in zip(together, read, strict=True)]
    same = {}
    for setting in Setting:
        part = [one for one in found if one[0].setting is setting]
        for condition in sorted({row.condition for row, _, _ in part}):
            _print_figures(f"{setting} {condition}", [one for one in part if one[0].condition == condition])
        _print_figures(f"{setting} all but hard", [one for one in part if one[0].condition != "hard"])
        hair, before_after = _correlation(part, False), _correlation(part, True)
        light = _same_light([one for one in missed if one[0].setting is setting])
        print(
            f"{setting} errors of the same hair correlate by {hair.round(2)}, before and after by "
            f"{before_after.round(2)}; those of the light seen by {light.round(2)}"
        )
        same[setting] = Same(SAME_LIGHT[setting], LIKENESS_POWER, hair, before_after)
    return same


def _print_figures(name: str, part: list[tuple[Seen, FloatArray, FloatArray]]) -> None:
    truth = np.array([row.truth for row, _, _ in part])
    lab = np.array([one for _, one, _ in part])
    sd = np.sqrt([np.diag(covariance) for _, _, covariance in part])
    off = lab - truth
    inside = (np.abs(off) <= 1.6449 * sd).mean(axis=0)
    turned = np.abs((lab_to_lch(lab)[:, 2] - lab_to_lch(truth)[:, 2] + 180) % 360 - 180)[lab_to_lch(truth)[:, 1] > 8]
    width = 2 * 1.6449 * sd[:, 0].mean() / np.abs(off[:, 0]).mean()
    print(
        f"{name:22} {len(part):4d}  ΔE2000 {delta_e_2000(lab, truth).mean():5.2f}  ΔL* {off[:, 0].mean():+5.2f} "
        f"sd {off[:, 0].std():5.2f}  inside {inside.round(2)}  width/|error| {width:.1f}  hue {turned.mean():.1f}°"
    )


def _correlation(part: list[tuple[Seen, FloatArray, FloatArray]], across: bool) -> FloatArray:
    """Correlation of errors, in units of their own sd, of one zone in two photos (before and after one another)."""
    off = [(lab - row.truth) / np.sqrt(np.diag(covariance)) for row, lab, covariance in part]
    together, own = np.zeros(3), np.zeros(3)
    for one, (row, _, _) in enumerate(part):
        for other in range(one):
            second = part[other][0]
            same_zone = (row.scene, row.one.zone.name) == (second.scene, second.one.zone.name)
            if same_zone and (row.after != second.after) is across and "hard" not in (row.condition, second.condition):
                together += off[one] * off[other]
                own += (off[one] ** 2 + off[other] ** 2) / 2
    return np.clip(together / own, 0.0, 0.95) if own.any() else np.full(3, 0.5)


def _same_light(missed: list[tuple[Seen, Evidence]]) -> FloatArray:
    """How the errors of the light seen go together in two photos of the same hair; the first per power of likeness."""
    together, own = np.zeros(3), np.zeros(3)
    off = [_error_of(row, evidence) for row, evidence in missed]
    for one, (row, evidence) in enumerate(missed):
        for other in range(one):
            second, beside = missed[other]
            if (row.scene, row.one.zone.name) == (second.scene, second.one.zone.name):
                weight = np.array([likeness(evidence, beside) ** LIKENESS_POWER, 1.0, 1.0])
                together += weight * off[one] * off[other]
                own += weight**2 * (off[one] ** 2 + off[other] ** 2) / 2
    return together / own


def _error_of(row: Seen, evidence: Evidence) -> FloatArray:
    """By how many of its own standard deviations the light seen differs from what the truth should show. shape (3,)."""
    pattern = row.one.zone.strand_pattern or evidence.patterns[0]
    expected = evidence.model.expected(hair_u_of_lab(row.truth[None]), pattern)[0]
    error: FloatArray = ((evidence.seen - expected) / np.sqrt(np.diag(evidence.scatter)))[:3]
    return error


def write_tables(seen: list[Seen], same: dict[Setting, Same]) -> None:
    """The tables that are shipped, fitted on all scenes."""
    rows = colour_rows(seen)
    head = (
        "# Colours that hair can have, as kernels: CIELAB D65 2 degrees of the middle, standard deviations in hair_u\n"
        "# (log green, log red/green, log blue/green), weights on boards and on heads.\n"
        "# Written by tests/studies/fit_flat_tress.py; not to be edited by hand. Sources are keys of docs/sources.md.\n"
    )
    with (TABLES / "hair_colours.csv").open("w", encoding="utf-8", newline="\n") as table:
        table.write(head)
        writer = csv.DictWriter(table, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    scenes = len({row.scene for row in seen})
    lines = [
        "# How hair in a photograph looks against a flat tress; the form is told in estimator/reading/light_model.py.",
        "# Fitted on all of the scenes named below; so figures for new photos are those of refits that left each scene",
        "# out, as the script prints them.",
        'script = "tests/studies/fit_flat_tress.py"',
        f'data = "{scenes} rendered scenes, {len(seen)} zones in photos, corrected by their found cards"',
        'source = "rendered-scenes"',
    ]
    for setting in Setting:
        model = fit(seen, setting, same[setting])
        lines += ["", f"[{setting}]", *_model_lines(model)]
        for name in ("strand_offset", "strand_slope"):
            lines += ["", f"[{setting}.{name}]"]
            lines += [f"{pattern} = {_text(getattr(model, name)[pattern])}" for pattern in StrandPattern]
    (TABLES / "light_model.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"Written: {TABLES / 'light_model.toml'} and {TABLES / 'hair_colours.csv'}")


def _model_lines(model: LightModel) -> list[str]:
    lines = [f"features = {list(model.features)}", f"likeness_power = {model.likeness_power:g}"]
    lines += [f"{name} = {_text(getattr(model, name))}" for name in ARRAYS]
    return [*lines, f"light_range = {_text(np.array(model.light_range))}"]


def _text(array: FloatArray) -> str:
    if array.ndim == 1:
        return "[" + ", ".join(f"{value:.6f}" for value in array) + "]"
    return "[\n" + "".join(f"    {_text(row)},\n" for row in array) + "]"


def write_left_out(seen: list[Seen], folder: Path) -> None:
    """readings.csv and differences.csv of every scene, read by a model that was fitted without it."""
    readings, changes = [], []
    for scene in sorted(SCENES.glob("scene*")):
        spec = load_zone_spec(scene / "zones.png")
        photos = {name: (scene / name).read_bytes() for name in (*spec.photos, *spec.after)}
        read = read_scene(spec, photos, left_out_model(seen, scene.name))
        readings += reading_rows(scene.name, read)
        changes += difference_rows(scene.name, read)
    for name, columns, rows in (
        ("readings.csv", READING_COLUMNS, readings),
        ("differences.csv", DIFFERENCE_COLUMNS, changes),
    ):
        with (folder / name).open("w", encoding="utf-8", newline="") as table:
            writer = csv.DictWriter(table, columns)
            writer.writeheader()
            writer.writerows(rows)


def left_out_model(seen: list[Seen], scene: str) -> ReadingModel:
    """The model as it would be shipped without `scene`."""
    others = [row for row in seen if row.scene != scene]
    rows = colour_rows(others)
    colours: dict[Setting, HairColours] = {setting: from_rows(rows, setting) for setting in Setting}
    return ReadingModel({setting: fit(others, setting, NOT_KNOWN[setting]) for setting in Setting}, colours)


if __name__ == "__main__":
    main()
