"""Endings of the photographs that may be handed over."""

# A hint for the browser's file dialog only: what a file is, its bytes tell.
FILE_ENDINGS = [
    "jpg",
    "jpeg",
    "png",
    "tif",
    "tiff",
    "webp",
    "heic",
    "heif",
    "dng",
    "cr2",
    "cr3",
    "nef",
    "arw",
    "raf",
    "rw2",
    "orf",
]
