"""Colour meaning stated by code numbers or figures instead of a profile."""

from calibration.formats.header import DeclaredColour, refusal
from calibration.formats.tags import D65_XY, SRGB, SRGB_PRIMARIES_XY

# ITU-T H.273 (2021), tables 2 and 3. Codes that mean "unspecified", and those no still camera writes, are left out.
_PRIMARIES = {
    1: ("sRGB", SRGB_PRIMARIES_XY),
    9: ("BT.2020", ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))),
    12: ("Display P3", ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))),
}
_CURVES: dict[int, str | float] = {1: "bt709", 4: 2.2, 5: 2.8, 6: "bt709", 8: 1.0, 13: "srgb", 14: "bt709", 15: "bt709"}
_HDR_CURVES = (16, 18)


def declared_by_codes(file_format: str, primaries: int, curve: int) -> DeclaredColour | None:
    """Colour meaning by two codes of H.273; None where they say nothing. Raises PhotoRefusedError for HDR curves."""
    if curve in _HDR_CURVES:
        raise refusal(
            "hdr",
            f"The {file_format} file is encoded for HDR screens, and its light can't be told from its numbers.",
            "Switch HDR off in the camera settings, or export the picture as standard range.",
        )
    if primaries not in _PRIMARIES or curve not in _CURVES:
        return None
    name, corners = _PRIMARIES[primaries]
    return DeclaredColour(name, corners, D65_XY, _CURVES[curve])


def declared_by_figures(gamma: float, figures: tuple[float, ...] | None) -> DeclaredColour | None:
    """Colour meaning by PNG's gamma (about 0.45) and, where given, x y of white, red, green, blue; None if absurd."""
    if not 0.2 <= gamma <= 1.5:
        return None
    # Writers of sRGB pictures round its curve to 0.45455; the standard asks that this be read as sRGB.
    curve: str | float = "srgb" if abs(gamma - 0.45455) < 0.001 else 1 / gamma
    if figures is None:
        return DeclaredColour("PNG gamma", SRGB_PRIMARIES_XY, D65_XY, curve) if curve != "srgb" else SRGB
    white, red, green, blue = ((figures[at], figures[at + 1]) for at in (0, 2, 4, 6))
    if min(white[1], red[1], green[1]) <= 0.01 or max(figures) > 1:
        return None
    if curve == "srgb" and _near((red, green, blue), SRGB_PRIMARIES_XY):
        return SRGB
    return DeclaredColour("PNG figures", (red, green, blue), white, curve)


def _near(first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...]) -> bool:
    pairs = zip(first, second, strict=True)
    return all(abs(one[axis] - other[axis]) < 0.002 for one, other in pairs for axis in (0, 1))
