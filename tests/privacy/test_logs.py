"""No log tells of a person: with every logger at its most talkative, no name, code, note or file name stands in it."""

import logging
import re
import warnings
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
SECRETS = ("Zq7code", "Wilma Zq7name", "zq7mail@example.org", "Zq7note", "Zq7photo", "Zq7salon", "Zq7zone", "Zq7told")


@pytest.fixture
def talkative(caplog):
    """Every logger tells everything."""
    caplog.set_level(logging.DEBUG)
    loggers = [logging.getLogger(name) for name in list(logging.root.manager.loggerDict)]
    loggers += [logging.getLogger(name) for name in ("sqlalchemy.engine", "sqlalchemy.pool", "alembic", "PIL")]
    before = [(logger, logger.level, logger.disabled) for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.DEBUG)
        logger.disabled = False
    yield caplog
    for logger, level, disabled in before:
        logger.setLevel(level)
        logger.disabled = disabled


def _visit(folder: Path) -> Path:
    """A visit whose every word is a secret, and whose photographs bear one as their name."""
    for side in ("before", "after"):
        (folder / f"Zq7photo_{side}.jpg").write_bytes((SAMPLES / f"strands_{side}.jpg").read_bytes())
    for ending in ("png", "json"):
        (folder / f"strands_zones.{ending}").write_bytes((SAMPLES / f"strands_zones.{ending}").read_bytes())
    text = (SAMPLES / "visit.toml").read_text("utf-8").replace("demo = true", "demo = false")
    text = text.replace("strands_before", "Zq7photo_before").replace("strands_after", "Zq7photo_after")
    text = text.replace('"Marigold"', '"Zq7code"').replace('"Saltmarsh Lane"', '"Zq7salon"')
    who = 'client_name = "Wilma Zq7name"\ncontact = "zq7mail@example.org"\n'
    text = text.replace("max_bowls = 2", who + "max_bowls = 2")
    (folder / "visit.toml").write_text(text, "utf-8")
    return folder / "visit.toml"


def _told(caplog, found: list[warnings.WarningMessage]) -> str:
    return "\n".join([*(record.getMessage() for record in caplog.records), *(str(each.message) for each in found)])


@pytest.mark.slow
def test_no_command_logs_a_person(talkative, tmp_path, command):
    folder = tmp_path / "in"
    folder.mkdir()
    file, out = _visit(folder), tmp_path / "out"
    photo = folder / "Zq7photo_before.jpg"
    commands = (
        ("visit", file, "--out", out, "--keep", tmp_path / "salon"),
        ("records", "note", "Zq7code", "Zq7note"),
        ("records", "quote", "Zq7code", "--visits", 1, "--hours", 2, "--price-low", 1, "--price-high", 2, "--currency",
         "EUR", "--text", "Zq7told"),
        ("records", "find", "zq7"), ("records", "show", "Zq7code"), ("records", "trend", "Zq7code"),
        ("sheet", "letter", file, "--out", out / "letter.pdf", "--salon", tmp_path / "salon"),
        ("remote", "read", folder, "--client", "Zq7code", "--out", out / "reply.txt"),
        ("read", photo, "--zones", folder / "strands_zones.png", "--out", out / "rows.csv"),
        ("read", folder / "Zq7photo_missing.jpg"),
        ("records", "import", photo),
        ("export", "Zq7code", out / "client.zip"), ("backup", out / "backup.zip"),
        ("records", "show", "Zq7code nobody"), ("erase", "Zq7code", "--yes"),
    )  # fmt: skip
    with warnings.catch_warnings(record=True) as found:
        warnings.simplefilter("always")
        for words in commands:
            command(*words)
    told = _told(talkative, found)
    assert len(talkative.records) > 50  # the loggers do tell
    assert [secret for secret in SECRETS if secret.lower() in told.lower()] == []


def test_a_fault_in_the_database_tells_no_person(store):
    from sqlalchemy import text
    from sqlalchemy.exc import SQLAlchemyError

    with pytest.raises(SQLAlchemyError) as fault, store.engine.connect() as connection:
        connection.execute(text("INSERT INTO nowhere (name) VALUES (:name)"), {"name": "Wilma Zq7name"})
    assert "Zq7name" not in str(fault.value)
    assert re.search("nowhere", str(fault.value))
