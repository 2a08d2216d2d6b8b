"""What reaches a terminal: names are text there too. They can't move its cursor, retitle it, or turn a line about."""

import io
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO

REPLACED = "\N{REPLACEMENT CHARACTER}"
# The rest of C0, DEL, C1, and the marks that turn direction (Unicode UAX 9); not line feed, tab and carriage return.
_TURNING = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_STEERS = re.compile(rf"\x1b\[([0-9;]*)m|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f{_TURNING}]")
_HIDDEN = "8"  # ECMA-48, 8.3.117: concealed characters


def seen_only(text: str) -> str:
    """The text with everything that would steer a terminal made visible, but for bold and colour."""
    return _STEERS.sub(_passed, text)


def _passed(found: re.Match[str]) -> str:
    """Bold and colour (ECMA-48, SGR) pass, as the tables of this program use them; hiding does not."""
    bold_or_colour = found.group(1) is not None and _HIDDEN not in found.group(1).split(";")
    return found.group() if bold_or_colour else REPLACED


class _Guarded:
    """A stream that writes text to be seen, and is else the stream behind it."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Writes the text; returns its length."""
        self._stream.write(seen_only(text))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def guarded_terminal() -> Iterator[None]:
    """While inside, nothing printed steers a terminal, and no letter that it lacks ends the program.

    What goes to a file or another program goes there letter by letter.
    """
    with redirect_stdout(_guarded(sys.stdout)), redirect_stderr(_guarded(sys.stderr)):
        yield


def _guarded(stream: TextIO) -> Any:
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="replace")  # a file's name may hold half a letter, a console may know few
    return _Guarded(stream) if stream.isatty() else stream
