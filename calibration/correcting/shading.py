"""How the light changes across the card: brightness and colour, by planes fitted to its patches."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import CLASSIC24_COLUMNS, CLASSIC24_ROWS, Edition, grid_places
from calibration.colourspaces import xyz_to_lab
from calibration.correcting.candidates import MODELS, predict
from calibration.correcting.fitting import CardData, fit, start_values
from calibration.photo import FloatArray

ROUNDS = 3
OVERSHOOT = 1.3  # the colour fit takes up part of a gradient at first; a longer step gets there sooner
# Dark patches say little about light: stray light weighs on them.
FULL_SAY = 0.10


@dataclass(frozen=True, eq=False)
class CardShading:
    """How light changes across the card.

    log_slope : Change of the light's logarithm for each patch, across and down. shape (2,).
    chroma_slope : Change of a* and b* for each patch, across and down, after correction. shape (2, 2).
    """

    log_slope: FloatArray
    chroma_slope: FloatArray

    @property
    def largest_ratio(self) -> float:
        """Light at one edge of the card over light at the opposite one, at least 1."""
        across, down = np.abs(self.log_slope) * [CLASSIC24_COLUMNS, CLASSIC24_ROWS]
        return float(np.exp(max(across, down)))

    @property
    def chroma_drift(self) -> float:
        """Change of a* and b* from edge to edge of the card, both directions together."""
        return float(np.linalg.norm(self.chroma_slope * [CLASSIC24_COLUMNS, CLASSIC24_ROWS]))


def measure_shading(light: FloatArray, weights: FloatArray, edition: Edition) -> CardShading:
    """Planes through what a tone curve and a 3x3 leave. light : white about 1, shape (24, 3)."""
    model = MODELS[1]
    log_slope, places = np.zeros(2), _from_middle()
    values = start_values(model, CardData(light, edition, weights))
    xyz, kept = np.zeros((24, 3)), weights
    for _ in range(ROUNDS):
        evened = CardData(light * np.exp(-places @ log_slope)[:, None], edition, weights)
        values, kept = fit(model, evened, values)
        xyz = predict(model, values[None], evened.linear_rgb)[0][0]
        left = np.log(np.maximum(xyz[:, 1], 1e-3) / edition.xyz_d65[:, 1])
        say = kept * np.clip(edition.xyz_d65[:, 1] / FULL_SAY, 0.2, 1)
        log_slope = log_slope + OVERSHOOT * _slope(left, say)
    chroma = xyz_to_lab(xyz)[:, 1:] - edition.lab_d65[:, 1:]
    return CardShading(log_slope, np.array([_slope(chroma[:, place], kept) for place in range(2)]))


def _from_middle() -> FloatArray:
    places = grid_places()
    from_middle: FloatArray = places - places.mean(axis=0)
    return from_middle


def _slope(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Slope of the plane that fits best, across and down. shape (2,)."""
    design = np.concatenate([np.ones((24, 1)), _from_middle()], axis=1) * np.sqrt(weights)[:, None]
    solution = np.linalg.lstsq(design, values * np.sqrt(weights), rcond=None)[0]
    slope: FloatArray = solution[1:]
    return slope
