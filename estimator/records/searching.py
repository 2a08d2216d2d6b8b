"""Finding clients and visits: each question is one range of an index, and pages go on from the last line seen."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, select, tuple_
from sqlalchemy.orm import Session, aliased

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.search_keys import after_prefix, finding_tag, folded, level_tag, stage_tag, tone_tag
from estimator.records.store import Store

PAGE = 50
MANY = 4000  # rows after which a word or a mark counts as common
MOST_NAMED = 200  # clients that a name may mean when it is asked for together with something else


@dataclass(frozen=True)
class FoundClient:
    """One client in a list."""

    id: str
    code: str
    name: str


@dataclass(frozen=True)
class FoundVisit:
    """One visit in a list; `place` is where the next page goes on."""

    id: str
    day: date
    code: str
    name: str
    care_verdict: str
    demo: bool

    @property
    def place(self) -> tuple[date, str]:
        return self.day, self.id


@dataclass(frozen=True)
class Asked:
    """What a visit is looked for by; what is None does not count.

    text : The beginnings of words in the client's name or code. level : A whole level that a zone read.
    stage : Of remaining warmth. tone : That was wanted. finding : Its code.
    """

    text: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    level: int | None = None
    stage: str | None = None
    tone: str | None = None
    finding: str | None = None

    @property
    def marks(self) -> tuple[str, ...]:
        """The marks that the visit must bear."""
        marks = [finding_tag(self.finding)] if self.finding else []
        if self.level is not None and self.stage:
            marks.append(f"{level_tag(self.level)} {stage_tag(self.stage)}")
        elif self.level is not None:
            marks.append(level_tag(self.level))
        elif self.stage:
            marks.append(stage_tag(self.stage))
        return (*marks, tone_tag(self.tone)) if self.tone else tuple(marks)


def find_clients(store: Store, text: str, most: int = PAGE) -> list[FoundClient]:
    """Clients whose name or code has words that begin like every word of `text`, in the order of that word."""
    with store.looking() as session:
        rows = session.execute(_clients(session, text).limit(most)).all()
        found = {row.id: FoundClient(row.id, row.code, row.name) for row in rows}
        return list(found.values())


def _clients(session: Session, text: str) -> Select[str, str, str]:
    """Clients by the beginnings of words; the rarest of them leads."""
    words = folded(text).split()
    if not words:
        raise BadInputError("Nothing was asked for. Type the beginning of a name or a code.")
    lead = model.ClientWord
    words = _rarest_first(session, words, lambda word: select(lead.word).where(_begins(lead, word)))
    wanted = select(model.Client.id, model.Client.code, model.Client.name).join(lead, lead.client_id == model.Client.id)
    wanted = wanted.where(_begins(lead, words[0]), ~model.Client.removed)
    for word in words[1:]:
        other = aliased(model.ClientWord)
        same = select(other.word).where(other.client_id == lead.client_id, _begins(other, word))
        wanted = wanted.where(_asked_of_each_row(same))
    return wanted.order_by(lead.word, lead.client_id)


def _rarest_first(session: Session, asked: Sequence[str], rows_of: Callable[[str], Select[str]]) -> list[str]:
    """What was asked for, that with the fewest rows first. Rows beyond `MANY` are not counted: it takes no longer."""
    if len(asked) < 2:
        return list(asked)
    counts = {
        each: session.scalar(select(func.count()).select_from(rows_of(each).limit(MANY).subquery())) for each in asked
    }
    return sorted(asked, key=lambda each: counts[each] or 0)


def _begins(words: Any, prefix: str) -> ColumnElement[bool]:
    return and_(words.word >= prefix, words.word < after_prefix(prefix))


def latest_visits(store: Store, after: tuple[date, str] | None = None, most: int = PAGE) -> list[FoundVisit]:
    """Visits, the newest first. after : `place` of the last one seen."""
    return find_visits(store, Asked(), after, most)


def find_visits(
    store: Store, asked: Asked, after: tuple[date, str] | None = None, most: int = PAGE
) -> list[FoundVisit]:
    """Visits that answer to everything asked, the newest first.

    Raises
    ------
    BadInputError : A name that more than 200 clients answer to was asked for.
    """
    with store.looking() as session:
        named = _named(session, asked.text) if asked.text else None
        if named == []:
            return []
        tag = model.VisitTag
        marks = _rarest_first(session, asked.marks, lambda mark: select(tag.tag).where(tag.tag == mark))
        rows = session.execute(_visits(asked, (named, marks), after).limit(most)).all()
        return [FoundVisit(row.id, row.day, row.code, row.name, row.care_verdict, row.demo) for row in rows]


def _named(session: Session, text: str) -> list[str]:
    ids = list(dict.fromkeys(row.id for row in session.execute(_clients(session, text).limit(MOST_NAMED + 1))))
    if len(ids) > MOST_NAMED:
        raise BadInputError(f"More than {MOST_NAMED} clients begin with {text[:40]!r}. Type more letters.")
    return ids


def _visits(
    asked: Asked, found: tuple[Sequence[str] | None, Sequence[str]], after: tuple[date, str] | None
) -> Select[str, date, str, str, str, bool]:
    """Visits of the clients found by name, or that bear the marks, the rarest leading."""
    named, marks = found
    visit, client = model.Visit, model.Client
    wanted = select(visit.id, visit.day, client.code, client.name, visit.care_verdict, visit.demo)
    wanted = wanted.join(client, client.id == visit.client_id).where(~visit.removed, ~client.removed)
    day, name = visit.day, visit.id
    if named is not None:
        wanted = wanted.where(visit.client_id.in_(named))
        for mark in marks:
            wanted = wanted.where(_bears(mark, day, name))
    elif marks:
        lead = model.VisitTag
        day, name = lead.day, lead.visit_id  # the order of the index of marks
        wanted = wanted.join(lead, lead.visit_id == visit.id).where(lead.tag == marks[0])
        for mark in marks[1:]:  # asked of the mark before the visit's own row is looked up
            wanted = wanted.where(_bears(mark, day, name))
    if asked.first_day:
        wanted = wanted.where(day >= asked.first_day)
    if asked.last_day:
        wanted = wanted.where(day <= asked.last_day)
    if after:
        wanted = wanted.where(tuple_(day, name) < after)
    return wanted.order_by(day.desc(), name.desc())


def _bears(mark: str, day: Any, name: Any) -> ColumnElement[bool]:
    other = aliased(model.VisitTag)
    return _asked_of_each_row(select(other.tag).where(other.tag == mark, other.day == day, other.visit_id == name))


def _asked_of_each_row(rows: Select[str]) -> ColumnElement[bool]:
    """Whether there is such a row, looked up for each line in the order of the leading index, until the page is full.

    Without the offset a server takes day and visit for unrelated, expects few rows, and joins and sorts all of them.
    """
    return rows.offset(0).exists()
