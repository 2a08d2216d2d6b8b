"""Which law predicts mixes, and how well spectra guessed from CIELAB do: the figures behind toning/absorption.py.

Run from the root of the repository: python -m tests.studies.mixing_laws
Two worlds are looked at. Invented dyes of four band shapes on invented hair, made here. And, where a folder ../shared
with rendered mixes stands beside the repository, those: their true spectra judge the laws; nothing is fitted to them.
"""

import json
from pathlib import Path

import numpy as np

from calibration.colourspaces import delta_e_2000
from estimator.toning.absorption import absorption_of, dye_absorption, hair_absorption, lab_of, reflectance_of
from estimator.toning.mixing import hair_of
from estimator.toning.observer import BANDS_NM, reflectance_to_lab

RENDERS = Path(__file__).resolve().parents[3] / "shared" / "truth" / "mixes.json"
BAND_SHAPES = ("Gaussian in wavelength", "Gaussian in wavenumber", "skewed", "with a shoulder")


def fibre_absorption(reflectance, floor):
    """(ln C)² of a hair volume over a surface floor: Chiang, Bitterli, Tappan, Burley 2016, in units of 1 / D²."""
    return np.log(np.maximum(reflectance - floor, 1e-5) / (1 - floor)) ** 2


def fibre_reflectance(absorption, floor):
    """The reverse of `fibre_absorption`."""
    return floor + (1 - floor) * np.exp(-np.sqrt(np.maximum(absorption, 0)))


LAWS = {
    "Kubelka-Munk, no floor": (absorption_of, lambda a: reflectance_of(np.maximum(a, 0))),
    **{
        f"exp(-sqrt), floor {floor:g}": (
            lambda r, floor=floor: fibre_absorption(r, floor),
            lambda a, floor=floor: fibre_reflectance(a, floor),
        )
        for floor in (0.0, 0.01, 0.02)
    },
}


def told(name, away):
    print(f"{name:42} mean {np.mean(away):5.2f}  p90 {np.percentile(away, 90):5.2f}  worst {np.max(away):5.2f}")


def invented_band(rng, shape):
    """Absorption of one band, peak 1, in BANDS_NM."""
    centre_nm, sd_nm = rng.uniform(410, 660), rng.uniform(30, 55)
    wavenumber, centre = 1e7 / BANDS_NM, 1e7 / centre_nm
    sd = sd_nm * 1e7 / centre_nm**2
    if shape == "Gaussian in wavelength":
        return np.exp(-0.5 * ((BANDS_NM - centre_nm) / sd_nm) ** 2)
    if shape == "Gaussian in wavenumber":
        return np.exp(-0.5 * ((wavenumber - centre) / sd) ** 2)
    if shape == "skewed":
        lean = rng.uniform(0.7, 1.5)
        return np.exp(-0.5 * ((BANDS_NM - centre_nm) / np.where(centre_nm > BANDS_NM, lean, 1 / lean) / sd_nm) ** 2)
    main = np.exp(-0.5 * ((wavenumber - centre) / (0.7 * sd)) ** 2)
    shoulder = np.exp(-0.5 * ((wavenumber - centre - 1300) / (0.7 * sd)) ** 2)
    both = main + rng.uniform(0.3, 0.7) * shoulder
    return both / both.max()


def invented_dye(rng, shape):
    """K/S of a dye of one to three bands, one part of it."""
    bands = sum(rng.uniform(0.3, 1) * invented_band(rng, shape) for _ in range(rng.choice([1, 1, 2, 3])))
    return bands / bands.max() * rng.choice([0.2, 0.6, 1.0, 1.8, 2.5])


def invented_hair(rng, darkest):
    """K/S of hair: eumelanin and pheomelanin (Donner and Jensen 2006, from memory) over yellow keratin."""
    pigment, red = np.exp(rng.uniform(np.log(0.02), np.log(darkest))), rng.uniform(0, 0.5)
    melanin = (1 - red) * (BANDS_NM / 550) ** -3.33 + red * (BANDS_NM / 550) ** -4.75
    return pigment * melanin + rng.uniform(0.05, 0.5) * np.exp(-(BANDS_NM - 400) / rng.uniform(25, 50))


