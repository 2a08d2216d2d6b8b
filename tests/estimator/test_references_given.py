"""What a command line names for colours to lean on: points, and a station learned and used."""

import pytest
from typer.testing import CliRunner

from estimator.cli import app
from estimator.errors import BadInputError
from estimator.files import grey_card_point, load_station
from tests.synthetic.card_scene import Development
from tests.synthetic.lit_scene import LitScene, photograph_lit


def test_a_grey_card_is_a_point_and_its_reflectance_which_is_18_percent_if_not_said():
    assert grey_card_point("900,140,25").reflectance == 0.18
    told = grey_card_point("900,140,25,0.5")
    assert (told.at.x_px, told.at.y_px, told.at.radius_px, told.reflectance) == (900, 140, 25, 0.5)


@pytest.mark.parametrize("text", ["900,140", "900,140,1", "900,140,25,18", "a,b,c", "1,2,3,0.2,5"])
def test_what_is_no_grey_card_is_told_in_one_sentence_with_an_example(text):
    with pytest.raises(BadInputError, match=r"900,140,25,0\.18"):
        grey_card_point(text)


@pytest.mark.slow
def test_a_station_is_learned_from_photos_and_serves_or_says_why_not(tmp_path):
    names = []
    for seed, exposure in enumerate((0.6, 0.7, 0.8)):
        scene = LitScene(development=Development(exposure=exposure, blur_px=1.0), slope=(0.05 * seed, 0), seed=seed)
        names.append(str(tmp_path / f"{seed}.png"))
        (tmp_path / f"{seed}.png").write_bytes(photograph_lit(scene).png())
    profile, rows = tmp_path / "station.toml", tmp_path / "rows.csv"
    learned = CliRunner().invoke(app, ["station", "learn", *names, "--name", "chair-2", "--out", str(profile)])
    assert learned.exit_code == 0, learned.output
    assert load_station(profile).name == "chair-2"
    used = CliRunner().invoke(app, ["correct", names[0], "--station", str(profile), "--out", str(rows)])
    assert used.exit_code == 0, used.output
    assert any(code in rows.read_text() for code in ("station_serves", "station_not_needed"))


@pytest.mark.slow
def test_a_station_is_not_learned_from_one_photo(tmp_path):
    (tmp_path / "one.png").write_bytes(photograph_lit(LitScene()).png())
    ran = CliRunner().invoke(
        app, ["station", "learn", str(tmp_path / "one.png"), "--name", "x", "--out", str(tmp_path / "s")]
    )
    assert "3 to 12 photos" in str(ran.exception)
    assert not (tmp_path / "s").exists()
