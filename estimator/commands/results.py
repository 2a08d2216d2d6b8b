"""Commands on what results teach: a strand trial, first aid for a missed result, learning."""

from pathlib import Path
from typing import Annotated

import typer

OutcomesOption = Annotated[
    Path | None,
    typer.Option("--outcomes", help="The journal of outcomes; else the one beside the visit's shelf."),
]


def trial(
    file: Annotated[Path, typer.Argument(help="A visit as a TOML file, with [[trial]] entries; see the manual.")],
    outcomes: OutcomesOption = None,
) -> None:
    """Make the plan anew from a test strand, before the head is done."""
    from estimator import feedback_console
    from estimator.feedback_file import journal_of, run_trial

    feedback_console.print_trial(run_trial(file, journal_of(file, outcomes).load()))


def rescue(
    file: Annotated[Path, typer.Argument(help="A visit as a TOML file, with its photograph after.")],
    outcomes: OutcomesOption = None,
) -> None:
    """Say what happened where a result missed its target, and what to do, in order."""
    from estimator import feedback_console
    from estimator.feedback_file import journal_of, run_rescue

    feedback_console.print_rescue(*run_rescue(file, journal_of(file, outcomes).load()))


def learn(
    file: Annotated[
        Path | None, typer.Argument(help="A visit as a TOML file, with its photograph after and [done.ZONE] entries.")
    ] = None,
    outcomes: OutcomesOption = None,
    show: Annotated[bool, typer.Option("--show", help="Only show what was learned so far.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Take back the visit learned last.")] = False,
    take_back: Annotated[list[str] | None, typer.Option(help="Take back the outcome of this key.")] = None,
    confirmed: Annotated[
        bool, typer.Option("--confirmed", help="Bowl and minutes are right although the result is far off.")
    ] = False,
) -> None:
    """Learn the strength of shades and a client's uptake from a result; show it, or take it back."""
    from estimator import feedback_console
    from estimator.feedback_file import journal_of, run_lesson

    store = journal_of(file, outcomes)
    if show or undo or take_back:
        if take_back:
            store.change(lambda journal: journal.without(take_back))
        if undo:
            store.change(lambda journal: journal.without(outcome.key for outcome in journal.last_visit))
        feedback_console.print_journal(store.load(), store.path)
        return
    if file is None:
        raise typer.BadParameter("Name a visit file to learn from, or use --show or --undo.")
    lesson = run_lesson(file, store.load())
    teaching = lesson.outcomes if confirmed else lesson.unsurprising
    if teaching:
        store.change(lambda journal: journal.with_outcomes(teaching))
    feedback_console.print_lesson(lesson, tuple(outcome.zone for outcome in teaching), store.path)
    if not teaching:
        raise typer.Exit(1)
