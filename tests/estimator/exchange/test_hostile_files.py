"""Files that were damaged or made to harm: every reader answers with a value or with one sentence, and soon."""

import random
import time
from datetime import UTC, date, datetime

import pytest

from calibration.errors import CalibrationError
from estimator.errors import EstimatorError
from estimator.exchange.cgats_colours import cgats_of, colours_of_cgats
from estimator.exchange.colour_sources import Given, colours_of
from estimator.exchange.contacts import Agreed, Contact
from estimator.exchange.contacts_csv import contacts_of_csv, contacts_to_csv
from estimator.exchange.cxf import colours_of_cxf, cxf_of
from estimator.exchange.measured import Conditions, MeasuredColour, MeasuredTable
from estimator.exchange.outcome_lines import outcomes_of_csv
from estimator.exchange.plan_lines import plan_lines_of_csv, plan_lines_of_json
from estimator.exchange.reading_lines import ReadingLine, lines_from, lines_to_csv, lines_to_json
from estimator.exchange.scale_table import cgats_of_scale, scale_of_cgats
from estimator.exchange.sidecar import OutlinedZone, Sidecar, sidecar_of_xmp, sidecar_xmp
from estimator.exchange.vcard import contacts_of_vcard, vcards_of
from estimator.scale.level import default_scale
from estimator.zones.outline import Setting

UNSAID = Conditions()
COLOURS = MeasuredTable(
    "demo", (MeasuredColour("crown", (50.0, 6.0, 21.3), (1.0, 1.0, 1.0), None, None, (7.0, 6.0, 8.0)),)
)
PEOPLE = (Contact("Ada Demo", "ada@example.org; 030 5550 1234", "A. D.", "a" * 32, Agreed(date(2026, 1, 2), "signed")),)
LINES = (ReadingLine("s", "p", "crown", "usable", ("glare",), (50.0, 6.0, 21.3), None, None, (7.0, 6.0, 8.0), "gold"),)
PLAN_ROW = (
    "zone,bowl_number,bowl_parts,bowl_shade_grams,bowl_developer_volume,bowl_developer_grams,bowl_ratio,grams,minutes_low,"
    "minutes_high,first_check_minutes,check_every_minutes,now_lab_d65_l,now_lab_d65_a,now_lab_d65_b,target_lab_d65_l,"
    "target_lab_d65_a,target_lab_d65_b,predicted_lab_d65_l,predicted_lab_d65_a,predicted_lab_d65_b,predicted_level,"
    "predicted_level_low,predicted_level_high,expected_delta_e_2000,odds_inside,deposit_strength,if_left_longer,"
    "nearest_text\n"
    'crown,1,"[[""violet"", 2]]","[[""violet"", 20.5]]",6.0,61.0,1:2,30.0,5,8,3,2,'
    "50,1,2,51,1,2,52,1,2,7,6,8,1,0.9,0.5,a,b\n"
)
OUTLINE = OutlinedZone("crown", Setting.HEAD, None, (((0.0, 0.0), (9.0, 0.0), (9.0, 9.0)),))
READERS = {
    "cgats": (cgats_of(COLOURS).encode(), lambda content: colours_of_cgats(content.decode("utf-8", "replace"), UNSAID)),
    "cxf": (cxf_of(COLOURS, datetime(2026, 1, 2, tzinfo=UTC)), lambda content: colours_of_cxf(content, UNSAID)),
    "scale": (
        cgats_of_scale(default_scale()).encode(),
        lambda content: scale_of_cgats(content.decode("utf-8", "replace")),
    ),
    "vcard": (vcards_of(PEOPLE).encode(), lambda content: contacts_of_vcard(content.decode("utf-8", "replace"))),
    "contacts csv": (
        contacts_to_csv(PEOPLE).encode(),
        lambda content: contacts_of_csv(content.decode("utf-8", "replace"), {}),
    ),
    "xmp": (sidecar_xmp(Sidecar("a" * 64, 40, 30, "1", (OUTLINE,), ("record",))), sidecar_of_xmp),
    "readings csv": (lines_to_csv(LINES).encode(), lambda content: lines_from(content.decode("utf-8", "replace"))),
    "readings json": (lines_to_json(LINES).encode(), lambda content: lines_from(content.decode("utf-8", "replace"))),
    "plan csv": (PLAN_ROW.encode(), lambda content: plan_lines_of_csv(content.decode("utf-8", "replace"))),
    "plan json": (b'{"zones": []}', lambda content: plan_lines_of_json(content.decode("utf-8", "replace"))),
    "outcomes": (b"key,client,day\na,b,c\n", lambda content: outcomes_of_csv(content.decode("utf-8", "replace"))),
    "anything": (b"\x00\xff", lambda content: colours_of(Given("a.csv", content), UNSAID)),
}
SPICE = (
    b"\x00",
    b'"',
    b"\n",
    b",",
    b"=",
    b"&#0;",
    b"<",
    b"1e999",
    b"nan",
    b"\\",
    b"\xff\xfe",
    b"9" * 400,
    b"x" * 5000,
    b"{",
    b"[",
    b"-0",
)


def spoiled(content: bytes, chance: random.Random) -> bytes:
    """The content with a cut, a flipped bit, a moved block or something strange put in."""
    where = chance.randrange(len(content))
    match chance.randrange(4):
        case 0:
            return content[:where]
        case 1:
            flipped = bytes([content[where] ^ (1 << chance.randrange(8))])
            return content[:where] + flipped + content[where + 1 :]
        case 2:
            return content[where:] + content[:where]
        case _:
            return content[:where] + chance.choice(SPICE) + content[where + chance.randrange(3) :]


def drill(name: str, times: int) -> None:
    content, reader = READERS[name]
    chance = random.Random(f"hostile {name}")
    for _ in range(times):
        damaged = content
        for _ in range(chance.randrange(1, 4)):
            damaged = spoiled(damaged, chance) or b"x"
        begun = time.monotonic()
        told = ""
        try:
            reader(damaged)
        except (EstimatorError, CalibrationError) as problem:
            told = str(problem)
        assert not told or told.endswith((".", ")", '"'))
        assert len(told) < 700  # a sentence or two, however long what was in the file
        assert time.monotonic() - begun < 5


@pytest.mark.parametrize("name", READERS)
def test_a_damaged_file_is_read_or_refused_in_a_sentence(name):
    drill(name, 60)


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
def test_thousands_of_damaged_files_are_read_or_refused_in_a_sentence(name):
    drill(name, 3000)


def test_the_untouched_files_of_the_drill_are_sound():
    for name in set(READERS) - {"outcomes", "anything"}:
        content, reader = READERS[name]
        reader(content)
