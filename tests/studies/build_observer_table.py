"""Writes estimator/toning/tables/observer_d65.csv: CIE 1931 2° observer and CIE illuminant D65, 380 to 780 nm, 5 nm.

Run it from the root of the repository: python -m tests.studies.build_observer_table
"""

from pathlib import Path

import colour

TABLE = Path("estimator/toning/tables/observer_d65.csv")
HEAD = """\
# CIE 1931 colour-matching functions (2 degrees) and relative spectral power of CIE standard illuminant D65.
# Source: ISO/CIE 11664-1 (observer) and ISO/CIE 11664-2 (D65), as carried by colour-science 0.4.7 (BSD-3-Clause).
# Unit: wavelength in nm; the functions are relative; D65 is 100 at 560 nm.
# Written by tests/studies/build_observer_table.py.
wavelength_nm,x_bar,y_bar,z_bar,d65
"""


def main() -> None:
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    daylight = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    lines = [
        f"{wavelength:.0f},{x:.6g},{y:.6g},{z:.6g},{power:.6g}"
        for wavelength, (x, y, z), power in zip(shape.wavelengths, observer, daylight, strict=True)
    ]
    TABLE.write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
