"""Forms as browsers send them, and as nobody should: read whole, or refused in a sentence, always within the limits."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimator.errors import BadInputError
from estimator.intake import form_reading
from estimator.intake.form_reading import BrokenFormError, TooLargeError, read_fields, read_with_photo
from tests.estimator.intake.browserless import BOUNDARY, photo_form

KIND = f"multipart/form-data; boundary={BOUNDARY}"
FORM = "application/x-www-form-urlencoded"


async def _stream(pieces: list[bytes]) -> AsyncIterator[bytes]:
    for piece in pieces:
        yield piece


def _cut(body: bytes, places: list[int]) -> list[bytes]:
    edges = sorted({0, len(body), *(place % (len(body) + 1) for place in places)})
    return [body[start:end] for start, end in pairwise(edges)]


def _photo(pieces: list[bytes], folder, most: int = 100_000, kind: str = KIND):
    return asyncio.run(read_with_photo(_stream(pieces), kind, folder, most))


@pytest.mark.slow
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=3_000), st.lists(st.integers(0, 5_000), max_size=12))
def test_a_photo_arrives_byte_for_byte_however_it_is_cut_into_pieces(tmp_path, content, places):
    body, kind = photo_form("seal", content)
    form = _photo(_cut(body, places), tmp_path, kind=kind)
    try:
        # RFC 2046, 5.1.1: what stands between the boundaries is the part, whatever bytes it has.
        assert form.file.read() == content
        assert (form.file_bytes, form.first("view"), form.first("seal")) == (len(content), "back", "seal")
    finally:
        form.close()
    assert list(tmp_path.iterdir()) == []  # the file on its way has no name in the folder


@pytest.mark.slow
@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.data())
def test_a_damaged_form_is_refused_or_read_and_leaves_nothing(tmp_path, data):
    body = bytearray(photo_form("seal", b"x" * 300)[0])
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(body)))
        end = data.draw(st.integers(start, min(start + 60, len(body))))
        body[start:end] = data.draw(st.binary(max_size=30))
    with suppress(BadInputError):
        _photo(_cut(bytes(body), [data.draw(st.integers(0, 600))]), tmp_path).close()
    assert list(tmp_path.iterdir()) == []


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=2_000))
def test_any_bytes_as_plain_fields_are_read_or_refused(content):
    with suppress(BadInputError):
        form = asyncio.run(read_fields(_stream([content]), FORM))
        assert sum(map(len, form.fields.values())) <= form_reading.MOST_FIELDS


def test_what_is_too_large_is_let_pass_by_up_to_an_end(tmp_path, monkeypatch):
    monkeypatch.setattr(form_reading, "MOST_DRAINED_BYTES", 50_000)
    taken = []

    async def endless() -> AsyncIterator[bytes]:
        body = photo_form("seal", b"")[0]
        yield body[: body.index(b"image/jpeg") + len(b"image/jpeg\r\n\r\n")]
        while True:
            taken.append(10_000)
            yield b"x" * 10_000

    with pytest.raises(TooLargeError, match="larger than"):
        asyncio.run(read_with_photo(endless(), KIND, tmp_path, 20_000))
    assert sum(taken) <= 20_000 + form_reading.MOST_EXTRA_BYTES + 50_000 + 30_000


def test_whoever_sends_too_slowly_is_let_go(tmp_path, monkeypatch):
    monkeypatch.setattr(form_reading, "MOST_SILENT_SECONDS", 0.05)

    async def silent() -> AsyncIterator[bytes]:
        yield photo_form("seal", b"abc")[0][:100]
        await asyncio.sleep(5)
        yield b"never"

    with pytest.raises(BrokenFormError):
        asyncio.run(read_with_photo(silent(), KIND, tmp_path, 20_000))
    assert list(tmp_path.iterdir()) == []


def test_the_limit_of_a_photo_holds_to_the_byte(tmp_path):
    form = _photo([photo_form("seal", b"a" * 1_000)[0]], tmp_path, 1_000)
    assert form.file_bytes == 1_000
    form.close()
    with pytest.raises(TooLargeError, match="larger than"):
        _photo([photo_form("seal", b"a" * 1_001)[0]], tmp_path, 1_000)


def test_two_files_in_one_form_give_no_more_than_the_limit(tmp_path):
    body, kind = photo_form("seal", b"a" * 80_000)
    twice = body.replace(f"--{BOUNDARY}--\r\n".encode(), b"") + body
    with pytest.raises(TooLargeError):
        _photo([twice], tmp_path, 90_000, kind)
