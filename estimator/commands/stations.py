"""Commands on a station: one camera under one lamp, learned once."""

from pathlib import Path
from typing import Annotated

import typer

stations = typer.Typer(no_args_is_help=True, help="A station: one camera under one lamp, learned once.")


@stations.command()
def learn(
    photos: Annotated[list[Path], typer.Argument(help="Three to twelve photographs of the card at the station.")],
    name: Annotated[str, typer.Option(help="What the station is called, such as chair-2.")],
    out: Annotated[Path, typer.Option("--out", help="Where the profile goes (TOML).")],
) -> None:
    """Learn one camera under one lamp from several photographs of the card, for surer corrections there."""
    from datetime import date

    from calibration.correcting.station_file import check_name, station_text
    from calibration.station import learn_from_photos
    from estimator import console
    from estimator.files import load_photo, write_text

    check_name(name)
    learned = learn_from_photos([load_photo(path) for path in photos], name, date.today().isoformat())
    for path, finding in zip(photos, learned.left_out, strict=True):
        if finding is not None:
            print(f"{path.name} was left out: {finding.message} {finding.remedy}")
    write_text(out, station_text(learned.profile))
    console.print_station(learned)
    print(f"Station: {out}")
