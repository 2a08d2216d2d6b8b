"""Two colours in one zone: how often they are found, how often one colour is taken for two, and what the parts read.

    python -m tests.studies.two_colours            figures, each from scenes that the figures were not learned on
    python -m tests.studies.two_colours --write    and writes estimator/reading/tables/two_colours.toml from all scenes

No photograph with two colours in a zone and a known truth is at hand, so they are composed (tests/synthetic/
two_coloured.py): another lock of the same board laid over a zone in strands or as lengths, the zone recoloured as
another lock looks, or as white hair would look by the card's greys; on heads also regrowth and lengths outlined as one
zone. Each photograph is then stored as JPEG anew and goes through the whole pipeline. The scenes are looked for in
../shared/truth; without them the study says so and stops.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from calibration.colourspaces import delta_e_2000, lab_to_xyz
from calibration.corrected import CorrectedPhoto
from calibration.findings import Verdict
from calibration.photo import Box, FloatArray
from calibration.pipeline import correct_bytes
from estimator.errors import TooLittleHairError
from estimator.reading.hair_parts import PLACES
from estimator.reading.two_colours import Lie, TwoColours, UsualScatter, lengths_of, scatter_between, strands_of
from estimator.reading.two_colours import two_colours as find
from estimator.reading.zone_colour import ReadingModel, read_zones
from estimator.reading.zone_light import light_of
from estimator.reading.zone_reading import ZoneReading
from estimator.zones.inputs import load_zone_spec, zones_of
from estimator.zones.outline import Setting, Zone
from tests.studies import fit_flat_tress
from tests.studies.fit_flat_tress import Seen
from tests.synthetic import two_coloured
from tests.synthetic.two_coloured import Blend

TABLE = fit_flat_tress.TABLES / "two_colours.toml"
# Added to what the renders scatter: strands of a real head differ more in light than these, and cells hold noise.
LEAST_SCATTER = np.diag(np.square([0.12, 0.008, 0.016]))
WHITE_LAB = np.array([76.0, 0.5, 6.0])
WIDTHS_PX = {
    two_coloured.Lie.FOILS: (3.0, 5.0, 8.0, 12.0),
    two_coloured.Lie.SALT_AND_PEPPER: (1.5, 2.5),
    two_coloured.Lie.ROOT: (8.0,),
}
MARGIN = 1.1  # over the highest distance of one colour in all scenes but one
SHARES, SWAYS_PX, LEAST_PIXELS = (0.15, 0.3, 0.5, 0.7), (1.5, 5.0), 1500
BINS = ((0, 4), (4, 8), (8, 15), (15, 25), (25, 99))
NINE_IN_TEN = 1.6449


@dataclass(frozen=True, eq=False)
class Composed:
    """A zone of two colours. second : The colour laid over the first; share : of the zone that it covers."""

    zone: Zone
    how: str
    blend: Blend
    first: FloatArray
    second: FloatArray
    share: float

    @property
    def delta_e(self) -> float:
        return float(delta_e_2000(self.first, self.second))


@dataclass(frozen=True, eq=False)
class Judged:
    """A composed zone, what was found in it and what it read."""

    scene: str
    composed: Composed
    found: TwoColours | None
    reading: ZoneReading

    @property
    def share_miss(self) -> float:
        """Share of the second colour as found, less the true one."""
        assert self.found is not None
        one = self.composed
        laid = one.share
        if one.blend.lie is two_coloured.Lie.ROOT or self.found.lie is Lie.LENGTHS:
            return self.found.share - (1 - laid)
        return self.found.share - (laid if one.second[0] >= one.first[0] else 1 - laid)

    def true_lab(self, place: str) -> FloatArray:
        """The true colour of the part of that name."""
        one = self.composed
        if place in PLACES[Lie.LENGTHS]:
            return one.second if place == "root" else one.first
        lighter, darker = (one.second, one.first) if one.second[0] >= one.first[0] else (one.first, one.second)
        return lighter if place == "lighter strands" else darker


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--write", action="store_true")
    chosen = arguments.parse_args()
    if not fit_flat_tress.SCENES.exists():
        sys.exit(f"No scenes in {fit_flat_tress.SCENES}: nothing was measured and no table was touched.")
    seen = list(fit_flat_tress.seen_in_scenes())
    _print_false_alarms(seen)
    judged = list(_judged(seen))
    _print_found(judged)
    _print_shares(judged)
    _print_colours(judged)
    if chosen.write:
        _write(seen, judged)


def learned(seen: list[Seen], without: str = "") -> dict[Setting, UsualScatter]:
    """Usual scatters, and thresholds that the zones of all scenes but one stay below; `without` is left out."""
    rows = [row for row in seen if row.scene != without]
    return {setting: _learned(setting, [row for row in rows if row.setting is setting]) for setting in Setting}


def _learned(setting: Setting, rows: list[Seen]) -> UsualScatter:
    scatters = [scatter_between(row.one.light) for row in rows]
    strands, lengths = (
        np.median([found for pair in scatters if (found := pair[which]) is not None], axis=0) + LEAST_SCATTER
        for which in (0, 1)
    )
    usual = UsualScatter(strands, lengths, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0)
    apart = [
        _all_but_one_scene(rows, [found.apart if (found := of(row.one.light, usual)) else 0.0 for row in rows])
        for of in (strands_of, lengths_of)
    ]
    return replace(usual, strands_apart=MARGIN * apart[0], lengths_apart=MARGIN * apart[1])


def _all_but_one_scene(rows: list[Seen], apart: list[float]) -> float:
    """The second highest of the scenes' highest distances."""
    highest: dict[str, float] = {}
    for row, distance in zip(rows, apart, strict=True):
        highest[row.scene] = max(highest.get(row.scene, 0.0), distance)
    return sorted(highest.values())[-2]


