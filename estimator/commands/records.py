"""Commands on a salon's records: look, find, change consent, hand out, back up, erase, look over."""

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands import backups, records_sealed
from estimator.commands.options import SalonOption as SalonOption
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from estimator.records.searching import FoundVisit
    from estimator.records.store import Store

records = typer.Typer(no_args_is_help=True, help="Look into a salon's records.")
for command in (records_sealed.encrypt, records_sealed.decrypt, records_sealed.passphrase):
    records.command()(command)
records.command("backups")(backups.list_backups)

WhoOption = Annotated[str, typer.Option("--who", help="Who does it, for the history.")]
ClientArgument = Annotated[str, typer.Argument(help="The client's code.")]
OutFile = Annotated[Path, typer.Argument(help="The new file.")]


def opened(salon: Path | None, who: str = "") -> "Store":
    """The records of a salon that has some; none are begun by looking."""
    from estimator.records.place import salon_place, usual_folder
    from estimator.records.store import open_store

    place = salon_place(salon or usual_folder())
    if not (place.begun or place.bereft):
        raise BadInputError(
            f"There are no records in {place.folder}. `tressmeter visit FILE --keep FOLDER` begins them; "
            "--salon FOLDER or TRESSMETER_SALON says where they lie."
        )
    return open_store(place, who)


@records.command("list")
def list_visits(salon: SalonOption = None) -> None:
    """The latest visits, the newest first."""
    from estimator.records.searching import latest_visits

    with opened(salon) as store:
        _print_visits(store, latest_visits(store))


@records.command()
def find(  # noqa: PLR0913 - each is one option of the command
    text: Annotated[str, typer.Argument(help="The beginning of words in a name or code; may be left out.")] = "",
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-10-01.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day.")] = None,
    level: Annotated[int | None, typer.Option("--level", min=1, max=10, help="A level that a zone read.")] = None,
    stage: Annotated[str | None, typer.Option("--stage", help="Stage of warmth that is left, such as gold.")] = None,
    tone: Annotated[str | None, typer.Option("--tone", help="A tone that was wanted.")] = None,
    finding: Annotated[str | None, typer.Option("--finding", help="Code of a finding.")] = None,
    salon: SalonOption = None,
) -> None:
    """Find clients by name or code, visits by what was read, wanted or found."""
    from estimator.commands import records_shown
    from estimator.records.remembering import with_consent
    from estimator.records.searching import Asked, find_clients, find_visits

    asked = Asked(text or None, _day(first), _day(last), level, _stage(stage), tone, finding)
    with opened(salon) as store:
        if asked == Asked(text=text):
            found = find_clients(store, text)
            records_shown.print_clients(found, with_consent(store, tuple(each.code for each in found)))
        else:
            _print_visits(store, find_visits(store, asked))


@records.command()
def show(
    name: Annotated[str, typer.Argument(help="A client's code, or the name of a visit.")], salon: SalonOption = None
) -> None:
    """Everything kept of one client or one visit."""
    from estimator.commands import records_shown
    from estimator.records.errors import NotKeptError
    from estimator.records.remembering import client_memory, with_consent
    from estimator.records.showing import client_page, visit_page

    with opened(salon) as store:
        try:
            records_shown.print_client(client_page(store, name), client_memory(store, name))
        except NotKeptError:
            page = visit_page(store, name)
            if page.code not in with_consent(store, (page.code,)):
                raise BadInputError(
                    f"{page.code} has taken back the consent to the record, so the visit is not shown. "
                    f'`tressmeter erase "{page.code}"` takes it out.'
                ) from None
            records_shown.print_visit(page)


@records.command()
def trend(
    client: ClientArgument,
    out: Annotated[
        Path | None, typer.Option("--out", help="A new file: .html, .pdf, .png or .csv. Without it a table is printed.")
    ] = None,
    salon: SalonOption = None,
) -> None:
    """How a client's hair went on over the visits: level and warmth of each zone by day."""
    from estimator.commands import records_shown
    from estimator.records.earlier import earlier_visits
    from estimator.reports.trend import trend_of

    with opened(salon) as store:
        visits = earlier_visits(store, client)
    if not visits:
        raise BadInputError(f"No visit of {client[:60]!r} is kept, so there is no trend yet.")
    if out is None:
        records_shown.print_trend(trend_of(client, visits))
        return
    from estimator.reports import trend as forms
    from estimator.reports.writing import write_form

    made = trend_of(client, visits)
    others = {
        ".html": lambda: forms.trend_html(made).encode("utf-8"),
        ".csv": lambda: forms.trend_csv(visits).encode("utf-8"),
    }
    for path in write_form(out, forms.trend_form(made, visits[-1].day), others):
        print(f"Trend: {path}")


