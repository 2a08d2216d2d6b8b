"""What an export of one client carries beside its rows and files: side-cars of photographs, and tables."""

from estimator.exchange.salon_tables import Rows, SalonTables
from estimator.exchange.sidecars import sidecars_of_client


def beside_client(rows: Rows) -> dict[str, bytes]:
    """Further members of the zip, by name: photos/NAME.xmp, and tables/NAME.csv for a spreadsheet."""
    tables = SalonTables()
    tables.add("", rows)
    told = {f"tables/{name}": text.encode("utf-8") for name, text in tables.texts().items()}
    return {**sidecars_of_client(rows), **told}
