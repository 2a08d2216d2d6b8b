"""How much a swatch of known colour in the shot helps: each lock of each board is declared known in turn.

    python -m tests.studies.known_swatch

The model is fitted with the whole scene left out, as in fit_flat_tress. Printed: the error on locks of the same strand
pattern as the declared one, on the others, and without any declared lock. The declared lock is not scored. The scenes
are looked for in ../shared/truth; without them the study says so and stops.
"""

import sys
from collections import defaultdict
from dataclasses import replace

import numpy as np

from calibration.colourspaces import delta_e_2000
from estimator.reading.zone_colour import read_seen
from estimator.zones.outline import Setting
from tests.studies import fit_flat_tress

NINE_IN_TEN = 1.6449


def main() -> None:
    if not fit_flat_tress.SCENES.exists():
        sys.exit(f"No scenes in {fit_flat_tress.SCENES}: nothing was measured.")
    seen = [row for row in fit_flat_tress.seen_in_scenes() if row.setting is Setting.BOARD]
    misses, sds = defaultdict(list), defaultdict(list)
    for together, model, colours in fit_flat_tress.photos_left_out(seen):
        if together[0].condition == "hard":
            continue
        for known in (None, *together):
            zones = tuple(_declared(row) if row is known else row.one for row in together)
            read = read_seen(together[0].corrected, zones, model, colours)
            for row, colour in zip(together, read, strict=True):
                if row is not known:
                    name = _name(row, known)
                    misses[name].append((colour.lab_d65, row.truth))
                    sds[name].append(np.sqrt(np.diag(colour.covariance)))
    for name, pairs in misses.items():
        read_lab, true_lab = np.array(pairs).transpose(1, 0, 2)
        inside = (np.abs(read_lab - true_lab) <= NINE_IN_TEN * np.array(sds[name])).mean(axis=0)
        print(f"{name:16} {len(pairs):5d} readings  ΔE2000 {delta_e_2000(read_lab, true_lab).mean():.2f}  "
              f"inside L*, a*, b* {inside.round(2)}")  # fmt: skip


def _declared(row: fit_flat_tress.Seen) -> fit_flat_tress.SeenZone:
    """The same zone, its colour declared known."""
    return replace(row.one, zone=replace(row.one.zone, known_lab_d65=tuple(float(value) for value in row.truth)))


def _name(row: fit_flat_tress.Seen, known: fit_flat_tress.Seen | None) -> str:
    if known is None:
        return "no swatch"
    same = row.one.zone.strand_pattern is known.one.zone.strand_pattern
    return "same pattern" if same else "another pattern"


if __name__ == "__main__":
    main()