def _print_false_alarms(seen: list[Seen]) -> None:
    """Every zone of every photograph as it is, read with a model and with scatters learned without its scene."""
    print("one colour read as two, scenes left out")
    alarms: dict[tuple[Setting, str], list[str]] = {}
    count: dict[tuple[Setting, str], int] = {}
    for rows in _photos(seen):
        model = _left_out(seen, rows[0].scene)
        for reading in read_zones(rows[0].corrected, tuple(row.one.zone for row in rows), model).readings:
            key = (reading.setting, rows[0].condition.split("-")[-1])
            count[key] = count.get(key, 0) + 1
            if reading.parts:
                alarms.setdefault(key, []).append(f"{rows[0].scene} {reading.zone}")
    for key, total in sorted(count.items()):
        names = alarms.get(key, [])
        print(f"  {key[0]:6} {key[1]:6} {len(names)} of {total}  {', '.join(sorted(set(names)))}")
    false, total = sum(map(len, alarms.values())), sum(count.values())
    print(f"  all: {false} of {total}, {100 * false / total:.1f} %")


def _photos(seen: list[Seen]) -> list[list[Seen]]:
    photos: dict[tuple[str, str], list[Seen]] = {}
    for row in seen:
        photos.setdefault((row.scene, row.photo), []).append(row)
    return list(photos.values())


_MODELS: dict[str, ReadingModel] = {}


def _left_out(seen: list[Seen], scene: str) -> ReadingModel:
    """The model as it would be shipped without this scene."""
    if scene not in _MODELS:
        _MODELS[scene] = replace(fit_flat_tress.left_out_model(seen, scene), usual=learned(seen, scene))
    return _MODELS[scene]


def _judged(seen: list[Seen]) -> Iterator[Judged]:
    random = np.random.default_rng(7)
    for folder in sorted(fit_flat_tress.SCENES.glob("scene*")):
        model = _left_out(seen, folder.name)
        truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        for photo in truth["photos"]:
            if photo["condition"] in ("bad", "hard"):
                continue
            after = photo["condition"].startswith("after")
            labs = {name: np.array(one["lab_d65"]) for name, one in truth["truth_after" if after else "truth"].items()}
            yield from _in_photo(folder, photo["file"], labs, model, random)


