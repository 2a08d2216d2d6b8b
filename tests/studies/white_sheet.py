"""What a white sheet gains where light falls off over the frame: python -m tests.studies.white_sheet

Measured hair and skin lie in a row across the frame, the card in its lower right corner. Lamp, camera, development and
the fall of light are drawn at random; with the fall at nothing the sheet must cost nothing.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.corrected import CorrectedPhoto
from calibration.correcting.white_sheet import open_white_sheet
from calibration.photo import Box
from calibration.pipeline import correct_bytes
from calibration.references import References
from tests.synthetic.card_scene import Development, Photographed
from tests.synthetic.lit_scene import LitScene, photograph_lit, photograph_sheet
from tests.synthetic.spectra import camera_names, table, xyz_d65

PHOTOS = 24
NINE_IN_TEN = 1.6449
SURFACES = np.vstack([list(table("hair_reflectance").values()), list(table("skin_reflectance").values())[::8]])[:8]


def lit_at_random(rng: np.random.Generator, fall: float) -> LitScene:
    """A scene; `fall` scales the light's change of logarithm over width and height."""
    cameras, lamps = camera_names(), list(table("lamps_cie"))
    development = Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.55, 0.85),
        contrast=float(rng.choice([0.0, 0.4, 0.8])),
        balance=(float(np.exp(rng.normal(0, 0.1))), float(np.exp(rng.normal(0, 0.1)))),
        vignette=0.25 * fall,
    )
    slope = tuple(fall * rng.normal(0, 0.4, 2))
    surfaces = SURFACES[rng.permutation(len(SURFACES))]
    lamp = lamps[rng.integers(len(lamps))]
    return LitScene(lamp, slope=slope, development=development, swatches=surfaces, seed=int(rng.integers(1000)))


def misses(made: Photographed, corrected: CorrectedPhoto, surfaces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lab read minus Lab of each swatch, and which lie inside the correction's nine-in-ten interval. shapes (n, 3)."""
    boxes = [Box(int(top), int(left), int(bottom), int(right)) for left, top, right, bottom in made.swatch_boxes]
    read = np.array([corrected.xyz_d65(box).reshape(-1, 3).mean(axis=0, dtype=np.float64) for box in boxes])
    away = xyz_to_lab(read) - xyz_to_lab(xyz_d65(surfaces))
    return away, np.abs(away) <= NINE_IN_TEN * np.sqrt(np.diag(corrected.correction.lab_covariance()))


def de2000(away: np.ndarray, surfaces: np.ndarray) -> float:
    """Mean ΔE2000 of these misses."""
    true = xyz_to_lab(xyz_d65(surfaces))
    return float(delta_e_2000(true + away, true).mean())


def main() -> None:
    """Print the error with and without the sheet, by how much the light falls off."""
    for fall in (0.0, 0.5, 1.0):
        rng, rows, inside = np.random.default_rng(5), [], []
        for _ in range(PHOTOS):
            scene = lit_at_random(rng, fall)
            made = photograph_lit(scene)
            alone = correct_bytes(made.png())
            sheet = open_white_sheet(photograph_sheet(scene).png())
            evened = correct_bytes(made.png(), References(white_sheet=sheet))
            if not (alone.verified and evened.verified):
                continue
            away, within = misses(made, alone, scene.swatches)
            away_evened, within_evened = misses(made, evened, scene.swatches)
            stated = [one.correction.held_out_de2000 for one in (alone, evened)]
            rows.append([stated[0], de2000(away, scene.swatches), stated[1], de2000(away_evened, scene.swatches)])
            inside.append([within.mean(), within_evened.mean()])
        mean, share = np.mean(rows, axis=0), np.mean(inside, axis=0)
        worse = np.mean([row[3] > row[1] + 0.1 for row in rows])
        print(
            f"fall {fall:.1f} ({len(rows)} photos), stated, true, inside: alone {mean[0]:.2f}, {mean[1]:.2f}, "
            f"{share[0]:.2f}; with it {mean[2]:.2f}, {mean[3]:.2f}, {share[1]:.2f}; worse on {100 * worse:.0f} %"
        )


if __name__ == "__main__":
    main()
