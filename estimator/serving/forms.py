"""The few plain pages before the page itself: pair this phone, unlock it, lock it. They work without any script."""

import secrets
from asyncio import timeout
from functools import cache, partial
from pathlib import Path
from urllib.parse import parse_qs

from anyio.to_thread import run_sync
from jinja2 import Environment, FileSystemLoader
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from estimator.access.database import AccessDatabase
from estimator.access.errors import RefusedError
from estimator.access.people import people
from estimator.access.phones import PAIRING_MINUTES, pair, pairs, phone_of
from estimator.access.sessions import ABSOLUTE_SECONDS, IDLE_SECONDS, Sessions
from estimator.errors import BadInputError
from estimator.serving.door import PHONE_COOKIE, SESSION_COOKIE, cookie, from_here

MOST_FORM_BYTES = 4096
MOST_FORM_SECONDS = 30.0
_EVERY_WAY = ("GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT")
PHONE_COOKIE_DAYS = 400  # the longest that browsers keep one (RFC 6265bis, 5.5)
_VOID = (
    "This code opens nothing. It was used already, or its minutes are over: have the salon's machine show a new one."
)


def door_routes(database: AccessDatabase, sessions: Sessions, authority: bytes) -> list[Route]:
    """The routes of pairing and unlocking. authority : The salon's certificate for phones, PEM; b"" for none."""
    return [
        Route("/pair/authority.crt", partial(_authority, authority)),
        Route("/pair/{code}", partial(_pairing, database), methods=["GET", "POST"]),
        # The door lets everything below /pair/ pass, so all of it is answered here, however it is asked.
        Route("/pair/{rest:path}", _no_code, methods=list(_EVERY_WAY)),
        Route("/unlock", partial(_unlocking, database, sessions), methods=["GET", "POST"]),
        Route("/unlock/state", partial(_state, database, sessions)),
        Route("/pin", partial(_changing_pin, database, sessions), methods=["GET", "POST"]),
        Route("/lock", partial(_locking, sessions), methods=["GET", "POST"]),
    ]


async def _authority(authority: bytes, _request: Request) -> Response:
    headers = {"Content-Disposition": 'attachment; filename="salon.crt"'}
    return Response(authority, 200 if authority else 404, headers, "application/x-x509-ca-cert")


async def _no_code(_request: Request) -> Response:
    return _page("This code opens nothing", refused=_VOID, status=403)


async def _pairing(database: AccessDatabase, request: Request) -> Response:
    code = request.path_params["code"]
    if not pairs(database, code):
        return _page("This code opens nothing", refused=_VOID, status=403)
    if request.method == "GET":
        told = (
            f"Paired once, this phone can ask at the salon's door until it is revoked. The code is good for "
            f"{PAIRING_MINUTES} minutes and for one phone.",
            "Without the salon's certificate the browser warns that it does not know this machine.",
        )
        return _page("Pair this phone", step="pair", sentences=told)
    if not from_here(request.scope):
        return _page("Nothing was done", refused="This was asked for by another page.", status=403)
    try:
        token = pair(database, code, (await _form(request)).get("label", ""))
    except RefusedError as problem:
        return _page("This code opens nothing", refused=str(problem), status=403)
    answer = RedirectResponse("/unlock", 303)
    _set(answer, PHONE_COOKIE, token, PHONE_COOKIE_DAYS * 86400)
    return answer


async def _unlocking(database: AccessDatabase, sessions: Sessions, request: Request) -> Response:
    if request.method == "GET":
        return _lock_screen(database, _way_on(request.query_params.get("next", "")))
    said = await _form(request)
    phone = phone_of(database, cookie(request.scope, PHONE_COOKIE))
    if phone is None:
        return _page("Not paired", refused="This phone is not paired any more.", status=403)
    chosen, way_on = said.get("person", ""), _way_on(said.get("next", ""))
    try:
        # A PIN takes a quarter of a second to check: aside, so that nobody else waits for it.
        key = await run_sync(sessions.unlock, phone, chosen, said.get("pin", ""))
    except RefusedError as problem:
        return _lock_screen(database, way_on, chosen, str(problem))
    sessions.lock(cookie(request.scope, SESSION_COOKIE), "unlocked anew")
    answer = RedirectResponse(way_on, 303)
    _set(answer, SESSION_COOKIE, key, int(ABSOLUTE_SECONDS))
    return answer


