"""Content lines as vCard (RFC 6350, 3.2 and 3.4) shares them with iCalendar: folded at 75 octets, escaped, undone."""

import re
from collections.abc import Iterable, Iterator

LONGEST_LINE_OCTETS = 75  # RFC 6350, 3.2


def folded_lines(lines: Iterable[str]) -> Iterator[str]:
    """The lines, each ending in CRLF, folded at 75 octets and never inside a character."""
    for line in lines:
        piece, octets = "", 0
        for sign in line:
            size = len(sign.encode("utf-8"))
            if octets + size > LONGEST_LINE_OCTETS:
                yield f"{piece}\r\n"
                piece, octets = " ", 1
            piece, octets = piece + sign, octets + size
        yield f"{piece}\r\n"


def unfolded_lines(text: str) -> list[str]:
    """The content lines of a text, whole; empty ones are left out.

    Only CR, LF or both end a line: other signs that some programs break lines at may stand within a name.
    """
    whole = re.sub(r"\r\n?|\n", "\n", text.removeprefix("\ufeff"))
    return [line for line in re.sub(r"\n[ \t]", "", whole).split("\n") if line.strip()]


def escaped_text(text: str) -> str:
    """TEXT as RFC 6350, 3.4 writes it; control characters that no line may hold are left out."""
    escaped = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    escaped = re.sub(r"\r\n?|\n", r"\\n", escaped)
    return "".join(sign for sign in escaped if sign == "\t" or (ord(sign) >= 32 and ord(sign) != 127))


def plain_text(text: str) -> str:
    """The text that `escaped_text` was given."""
    return re.sub(r"\\(.)", lambda found: "\n" if found[1] in "nN" else found[1], text)
