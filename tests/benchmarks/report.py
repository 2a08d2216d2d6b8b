"""How long a report takes: both forms, warm and from the command, beside Typst setting an empty page."""

import dataclasses
import os
import statistics
import subprocess
import sys
import tempfile

import numpy as np

from tests.benchmarks.timing import median_seconds

EMPTY_PAGE = "import typst; typst.compile(b'x', format='pdf')"
# The visit itself is made up before the clock starts: in real life it is already in memory.
FROM_THE_COMMAND = (
    "import time; start = time.perf_counter(); from estimator.reports.before_after import render_html, render_pdf; "
    "imported = time.perf_counter() - start; from tests.benchmarks.report import one_visit; document = one_visit(); "
    "start = time.perf_counter(); render_html(document); render_pdf(document); "
    "print(imported + time.perf_counter() - start)"
)


def one_visit(longest_px: int = 1600):  # type: ignore[no-untyped-def]
    """A visit of two photographs of this size, with hair-like grain: flat pictures would flatter the JPEG encoder."""
    from tests.estimator import report_samples

    document = report_samples.visit()
    rng = np.random.default_rng(1)
    repeat = max(1, longest_px // report_samples.WIDTH_PX)

    def grown(reading, word):  # type: ignore[no-untyped-def]
        painted = report_samples.painted(report_samples.COLOURS[word])
        srgb = np.kron(painted, np.ones((repeat, repeat, 1), dtype=np.uint8))
        noisy = (srgb.clip(16, 239) + rng.integers(0, 32, srgb.shape, dtype=np.uint8) - 16).astype(np.uint8)
        zones = tuple(_scaled(zone, repeat) for zone in reading.outlined)
        corrected = report_samples.corrected_of(report_samples.photo_of(noisy))
        return dataclasses.replace(reading, corrected=corrected, outlined=zones)

    return dataclasses.replace(document, before=grown(document.before, "before"), after=grown(document.after, "after"))


def _scaled(zone, repeat):  # type: ignore[no-untyped-def]
    from calibration.photo import Box

    box = Box(*(repeat * edge for edge in (zone.box.top, zone.box.left, zone.box.bottom, zone.box.right)))
    return dataclasses.replace(zone, box=box, mask=np.ones((box.height_px, box.width_px), dtype=bool))


def _run(script: str, compiled: str) -> str:
    """What a new process prints. compiled : Folder for compiled modules, which an installed program has at hand."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"PYTHONPYCACHEPREFIX": compiled, "PYTHONPATH": "."}
    command = [sys.executable, "-c", script]
    return subprocess.run(command, check=True, capture_output=True, text=True, env=environment).stdout


def main() -> None:
    import io

    import pypdf

    from estimator.reports.before_after import render_html, render_pdf

    document = one_visit()
    pages = len(pypdf.PdfReader(io.BytesIO(render_pdf(document))).pages)

    def fresh():  # type: ignore[no-untyped-def]
        return dataclasses.replace(document)  # a new document: its words and pictures are made again

    width_px = document.before.corrected.photo.width_px
    rows = {
        f"HTML, two photos, {width_px} px": median_seconds(lambda: render_html(fresh())),
        f"PDF, {pages} pages, same photos": median_seconds(lambda: render_pdf(fresh())),
    }

    def both() -> None:
        copy = fresh()
        render_html(copy)
        render_pdf(copy)

    rows["both forms of one report"] = median_seconds(both)
    with tempfile.TemporaryDirectory() as compiled:
        _run(FROM_THE_COMMAND, compiled)
        rows["an empty page, new process"] = median_seconds(lambda: _run(EMPTY_PAGE, compiled), 5)
        taken = [float(_run(FROM_THE_COMMAND, compiled)) for _ in range(5)]
    rows["both forms, new process"] = statistics.median(taken)
    for name, seconds in rows.items():
        print(f"{name:40} {seconds:.3f} s")