def _in_photo(
    folder: Path, file: str, labs: dict[str, FloatArray], model: ReadingModel, random: np.random.Generator
) -> Iterator[Judged]:
    corrected = correct_bytes((folder / file).read_bytes())
    if corrected.verdict.verdict is Verdict.RETAKE or not corrected.verified:
        return
    zones = zones_of(load_zone_spec(folder / "zones.png"), corrected)
    hosts = [zone for zone in zones if zone.pixels > LEAST_PIXELS and zone.name in labs]
    yield from _read(folder.name, corrected, _joined(zones, labs), model)
    linear = two_coloured.linear_of(np.asarray(corrected.photo.encoded_rgb))
    for _ in range(2):
        picture, composed = linear, []
        for host in hosts:
            blend = _blend(random)
            how, second, lab = _second(corrected, linear, host, hosts, labs, random)
            picture = two_coloured.blended(picture, host, second, blend)
            share = float(two_coloured.second_colour(host, blend)[host.mask].mean())
            composed.append(Composed(host, how, blend, labs[host.name], lab, share))
        anew = correct_bytes(two_coloured.jpeg_of(picture))
        if anew.verdict.verdict is not Verdict.RETAKE and anew.verified:
            yield from _read(folder.name, anew, composed, model)


def _blend(random: np.random.Generator) -> Blend:
    lie = list(two_coloured.Lie)[random.integers(3)]
    width, share, sway = (float(random.choice(values)) for values in (WIDTHS_PX[lie], SHARES, SWAYS_PX))
    return Blend(lie, share, width, sway, int(random.integers(1_000_000)))


def _second(
    corrected: CorrectedPhoto,
    linear: two_coloured.FloatImage,
    host: Zone,
    hosts: list[Zone],
    labs: dict[str, FloatArray],
    random: np.random.Generator,
) -> tuple[str, two_coloured.FloatImage, FloatArray]:
    """How the second colour was made, its light over the host's box, and its true colour."""
    others = [zone for zone in hosts if zone is not host and zone.strand_pattern is host.strand_pattern]
    how = str(random.choice(("laid over", "recoloured", "white"), p=(0.4, 0.35, 0.25)))
    if how == "white" or not others:
        mean = _white_light(corrected, linear, host, labs[host.name])
        return "white", two_coloured.recoloured(linear, host, mean), WHITE_LAB
    donor = others[int(random.integers(len(others)))]
    if how == "laid over" and host.setting is Setting.BOARD:
        return how, two_coloured.laid_over(linear, host, donor), labs[donor.name]
    mean = two_coloured.mean_light(linear, donor)
    return "recoloured", two_coloured.recoloured(linear, host, mean), labs[donor.name]


def _white_light(corrected: CorrectedPhoto, linear: two_coloured.FloatImage, host: Zone, lab: FloatArray) -> FloatArray:
    """Mean light of white hair lying as the host lies, as this photograph shows it by its card's greys. shape (3,)."""
    assert corrected.sighting is not None
    seen, true = [], []
    for quad in corrected.sighting.patch_quads_px[18:24]:
        column, row = quad.mean(axis=0).astype(int)
        box = Box(row - 3, column - 3, row + 4, column + 4)
        seen.append(np.log(np.maximum(linear[box.slices].reshape(-1, 3).mean(axis=0), 1e-4)))
        true.append(float(np.log(corrected.xyz_d65(box).reshape(-1, 3).mean(axis=0)[1])))
    order = np.argsort(true)
    here = corrected.xyz_d65(host.box)[host.mask].mean(axis=0)[1] / lab_to_xyz(lab)[1]
    wanted = np.log(lab_to_xyz(WHITE_LAB)[1] * here)
    return np.exp([np.interp(wanted, np.array(true)[order], np.array(seen)[order, channel]) for channel in range(3)])


