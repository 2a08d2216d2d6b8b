"""What a person says of sent photographs, from the texts of a command line."""

import tomllib
from collections.abc import Sequence
from pathlib import Path

from calibration.references import References
from estimator.care.facts import Facts, facts_from_answers
from estimator.errors import BadInputError
from estimator.files import load_text, neutral_point
from estimator.remote.consultation import AboutPhotos
from estimator.remote.views import stated_views
from estimator.toning.targets import Target


def about_photos(views: Sequence[str], whites: Sequence[str], names: Sequence[str]) -> AboutPhotos:
    """Views as "IMG_1.jpg=back" and white sheets as "IMG_1.jpg=900,140,25". Raises BadInputError."""
    references = {}
    for text in whites:
        name, _, point = text.rpartition("=")
        if name not in names:
            raise BadInputError(f"There is no photograph {name!r}. There are: {', '.join(names)}.")
        references[name] = References(neutral=neutral_point(point))
    return AboutPhotos(stated_views(views, names), references)


def answered(path: Path | None) -> Facts:
    """The facts in a TOML file's table [facts]; nothing is known without a file. Raises BadInputError."""
    if path is None:
        return Facts()
    try:
        document = tomllib.loads(load_text(path))
    except RecursionError as problem:
        raise BadInputError(f"The answers in {path.name} are nested too deeply. Write a table [facts].") from problem
    except ValueError as problem:  # a number with more digits than any number here has is one as well
        raise BadInputError(f"The answers in {path.name} are not valid TOML: {problem}. Mend that line.") from problem
    facts = document.get("facts")
    if not isinstance(facts, dict):
        raise BadInputError(f"There is no table [facts] in {path.name}. Write the answers under that heading.")
    return facts_from_answers(facts)


def wished(text: str | None) -> Target | None:
    """The wish for the whole hair, as "9,beige". Raises BadInputError."""
    if text is None:
        return None
    level, _, tone = text.partition(",")
    try:
        number = float(level)
    except ValueError as problem:
        raise BadInputError(f"--wish is {text!r}. Write LEVEL,TONE, such as 9,beige.") from problem
    return Target("hair", number, tone.strip() or "neutral")
