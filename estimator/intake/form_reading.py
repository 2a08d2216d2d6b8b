"""A form as a browser sends it, read piece by piece within hard limits; a photograph in it goes to the disk, nameless.

The file that takes it has no name in any folder: if the program dies, the system takes it away.
"""

import asyncio
import tempfile
from collections.abc import AsyncGenerator, AsyncIterator
from contextlib import aclosing
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING
from urllib.parse import parse_qsl

from python_multipart import MultipartParser
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import parse_options_header

from estimator.errors import BadInputError

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

MOST_FIELD_BYTES = 20_000  # of all fields together that are no file
MOST_FIELDS = 200
MOST_EXTRA_BYTES = 50_000  # of a photograph's form beside the photograph itself
MOST_DRAINED_BYTES = 200_000_000  # of what is too large, so that the answer can be read by the browser that sent it
_TOO_MUCH_TEXT = "That was more text than this page takes. Shorten it, and send it again."
MOST_SECONDS, MOST_SILENT_SECONDS = 900, 60


class TooLargeError(BadInputError):
    """More came than is taken. The text says how much is."""


class BrokenFormError(BadInputError):
    """What came is no form that a browser sends."""

    def __init__(self) -> None:
        super().__init__("What arrived was no whole form. Go back, and send it again.")


@dataclass
class SentForm:
    """One form. fields : Every text by its field's name. file : The photograph, at its beginning; None without one."""

    fields: dict[str, list[str]] = field(default_factory=dict)
    file: IO[bytes] | None = None
    file_bytes: int = 0

    def first(self, name: str) -> str:
        """The first text of a field; "" without one."""
        return next(iter(self.fields.get(name, ())), "")

    def close(self) -> None:
        """Let go of the photograph's file."""
        if self.file is not None:
            self.file.close()


async def timed(stream: AsyncIterator[bytes]) -> AsyncGenerator[bytes, None]:
    """The same pieces, as long as they come in time. Raises BrokenFormError."""
    pieces = stream.__aiter__()
    try:
        async with asyncio.timeout(MOST_SECONDS):
            while True:
                try:
                    piece = await asyncio.wait_for(pieces.__anext__(), MOST_SILENT_SECONDS)
                except StopAsyncIteration:
                    return
                yield piece
    except TimeoutError as problem:
        raise BrokenFormError from problem


async def read_fields(stream: AsyncIterator[bytes], content_type: str) -> SentForm:
    """A form without a photograph. Raises TooLargeError, BrokenFormError."""
    if content_type.partition(";")[0].strip().lower() == "multipart/form-data":
        return await read_with_photo(stream, content_type, Path(tempfile.gettempdir()), 0)
    body = bytearray()
    async with aclosing(timed(stream)) as pieces:
        async for piece in pieces:
            body += piece
            if len(body) > MOST_FIELD_BYTES:
                break
    if len(body) > MOST_FIELD_BYTES:
        await drain(stream)
        raise TooLargeError(_TOO_MUCH_TEXT)
    try:
        pairs = parse_qsl(bytes(body).decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError as problem:
        raise BrokenFormError from problem
    form = SentForm()
    for name, text in pairs:
        form.fields.setdefault(name, []).append(text)
    return form


async def read_with_photo(
    stream: AsyncIterator[bytes], content_type: str, folder: Path, most_photo_bytes: int
) -> SentForm:
    """A form with at most one photograph, whose bytes go into a nameless file in `folder`.

    Raises
    ------
    TooLargeError : The photograph is larger than `most_photo_bytes`; the rest of it is let pass by.
    BrokenFormError : It is no form, is cut off, or came too slowly.
    """
    kind, options = parse_options_header(content_type)
    boundary = options.get(b"boundary")
    if kind != b"multipart/form-data" or not boundary:
        raise BrokenFormError
    parts = _Parts(folder, most_photo_bytes)
    taken = 0
    try:
        parser = MultipartParser(boundary, parts.callbacks())
        async with aclosing(timed(stream)) as pieces:
            async for piece in pieces:
                taken += len(piece)
                if taken > most_photo_bytes + MOST_EXTRA_BYTES:
                    raise _too_large(most_photo_bytes)
                parser.write(piece)
        parser.finalize()
        if not parts.whole:
            raise BrokenFormError
    except TooLargeError:
        parts.form.close()
        await drain(stream)
        raise
    except (FormParserError, ValueError) as problem:
        parts.form.close()
        raise BrokenFormError from problem
    except BaseException:
        parts.form.close()
        raise
    return parts.form


async def drain(stream: AsyncIterator[bytes]) -> None:
    """Let what is too large pass by: a browser reads no answer before it has sent everything."""
    passed = 0
    async with aclosing(timed(stream)) as pieces:
        async for piece in pieces:
            passed += len(piece)
            if passed > MOST_DRAINED_BYTES:
                return


def _too_large(most_bytes: int) -> TooLargeError:
    return TooLargeError(
        f"That photo is larger than {most_bytes / 1e6:.3g} MB, and was not kept. Send it as the phone makes it, "
        "as JPEG or HEIC."
    )


class _Parts:
    """What the parser tells of a form, gathered."""

    def __init__(self, folder: Path, most_photo_bytes: int) -> None:
        self.form, self.whole = SentForm(), False
        self._folder, self._most = folder, most_photo_bytes
        self._field_bytes = 0
        self._begin()

    def callbacks(self) -> "MultipartCallbacks":
        """What the parser calls."""
        return {
            "on_part_begin": self._begin,
            "on_header_field": self._header_field,
            "on_header_value": self._header_value,
            "on_header_end": self._header_end,
            "on_headers_finished": self._headers_finished,
            "on_part_data": self._data,
            "on_part_end": self._end_part,
            "on_end": self._end,
        }

    def _begin(self) -> None:
        self._field, self._value, self._text = bytearray(), bytearray(), bytearray()
        self._name, self._is_file = "", False

    def _header_field(self, data: bytes, start: int, end: int) -> None:
        self._field += data[start:end]

    def _header_value(self, data: bytes, start: int, end: int) -> None:
        self._value += data[start:end]

    def _header_end(self) -> None:
        if bytes(self._field).lower() == b"content-disposition":
            _, options = parse_options_header(bytes(self._value))
            self._name = options.get(b"name", b"").decode("utf-8", "replace")[:100]
            # What the file was called at home is not even read: it may name a person or a place.
            self._is_file = b"filename" in options or b"filename*" in options
        self._field.clear()
        self._value.clear()

    def _headers_finished(self) -> None:
        if self._is_file and self.form.file is None and self._most:
            self._folder.mkdir(parents=True, exist_ok=True)
            self.form.file = tempfile.TemporaryFile(dir=self._folder)  # noqa: SIM115 - closed with the form

    def _data(self, data: bytes, start: int, end: int) -> None:
        if not self._is_file:
            self._field_bytes += end - start
            if self._field_bytes > MOST_FIELD_BYTES:
                raise TooLargeError(_TOO_MUCH_TEXT)
            self._text += data[start:end]
        elif self.form.file is not None:
            self.form.file_bytes += end - start
            if self.form.file_bytes > self._most:
                raise _too_large(self._most)
            self.form.file.write(data[start:end])

    def _end_part(self) -> None:
        if not self._is_file:
            self.form.fields.setdefault(self._name, []).append(self._text.decode("utf-8", "replace"))
            if sum(map(len, self.form.fields.values())) > MOST_FIELDS:
                raise BrokenFormError

    def _end(self) -> None:
        self.whole = True
        if self.form.file is not None:
            self.form.file.seek(0)
