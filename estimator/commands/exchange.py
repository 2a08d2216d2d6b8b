"""Commands on open formats: colours, readings, plans, outcomes, side-cars, the published schemas."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from estimator.commands.measured import IlluminantOption, ObserverOption, conditions_given
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from estimator.exchange.colour_sources import Given

Lines = TypeVar("Lines")
exchange = typer.Typer(no_args_is_help=True, help="Open formats in and out.")

InFile = Annotated[Path, typer.Argument(help="The file to take.")]
OutFile = Annotated[Path, typer.Argument(help="Where it goes; the ending says the format.")]


@exchange.command()
def colours(
    file: Annotated[
        Path, typer.Argument(help="Readings, a measured card, a shelf, a scale, or an instrument's CGATS or CxF3 file.")
    ],
    out: Annotated[Path, typer.Argument(help="Where they go: .txt for CGATS.17 text, .cxf for CxF3.")],
    illuminant: IlluminantOption = None,
    observer: ObserverOption = None,
) -> None:
    """Write colours as CGATS.17 text or CxF3, CIELAB for D65 and 2 degrees."""
    from datetime import UTC, datetime

    from estimator.exchange.cgats_colours import cgats_of
    from estimator.exchange.colour_sources import Given, colours_of
    from estimator.exchange.cxf import cxf_of
    from estimator.files import load_bytes, write_new_bytes

    given = Given(file.name, load_bytes(file, 20_000_000))
    if _scale_written(given, out):
        return
    table = colours_of(given, conditions_given(illuminant, observer))
    match out.suffix.lower():
        case ".txt" | ".cgats":
            write_new_bytes(out, cgats_of(table).encode("utf-8"))
        case ".cxf":
            write_new_bytes(out, cxf_of(table, datetime.now(UTC)))
        case ending:
            raise BadInputError(f"Colours are written as .txt (CGATS.17) or .cxf (CxF3), not as {ending or 'that'}.")
    print(f"{len(table.colours)} colours written to {out}")


def _scale_written(given: "Given", out: Path) -> bool:
    """Whether the file was a level scale, from its TOML to CGATS or back, and has been written."""
    from estimator.exchange.scale_table import cgats_of_scale, is_scale_table, scale_of_cgats, scale_toml
    from estimator.files import write_new_bytes
    from estimator.scale.scale_file import kept_scale

    toml_in = given.name.lower().endswith(".toml") and b"[[row]]" in given.content
    if toml_in and out.suffix.lower() in (".txt", ".cgats"):
        text = cgats_of_scale(kept_scale(given.text).scale)
    elif out.suffix.lower() == ".toml" and is_scale_table(given.content.decode("utf-8", errors="replace")):
        text = scale_toml(scale_of_cgats(given.text))
    else:
        return False
    write_new_bytes(out, text.encode("utf-8"))
    print(f"Level scale written to {out}")
    return True


@exchange.command()
def readings(file: InFile, out: OutFile) -> None:
    """Readings from CSV or JSON into the other: units in the header, every digit."""
    from estimator.exchange.reading_lines import lines_from, lines_to_csv, lines_to_json
    from estimator.files import load_text, write_new_bytes

    lines = lines_from(load_text(file))
    written = _by_ending(out, {".csv": lines_to_csv, ".json": lines_to_json})(lines)
    write_new_bytes(out, written.encode("utf-8"))
    print(f"{len(lines)} rows written to {out}")


@exchange.command()
def plan(file: InFile, out: OutFile) -> None:
    """A plan (JSON of `tressmeter plan --out`, or rows) as rows of CSV or JSON, one a zone."""
    from estimator.exchange import plan_lines
    from estimator.files import load_text, write_new_bytes

    text = load_text(file)
    is_json = text.lstrip().startswith("{")
    lines = (plan_lines.plan_lines_of_json if is_json else plan_lines.plan_lines_of_csv)(text)
    writers = {".csv": plan_lines.plan_lines_to_csv, ".json": plan_lines.plan_lines_to_json}
    write_new_bytes(out, _by_ending(out, writers)(lines).encode("utf-8"))
    print(f"{len(lines)} zones written to {out}")


@exchange.command()
def outcomes(file: InFile, out: OutFile) -> None:
    """Outcomes that were learned from: a journal (.jsonl) as CSV, or CSV as a new journal."""
    from estimator.exchange.outcome_lines import outcomes_of_csv, outcomes_to_csv
    from estimator.feedback.journal import journal_from_text, journal_text
    from estimator.files import load_text, write_new_bytes

    text = load_text(file)
    journal = journal_from_text(text) if text.lstrip().startswith("{") else outcomes_of_csv(text)
    written = _by_ending(out, {".csv": outcomes_to_csv, ".jsonl": journal_text})(journal)
    write_new_bytes(out, written.encode("utf-8"))
    print(f"{len(journal.outcomes)} outcomes written to {out}")


@exchange.command()
def schemas(folder: Annotated[Path, typer.Argument(help="Where the schemas go.")]) -> None:
    """Write the JSON Schemas (2020-12) of everything the program writes as JSON."""
    import json

    from estimator.exchange.schemas import schemas as published
    from estimator.files import write_text

    for name, schema in published().items():
        write_text(folder / name, json.dumps(schema, ensure_ascii=False, indent=1) + "\n")
    print(f"{len(published())} schemas written to {folder}")


def _by_ending(out: Path, writers: "Mapping[str, Callable[[Lines], str]]") -> "Callable[[Lines], str]":
    """The writer for the file's ending. Raises BadInputError where there is none."""
    found = writers.get(out.suffix.lower())
    if found is None:
        raise BadInputError(f"This is written as {' or '.join(writers)}, not as {out.suffix or 'that'}.")
    return found


@exchange.command()
def sidecar(file: Annotated[Path, typer.Argument(help="A side-car (.xmp), or a JPEG with one inside.")]) -> None:
    """Print what a side-car says, as JSON: zones with outlines, consent, whether colours were corrected."""
    import json

    from estimator.exchange.sidecar import sidecar_of_xmp
    from estimator.exchange.sidecars import xmp_in
    from estimator.files import load_bytes
    from estimator.visit.keeping import as_json

    content = load_bytes(file, 100_000_000)
    packet = xmp_in(content) if content.startswith(b"\xff\xd8") else content
    print(json.dumps(as_json(sidecar_of_xmp(packet)), ensure_ascii=False, indent=1))
