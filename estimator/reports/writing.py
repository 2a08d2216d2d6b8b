"""Reports on disk, whole or not at all."""

import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from estimator.errors import BadInputError, OutputError
from estimator.reports.typesetting import PrintedForm
from estimator.synced_folders import make_folder, sync_folder

SPARE_BYTES = 1_000_000  # left free beside the report, so that the system itself can still write
MOST_COUNTED = 10_000
LONGEST_STEM = 80


class ReportPaths(NamedTuple):
    """Where one report lies."""

    html: Path
    pdf: Path


def write_report(folder: Path, stem: str, html: str, pdf: bytes) -> ReportPaths:
    """Both forms of a report in `folder`, under one name; an earlier report of that name is left alone.

    stem : File name without ending; what a file name may not hold is replaced, and a counter is added where needed.

    Raises
    ------
    OutputError : The folder can't be written, or the disk is full; nothing half-written is left.
    """
    page = html.encode("utf-8")
    try:
        make_folder(folder)
        _check_space(folder, len(page) + len(pdf))
        return _write_both(folder, safe_stem(stem), page, pdf)
    except OSError as fault:
        raise OutputError(_sentence(folder, fault)) from fault


def write_form(
    path: Path, form: PrintedForm, others: Mapping[str, Callable[[], bytes]] | None = None
) -> tuple[Path, ...]:
    """The new files of one sheet, in the form that the ending of `path` asks for: .pdf, .png, or one of `others`.

    others : By its ending (".html"), what else the sheet can be written as.

    Raises
    ------
    BadInputError : The ending asks for what the sheet can't be.
    OutputError : A file is there already, or can't be written; nothing half-written is left.
    """
    makers = {".pdf": form.pdf, **(others or {})}
    ending = path.suffix.lower()
    if ending == ".png":
        return write_new(path, form.png_pages())
    if ending not in makers:
        known = sorted((*makers, ".png"))
        asked = ending or "a file without ending"
        forms = f"{', '.join(known[:-1])} or {known[-1]}"
        raise BadInputError(f"This sheet is written as {forms}, not as {asked}. End its name in one of them.")
    return write_new(path, (makers[ending](),))


def write_new(path: Path, pages: Sequence[bytes]) -> tuple[Path, ...]:
    """One new file for each page, all or none: `path` itself for a single page, else named -1, -2 and so on.

    Raises
    ------
    OutputError : One of them is there already, or can't be written; nothing half-written is left.
    """
    names = [path] if len(pages) == 1 else [path.with_stem(f"{path.stem}-{n}") for n in range(1, len(pages) + 1)]
    folder = path.parent
    try:
        make_folder(folder)
        _check_space(folder, sum(map(len, pages)))
        with tempfile.TemporaryDirectory(prefix=".sheet-", dir=folder) as aside:
            staged = [Path(aside, str(number)) for number in range(len(pages))]
            for part, content in zip(staged, pages, strict=True):
                _write_synced(part, content)
            _give_names(staged, names)
        sync_folder(folder)
    except OSError as fault:
        raise OutputError(_sentence(folder, fault)) from fault
    return tuple(names)


def _give_names(staged: Sequence[Path], names: Sequence[Path]) -> None:
    given: list[Path] = []
    for part, name in zip(staged, names, strict=True):
        if not _give_name(part, name):
            for other in given:
                other.unlink(missing_ok=True)
            raise OutputError(f"{name} is there already and is not overwritten. Choose another name.")
        given.append(name)


def safe_stem(stem: str) -> str:
    """A file name made of letters, digits, dots, hyphens and underscores, never hidden, at most 80 long."""
    kept = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_.") else "-" for letter in stem)
    return kept.strip("-.")[:LONGEST_STEM].strip("-.") or "report"


def _write_both(folder: Path, stem: str, page: bytes, pdf: bytes) -> ReportPaths:
    """The two files, written aside first, then given their names: a name is taken only where both are free."""
    with tempfile.TemporaryDirectory(prefix=".report-", dir=folder) as aside:
        staged_html, staged_pdf = Path(aside, "html"), Path(aside, "pdf")
        _write_synced(staged_html, page)
        _write_synced(staged_pdf, pdf)
        for name in _names(stem):
            html_path, pdf_path = folder / f"{name}.html", folder / f"{name}.pdf"
            if html_path.exists() or not _give_name(staged_pdf, pdf_path):
                continue
            if not _give_name(staged_html, html_path):
                pdf_path.unlink()
                continue
            sync_folder(folder)
            return ReportPaths(html_path, pdf_path)
    raise OSError(errno.EEXIST, "every name is taken")


def _names(stem: str) -> Iterator[str]:
    yield stem
    yield from (f"{stem}-{count}" for count in range(2, MOST_COUNTED))


def _give_name(staged: Path, path: Path) -> bool:
    """Moves a finished file to its name, unless the name is taken. A link can't overwrite, a rename would."""
    try:
        os.link(staged, path)
    except FileExistsError:
        return False
    except OSError:
        # Some file systems know no links: there the name is looked up first, then the file renamed.
        if path.exists():
            return False
        staged.rename(path)
    return True


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _check_space(folder: Path, needed_bytes: int) -> None:
    if shutil.disk_usage(folder).free < needed_bytes + SPARE_BYTES:
        raise OSError(errno.ENOSPC, "no space")


def _sentence(folder: Path, fault: OSError) -> str:
    """What went wrong and what to do, in one sentence each."""
    if fault.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return f"There is no room left to write the report into {folder}. Free some space or choose another folder."
    if fault.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"The report can't be written into {folder}: it is read-only. Choose a folder that you may write to."
    if fault.errno in (errno.ENOTDIR, errno.EEXIST):
        return f"The report can't be written into {folder}: a file is in the way. Choose another folder."
    what = fault.strerror or "unknown fault"
    return f"The report could not be written into {folder} ({what}). Choose another folder."