def _lock_screen(database: AccessDatabase, way_on: str, chosen: str = "", refused: str = "") -> Response:
    told = (f"It locks by itself when it is left alone for {IDLE_SECONDS / 60:.0f} minutes.",)
    staff = people(database)
    if not staff:
        told = ("Nobody is on the list of staff yet. At the salon's machine: tressmeter access add NAME --role owner.",)
    step = "unlock" if staff else ""
    status = 403 if refused else 200
    return _page(
        "Unlock this phone",
        step=step,
        sentences=told,
        people=staff,
        next=way_on,
        chosen=chosen,
        refused=refused,
        status=status,
    )


async def _changing_pin(database: AccessDatabase, sessions: Sessions, request: Request) -> Response:
    staff = people(database)
    said = await _form(request) if request.method == "POST" else {}
    phone = phone_of(database, cookie(request.scope, PHONE_COOKIE))
    if not said or phone is None:
        return _page("Change your PIN", step="pin", people=staff)
    chosen = said.get("person", "")
    if said.get("new") != said.get("again"):
        return _page("Change your PIN", step="pin", people=staff, chosen=chosen, refused="The two new PINs differ.")
    try:
        await run_sync(sessions.change_pin, phone, chosen, said.get("pin", ""), said.get("new", ""))
    except (RefusedError, BadInputError) as problem:
        return _page("Change your PIN", step="pin", people=staff, chosen=chosen, refused=str(problem), status=403)
    return RedirectResponse("/unlock", 303)


async def _state(database: AccessDatabase, sessions: Sessions, request: Request) -> Response:
    """204 while this phone is unlocked, else 403; asking keeps nothing awake."""
    phone = phone_of(database, cookie(request.scope, PHONE_COOKIE))
    unlocked = phone is not None and sessions.alive(cookie(request.scope, SESSION_COOKIE), phone)
    return Response(status_code=204 if unlocked else 403)


async def _locking(sessions: Sessions, request: Request) -> Response:
    if request.method == "GET":
        return _page("Lock this phone", step="lock", sentences=("The visit in hand is kept as it stands.",))
    sessions.lock(cookie(request.scope, SESSION_COOKIE))
    answer = RedirectResponse("/unlock", 303)
    _set(answer, SESSION_COOKIE, "", 0)
    answer.headers["Clear-Site-Data"] = '"cache", "storage"'
    return answer


async def _form(request: Request) -> dict[str, str]:
    """What a small form says; nothing of one that is too large, too slow or none."""
    body = bytearray()
    try:
        async with timeout(MOST_FORM_SECONDS):
            async for part in request.stream():
                body += part
                if len(body) > MOST_FORM_BYTES:
                    return {}
        said = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=10)
    except (TimeoutError, ClientDisconnect, ValueError):
        return {}
    return {name: values[0] for name, values in said.items()}


def _way_on(path: str) -> str:
    """A path of this very page; its first screen for anything else, so that nobody is sent elsewhere."""
    plain = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isascii() and path.isprintable()
    return path if plain and len(path) < 500 and "\\" not in path else "/"


def _set(answer: Response, name: str, value: str, seconds: int) -> None:
    answer.set_cookie(name, value, max_age=seconds, path="/", secure=True, httponly=True, samesite="strict")


def _page(title: str, *, status: int = 200, **said: object) -> HTMLResponse:
    nonce = secrets.token_urlsafe(16)
    body = _template().render(title=title, nonce=nonce, **said)
    policy = (
        f"default-src 'none'; style-src 'nonce-{nonce}'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )
    return HTMLResponse(body, status, {"Content-Security-Policy": policy, "Cache-Control": "no-store"})


@cache
def _template():  # type: ignore[no-untyped-def]  # jinja's own type says less than its use
    folder = Path(__file__).with_name("templates")
    return Environment(loader=FileSystemLoader(folder), autoescape=True).get_template("door.html")
