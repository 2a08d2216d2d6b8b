"""What two lamps of different colour cost, and what a second reference mends: python -m tests.studies.two_lamps

Measured hair and skin lie in a row across the frame, the card in its lower right corner; from left to right a second
lamp takes over a share of the light. Error and coverage with the card alone, with a grey card pointed at in the other
corner, and with a second card there; and the same under one lamp, where the second reference must cost nothing.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.correcting.grey_card import GreyCardPoint
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.pipeline import correct_bytes
from calibration.references import References
from tests.studies.white_sheet import SURFACES, de2000, misses
from tests.synthetic.card_scene import Development
from tests.synthetic.lit_scene import LitScene, photograph_lit
from tests.synthetic.spectra import camera_names, table

PHOTOS = 30
WARM, COOL = ("A", "FL4", "FL12", "LED-B1"), ("D65", "D75", "FL1", "FL7", "LED-B5")
SECOND_CARD, GREY = ((0.78, 0.72), (0.22, 0.72)), (0.2, 0.72)


def two_lamps_at_random(rng: np.random.Generator, most_share: float) -> LitScene:
    """A scene whose second lamp takes over at most this share of the light at one side of the frame."""
    known = table("lamps_cie")
    warm, cool = ([name for name in names if name in known] for names in (WARM, COOL))
    pair = [str(rng.choice(warm)), str(rng.choice(cool))]
    rng.shuffle(pair)
    ends = sorted(rng.uniform(0, most_share, 2))
    shares = (ends[1], ends[0]) if rng.random() < 0.5 else (ends[0], ends[1])
    cameras = camera_names()
    development = Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.55, 0.85),
        contrast=float(rng.choice([0.0, 0.4, 0.8])),
        balance=(float(np.exp(rng.normal(0, 0.1))), float(np.exp(rng.normal(0, 0.1)))),
    )
    swatches = SURFACES[rng.permutation(len(SURFACES))]
    return LitScene(pair[0], pair[1], shares, (rng.normal(0, 0.1), 0.0), development, swatches=swatches,
                    seed=int(rng.integers(1000)))  # fmt: skip


def ways(scene: LitScene) -> dict[str, tuple[LitScene, References]]:
    """The same light with a card alone, with a grey card, with a second card."""
    width, height = scene.size_px
    point = GreyCardPoint(NeutralPoint(GREY[0] * width, GREY[1] * height, 40))
    return {
        "card alone": (scene, References()),
        "grey card": (replace(scene, grey_at=GREY), References(grey_card=point)),
        "second card": (replace(scene, cards=SECOND_CARD), References()),
    }


def main() -> None:
    """Print error, coverage and width for one lamp, two alike, and two that differ."""
    for title, most_share in (("one lamp", 0.0), ("two lamps, up to half", 0.5), ("two lamps, up to all", 1.0)):
        rng, found = np.random.default_rng(11), {}
        for _ in range(PHOTOS):
            scene = two_lamps_at_random(rng, most_share)
            for name, (shown, references) in ways(scene).items():
                made = photograph_lit(shown)
                corrected = correct_bytes(made.png(), references)
                if not corrected.verified:
                    continue
                away, inside = misses(made, corrected, shown.swatches)
                sd = np.sqrt(np.diag(corrected.correction.lab_covariance()))
                told = "mixed_light" in corrected.verdict.codes
                found.setdefault(name, []).append(
                    (de2000(away, shown.swatches), *inside.mean(axis=0), *sd, *np.abs(away).mean(axis=0), told)
                )
        for name, rows in found.items():
            r = np.mean(rows, axis=0)
            width = 2 * 1.6449 * r[4:7] / r[7:10]
            print(f"{title}; {name}: true {r[0]:.2f}, inside L* a* b* {r[1]:.2f} {r[2]:.2f} {r[3]:.2f}, "
                  f"width over error {width.round(1)}, told {100 * r[10]:.0f} %")  # fmt: skip


if __name__ == "__main__":
    main()