@records.command()
def consent(  # noqa: PLR0913 - each is one option of the command
    client: ClientArgument,
    scope: Annotated[str, typer.Option("--scope", help="What for, such as record or 'health answers'.")],
    how: Annotated[str, typer.Option("--how", help="How the client said so: signed, spoken, by a tap.")] = "spoken",
    day: Annotated[str | None, typer.Option("--on", help="The day; today without it.")] = None,
    text: Annotated[str, typer.Option("--text", help="The text that was shown; the usual one without it.")] = "",
    withdrawn: Annotated[bool, typer.Option("--withdrawn", help="The client takes it back.")] = False,
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:  # fmt: skip
    """Keep what a client agrees to, or that it is taken back."""
    from estimator.records.clients import give_consent
    from estimator.records.consent_scopes import Scope
    from estimator.records.visit_record import ConsentRecord
    from estimator.records.withdrawing import check_day_taken_back, withdraw

    if scope not in tuple(Scope):
        raise BadInputError(f"There is no consent to {scope[:40]!r}. Write one of: {', '.join(Scope)}.")
    on = _day(day) or date.today()
    if on > date.today() + timedelta(days=1):  # a day of grace: where the client stands it may be tomorrow already
        raise BadInputError("That day is still to come. Write the day on which the client said so.")
    with opened(salon, who) as store:
        if withdrawn:
            if day is not None:  # today's needs no look: a clock that runs behind must not keep a consent standing
                check_day_taken_back(store, client, Scope(scope), on)
            done = withdraw(store, client, Scope(scope), on, how)
            print(f"Taken back: {scope}." if done.consents else f"There was no consent to {scope} to take back.")
            if done.sent_in and scope == Scope.REMOTE:
                print(f"What was sent for it is gone: {done.sent_in} in the inbox.")
            if scope == Scope.HEALTH:
                print(f"{done.health_rows} rows on health were erased with it, and the reports that told them.")
            if scope == Scope.RECORD:
                print(f'Nothing more is kept. What is there stays until you run: tressmeter erase "{client}" --yes')
        else:
            give_consent(store, client, ConsentRecord(Scope(scope), on, how, text))
            print(f"Kept: {client} agrees, {scope}.")


@records.command()
def mixed(  # noqa: PLR0913 - each is one option of the command
    visit: Annotated[str, typer.Argument(help="The visit's name, as `records list` prints it.")],
    grams: Annotated[str, typer.Option("--grams", help="What was weighed, such as 'violet=20.5,clear=10'.")],
    developer_grams: Annotated[float, typer.Option("--developer-grams", min=0, max=2000)],
    volume: Annotated[float, typer.Option("--volume", min=0, max=40, help="Strength of the developer.")],
    bowl: Annotated[int, typer.Option("--bowl", min=1, max=12, help="Which bowl of the plan.")] = 1,
    zones: Annotated[str, typer.Option("--zones", help="Where it went, such as 'crown,nape'.")] = "",
    minutes: Annotated[float | None, typer.Option("--minutes", min=0, max=240, help="On the head.")] = None,
    note: Annotated[str, typer.Option("--note")] = "",
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Keep what was really mixed and applied, beside what was planned."""
    from estimator.records.adding import add_mixed
    from estimator.records.visit_record import MixedRecord
    from estimator.records.weighed import weighed_from

    names = tuple(name.strip() for name in zones.split(",") if name.strip())
    told = MixedRecord(bowl, names, weighed_from(grams), developer_grams, volume, minutes, note)
    with opened(salon, who) as store:
        add_mixed(store, visit, told)
    print(f"Kept: what was mixed for bowl {bowl}.")


@records.command()
def note(
    client: ClientArgument,
    text: Annotated[str, typer.Argument(help="What to remember.")],
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Keep a note on a client."""
    from estimator.records.adding import add_note

    with opened(salon, who) as store:
        add_note(store, client, date.today(), text)
    print("Kept.")


@records.command()
def quote(  # noqa: PLR0913 - each is one option of the command
    client: ClientArgument,
    visits: Annotated[int, typer.Option("--visits", help="How many visits it takes.")],
    hours: Annotated[float, typer.Option("--hours", help="Hours of all visits together.")],
    price_low: Annotated[float, typer.Option("--price-low", help="What it costs at least.")],
    price_high: Annotated[float, typer.Option("--price-high", help="What it costs at most.")],
    currency: Annotated[str, typer.Option("--currency", help="Such as EUR.")],
    text: Annotated[str, typer.Option("--text", help="What else was told.")] = "",
    day: Annotated[str | None, typer.Option("--on", help="The day; today without it.")] = None,
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:  # fmt: skip
    """Keep what a client was told that it takes: visits, hours, price."""
    from estimator.records.quotes import keep_quote
    from estimator.records.visit_record import QuoteRecord
    from estimator.reports.quote_wording import quote_text

    told = QuoteRecord(
        _day(day) or date.today(), (visits, visits), (hours, hours), (price_low, price_high), currency, text
    )
    with opened(salon, who) as store:
        keep_quote(store, client, told)
    print(f"Kept: {quote_text(told)}.")


@records.command()
def undo(salon: SalonOption = None, who: WhoOption = "") -> None:
    """Undo the last change; undoing again undoes the one before."""
    with opened(salon, who) as store:
        print(f"Undone: {store.undo()}.")


@records.command()
def drafts(
    erase: Annotated[str | None, typer.Option("--erase", help="Take this one out.")] = None, salon: SalonOption = None
) -> None:
    """Visits that the page has not finished yet."""
    from estimator.commands import records_shown
    from estimator.records.drafts import Drafts
    from estimator.records.place import salon_place, usual_folder

    kept = Drafts(salon_place(salon or usual_folder()))
    if erase is not None:
        print("Taken out." if kept.erase(erase) else "There is no such draft.")
        return
    records_shown.print_drafts(kept.listed())


@records.command("import")
def import_file(
    file: Annotated[Path, typer.Argument(help="A file that `tressmeter export` wrote.")],
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Take in one client from an export."""
    from estimator.records.exporting import import_client, try_import
    from estimator.records.place import salon_place, usual_folder
    from estimator.records.store import open_store

    place = salon_place(salon or usual_folder())
    if not place.begun:
        try_import(file)  # so that a file that is refused begins no records
    with open_store(place, who) as store:
        print(f"Taken in: {import_client(store, file)}.")


def export(client: ClientArgument, file: OutFile, salon: SalonOption = None) -> None:
    """Everything kept of one client, as one zip file: JSON, tables, photographs with side-cars, reports."""
    from estimator.access.trail import Happened, note_at
    from estimator.exchange.beside import beside_client
    from estimator.records.exporting import export_client

    with opened(salon) as store:
        done = export_client(store, client, file, beside_client)
        note_at(store.place.folder, Happened.EXPORTED)
    print(f"{done.rows} rows and {done.files} files written to {file}")


def erase(
    client: ClientArgument,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without it only what would go is said.")] = False,
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Take one client out for good: rows, versions, photographs, reports, drafts, free pages."""
    from estimator.access.trail import Happened, note_at
    from estimator.records.erasing import erase_client
    from estimator.records.showing import client_page

    with opened(salon, who) as store:
        page = client_page(store, client)
        if not yes:
            photos = sum(visit.photos for visit in page.visits)
            print(f"{page.details.code}: {len(page.visits)} visits and {photos} photographs would go for good.")
            print(f'Do it with: tressmeter erase "{page.details.code}" --yes')
            raise typer.Exit(1)
        receipt = erase_client(store, client)
        note_at(store.place.folder, Happened.ERASED)
    print(f"Erased: {receipt.rows} rows, {receipt.files} files, {receipt.drafts} drafts, {receipt.outcomes} learned "
          f"outcomes. Receipt {receipt.id}, {receipt.at_utc:%Y-%m-%d %H:%M} UTC; it names nobody.")  # fmt: skip
    print("Backups made before, and copies that were handed out, still hold this client. Erase there as well.")


def doctor(
    repair: Annotated[
        bool, typer.Option("--repair", help="Take out files that no visit names, and shut other users out.")
    ] = False,
    from_backup: Annotated[Path | None, typer.Option("--from", help="Take missing files from this backup.")] = None,
    salon: SalonOption = None,
) -> None:
    """Look over the records, and say what to do about what is found."""
    from estimator.commands import records_shown
    from estimator.records import checking

    with opened(salon) as store:
        if from_backup is not None:
            print(f"{checking.take_from_backup(store, from_backup)} files taken from the backup")
        if repair:
            print(f"{checking.repair(store)} files taken out")
        checks = checking.check_all(store)
    records_shown.print_checks(checks)
    if not checking.everything_well(checks):
        raise typer.Exit(1)


def _print_visits(store: "Store", found: "Sequence[FoundVisit]") -> None:
    """Those of clients whose consent to the record stands; of the others how many there are."""
    from estimator.commands import records_shown
    from estimator.records.remembering import with_consent

    agreed = with_consent(store, tuple(each.code for each in found))
    shown = [each for each in found if each.code in agreed]
    if shown or not found:
        records_shown.print_visits(shown)
    if len(shown) < len(found):
        print(f"Not shown: {len(found) - len(shown)} visits of clients who took back the consent to the record.")


def _stage(name: str | None) -> str | None:
    """The stage as it is looked for. Raises BadInputError where there is none of this name."""
    from estimator.records.search_keys import folded
    from estimator.scale.warmth import default_stages

    stages = default_stages()
    words = tuple(dict.fromkeys((stages.neutral, *(stage.word for stage in stages.stages))))
    if name is not None and folded(name) not in words:
        raise BadInputError(f"There is no stage {name[:40]!r}. Write one of: {', '.join(words)}.")
    return name


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as problem:
        raise BadInputError(f"{text!r} is no day. Write it as 2026-10-05.") from problem
