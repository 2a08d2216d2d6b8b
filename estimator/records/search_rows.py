"""The rows that visits and clients are found by, made anew from the rest."""

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.search_keys import visit_tags, words_of


def index_client(session: Session, client_id: str) -> None:
    """The client and all of the client's visits are found as they stand now."""
    client = session.get_one(model.Client, client_id)
    session.execute(delete(model.ClientWord).where(model.ClientWord.client_id == client_id))
    words = [{"word": word, "client_id": client_id} for word in sorted(words_of(client.name, client.code))]
    session.execute(insert(model.ClientWord), words)
    for visit in session.scalars(select(model.Visit).where(model.Visit.client_id == client_id)):
        index_visit(session, visit)


def index_visit(session: Session, visit: model.Visit) -> None:
    """The visit is found by its readings, the tones wanted and its findings as they stand now."""
    readings = session.execute(
        select(model.Reading.level, model.Reading.stage).where(model.Reading.visit_id == visit.id)
    )
    targets = session.scalars(select(model.Zone.target).where(model.Zone.visit_id == visit.id))
    codes = session.scalars(select(model.FindingRow.code).where(model.FindingRow.visit_id == visit.id))
    tones = [target.get("tone", "") for target in targets]
    marks = visit_tags([(row.level, row.stage) for row in readings], tones, codes)
    session.execute(delete(model.VisitTag).where(model.VisitTag.visit_id == visit.id))
    if marks:
        rows = [{"tag": mark, "day": visit.day, "visit_id": visit.id} for mark in sorted(marks)]
        session.execute(insert(model.VisitTag), rows)
