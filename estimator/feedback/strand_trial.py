"""A strand trial: a test strand with the mix after known minutes tells how much dye this client's hair takes."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.errors import BadInputError
from estimator.feedback.applying import uptake_of
from estimator.feedback.doses import dosed_zone
from estimator.feedback.learning import SURPRISE, Belief, Foretold, believe, foretell, surprise
from estimator.feedback.outcome import Outcome
from estimator.toning.plan import Porosity
from estimator.toning.shades import Shelf
from estimator.toning.uptake import Uptake, UptakeBasis

MOST_TRIALS = 8


@dataclass(frozen=True, eq=False)
class TrialFound:
    """What one photograph of a test strand told.

    outcome : The strand before and after. expected : What was expected of it before the trial.
    now : What would be expected of the same strand after all trials of this client.
    delta_e_2000 : Between expected and read. surprising : It lies where one result in a thousand does.
    """

    outcome: Outcome
    expected: Foretold
    now: Foretold
    delta_e_2000: float
    surprising: bool

    @property
    def read_lab_d65(self) -> FloatArray:
        return np.array(self.outcome.after_lab_d65)


@dataclass(frozen=True, eq=False)
class StrandTrial:
    """All trials of one client on one day, and the belief after them.

    before : What was believed before. belief : After them.
    """

    client: str
    found: tuple[TrialFound, ...]
    before: Belief
    belief: Belief

    def uptake(self, porosity: Porosity, shelf: Shelf) -> Uptake:
        """What the trial tells of this client's hair of that porosity."""
        return uptake_of(self.belief, self.client, porosity, shelf, UptakeBasis.STRAND_TRIAL)

    @property
    def surprising(self) -> bool:
        """A strand became something that its mix does not make: nothing may rest on it."""
        return any(found.surprising for found in self.found)


def judge_trial(trials: tuple[Outcome, ...], earlier: Iterable[Outcome] = ()) -> StrandTrial:
    """What these strands tell of the client, beside earlier outcomes.

    Raises BadInputError where there is none, too many, they are of several clients, or one is a whole zone's.
    """
    if not 1 <= len(trials) <= MOST_TRIALS:
        raise BadInputError(f"There are {len(trials)} strand trials; 1 to {MOST_TRIALS} are allowed.")
    clients = {trial.client for trial in trials}
    if len(clients) > 1 or not all(trial.trial for trial in trials):
        raise BadInputError("A strand trial is of one client, and of a strand. Enter each client's trial alone.")
    kept = tuple(earlier)
    before, belief = believe(kept), believe((*kept, *trials))
    return StrandTrial(clients.pop(), tuple(_found(trial, before, belief) for trial in trials), before, belief)


def _found(trial: Outcome, before: Belief, belief: Belief) -> TrialFound:
    zone = dosed_zone(trial)
    expected = foretell(before, zone)
    away = float(delta_e_2000(expected.lab_d65, np.array(trial.after_lab_d65)))
    return TrialFound(trial, expected, foretell(belief, zone), away, surprise(before, trial) > SURPRISE)
