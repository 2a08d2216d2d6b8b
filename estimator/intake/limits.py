"""How much one invitation takes in, and for how long."""

from dataclasses import dataclass, fields

from calibration.opening import MOST_BYTES
from estimator.errors import BadInputError
from estimator.remote.bundle import MOST_PHOTOS, MOST_SENT_BYTES

# What may be asked for, both ends included. A fortnight, since a code that lies about for longer is forgotten; the
# photographs and bytes are those that reading takes. [our assumption]
_ALLOWED: dict[str, tuple[float, float, str]] = {
    "hours": (1, 336, "hours"),
    "photos": (1, MOST_PHOTOS, "photographs"),
    "bytes_each": (100_000, MOST_BYTES, "bytes for one photograph"),
    "bytes_total": (100_000, MOST_SENT_BYTES, "bytes in all"),
    "tries": (1, 500, "tries"),
}


@dataclass(frozen=True)
class Limits:
    """What one invitation takes.

    bytes_each, bytes_total : Of photographs as they arrive. tries : Uploads begun, whether they were kept or not.
    """

    hours: float = 72
    photos: int = 12
    bytes_each: int = MOST_BYTES
    bytes_total: int = 300_000_000
    tries: int = 60

    def __post_init__(self) -> None:
        for field in fields(self):
            low, high, what = _ALLOWED[field.name]
            value = getattr(self, field.name)
            if not low <= value <= high:
                raise BadInputError(f"An invitation for {value:g} {what} can't be made; {low:g} to {high:g} can.")
