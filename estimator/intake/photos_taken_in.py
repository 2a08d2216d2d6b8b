"""A photograph as the inbox keeps it: whole, of a kind that is read, and without private tags."""

from dataclasses import dataclass
from threading import BoundedSemaphore
from typing import IO

from calibration.formats.header import refusal
from calibration.opening import open_photo
from calibration.private_tags import clean_copy
from calibration.sniffing import FileKind, kind_of
from estimator.records.photo_files import hash_of

AT_A_TIME = 2  # photographs decoded at once: each takes up to 400 MB while it is looked at
_ENDINGS = {FileKind.JPEG: "jpg", FileKind.PNG: "png", FileKind.WEBP: "webp", FileKind.TIFF: "tif"}
_turn = BoundedSemaphore(AT_A_TIME)


@dataclass(frozen=True, eq=False)
class CleanPhoto:
    """One photograph that has passed. ending : Of its file's name, by what is in it."""

    content: bytes
    ending: str
    original_sha256: str
    size_bytes: int


def cleaned(file: IO[bytes]) -> CleanPhoto:
    """The photograph in a file, without private tags. It is read into memory only when its turn comes.

    Raises
    ------
    PhotoRefusedError : It is no whole colour photograph of a size that is read, or a RAW file.
    """
    with _turn:
        photo_bytes = file.read()
        if photo_bytes and kind_of(photo_bytes) is FileKind.RAW:
            raise refusal(
                "raw_not_taken",
                "A RAW file is not taken in here: it takes long to look at.",
                "Send the JPEG or HEIC that the phone makes beside it.",
            )
        content = clean_copy(photo_bytes)
        open_photo(content)  # what can't be read is told now, while the client can take another one
    return CleanPhoto(content, _ENDINGS[kind_of(content)], hash_of(photo_bytes), len(photo_bytes))
