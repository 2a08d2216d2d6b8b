"""What the command prints of a plan beyond its bowls: why, what else, how far it is; and the plan as JSON."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from estimator.console import say
from estimator.errors import EstimatorError
from estimator.files import write_text
from estimator.reports import wording
from estimator.toning.plan import Plan
from estimator.toning.recipes import Progress


@contextmanager
def progress_on_stderr() -> Iterator[Progress]:
    """A callback that tells the share done on one line of the error stream, where a person watches it."""
    watched = sys.stderr.isatty()

    def tell(share: float) -> None:
        if watched:
            print(f"\rComparing recipes: {share:4.0%}", end="", file=sys.stderr, flush=True)

    try:
        yield tell
    except KeyboardInterrupt:
        # The command line's library ends such a run without a word.
        raise EstimatorError("Stopped while comparing recipes. Nothing was written.") from None
    finally:
        if watched:
            print(file=sys.stderr)


def print_reasons(plan: Plan) -> None:
    """Why each bowl, what happens if a zone is left longer, what minutes rest on, and the second-best plan."""
    for bowl in plan.bowls:
        say(f"Why bowl {bowl.number}:", "bold")
        for reason in bowl.why:
            say(f"  {reason}")
    for zone in plan.zones:
        if zone.if_left_longer:
            say(f"  {wording.zone_text(zone.zone)}: {zone.if_left_longer} Minutes rest on {zone.rests_on}.")
    second = wording.second_best_text(plan)
    if second:
        say(second)
    proved = "proved best" if plan.proved_best else "not proved best: the time ran out"
    say(f"{plan.recipes_weighed} mixes compared, each also thinned with clear; the sharing of bowls is {proved}.")


def write_plan(plan: Plan, out: Path) -> None:
    """The whole plan as JSON, the names of its fields with their units. Whole or not at all."""
    write_text(out, json.dumps(_plain(plan), ensure_ascii=False, indent=1) + "\n")


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return value.tolist()
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    if isinstance(value, np.generic):
        return value.item()
    return value
