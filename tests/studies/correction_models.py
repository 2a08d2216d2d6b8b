"""How well the correction does: python -m tests.studies.correction_models

1. Real cards with published values (../shared/charts): ΔE2000 of patches left out four at a time, by a plain 3x3, a
   tone curve and 3x3, and the choice; the stated error beside that of patches which took no part in fitting or
   choosing; and white balance alone, judged the same way.
2. One print under many lights, each photo mapped onto each of the three that were taken in daylight: as the file says,
   and with the daylight photo's greys made neutral.
3. Measured hair and skin under CIE lamps through published camera curves, with tone curves (no pictures needed):
   error of each model on surfaces that are on no card, and how often truth lies in the stated interval.
"""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np

from calibration.cards.finding import find_cards
from calibration.cards.layouts import Edition
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import SRGB_TO_XYZ_D65, delta_e_2000, xyz_to_lab
from calibration.correcting import choosing
from calibration.correcting.candidates import MODELS, predict
from calibration.correcting.fitting import CardData
from calibration.correcting.known_card import FEWEST_PATCHES, NEAR_HAIR, KnownCard, cards_24
from calibration.correcting.leaving_out import left_out_sets
from calibration.errors import CorrectionError
from calibration.opening import open_photo
from calibration.photo import Encoding, Photo
from calibration.transfer import look_up
from calibration.ways.outcome import settled
from tests.synthetic import card_scene
from tests.synthetic.spectra import camera_names, card_reflectances, table, xyz_d65

CHARTS = Path(__file__).resolve().parents[3] / "shared" / "charts"
NINE_IN_TEN = 1.6449
SIMULATED = 100
ROUNDS = 4  # how often each patch is left out, with other company
DAYLIGHT = ("05", "09", "23")  # judged from the pictures: pavement, grass, stone outdoors


def srgb() -> Encoding:
    """The plain 8-bit sRGB encoding."""
    code = np.arange(256) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return Encoding(np.stack([light.astype(np.float32)] * 3), SRGB_TO_XYZ_D65.copy(), "sRGB", True)


def corrected_lab(chosen: choosing.ChosenCorrection, linear_rgb: np.ndarray) -> np.ndarray:
    """CIELAB of linear light under the chosen correction."""
    light = linear_rgb / chosen.reference_light
    return xyz_to_lab(predict(chosen.candidate.model, chosen.candidate.values[None], light)[0][0])