def invented_cases(count):
    """Signed error of predictions from CIELAB alone, and their ΔE2000, by band shape."""
    rng = np.random.default_rng(5)
    errors = {shape: [] for shape in BAND_SHAPES}
    for number in range(count):
        shape = BAND_SHAPES[number % len(BAND_SHAPES)]
        white, hair = invented_hair(rng, 0.05), invented_hair(rng, 3.0)
        dyes = np.array([invented_dye(rng, shape) for _ in range(rng.integers(1, 4))])
        shares = rng.dirichlet(np.ones(len(dyes))) * rng.choice([0.25, 0.5, 0.75, 1.0])
        found = dye_absorption(lab_of(white + dyes), hair_absorption(lab_of(white))[0])
        predicted, true = hair_of(lab_of(hair)).with_dye(shares @ found)[0], lab_of(hair + shares @ dyes)
        errors[shape].append((*(predicted - true), float(delta_e_2000(predicted, true))))
    return {shape: np.array(rows) for shape, rows in errors.items()}


def judge_laws(renders):
    """ΔE2000 of each law on the renders, were every spectrum known."""
    bare = np.array(renders["white_hair"]["reflectance"])
    for name, (to_absorption, to_reflectance) in LAWS.items():
        away = []
        for case in renders["cases"]:
            total = sum(case["parts"].values())
            absorption = to_absorption(np.array(case["base_reflectance"]))
            for shade, parts in case["parts"].items():
                dyed = np.array(renders["shades"][shade]["reflectance"])
                absorption = absorption + case["strength"] * parts / total * (to_absorption(dyed) - to_absorption(bare))
            results = [to_reflectance(absorption), np.array(case["result_reflectance"])]
            own, true = (reflectance_to_lab(np.interp(BANDS_NM, renders["bands_nm"], spectrum)) for spectrum in results)
            away.append(float(delta_e_2000(own, true)))
        told(f"true spectra, {name}", away)


def judge_from_lab(renders):
    """Signed errors of predictions from CIELAB alone on the renders, and their ΔE2000."""
    bare = hair_absorption(np.array(renders["white_hair"]["lab_d65"]))[0]
    names = list(renders["shades"])
    found = dye_absorption(np.array([renders["shades"][name]["lab_d65"] for name in names]), bare)
    added = dict(zip(names, found, strict=True))
    errors = []
    for case in renders["cases"]:
        mixed = sum(parts * added[name] for name, parts in case["parts"].items()) / sum(case["parts"].values())
        predicted = hair_of(np.array(case["base_lab_d65"])).with_dye(case["strength"] * mixed)[0]
        errors.append(predicted - case["result_lab_d65"])
        errors[-1] = (*errors[-1], float(delta_e_2000(predicted, np.array(case["result_lab_d65"]))))
    return np.array(errors)


def main() -> None:
    pooled = []
    for shape, errors in invented_cases(200).items():
        told(f"from CIELAB, invented dyes, {shape}", errors[:, 3])
        pooled.append(errors)
    pooled = np.concatenate(pooled)
    print(f"spread of L*, a*, b*: {np.round(np.sqrt(np.mean(pooled[:, :3] ** 2, axis=0)), 2)}")
    if not RENDERS.exists():
        print("No rendered mixes beside the repository: the laws were not compared.")
        return
    renders = json.loads(RENDERS.read_text(encoding="utf-8"))
    judge_laws(renders)
    errors = judge_from_lab(renders)
    told("from CIELAB, renders", errors[:, 3])
    print(f"spread of L*, a*, b*: {np.round(np.sqrt(np.mean(errors[:, :3] ** 2, axis=0)), 2)}")


if __name__ == "__main__":
    main()
