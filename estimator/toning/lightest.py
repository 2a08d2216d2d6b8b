"""The target "as light as possible, no warmer than this": the lightest colour that the shelf can give a zone."""

from dataclasses import replace

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.scale.level import level_of_colour, lightness_of_level
from estimator.toning.absorption import lab_of
from estimator.toning.mixing import hair_of, shelf_absorption
from estimator.toning.plan import PlanSettings, ZoneRequest
from estimator.toning.reach import GREEN_BEYOND
from estimator.toning.recipes import directions
from estimator.toning.shades import Shelf
from estimator.toning.targets import TONES, Target, Tone, target_region
from estimator.toning.timing import usual_uptake
from estimator.toning.trays import may_tone

# More shades never lighten: mixes of two are light enough to tell how light the result can stay.
SHADES_LOOKED_AT = 2
DOSES: FloatArray = np.geomspace(0.03, 1.0, 14)  # share of the full dye
WITHIN = 0.5  # of the tone's half axis: so far inside its edge the lightest colour must lie


def lightest_target(request: ZoneRequest, shelf: Shelf, settings: PlanSettings) -> Target:
    """The target with its region: the lightest result that is no warmer than the tone, or else the least warm one."""
    target, tone = request.target, TONES[request.target.tone]
    results = _results(request, shelf, settings)
    excess = warmer_by(results, tone)
    fits = np.flatnonzero(excess <= 0)
    row = fits[np.argmax(results[fits, 0])] if len(fits) else int(np.argmin(excess))
    lightness = float(results[row, 0])
    level = level_of_colour(results[row], np.zeros((3, 3)), settings.scale).level
    half_level = (lightness_of_level(level + 0.5, settings.scale) - lightness_of_level(level - 0.5, settings.scale)) / 2
    return replace(target, level=level, region=target_region(tone, lightness, half_level))


def warmer_by(lab_d65: FloatArray, tone: Tone) -> FloatArray:
    """How far colours lie outside "no warmer than this tone, and not gone over"; 0 or less inside. shape (n, 3) -> (n,)

    Along the tone's own direction it may not stick out, across it not lean away; short of it, down to grey, is welcome.
    """
    at = np.array([tone.ab_at(lightness) for lightness in lab_d65[:, 0]])
    length = np.linalg.norm(at, axis=1, keepdims=True)
    direction = at / np.maximum(length, 1e-9)
    away = lab_d65[:, 1:] - at
    along = np.einsum("ni,ni->n", away, direction)
    across = np.abs(away[:, 1] * direction[:, 0] - away[:, 0] * direction[:, 1])
    gone_over = np.maximum(-lab_d65[:, 1] - GREEN_BEYOND, -lab_d65[:, 2])
    outside: FloatArray = np.max([along - WITHIN * tone.along, across - WITHIN * tone.across, gone_over], axis=0)
    return outside


def _results(request: ZoneRequest, shelf: Shelf, settings: PlanSettings) -> FloatArray:
    """The zone as it is, and after every mix of two shades in every dose. shape (n, 3)."""
    on_shelf = shelf_absorption(shelf)
    names = [shade.name for shade in may_tone(shelf)]
    hair = hair_of(np.asarray(request.lab_d65, dtype=np.float64))
    if not names:
        return hair.lab_d65
    added = on_shelf.added[[on_shelf.names.index(name) for name in names]]
    mixes = directions(len(names), min(SHADES_LOOKED_AT, settings.most_shades), settings.most_parts).added(added)
    uptake = (request.uptake or usual_uptake(request.hair.porosity)).mean
    dyed = [lab_of(hair.absorption[0] + uptake * dose * mixes) + hair.unexplained[0] for dose in DOSES]
    return np.concatenate([hair.lab_d65, *dyed])