def outer_sets(patches: PatchColours, rng: np.random.Generator) -> list[np.ndarray]:
    """Patches that take part in nothing, set by set: four at a time, fewer where a card has few to spare."""
    served = np.flatnonzero(patches.usable)
    together = max(1, min(4, len(served) // 5, len(served) - FEWEST_PATCHES))
    sets = []
    for _ in range(ROUNDS):
        order = rng.permutation(served)
        count = -(-len(order) // together)
        sets += [order[place::count] for place in range(count)]
    return sets


def nested(patches: PatchColours, encoding: Encoding, edition: Edition) -> tuple[np.ndarray, np.ndarray]:
    """Mean ΔE2000 of each patch when it took part in nothing: of the choice, and of white balance. shapes (24,)."""
    missed: list[list[tuple[float, float]]] = [[] for _ in range(24)]
    light = np.nan_to_num(patches.linear_rgb, nan=0.1)
    for out in outer_sets(patches, np.random.default_rng(1)):
        serving = replace(patches, usable=patches.usable & ~np.isin(np.arange(24), out))
        try:
            chosen = choosing.choose_correction(serving, encoding)
            balanced = choosing.fit_candidates(serving, encoding).candidates[0].values.reshape(3, 3)
        except CorrectionError:
            continue
        ours = delta_e_2000(xyz_to_lab(chosen.patches_xyz(light))[out], edition.lab_d65[out])
        plain = xyz_to_lab((light[out] / chosen.reference_light) @ balanced.T)
        for patch, pair in zip(out, zip(ours, delta_e_2000(plain, edition.lab_d65[out]), strict=True), strict=True):
            missed[patch].append(pair)
    means = np.array([np.mean(one, axis=0) if one else [np.nan, np.nan] for one in missed])
    return means[:, 0], means[:, 1]


def least_squares(light: np.ndarray, wanted: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """ΔE2000 of each patch by a plain 3x3 fitted without it and its company, mean. shape (24,)."""
    errors, times = np.zeros(24), np.zeros(24)
    for left_out in left_out_sets(np.flatnonzero(weights > 0), 24):
        kept, out = (weights > 0) & (left_out == 0), left_out > 0
        matrix = np.linalg.lstsq(light[kept], wanted[kept], rcond=None)[0]
        lab = xyz_to_lab(light @ matrix)
        errors[out] += delta_e_2000(lab[out], xyz_to_lab(wanted[out]))
        times[out] += 1
    return np.where(times > 0, errors / np.maximum(times, 1), np.nan)


def curve_and_3x3(data: CardData) -> np.ndarray:
    """ΔE2000 of each patch by a tone curve and a 3x3, left out four at a time. shape (24,)."""
    return choosing._candidate(MODELS[1], data, left_out_sets(np.flatnonzero(data.weights > 0), 24)).held_out


def card_of(photo: Photo) -> PatchColours | None:
    """The card's patches as the reading would take them, or None."""
    cards = find_cards(photo)
    if not cards:
        return None
    patches, chosen, _ = settled(
        measure_patches(photo, cards[0]), lambda one: choosing.choose_correction(one, photo.encoding)
    )
    return None if chosen is None else patches


def real_cards() -> None:
    """Print the figures of real cards with published values."""
    rows = []
    print("held-out ΔE2000, four patches out at a time; nested: they took no part in fitting or choosing")
    print(
        f"{'photo':28} {'plain':>6} {'curve':>6} {'ours':>6} {'greys, browns':>14} {'stated':>7} {'nested':>7} ", end=""
    )
    print(f"{'stated/nested':>14} {'nested greys, browns':>21} {'white balance, nested':>22}  model")
    for chart in json.loads((CHARTS / "charts.json").read_text()):
        if chart["truth"] != "published" or 1 in chart["exclude_patches"]:
            continue
        photo = open_photo((CHARTS / chart["file"]).read_bytes())
        patches = card_of(photo)
        if patches is None:
            print(f"{chart['file']:28} no card of ours in it")
            continue
        rows.append(one_card(chart["file"], photo, patches))
    table_of = np.array(rows)
    print(f"{'median':28} " + " ".join(f"{value:.2f}" for value in np.median(table_of, axis=0)))
    ratio = table_of[:, 4] / table_of[:, 5]
    print(f"stated against nested: median {100 * np.median(np.abs(ratio - 1)):.0f} % off, ", end="")
    print(f"furthest {ratio[np.argmax(np.abs(np.log(ratio)))]:.2f} times; ", end="")
    print(f"worse than white balance: {int((table_of[:, 5] > table_of[:, 7]).sum())} of {len(rows)}")


def one_card(name: str, photo: Photo, patches: PatchColours) -> tuple[float, ...]:
    """Print and return one photo's figures."""
    fitted = choosing.fit_candidates(patches, photo.encoding)
    chosen = choosing.choose_correction(patches, photo.encoding)
    edition = chosen.edition
    light = np.nan_to_num(patches.linear_rgb, nan=0.1) / fitted.reference_light
    data = CardData(light, edition, fitted.weights, np.zeros((0, 2)), photo.encoding.to_xyz_d65)
    ours, balance = nested(patches, photo.encoding, edition)
    near, held_out = list(NEAR_HAIR), chosen.candidate.held_out
    row = (
        float(np.nanmean(least_squares(light, edition.xyz_d65, fitted.weights))),
        float(np.nanmean(curve_and_3x3(data))),
        float(np.nanmean(held_out)),
        float(np.nanmean(held_out[near])),
        chosen.correction.held_out_de2000,
        float(np.nanmean(ours)),
        float(np.nanmean(ours[near])),
        float(np.nanmean(balance)),
    )
    print(f"{name:28} {row[0]:6.2f} {row[1]:6.2f} {row[2]:6.2f} {row[3]:14.2f} {row[4]:7.2f} {row[5]:7.2f} ", end="")
    print(f"{row[4] / row[5]:14.2f} {row[6]:21.2f} {row[7]:22.2f}  {chosen.candidate.model.name}")
    return row


def as_card(patches: PatchColours, encoding: Encoding, balanced: bool) -> KnownCard:
    """A print as one photo shows it: as its file says, or with its greys made neutral."""
    light = np.nan_to_num(patches.linear_rgb, nan=0.1)
    if balanced:
        greys = [patch for patch in (18, 19, 20, 21) if patches.usable[patch]]
        gains = 1 / (light[greys] / light[greys].mean(axis=1, keepdims=True)).mean(axis=0)
        light = light * gains * (0.9 / (light[18] * gains).mean() if patches.usable[18] else 1)
    xyz = np.maximum(light @ encoding.to_xyz_d65.T, 1e-4)
    usual = cards_24()[0]
    return replace(usual, edition=Edition("print", xyz, xyz_to_lab(xyz)))


def print_series() -> None:
    """Print how well one print under many lights is mapped onto each photo of it in daylight."""
    photos = {path.stem: open_photo(path.read_bytes()) for path in sorted((CHARTS / "print28").glob("*.jpg"))}
    found = {stem: (card_of(photo), photo.encoding) for stem, photo in photos.items()}
    seen = {stem: (patches, encoding) for stem, (patches, encoding) in found.items() if patches is not None}
    for balanced in (False, True):
        means = []
        for target in DAYLIGHT:
            card = as_card(*seen[target], balanced)
            rows = [onto(card, seen[target][0], other) for stem, other in seen.items() if stem != target]
            means.append(np.mean(rows, axis=0))
            said_row(f"print onto daylight {target}{', greys neutral' if balanced else ''}", means[-1])
        said_row("mean of these", np.mean(means, axis=0))


def said_row(what: str, errors: np.ndarray) -> None:
    plain, curve, ours, balance = errors
    print(f"{what:38} plain 3x3 {plain:.2f}, curve and 3x3 {curve:.2f}, ours, nested {ours:.2f}, ", end="")
    print(f"white balance {balance:.2f}")


def onto(card: KnownCard, target: PatchColours, other: tuple[PatchColours, Encoding]) -> tuple[float, ...]:
    """Held-out ΔE2000 of one photo's print against another's: plain 3x3, curve and 3x3, ours, white balance."""
    patches, encoding = other
    both = replace(patches, usable=patches.usable & target.usable)
    fitted = choosing.fit_candidates(both, encoding, (card,))
    light = np.nan_to_num(patches.linear_rgb, nan=0.1) / fitted.reference_light
    data = CardData(light, card.edition, fitted.weights, np.zeros((0, 2)), encoding.to_xyz_d65)
    return (
        float(np.nanmean(least_squares(light, card.edition.xyz_d65, fitted.weights))),
        float(np.nanmean(curve_and_3x3(data))),
        choosing.nested_error(fitted.candidates, fitted.weights),
        float(np.nanmean(fitted.candidates[0].held_out)),
    )


def simulated_scene(rng: np.random.Generator) -> card_scene.CardScene:
    """A lamp, a camera and a development drawn at random."""
    cameras, lamps = camera_names(), list(table("lamps_cie"))
    development = card_scene.Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.45, 1.0),
        contrast=float(rng.choice([0, 0.3, 0.6, 0.9])),
        saturation=rng.uniform(0.9, 1.25),
        balance=(float(np.exp(rng.normal(0, 0.12))), float(np.exp(rng.normal(0, 0.15)))),
    )
    light = card_scene.Light(lamps[rng.integers(len(lamps))], stray=float(rng.choice([0, 0.002, 0.006])))
    return card_scene.CardScene(light, development)


def simulated_patches(scene: card_scene.CardScene, surfaces: np.ndarray, rng: np.random.Generator) -> PatchColours:
    """Patches of any surfaces as a photograph of this scene would show them; no geometry."""
    sensor = card_scene._balanced(scene, scene.light.lamp, surfaces) + scene.light.stray
    sensor = np.repeat(sensor[None], 40, axis=0)
    sensor = sensor + 0.003 * np.sqrt(np.maximum(sensor, 0.02)) * rng.normal(size=sensor.shape)
    codes = card_scene._developed(scene, sensor)
    light = look_up(codes, srgb().tables).astype(np.float64)
    clipped = (codes >= 254).mean(axis=0).max(axis=-1) > 0.5
    doubtful = ((codes >= 253).mean(axis=0).max(axis=-1) > 0.02) | ((codes <= 2).mean(axis=0).max(axis=-1) > 0.3)
    why_not = tuple("clipped" if over else "" for over in clipped)
    trust = np.where(doubtful, 0.3, 1.0)
    return PatchColours(light.mean(axis=0), light.std(axis=0), np.full(len(codes[0]), 40), ~clipped, trust, why_not)


def measured_surfaces() -> None:
    """Print the figures of measured hair and skin."""
    rng = np.random.default_rng(0)
    hair, skin = (np.array(list(table(f"{kind}_reflectance").values())) for kind in ("hair", "skin"))
    true = xyz_to_lab(xyz_d65(np.vstack([hair, skin])))
    errors: dict[str, list[np.ndarray]] = {}
    inside = []
    for _ in range(SIMULATED):
        scene = simulated_scene(rng)
        seen = simulated_patches(scene, np.vstack([card_reflectances(), hair, skin]), rng)
        card = PatchColours(*(part[:24] for part in (seen.linear_rgb, seen.spread_sd, seen.pixels, seen.usable)),
                            seen.trust[:24], seen.why_not[:24])  # fmt: skip
        try:
            chosen = choosing.choose_correction(card, srgb())
        except CorrectionError:
            continue
        good = seen.usable[24:] & (seen.trust[24:] == 1)
        for candidate in (*choosing.fit_candidates(card, srgb()).candidates, chosen.candidate):
            name = "chosen" if candidate is chosen.candidate else candidate.model.name
            lab = xyz_to_lab(
                predict(candidate.model, candidate.values[None], seen.linear_rgb[24:] / chosen.reference_light)[0][0]
            )
            errors.setdefault(name, []).append(np.where(good, delta_e_2000(lab, true), np.nan))
            if name == "chosen":
                sd = np.sqrt(np.diag(chosen.correction.lab_covariance()))
                inside.append(np.where(good[:, None], np.abs(lab - true) <= NINE_IN_TEN * sd, np.nan))
    for name, missed in errors.items():
        table_of = np.array(missed)
        print(f"{name:50} hair {np.nanmean(table_of[:, :4]):.2f}   skin {np.nanmean(table_of[:, 4:]):.2f}")
    print("inside the nine-in-ten intervals of L*, a*, b*:", np.nanmean(np.array(inside), axis=(0, 1)).round(3))


if __name__ == "__main__":
    if CHARTS.exists():
        real_cards()
        print_series()
    else:
        print(f"Skipped: there is no folder {CHARTS}.")
    measured_surfaces()
