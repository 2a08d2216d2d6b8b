"""How well each correction model does: python tests/studies/correction_models.py

1. Real cards (../shared/charts): held-out ΔE2000 of every model, the stated error of the chosen one, and the error on
   patches withheld from fitting and choosing alike.
2. Measured hair and skin under CIE lamps through published camera curves, with tone curves (no pictures needed):
   error of each model on surfaces that are on no card, and how often truth lies in the stated interval.
"""

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.cards.finding import find_cards
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import SRGB_TO_XYZ_D65, delta_e_2000, xyz_to_lab
from calibration.correcting import choosing
from calibration.correcting.candidates import predict
from calibration.errors import CorrectionError
from calibration.opening import open_photo
from calibration.photo import Encoding
from calibration.transfer import look_up
from tests.synthetic import card_scene
from tests.synthetic.spectra import camera_names, card_reflectances, table, xyz_d65

CHARTS = Path(__file__).resolve().parents[3] / "shared" / "charts"
NINE_IN_TEN = 1.6449
SIMULATED = 100


def srgb() -> Encoding:
    """The plain 8-bit sRGB encoding."""
    code = np.arange(256) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return Encoding(np.stack([light.astype(np.float32)] * 3), SRGB_TO_XYZ_D65.copy(), "sRGB", True)


def corrected_lab(chosen: choosing.ChosenCorrection, linear_rgb: np.ndarray) -> np.ndarray:
    """CIELAB of linear light under the chosen correction."""
    light = linear_rgb / chosen.reference_light
    return xyz_to_lab(predict(chosen.candidate.model, chosen.candidate.values[None], light)[0][0])


def withheld_error(patches: PatchColours, encoding: Encoding, rng: np.random.Generator) -> tuple[float, float] | None:
    """Stated error and true error when a sixth of the patches takes part in nothing."""
    usable = np.flatnonzero(patches.usable)
    out = rng.choice(usable, max(2, len(usable) // 6), replace=False)
    serving = patches.usable.copy()
    serving[out] = False
    try:
        chosen = choosing.choose_correction(replace(patches, usable=serving), encoding)
    except CorrectionError:
        return None
    missed = delta_e_2000(corrected_lab(chosen, patches.linear_rgb[out]), chosen.edition.lab_d65[out])
    return chosen.correction.held_out_de2000, float(missed.mean())


def real_cards() -> None:
    """Print the figures of real cards."""
    if not CHARTS.exists():
        print(f"Skipped: there is no folder {CHARTS}.")
        return
    rng, stated, pairs = np.random.default_rng(0), [], []
    for chart in json.loads((CHARTS / "charts.json").read_text()):
        if chart["truth"] != "published" or 1 in chart["exclude_patches"]:
            continue
        photo = open_photo((CHARTS / chart["file"]).read_bytes())
        cards = find_cards(photo)
        if not cards:
            continue
        patches = measure_patches(photo, cards[0])
        chosen = choosing.choose_correction(patches, photo.encoding)
        fitted = choosing.fit_candidates(patches, photo.encoding)
        errors = [np.nanmean(candidate.held_out) for candidate in fitted.candidates]
        stated.append(chosen.correction.held_out_de2000)
        print(f"{chart['file']:28} {np.round(errors, 2)} chosen {chosen.candidate.model.name}, stated {stated[-1]:.2f}")
        pairs += [withheld_error(patches, photo.encoding, rng) for _ in range(6)]
    known = np.array([pair for pair in pairs if pair is not None])
    print(f"median stated {np.median(stated):.2f}; withheld patches: stated {known[:, 0].mean():.2f}, ", end="")
    print(f"true {known[:, 1].mean():.2f}")


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
    real_cards()
    measured_surfaces()
