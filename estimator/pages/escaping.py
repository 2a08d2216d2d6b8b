"""Names and messages as plain text: what a person typed, or a file said, is never read as HTML or Markdown."""

import html
import re

_MARKS = re.compile(r"([\\`*_{}\[\]<>#!|~$&^])")
_FIRST_MARKS = re.compile(r"^(\d*)([-+=.)])")  # begin a list or a rule, and only at the front
_COLON_WORD = re.compile(r":(?=\S)")


def in_html(text: str) -> str:
    """`text` for a place between tags or in a quoted attribute."""
    return html.escape(" ".join(text.split()), quote=True)


def in_markdown(text: str) -> str:
    """`text` for a label that the page reads as Markdown: it looks the same and does nothing.

    A colon before a letter begins an icon, a colour or a web address, and no backslash stops it; an invisible
    word joiner does.
    """
    marked = _FIRST_MARKS.sub(r"\1\\\2", _MARKS.sub(r"\\\1", " ".join(text.split())))
    return _COLON_WORD.sub(":\u2060", marked)
