"""Makes the letters that travel inside an HTML report: the shipped family, cut down, WOFF2, under a name of its own.

The licence of the shipped family reserves its name for unchanged files, so the subset is renamed "Tressmeter Sans".
Run from the project's root:

    uv run --no-project --with fonttools --with brotli python tests/studies/web_letters.py
"""

from pathlib import Path

FONTS = Path("estimator/reports/fonts")
FAMILY = "Tressmeter Sans"
KEPT = (
    "U+0020-007E,U+00A0-017F,U+0218-021B,U+0394,U+2010-2015,U+2018-201E,U+2022,U+2026,U+2032,U+2033,U+20AC,"
    "U+2190-2193,U+2212,U+2248,U+2264,U+2265,U+25A1"
)


def make(weight: str) -> Path:
    """The subset of one weight, written beside its parent."""
    from fontTools.subset import Options, Subsetter, load_font, parse_unicodes, save_font

    options = Options(flavor="woff2", layout_features=["kern", "liga", "ccmp", "locl", "mark"], hinting=False)
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14, 16, 17]
    font = load_font(str(FONTS / f"SourceSansPro-{weight}.ttf"), options)
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=parse_unicodes(KEPT))
    subsetter.subset(font)
    for name in font["name"].names:
        if name.nameID in (1, 4, 16):
            name.string = f"{FAMILY} {weight}" if name.nameID == 4 else FAMILY
        elif name.nameID in (3, 6):
            name.string = f"TressmeterSans-{weight}"
    path = FONTS / f"TressmeterSans-{weight}.woff2"
    save_font(font, str(path), options)
    return path


if __name__ == "__main__":
    for made in map(make, ("Regular", "Semibold")):
        print(made, made.stat().st_size, "bytes")
