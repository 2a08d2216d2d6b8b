"""How often the stated spread of a predicted mix holds what came out: the figures behind toning/doubt.py.

Run from the root of the repository: python -m tests.studies.mix_intervals
Invented dyes of four band shapes, read exactly and read with an error, and, where a folder ../shared with rendered
mixes stands beside the repository, those. Nine in ten should lie inside; nothing is fitted to the renders.
"""

import json

import numpy as np

from estimator.toning.absorption import dye_spectra, hair_absorption, lab_of, lab_slope
from estimator.toning.mixing import hair_of
from estimator.toning.observer import BANDS_NM
from estimator.toning.weighing import LAW_LAB_SD
from tests.studies.mixing_laws import BAND_SHAPES, RENDERS, invented_dye, invented_hair

NINE_IN_TEN_OF_THREE = 6.251  # chi-squared with 3 degrees of freedom
READING_SD = np.array([1.5, 1.0, 1.5])


def distance(error, hair, share, added, log_covariance):
    """Squared distance of an error from none, in the metric of the stated covariance."""
    slope = lab_slope(hair.absorption[0] + share @ added)
    spread = np.diag(LAW_LAB_SD**2)
    for part, dye, doubt in zip(share, added, log_covariance, strict=True):
        by_log = slope * (part * dye)
        spread = spread + by_log @ doubt @ by_log.T
    return float(error @ np.linalg.solve(spread, error))


def invented(count, reading_sd):
    """Squared distances for invented dyes whose colour on white hair was read with this error."""
    rng, found = np.random.default_rng(7), []
    for number in range(count):
        shape = BAND_SHAPES[number % len(BAND_SHAPES)]
        white, hair = invented_hair(rng, 0.05), invented_hair(rng, 3.0)
        dyes = np.array([invented_dye(rng, shape) for _ in range(rng.integers(1, 4))])
        share = rng.dirichlet(np.ones(len(dyes))) * rng.choice([0.25, 0.5, 0.75, 1.0])
        read = lab_of(white + dyes) + rng.normal(size=(len(dyes), 3)) * reading_sd
        covariance = np.tile(np.diag(reading_sd**2), (len(dyes), 1, 1))
        spectra = dye_spectra(read, covariance, hair_absorption(lab_of(white))[0])
        own = hair_of(lab_of(hair))
        error = own.with_dye(share @ spectra.added)[0] - lab_of(hair + share @ dyes)
        found.append(distance(error, own, share, spectra.added, spectra.log_covariance))
    return np.array(found)


def rendered(renders):
    """Squared distances for the rendered mixes, whose shades are known exactly."""
    names = list(renders["shades"])
    lab = np.array([renders["shades"][name]["lab_d65"] for name in names])
    bare = hair_absorption(np.array(renders["white_hair"]["lab_d65"]))[0]
    spectra, found = dye_spectra(lab, np.zeros((len(lab), 3, 3)), bare), []
    for case in renders["cases"]:
        total = sum(case["parts"].values())
        share = np.array([case["strength"] * case["parts"].get(name, 0) / total for name in names])
        hair = hair_of(np.array(case["base_lab_d65"]))
        error = hair.with_dye(share @ spectra.added)[0] - np.array(case["result_lab_d65"])
        found.append(distance(error, hair, share, spectra.added, spectra.log_covariance))
    return np.array(found)


def told(name, squared):
    inside = np.mean(squared < NINE_IN_TEN_OF_THREE)
    print(f"{name:40} inside nine in ten: {inside:.2f}, mean squared distance of three axes {np.mean(squared):.2f}")


def main() -> None:
    print(f"bands {BANDS_NM[0]:g} to {BANDS_NM[-1]:g} nm; law's own scatter {LAW_LAB_SD}")
    told("invented dyes, colours known", invented(160, np.full(3, 1e-6)))
    told("invented dyes, colours read", invented(160, READING_SD))
    told("invented dyes, colours described", invented(160, 4 * READING_SD))
    if RENDERS.exists():
        told("rendered mixes", rendered(json.loads(RENDERS.read_text(encoding="utf-8"))))
    else:
        print("No rendered mixes beside the repository.")


if __name__ == "__main__":
    main()
