"""What the commands on records print. Names are text, never markup; every figure goes through reports.wording."""

from collections.abc import Collection, Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from estimator.records.checking import Checked, remedies
from estimator.records.consent_scopes import Scope
from estimator.records.drafts import ListedDraft
from estimator.records.remembering import ClientMemory
from estimator.records.searching import FoundClient, FoundVisit
from estimator.records.showing import ClientPage, VisitPage
from estimator.reports import wording
from estimator.reports.quote_wording import quote_text
from estimator.reports.trend import Trend

_console = Console(highlight=False, soft_wrap=False)
_SHORT = 10  # letters of a visit's name that are enough to tell it from any other


def _say(text: str, style: str = "") -> None:
    _console.print(Text(shown(text), style=style))


def shown(text: str) -> str:
    """The text on one line, with letters that would steer a terminal made visible."""
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def _print_table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    for row in rows:
        table.add_row(*(Text(shown(cell)) for cell in row))
    _console.print(table)


def print_visits(found: Sequence[FoundVisit]) -> None:
    """One line a visit."""
    if not found:
        _say("No visit answers to that.")
        return
    rows = [
        (each.id[:_SHORT], wording.date_text(each.day), each.code, each.name, each.care_verdict, _demo(each.demo))
        for each in found
    ]
    _print_table(("visit", "day", "client", "name", "care", ""), rows)


def _demo(demo: bool) -> str:
    return "DEMO" if demo else ""


def print_clients(found: Sequence[FoundClient], agreed: Collection[str]) -> None:
    """One line a client. agreed : Codes of those whose consent to the record stands; of the others no name is told."""
    if not found:
        _say("No client answers to that.")
        return
    rows = [(each.code, each.name if each.code in agreed else "consent taken back") for each in found]
    _print_table(("client", "name"), rows)


def print_client(page: ClientPage, memory: ClientMemory) -> None:
    """A client's consents; where the one to the record stands, also name, visits, notes and quotes."""
    details, shows = page.details, Scope.RECORD in memory.agreed
    _say(" ".join(filter(None, (details.code, details.name if shows else "", _demo(details.demo)))), "bold")
    if details.contact and shows:
        _say(f"Contact: {details.contact}")
    consents = [
        (each.scope, wording.date_text(each.given_on), each.how,
         wording.date_text(each.withdrawn_on) if each.withdrawn_on else "")
        for each in page.consents
    ]  # fmt: skip
    _print_table(("agreed to", "on", "how", "taken back"), consents)
    if not shows:
        _say("Without the consent to the record nothing else is shown.")
        return
    visits = [
        (each.id[:_SHORT], wording.date_text(each.day), str(each.photos), each.care_verdict) for each in page.visits
    ]
    _print_table(("visit", "day", "photos", "care"), visits)
    for note in page.notes:
        _say(f"Note: {note}")
    for quote in memory.quotes:
        _say(f"Quote, {wording.date_text(quote.seen_on)}: {quote_text(quote)}")


def print_visit(page: VisitPage) -> None:
    """A visit's readings, findings, plan and what was mixed."""
    _say(f"{page.code}, {wording.date_text(page.day)}, {page.salon} {_demo(page.demo)}".rstrip(), "bold")
    readings = [
        (each.side, wording.zone_text(each.zone), wording.level_text(each.level), wording.stage_text(each.warmth),
         "" if each.verified else "unverified")
        for each in page.readings
    ]  # fmt: skip
    _print_table(("side", "zone", "level", "warmth left", ""), readings)
    if page.care_verdict:
        _say(f"Care: {page.care_verdict}", "bold")
    for weight, message in page.findings:
        _say(f"  {weight}: {message}")
    for bowl in (page.plan or {}).get("bowls", []):
        parts = [(str(name), int(count)) for name, count in bowl["parts"]]
        _say(f"Planned, bowl {bowl['number']}: {wording.parts_text(parts)}")
    for mixed in page.mixed:
        grams = ", ".join(f"{name} {wording.grams_text(grams)}" for name, grams in mixed.shade_grams)
        _say(f"Mixed, bowl {mixed.bowl_number}: {grams}; developer {wording.grams_text(mixed.developer_grams)}")
    for side, sha256 in page.photos:
        _say(f"Photograph {side}: {wording.hash_text(sha256) if sha256 else 'not kept (RAW)'}")
    _say(f"Intervals hold nine times in ten. Read by version {page.program_version}.")


def print_trend(trend: Trend) -> None:
    """Each zone's readings by day, and what changed from one visit to the next."""
    if trend.demo:
        _say(trend.demo, "bold")
    for zone in trend.zones:
        _say(zone.zone, "bold")
        _print_table(("day", "level", "warmth left"), zone.rows)
        for sentence in zone.between:
            _say(sentence)
    for note in trend.notes[1:]:
        _say(note)


def print_drafts(found: Sequence[ListedDraft]) -> None:
    """One line a draft."""
    if not found:
        _say("No visit is unfinished.")
        return
    rows = [(each.id, each.client, f"{each.changed_utc:%Y-%m-%d %H:%M} UTC") for each in found]
    _print_table(("draft", "client", "last changed"), rows)


def print_checks(checks: Sequence[Checked]) -> None:
    """Every check, then what to do."""
    _print_table(("looked at", "found", ""), [(each.what, each.told, "" if each.well else "look") for each in checks])
    for remedy in remedies(list(checks)):
        _say(remedy)
    if all(each.well for each in checks):
        _say("All is well.")
