"""The client's page behind the door to the salon's network: it is reached without a phone, and nothing else is."""

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from estimator.access.database import AccessDatabase
from estimator.access.sessions import Sessions
from estimator.intake.routes import intake_routes
from estimator.serving.door import Door
from estimator.serving.headers import SafeHeaders
from tests.estimator.intake.browserless import Browserless

SECRET = "everything of the salon"


@pytest.fixture
def behind(inbox, place):
    """A client's browser before the door; behind it the intake page, and a page that answers to every address."""

    async def secret(request):
        return PlainTextResponse(SECRET)

    ways = ["GET", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"]
    app = Starlette(routes=[*intake_routes(inbox), Route("/{path:path}", secret, methods=ways)])
    database = AccessDatabase(place.folder)
    door = Door(app, database, Sessions(database), open_to_all=("/pair/", "/intake/"))
    return Browserless(SafeHeaders(door))


def test_a_client_without_a_phone_sends_through_the_door(behind, inbox, photos):
    made = inbox.invite()
    behind.agree(made.code)
    assert behind.photo(made.code, photos[0]).status == 303
    assert behind.post(f"/intake/{made.code}/send", {}).went_to == "/intake/sent"
    assert len(inbox.sent()) == 1


def test_the_page_keeps_its_own_stricter_policy_behind_the_door(behind, inbox):
    headers = behind.get(f"/intake/{inbox.invite().code}").headers
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
@pytest.mark.parametrize(
    "path",
    ["/", "/clients", "/intake", "/intake/../clients", "/intake//", "/intake/a/b/../../..", "/intake/%2e%2e/clients"],
)
def test_nothing_else_is_reached_by_any_path_or_method(behind, method, path):
    answer = behind.ask(method, path)
    assert answer.status in (403, 404)
    assert SECRET not in answer.text
