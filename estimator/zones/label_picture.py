"""A label picture: a PNG whose pixel values are the numbers of the zones."""

import io
import warnings

import numpy as np

from estimator.errors import BadInputError
from estimator.zones.specification import LabelPicture

MOST_MEGAPIXELS = 64
_SINGLE_CHANNEL = ("1", "L", "P", "I", "I;16")  # Pillow's names; "P" holds indices, which are the labels


def decode_label_picture(picture: bytes) -> LabelPicture:
    """The numbers in a label picture. uint8 or uint16, shape (rows, columns). Its size is read before its pixels.

    Raises
    ------
    BadInputError : It is no whole PNG of one channel, or larger than 64 megapixels.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(picture), formats=("PNG",))
            if image.width * image.height > MOST_MEGAPIXELS * 1_000_000:
                raise _too_large()
            if image.mode not in _SINGLE_CHANNEL:
                raise BadInputError("The label picture is in colour. Save it as a PNG of one channel, 8 or 16 bit.")
            labels = np.asarray(image)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as problem:
        raise _too_large() from problem
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as problem:
        raise BadInputError("The label picture is not a whole PNG file. Save it again as PNG.") from problem
    return labels.astype(np.uint8) if labels.dtype in (np.bool_, np.uint8) else labels.astype(np.uint16)


def _too_large() -> BadInputError:
    return BadInputError(f"The label picture has over {MOST_MEGAPIXELS} megapixels. Make it the size of the photo.")
