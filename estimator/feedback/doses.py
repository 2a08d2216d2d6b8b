"""How the colour after a mix follows from the logarithms of the doses: one zone's outcome, ready to be fitted."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.feedback.figures import prior
from estimator.feedback.outcome import Outcome
from estimator.toning.absorption import dye_absorption, hair_absorption
from estimator.toning.mixing import Hair, hair_of
from estimator.toning.plan import Porosity
from estimator.toning.shades import Lab
from estimator.toning.timing import minutes_for
from estimator.toning.weighing import MODEL_LAB_SD

STEP_LAB, STEP_LOG = 0.5, 0.02
LONGEST_LOG = 3.0  # twenty times the dose, either way: beyond it the fit has lost its way


@dataclass(frozen=True, eq=False)
class DosedZone:
    """One outcome as the fit sees it.

    names : Its shades but clear, with what each does to white hair: the same name with another colour is another shade.
    added : K/S that each adds at full strength, shape (shades, bands).
    log_time : Logarithm of the minutes, as a share of those that give the full dye to hair of this porosity.
    hair : The hair before, then with each of L*, a*, b* a step up, then a step down. 7 rows.
    """

    outcome: Outcome
    names: tuple[tuple[str, Lab], ...]
    added: FloatArray
    log_time: float
    hair: Hair

    def result(self, log_doses: FloatArray) -> FloatArray:
        """CIELAB D65 2° after these doses, as logarithms of shares of the full dye. shape (3,)."""
        result: FloatArray = self._ends(self._dye(log_doses))[0]
        return result

    def slope(self, log_doses: FloatArray) -> FloatArray:
        """Change of the result with each log dose. shape (3, shades)."""
        each = np.exp(np.clip(log_doses, -LONGEST_LOG, LONGEST_LOG))[:, None] * self.added
        shifted = self._dye(log_doses) + STEP_LOG * np.concatenate([each, -each])
        own = Hair(self.hair.lab_d65[:1], self.hair.absorption[:1], self.hair.unexplained[:1])
        ends = own.with_dye(shifted)
        slope: FloatArray = (ends[: len(each)] - ends[len(each) :]).T / (2 * STEP_LOG)
        return slope

    def spread_of_truth(self, log_doses: FloatArray) -> FloatArray:
        """Covariance of the true colour after about the result, were the expected doses known. shape (3, 3)."""
        carried = self._carried(log_doses)
        all_doses = self.slope(log_doses).sum(axis=1)
        application = prior("application").sd ** 2 * np.outer(all_doses, all_doses)
        before = np.array(self.outcome.before_covariance)
        spread: FloatArray = np.diag(MODEL_LAB_SD**2) + application + carried @ before @ carried.T
        return spread

    def scatter(self, log_doses: FloatArray) -> FloatArray:
        """Covariance of the reading after about the result, were the expected doses known. shape (3, 3)."""
        cross = self._carried(log_doses) @ np.array(self.outcome.shared)
        after = np.array(self.outcome.after_covariance)
        return _no_less_than_nothing(self.spread_of_truth(log_doses) + after - cross - cross.T)

    def _carried(self, log_doses: FloatArray) -> FloatArray:
        """Change of the result with the colour before. shape (3, 3)."""
        ends = self._ends(self._dye(log_doses))
        carried: FloatArray = (ends[1:4] - ends[4:7]).T / (2 * STEP_LAB)
        return carried

    def _dye(self, log_doses: FloatArray) -> FloatArray:
        dye: FloatArray = np.exp(np.clip(log_doses, -LONGEST_LOG, LONGEST_LOG)) @ self.added
        return dye

    def _ends(self, dye: FloatArray) -> FloatArray:
        return self.hair.with_dye(dye)


def dosed_zone(outcome: Outcome) -> DosedZone:
    """An outcome with the spectra that it needs."""
    total = sum(shade.parts for shade in outcome.shades)
    colour = [shade for shade in outcome.shades if not shade.clear]
    added = np.array(
        [shade.parts / total * _added_by(shade.lab_d65_on_white, outcome.white_lab_d65) for shade in colour]
    )
    full = minutes_for(1.0, outcome.full_minutes, Porosity(outcome.porosity))
    names = tuple((shade.name, shade.lab_d65_on_white) for shade in colour)
    return DosedZone(outcome, names, added, float(np.log(outcome.minutes / full)), _hair_around(outcome.before_lab_d65))


@lru_cache(maxsize=2048)
def _hair_around(lab_d65: Lab) -> Hair:
    steps = STEP_LAB * np.concatenate([np.zeros((1, 3)), np.eye(3), -np.eye(3)])
    return hair_of(np.array(lab_d65) + steps)


@lru_cache(maxsize=512)
def _added_by(lab_d65_on_white: Lab, white_lab_d65: Lab) -> FloatArray:
    bare = hair_absorption(np.array(white_lab_d65))[0]
    added: FloatArray = dye_absorption(np.array(lab_d65_on_white), bare)[0]
    added.setflags(write=False)
    return added


def _no_less_than_nothing(covariance: FloatArray) -> FloatArray:
    # The readings' shared part, taken away, may leave a direction just below nought.
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    held: FloatArray = (vectors * np.maximum(values, 0.05)) @ vectors.T
    return held
