"""Commands on photographs: read, compare, correct, clean."""

from pathlib import Path
from typing import Annotated

import typer

from estimator.commands.given import (
    CardOption,
    GreyOption,
    NeutralOption,
    SheetOption,
    StationOption,
    references_given,
)
from estimator.commands.options import OutOption, ZonesOption, rows_file


def read(  # noqa: PLR0913 - the options of a command are its parameters
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="A photograph, several of the same hair to be read together, or a folder of scenes (zones.json, "
            "zones.png, photos)."
        ),
    ],
    zones: Annotated[
        list[Path] | None,
        typer.Option(
            help="Label picture (PNG, with its .json beside it) or polygons (JSON); with several photographs one for "
            "all or one for each. Without it the whole hair is proposed as one zone."
        ),
    ] = None,
    strands: Annotated[
        list[str] | None, typer.Option(help="Strand pattern of a zone, such as crown=coily. May be repeated.")
    ] = None,
    neutral: NeutralOption = None,
    grey_card: GreyOption = None,
    scale: Annotated[
        Path | None, typer.Option(help="The salon's own level scale, as `tressmeter scale fit` wrote it.")
    ] = None,
    card: CardOption = None,
    station: StationOption = None,
    white_sheet: SheetOption = None,
    out: OutOption = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Say what each reading rests on and what would make it tighter.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the reading as JSON instead of a table.")] = False,
) -> None:
    """Read the level and warmth of every zone in a photograph, or in every scene below a folder."""
    if photos[0].is_dir():
        out = rows_file(out, "read")
        from estimator import console
        from estimator.batch import read_folder

        given = references_given(card, station, white_sheet, grey_card, neutral)
        console.write_rows(read_folder(photos[0], given), out)
        return
    from estimator import console
    from estimator.files import load_photo, load_scale, load_zones, one_each
    from estimator.visit import read_photo, together

    own, given = load_scale(scale), references_given(card, station, white_sheet, grey_card, neutral)
    specs = [load_zones(path, tuple(strands or ())) for path in one_each(zones or [], len(photos))]
    read_ones = [read_photo(load_photo(path), spec, own, given) for path, spec in zip(photos, specs, strict=True)]
    reading = together(tuple(read_ones), own) if len(read_ones) > 1 else read_ones[0]
    name = " + ".join(path.name for path in photos)
    if out is not None:
        from estimator.batch import rows_of_photo

        console.write_rows(rows_of_photo(name, reading), out)
    if json:
        console.print_reading_json(name, reading)
    else:
        console.print_reading(name, reading)
        if explain:
            console.print_explanations(reading)
    if not reading.shows_hair:
        raise typer.Exit(1)


def compare(  # noqa: PLR0913 - the options of a command are its parameters
    before: Annotated[Path, typer.Argument(help="The photograph before, or a folder of scenes.")],
    after: Annotated[Path | None, typer.Argument(help="The photograph after; not for a folder.")] = None,
    zones: ZonesOption = None,
    zones_after: Annotated[
        Path | None, typer.Option(help="Zones of the photograph after, where the hair lies elsewhere in it.")
    ] = None,
    card: CardOption = None,
    station: StationOption = None,
    out: OutOption = None,
) -> None:
    """Show what changed in each zone between two photographs, with the difference's own interval."""
    if before.is_dir():
        out = rows_file(out, "compare")
        from estimator import console
        from estimator.batch import compare_folder

        console.write_rows(compare_folder(before, references_given(card, station)), out)
        return
    if after is None:
        raise typer.BadParameter("Name two photographs, the one before and the one after, or one folder of scenes.")
    from estimator import console, visit
    from estimator.files import load_photo, load_zones

    given = references_given(card, station)
    read_before = visit.read_photo(load_photo(before), load_zones(zones, ()), references=given)
    read_after = visit.read_photo(load_photo(after), load_zones(zones_after or zones, ()), references=given)
    for name, reading in ((before.name, read_before), (after.name, read_after)):
        if reading.refused:
            console.print_reading(name, reading)
            raise typer.Exit(1)
    console.print_differences(visit.compare(read_before, read_after))


def correct(
    photos: Annotated[list[Path], typer.Argument(help="Photographs with a colour card.")],
    card: CardOption = None,
    station: StationOption = None,
    white_sheet: SheetOption = None,
    out: OutOption = None,
) -> None:
    """Find the card in each photograph, correct the colours, and say how well that went."""
    from estimator import console
    from estimator.batch import correct_photos

    corrections = correct_photos(photos, references_given(card, station, white_sheet))
    if out is not None:
        console.write_rows(corrections, out)
        return
    console.print_corrections(corrections)
    if len(photos) == 1 and corrections[0]["verdict"] == "retake":
        raise typer.Exit(1)


def clean(
    photo: Annotated[Path, typer.Argument(help="A photograph.")],
    out: Annotated[Path, typer.Option("--out", help="Where the copy goes.")],
    xmp: Annotated[
        bool, typer.Option("--xmp", help="Write a side-car COPY.xmp beside it: zones, consent, no person.")
    ] = False,
    embed: Annotated[bool, typer.Option("--embed", help="Put the same into the copy itself (JPEG).")] = False,
    zones: ZonesOption = None,
    consent: Annotated[
        list[str] | None, typer.Option("--consent", help="A use that the client agreed to; may be repeated.")
    ] = None,
) -> None:
    """Write a copy without position, serial numbers, maker's notes and embedded thumbnail."""
    from calibration.private_tags import clean_copy
    from estimator.errors import BadInputError
    from estimator.files import load_photo, write_new_bytes

    copy = clean_copy(load_photo(photo))
    if not (xmp or embed):
        if zones or consent:
            raise BadInputError("Zones and consent go into a side-car. Ask for one with --xmp or --embed.")
        write_new_bytes(out, copy)
    else:
        _write_with_sidecar(copy, out, (xmp, embed), zones, consent)
    print(f"Copy without private tags: {out}")


def _write_with_sidecar(
    copy: bytes, out: Path, where: tuple[bool, bool], zones: Path | None, consent: list[str] | None
) -> None:
    """The copy and what travels with it. where : Beside it; inside it."""
    from dataclasses import replace

    from estimator.errors import BadInputError
    from estimator.exchange.sidecar import sidecar_xmp
    from estimator.exchange.sidecars import sidecar_of_photo, with_xmp
    from estimator.files import load_zones, write_new_bytes
    from estimator.records.consent_scopes import Scope

    unknown = [scope for scope in consent or () if scope not in tuple(Scope)]
    if unknown:
        raise BadInputError(f"There is no consent to {unknown[0][:40]!r}. Write one of: {', '.join(Scope)}.")
    beside, inside = where
    scopes = tuple(map(Scope, consent or ()))
    told = sidecar_of_photo(copy, load_zones(zones, ()), scopes)
    if inside:
        copy = with_xmp(copy, sidecar_xmp(replace(told, photo_sha256="")))
    write_new_bytes(out, copy)
    if beside:
        sidecar = out.with_name(f"{out.name}.xmp")
        whole = sidecar_of_photo(copy, load_zones(zones, ()), scopes) if inside else told
        write_new_bytes(sidecar, sidecar_xmp(whole))
        print(f"Side-car: {sidecar}")