def _joined(zones: tuple[Zone, ...], labs: dict[str, FloatArray]) -> list[Composed]:
    """Regrowth and lengths of a head, outlined as one zone."""
    by_name = {zone.name: zone for zone in zones}
    joined = []
    for root in zones:
        rest = by_name.get(root.name.removesuffix("_regrowth"))
        if rest is None or rest is root or not {root.name, rest.name} <= labs.keys():
            continue
        box = Box(min(root.box.top, rest.box.top), min(root.box.left, rest.box.left),
                  max(root.box.bottom, rest.box.bottom), max(root.box.right, rest.box.right))  # fmt: skip
        mask = np.zeros((box.height_px, box.width_px), dtype=bool)
        for zone in (root, rest):
            top, left = zone.box.top - box.top, zone.box.left - box.left
            mask[top : top + zone.box.height_px, left : left + zone.box.width_px] |= zone.mask
        whole = replace(rest, box=box, mask=mask)
        share = root.pixels / whole.pixels
        if whole.pixels > LEAST_PIXELS and 0.1 < share < 0.9:
            blend = Blend(two_coloured.Lie.ROOT, share)
            joined.append(Composed(whole, "regrowth", blend, labs[rest.name], labs[root.name], share))
    return joined


def _read(scene: str, corrected: CorrectedPhoto, composed: list[Composed], model: ReadingModel) -> Iterator[Judged]:
    read = {
        reading.zone: reading for reading in read_zones(corrected, tuple(one.zone for one in composed), model).readings
    }
    for one in composed:
        try:
            found = find(light_of(corrected, one.zone), model.usual[one.zone.setting])
        except TooLittleHairError:
            continue
        if one.zone.name in read:
            yield Judged(scene, one, found, read[one.zone.name])


def _print_found(judged: list[Judged]) -> None:
    print("\nfound and read as two, scenes left out: share of composites by ΔE2000 of the pair (how many)")
    print("  " + " " * 30 + "".join(f"{low:>5} to {high:<6}" for low, high in BINS))
    for setting in Setting:
        for lie in two_coloured.Lie:
            part = [one for one in judged if one.composed.zone.setting is setting and one.composed.blend.lie is lie]
            print(f"  {setting:6} {lie:23} {_by_bin(part)}")
    strong = [one for one in judged if one.composed.delta_e > 8 and one.composed.zone.setting is Setting.BOARD]
    for name, value_of in (("width, px", lambda one: one.composed.blend.width_px),
                           ("sway, px", lambda one: one.composed.blend.sway_px),
                           ("made by", lambda one: one.composed.how),
                           ("share laid", lambda one: one.composed.blend.share)):  # fmt: skip
        strands = [one for one in strong if one.composed.blend.lie is not two_coloured.Lie.ROOT]
        values = sorted({value_of(one) for one in strands})
        rates = (f"{value}: {_rate([one for one in strands if value_of(one) == value])}" for value in values)
        print(f"  strands on boards, ΔE over 8, by {name}: {', '.join(rates)}")


def _by_bin(part: list[Judged]) -> str:
    return "".join(f"{_rate([one for one in part if low <= one.composed.delta_e < high]):>14}" for low, high in BINS)


def _rate(part: list[Judged]) -> str:
    return f"{100 * np.mean([bool(one.reading.parts) for one in part]):.0f} % ({len(part)})" if part else "-"


def _print_shares(judged: list[Judged]) -> None:
    print("\nshares of what was found, scenes left out")
    for setting in Setting:
        for lie in Lie:
            part = _found(judged, setting, lie)
            if not part:
                continue
            misses = np.array([one.share_miss for one in part])
            halves = np.array([_half(_found(judged, setting, lie), one.scene) for one in part])
            inside = (np.abs(misses) <= halves).mean()
            print(f"  {setting:6} {lie:17} {len(part)}  off by {np.abs(misses).mean():.2f}, bias {misses.mean():+.2f}, "
                  f"interval +/- {halves.mean():.2f}, truth inside {100 * inside:.0f} %")  # fmt: skip


def _found(judged: list[Judged], setting: Setting, lie: Lie) -> list[Judged]:
    return [
        one for one in judged
        if one.reading.parts and one.found is not None and one.found.lie is lie and one.composed.delta_e > 8
        and one.composed.zone.setting is setting
        and (one.composed.blend.lie is two_coloured.Lie.ROOT) == (lie is Lie.LENGTHS)
    ]  # fmt: skip


