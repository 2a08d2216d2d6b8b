"""The link that a client opens, and its QR code."""

import io
from urllib.parse import urlsplit

from estimator.errors import BadInputError

USUAL_ADDRESS = "http://127.0.0.1:8501"
_QUIET_MODULES = 4  # the plain border that ISO/IEC 18004 asks for (from memory)


def intake_link(address: str, code: str) -> str:
    """The link of a code. address : Where the salon's page is reached. Raises BadInputError."""
    parts = urlsplit(address.strip())
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment:
        raise BadInputError(f"{address[:80]!r} is no address of a page. Write it as https://salon.example:8501.")
    return f"{parts.scheme}://{parts.netloc}{parts.path.rstrip('/')}/intake/{code}"


def opens_elsewhere(link: str) -> bool:
    """Whether a client's phone can open the link at all: an address of this machine opens nowhere else."""
    host = urlsplit(link).hostname or ""
    return not (host in ("localhost", "::1") or host.startswith("127."))


def is_guarded(link: str) -> bool:
    """Whether nobody on the way can read what is sent."""
    return urlsplit(link).scheme == "https" or not opens_elsewhere(link)


def qr_svg(link: str) -> str:
    """The link as a QR code, black on white in both themes, with words for a screen reader."""
    import segno

    made = segno.make(link, error="m", micro=False)
    return made.svg_inline(scale=6, border=_QUIET_MODULES, light="#ffffff", dark="#000000", title="QR code of the link")


def qr_file(link: str) -> bytes:
    """The QR code as an SVG file."""
    import segno

    stream = io.BytesIO()
    segno.make(link, error="m", micro=False).save(stream, kind="svg", scale=6, border=_QUIET_MODULES, light="#ffffff")
    return stream.getvalue()


def qr_in_letters(link: str) -> str:
    """The QR code for a terminal."""
    import segno

    stream = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(stream, border=_QUIET_MODULES, compact=True)
    return stream.getvalue()
