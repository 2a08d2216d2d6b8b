"""How often a line of demarcation is seen in hair that has none: rendered zones hold one colour each.

Run: python -m tests.studies.false_lines [FOLDER OF SCENES]. The limits of tables/lines.toml were set on scenes numbered
below ten; those above were left out.
"""

import sys
from collections import Counter
from pathlib import Path

from estimator.files import load_photo, load_zones
from estimator.lifting.demarcation import FEWEST_STRIPS, find_lines
from estimator.visit import read_photo

SCENES = Path(__file__).resolve().parents[3] / "shared" / "truth"
LEFT_OUT_FROM = 10
READ = ("clean", "phone")  # names of photographs that are not there to be refused


def main(folder: Path) -> None:
    """Print, for boards and heads, how many zones show a line."""
    if not folder.is_dir():
        print(f"SKIPPED: there are no rendered scenes at {folder}.")
        return
    zones: Counter[tuple[str, str]] = Counter()
    false: Counter[tuple[str, str]] = Counter()
    for scene in sorted(folder.glob("scene*")):
        spec = load_zones(scene / "zones.png", ())
        part = "left out" if int(scene.name.removeprefix("scene")) >= LEFT_OUT_FROM else "used"
        for photo in sorted(scene.glob("*.jpg")):
            if not any(word in photo.name for word in READ) or "after" in photo.name:
                continue
            for read in read_photo(load_photo(photo), spec).zones:
                if len(read.reading.profile) >= FEWEST_STRIPS:
                    key = (str(read.zone.setting), part)
                    zones[key] += 1
                    false[key] += bool(find_lines(read.reading.profile, setting=read.zone.setting))
    for key in sorted(zones):
        print(f"{key[0]}, {key[1]}: {false[key]} of {zones[key]} zones show a line that is not there")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else SCENES)