def _half(part: list[Judged], without: str = "") -> float:
    """What holds nine in ten of the misses of the scenes but one."""
    misses = [abs(one.share_miss) for one in part if one.scene != without]
    return float(np.quantile(misses, 0.9)) if misses else 0.3


def _between(one: Judged) -> FloatArray:
    return np.abs(one.reading.parts[0].lab_d65 - one.reading.parts[1].lab_d65)


def _mixed(part: list[Judged], without: str = "") -> float:
    """The least share of the other colour with which the intervals of the scenes but one hold nine in ten."""
    rows = [
        (np.abs(half.lab_d65 - one.true_lab(half.place)), half.lab_sd, _between(one))
        for one in part if one.scene != without for half in one.reading.parts
    ]  # fmt: skip
    if not rows:
        return 0.15
    off, sd, between = (np.array(column) for column in zip(*rows, strict=True))
    shares = np.arange(0.0, 0.61, 0.02)
    holds = [(off <= NINE_IN_TEN * np.hypot(sd, share * between)).mean() for share in shares]
    return float(next((share for share, held in zip(shares, holds, strict=True) if held >= 0.9), shares[-1]))


def _print_colours(judged: list[Judged]) -> None:
    print("\ncolours of the parts, scenes left out; the mean of the zone beside them")
    for setting in Setting:
        for lie in Lie:
            rows = [
                (part.lab_d65, one.true_lab(part.place), part.lab_sd, one.reading.lab_d65, _between(one), one.scene)
                for one in _found(judged, setting, lie)
                for part in one.reading.parts
            ]
            if not rows:
                continue
            read, true, sd, mean, between = (np.array(column) for column in list(zip(*rows, strict=True))[:5])
            without = {scene: _mixed(_found(judged, setting, lie), scene) for scene in {row[5] for row in rows}}
            mixed = np.array([without[row[5]] for row in rows])
            sd = np.hypot(sd, mixed[:, None] * between)
            inside = (np.abs(read - true) <= NINE_IN_TEN * sd).mean(axis=0).round(2)
            print(f"  {setting:6} {lie:17} {len(rows)} parts  ΔE2000 {delta_e_2000(read, true).mean():.1f} "
                  f"(the mean: {delta_e_2000(mean, true).mean():.1f})  inside L*, a*, b* {inside}  "
                  f"bias {(read - true).mean(axis=0).round(1)}")  # fmt: skip
    for how in ("laid over", "recoloured", "white", "regrowth"):
        errors = [
            float(delta_e_2000(part.lab_d65, one.true_lab(part.place)))
            for setting in Setting for lie in Lie for one in _found(judged, setting, lie) if one.composed.how == how
            for part in one.reading.parts
        ]  # fmt: skip
        if errors:
            print(f"  made by {how}: {len(errors)} parts, ΔE2000 {np.mean(errors):.1f}, median {np.median(errors):.1f}")


def _write(seen: list[Seen], judged: list[Judged]) -> None:
    usual = learned(seen)
    lines = [
        "# How far parts of one colour lie apart in a zone, and from where on they are two colours.",
        'script = "python -m tests.studies.two_colours --write"',
        f'data = "{len(seen)} zones of rendered scenes, and {len(judged)} composites of them for the shares"',
        'source = "rendered-scenes"',
    ]
    for setting in Setting:
        one = usual[setting]
        lines += ["", f"[{setting}]"]
        lines += [f"{name} = {_rounded(getattr(one, name))}" for name in ("strands", "lengths")]
        lines += [f"{name} = {getattr(one, name):.2f}" for name in ("strands_apart", "lengths_apart")]
        for lie, name in ((Lie.STRANDS, "strands_share_half"), (Lie.LENGTHS, "lengths_share_half")):
            lines.append(f"{name} = {_half(_found(judged, setting, lie)):.2f}")
        for lie, name in ((Lie.STRANDS, "strands_mixed"), (Lie.LENGTHS, "lengths_mixed")):
            lines.append(f"{name} = {_mixed(_found(judged, setting, lie)):.2f}")
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"written: {TABLE.name}")


def _rounded(array: Any) -> list[list[float]]:
    return [[round(float(value), 6) for value in row] for row in array]


if __name__ == "__main__":
    main()
