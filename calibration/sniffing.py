"""What kind of file some bytes are, by their content; a file's name is never asked."""

import codecs
from enum import StrEnum

from calibration.formats.header import refusal
from calibration.formats.tiff import all_directories


class FileKind(StrEnum):
    """The kinds of file that are read."""

    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    WEBP = "WebP"
    HEIC = "HEIC"
    RAW = "RAW"


_RAW_STARTS = (b"IIU\0", b"IIRO", b"IIRS", b"MMOR", b"FUJIFILMCCD-RAW", b"FOVb", b"\0MRM")
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"mif1", b"hevc", b"hevx", b"msf1", b"MiHE", b"miaf")
_ANIMATED_BRANDS = (b"hevc", b"hevx", b"msf1")
_PHOTOMETRIC, _DNG_VERSION = 262, 50706
_RAW_PHOTOMETRIC = (32803, 34892)  # colour filter array, linear raw: DNG 1.7, chapter 4

_SAVE_AS_PHOTO = "Send the photo itself: JPEG, HEIC, PNG, TIFF, WebP or the camera's RAW file."

# What else people drop here: start of the file, code, and what to call it.
_OTHERS = (
    (b"%PDF", "pdf", "a PDF document"),
    (b"GIF8", "gif", "a GIF picture, which keeps at most 256 colours"),
    (b"PK\x03\x04", "not_a_photo", "a ZIP archive or an office document"),
    (b"8BPS", "not_a_photo", "a layered drawing (PSD)"),
    (b"BM", "not_a_photo", "a BMP picture"),
    (b"\xff\x0a", "not_a_photo", "a JPEG XL picture"),
    (b"\0\0\0\x0cJXL ", "not_a_photo", "a JPEG XL picture"),
    (b"\0\0\0\x0cjP  ", "not_a_photo", "a JPEG 2000 picture"),
    (b"II+\0", "not_a_photo", "a TIFF of the large kind"),
    (b"MM\0+", "not_a_photo", "a TIFF of the large kind"),
)


def kind_of(photo_bytes: bytes) -> FileKind:
    """The kind of file. Raises PhotoRefusedError, which says what it is instead, where it is no photograph."""
    start = photo_bytes[:32]
    if start.startswith(b"\xff\xd8\xff"):
        return FileKind.JPEG
    if start.startswith(b"\x89PNG\r\n\x1a\n"):
        return FileKind.PNG
    if start.startswith(b"RIFF") and start[8:12] == b"WEBP":
        return FileKind.WEBP
    if start.startswith(_RAW_STARTS):
        return FileKind.RAW
    if start.startswith((b"II*\0", b"MM\0*")):
        return FileKind.RAW if _is_raw(photo_bytes) else FileKind.TIFF
    if start[4:8] == b"ftyp":
        return _kind_of_box_file(photo_bytes)
    raise _no_photo(photo_bytes)


def _is_raw(photo_bytes: bytes) -> bool:
    """Whether a TIFF structure holds sensor values: in its main directory or one below it."""
    if photo_bytes[8:10] == b"CR":
        return True
    found = all_directories(photo_bytes)
    photometric = {directory.number(_PHOTOMETRIC, 0) for directory in found}
    return any(_DNG_VERSION in directory.tags for directory in found) or bool(photometric & set(_RAW_PHOTOMETRIC))


def _kind_of_box_file(photo_bytes: bytes) -> FileKind:
    brand = photo_bytes[8:12]
    others = photo_bytes[16:64]
    if brand == b"crx ":
        return FileKind.RAW
    if brand in _ANIMATED_BRANDS:
        raise refusal("animated", "The file is a sequence of HEIC pictures, not one photo.", "Send one still photo.")
    if brand in (b"avif", b"avis") or b"avif" in others:
        raise refusal("not_a_photo", "The file is an AVIF picture, which is not read here.", _SAVE_AS_PHOTO)
    if brand in _HEIC_BRANDS:
        return FileKind.HEIC
    raise refusal("film", "The file is a film, not a photo.", "Send a still photo; a frame of a film is too coarse.")


def _no_photo(photo_bytes: bytes) -> Exception:
    for start, code, words in _OTHERS:
        if photo_bytes.startswith(start):
            if code == "gif" and photo_bytes.count(b"\x21\xf9\x04", 0, 1_000_000) > 1:
                return refusal("animated", "The file is an animated GIF, not one photo.", _SAVE_AS_PHOTO)
            return refusal(code, f"The file is {words}, not a photo.", _SAVE_AS_PHOTO)
    if _looks_like_text(photo_bytes[:512]):
        return refusal("text", "The file holds text, not a photo, whatever its name says.", _SAVE_AS_PHOTO)
    return refusal("not_a_photo", "The file is no photo of a kind that is read here.", _SAVE_AS_PHOTO)


def _looks_like_text(start: bytes) -> bool:
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):  # the mark of 16-bit text
        return True
    try:
        text = codecs.getincrementaldecoder("utf-8")().decode(start)  # a letter cut in two at the end is no fault
    except UnicodeDecodeError:
        return False
    return all(letter.isprintable() or letter in "\t\n\r\ufeff" for letter in text)
