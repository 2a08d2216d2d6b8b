"""A salon with invented clients, and the Clients area without a browser."""

import io
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import PIL.Image
from streamlit.testing.v1 import AppTest

from estimator.records.place import salon_place
from estimator.records.store import Store, open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import photo, visit

HOSTILE = "![A](http://example.org/a.png)<img src=http://example.org/b.png> [x](javascript:alert(1)) :red[y] {{7*7}}"


def today() -> date:
    """This very day; asked when it is needed, since a long run of tests may pass midnight."""
    return date.today()


AREA = "from estimator.pages import clients\nclients.show()"
SCREENS = """
from estimator.pages import care, clients, photograph
from estimator.pages.frame import Step, run
run("Title", (Step("Clients", "clients", clients.show), Step("Photograph", "photograph", photograph.show),
    Step("Care", "care", care.show)), ())
"""


def opened(folder: Path, who: str = "") -> Store:
    return open_store(salon_place(folder), who)


def small(level: int) -> bytes:
    """A plain picture that a browser can draw."""
    packed = io.BytesIO()
    PIL.Image.new("RGB", (320, 240), (level, level - 10, level - 20)).save(packed, "JPEG")
    return packed.getvalue()


def keep(folder: Path, code: str = "M. D.", days_ago: int = 0, **changes: Any) -> str:
    """Keep an invented visit of so many days ago; its id."""
    photos = tuple(
        replace(photo(f"{code} {days_ago} {side}", side), thumbnail=small(level))
        for side, level in (("before", 80), ("after", 160))
    )
    with opened(folder) as store:
        day = today() - timedelta(days=days_ago)
        return keep_visit(store, visit(code, **({"day": day, "photos": photos} | changes))).id


def area(client: str = "", script: str = AREA) -> AppTest:
    """The Clients area; with one client open where a code is given."""
    page = AppTest.from_string(script, default_timeout=30)
    if client:
        page.session_state["client_open"] = client
    return page.run()


def part(page: AppTest, name: str) -> AppTest:
    """Another part of the client's screen."""
    return page.button_group(key="client_part").set_value(name).run()


def words(page: AppTest) -> str:
    """Everything that is written on the screen, keys included."""
    assert not page.exception
    told = (*page.title, *page.subheader, *page.header, *page.markdown, *page.caption, *page.text)
    return " ".join([*(element.value for element in told), *(button.label for button in page.button)])


def keys(page: AppTest) -> set[str]:
    return {button.key for button in page.button}
