"""What was weighed, as it is typed in one line."""

from estimator.errors import BadInputError

MOST_GRAMS = 2000.0


def weighed_from(text: str) -> tuple[tuple[str, float], ...]:
    """Each shade with its grams, of "violet=20.5, clear=10". Raises BadInputError."""
    pairs = [entry.rpartition("=") for entry in text.split(",")]
    try:
        weighed = tuple((name.strip(), float(grams)) for name, _, grams in pairs)
    except ValueError:
        weighed = ()
    if not weighed or not all(name and 0 <= grams <= MOST_GRAMS for name, grams in weighed):
        raise BadInputError(
            f"What was weighed is {text[:60]!r}. Write each shade with its grams, such as violet=20.5, clear=10."
        )
    return weighed


def need_weighed(weighed: tuple[tuple[str, float], ...]) -> None:
    """Raises BadInputError where nothing was weighed."""
    if not weighed:
        raise BadInputError("Nothing was weighed. Give the grams of at least one shade; nothing was kept.")
