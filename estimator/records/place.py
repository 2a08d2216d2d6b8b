"""Where a salon's records live: one folder, and in it or elsewhere one database."""

import os
import sys
from dataclasses import dataclass
from pathlib import Path

SALON_VARIABLE = "TRESSMETER_SALON"
DATABASE_VARIABLE = "TRESSMETER_DATABASE"
SETTINGS_FILE = "salon.toml"
KEY_FILE = "key.json"
ACCESS_FILE = "access.sqlite"  # the door's own: staff, phones and PINs
CERTIFICATES = "network"  # a folder of the salon's, with the keys of the door's certificates


@dataclass(frozen=True)
class SalonPlace:
    """One salon's folder and the address of its database.

    address : As SQLAlchemy writes it; "" for the file in the folder.
    """

    folder: Path
    address: str = ""

    @property
    def database_file(self) -> Path:
        return self.folder / "records.sqlite"

    @property
    def sealed_database_file(self) -> Path:
        """The database of an encrypted salon.

        A name of its own: a program that still had the open one would, on its way out, delete the log of the other.
        """
        return self.folder / "records.sealed"

    @property
    def begun(self) -> bool:
        """Whether there are records here, or on a server, to look in."""
        files = (self.database_file, self.sealed_database_file)
        return not self.on_sqlite or any(file.exists() for file in files)

    @property
    def bereft(self) -> bool:
        """Whether files of records are here and no database: it is gone, or lies on a server that nobody named."""
        return not self.begun and any(self.photos.glob("??/??/*"))

    @property
    def photos(self) -> Path:
        """Photographs, thumbnails and reports, named by what is in them."""
        return self.folder / "files"

    @property
    def pending(self) -> Path:
        """Notes on work that is being done, so that the next start can tidy what a dead program left."""
        return self.folder / "pending"

    @property
    def drafts(self) -> Path:
        return self.folder / "drafts"

    @property
    def earlier(self) -> Path:
        """Copies of the database made before its tables were changed."""
        return self.folder / "earlier"

    @property
    def on_sqlite(self) -> bool:
        return not self.address


def salon_place(folder: Path) -> SalonPlace:
    """The place of a salon's records; the database's address from the environment, else from `salon.toml` in it."""
    address = os.environ.get(DATABASE_VARIABLE, "").strip() or _address_in(folder / SETTINGS_FILE)
    return SalonPlace(folder, with_driver(address))


def _address_in(settings: Path) -> str:
    import tomllib

    from estimator.errors import BadInputError

    try:
        written = tomllib.loads(settings.read_text(encoding="utf-8")).get("database", "")
    except FileNotFoundError:
        return ""
    except (OSError, ValueError, RecursionError) as problem:
        raise BadInputError(
            f'{settings} can\'t be read. It holds one line, such as database = "postgresql://name@host/salon".'
        ) from problem
    return str(written).strip()


def with_driver(address: str) -> str:
    """The address with our driver named; `postgres://` and `postgresql://` are what people write."""
    from estimator.errors import BadInputError

    if not address:
        return ""
    scheme, _, rest = address.partition("://")
    if scheme not in ("postgres", "postgresql", "postgresql+psycopg") or not rest:
        raise BadInputError(
            f"The database's address begins with {scheme[:20]!r}. Write postgresql://name@host/database, "
            "or leave it out: the records then lie in the salon's folder."
        )
    return f"postgresql+psycopg://{rest}"


def usual_folder() -> Path:
    """The folder that serves where none is named: the environment's, else one among this person's own data."""
    named = os.environ.get(SALON_VARIABLE, "").strip()
    if named:
        return Path(named)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home())) / "Tressmeter" / "salon"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Tressmeter" / "salon"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "tressmeter" / "salon"
