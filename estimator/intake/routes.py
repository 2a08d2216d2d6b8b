"""The client's page over HTTP: a code in the path opens one entry and nothing else; no cookie, no script, no log.

`intake_routes` is mounted beside the salon's page, at /intake/. Whatever serves it must keep no log of addresses
(uvicorn: access_log=False), since the code stands in them.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route

from calibration.errors import PhotoRefusedError
from estimator.errors import BadInputError, EstimatorError
from estimator.intake import giving, rendering, screens
from estimator.intake.asked import answers_in, facts_on, wished_in
from estimator.intake.codes import token_fits
from estimator.intake.form_reading import SentForm, TooLargeError, read_fields, read_with_photo
from estimator.intake.giving import Given, LimitReachedError, NotOpenError, NotTakenError
from estimator.intake.inbox import Inbox
from estimator.intake.photos_taken_in import cleaned
from estimator.intake.rate import ALL_TOGETHER, EACH_ADDRESS, WRONG_CODES, RateLimit
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError

MOST_UPLOADS = 24  # under way at a time
Act = Callable[[Request, str], Awaitable[Response]]
_STALE = "This page had been open for too long, or came from elsewhere. Look it over, and send it again."
_NOT_NOW = "The salon's machine takes nothing in at this moment. Try again later, and tell the salon."
_FIELD_SCREENS = ("hair", "health", "wish")


def intake_app(inbox: Inbox) -> Starlette:
    """The client's page on its own."""
    return Starlette(routes=intake_routes(inbox))


def intake_routes(inbox: Inbox) -> list[Route]:
    """The client's page, to stand beside other routes; whatever lies below /intake/ is answered here."""
    return IntakePage(inbox).routes()


class IntakePage:
    """Answers to a client's browser."""

    def __init__(self, inbox: Inbox) -> None:
        self.inbox = inbox
        self.requests = RateLimit(EACH_ADDRESS, ALL_TOGETHER)
        self.wrong_codes = RateLimit(WRONG_CODES)
        self._uploads = 0

    def routes(self) -> list[Route]:
        """Every address, the plain ones first."""

        async def style(request: Request) -> Response:
            return rendering.style()

        async def sent(request: Request) -> Response:
            return rendering.page("sent", {"title": "Thank you", "base": _base(request)})

        looked_at = [self._route(_CODE + path, self._look(screen), "GET") for screen, path in _PATHS.items()]
        acts = {"": self._agree, "/stop": self._stop, "/photos": self._take_photo, "/remove": self._remove}
        done = [self._route(_CODE + path, act, "POST") for path, act in (acts | {"/send": self._send}).items()]
        filled = [self._route(f"{_CODE}/{screen}", self._fill(screen), "POST") for screen in _FIELD_SCREENS]
        return [
            Route("/intake/style.css", style),
            Route("/intake/sent", sent),
            *looked_at,
            *done,
            *filled,
            self._route("/intake/{code:path}", self._nothing, *_EVERY_WAY),
        ]

    def _route(self, path: str, act: Act, *methods: str) -> Route:
        async def answer(request: Request) -> Response:
            return await self._answered(request, act)

        return Route(path, answer, methods=list(methods))

    async def _answered(self, request: Request, act: Act) -> Response:
        """The one place where what goes wrong becomes a page."""
        base, address = _base(request), request.client.host if request.client else ""
        if not self.requests.count(address) or self.wrong_codes.is_spent(address):
            return rendering.too_often(base)
        try:
            return await act(request, request.path_params["code"])
        except NotOpenError:
            self.wrong_codes.count(address)
            return rendering.closed(base)
        except ConsentMissingError:
            return rendering.go_to(f"{base}/intake/{request.path_params['code']}")
        except ClientDisconnect:
            return Response(status_code=400)
        except (BadInputError, PhotoRefusedError, NotTakenError) as problem:
            return rendering.failed(base, *_told(problem))
        except EstimatorError:  # locked or damaged records: for the salon to mend, and nothing for a client to read
            return rendering.failed(base, _NOT_NOW, 503)

    # ---- looking

    def _look(self, screen: str) -> Act:
        async def look(request: Request, code: str) -> Response:
            given = await run_in_threadpool(giving.given, self.inbox, code)
            if screen != "start" and not given.entry.agreed_to(Scope.REMOTE):
                raise ConsentMissingError("Agree first.")
            if screen not in screens.steps_of(given.entry):
                return rendering.go_to(_here(request, code))
            return self._screen(request, code, screen, given)

        return look

    def _screen(
        self, request: Request, code: str, screen: str, given: Given, problem: Exception | None = None
    ) -> Response:
        words = screens.words_for(screen, given) | {"code": code, "base": _base(request), "here": _here(request, code)}
        message, status = _told(problem) if problem else ("", 200)
        return rendering.page(screens.TEMPLATES.get(screen, screen), words | {"problem": message}, status)

    async def _again(self, request: Request, code: str, screen: str, problem: Exception) -> Response:
        """The same screen, with what was wrong on top; what was kept before stands."""
        given = await run_in_threadpool(giving.given, self.inbox, code)
        return self._screen(request, code, screen, given, problem)

    # ---- acts

    async def _form(self, request: Request, code: str, name: str) -> SentForm:
        """The fields of a form of this code's own page. Nothing is read for a code that opens nothing."""
        await run_in_threadpool(giving.given, self.inbox, code)
        form = await read_fields(request.stream(), request.headers.get("content-type", ""))
        _check_seal(form, code, name)
        return form

    async def _agree(self, request: Request, code: str) -> Response:
        form = await self._form(request, code, "start")
        scopes = frozenset(scope for scope in (Scope.REMOTE, Scope.HEALTH) if scope in form.fields.get("agrees", ()))
        await run_in_threadpool(giving.agree, self.inbox, code, scopes)
        if Scope.REMOTE in scopes:
            return rendering.go_to(f"{_here(request, code)}/photos")
        return await self._again(request, code, "start", BadInputError("Without your consent nothing can be taken."))

    async def _stop(self, request: Request, code: str) -> Response:
        await self._form(request, code, "stop")
        await run_in_threadpool(giving.withdraw, self.inbox, code)
        return rendering.go_to(_here(request, code))

    async def _take_photo(self, request: Request, code: str) -> Response:
        if self._uploads >= MOST_UPLOADS:
            await run_in_threadpool(giving.given, self.inbox, code)
            raise NotTakenError("Many photos arrive at this moment. Wait a minute, then send this one again.")
        self._uploads += 1
        try:
            view = await self._photo(request, code)
        except (NotOpenError, ConsentMissingError):
            raise
        except (BadInputError, PhotoRefusedError, NotTakenError) as problem:
            return await self._again(request, code, "photos", problem)
        finally:
            self._uploads -= 1
        return rendering.go_to(f"{_here(request, code)}/photos#{view}")

    async def _photo(self, request: Request, code: str) -> str:
        """The view of the photograph that is kept now."""
        allowed = await run_in_threadpool(giving.begin_upload, self.inbox, code)
        limits, arriving = allowed.invitation.limits, self.inbox.folder / "arriving"
        content_type = request.headers.get("content-type", "")
        try:
            form = await read_with_photo(request.stream(), content_type, arriving, limits.bytes_each)
        except OSError as problem:
            raise NotTakenError(giving.NO_SPACE) from problem
        try:
            _check_seal(form, code, "photo")
            if form.file is None or not form.file_bytes:
                raise BadInputError("No photo was chosen. Choose one, then put it in.")
            await run_in_threadpool(self._keep, code, form)
        finally:
            form.close()
        return form.first("view")

    def _keep(self, code: str, form: SentForm) -> None:
        assert form.file is not None
        giving.add_photo(self.inbox, code, form.first("view"), cleaned(form.file))

    async def _remove(self, request: Request, code: str) -> Response:
        form = await self._form(request, code, "remove")
        await run_in_threadpool(giving.remove_photo, self.inbox, code, form.first("photo"))
        return rendering.go_to(f"{_here(request, code)}/photos")

    def _fill(self, screen: str) -> Act:
        async def fill(request: Request, code: str) -> Response:
            form = await self._form(request, code, screen)
            try:
                await run_in_threadpool(self._keep_fields, code, screen, form.fields)
            except (NotOpenError, ConsentMissingError):
                raise
            except BadInputError as problem:
                return await self._again(request, code, screen, problem)
            given = await run_in_threadpool(giving.given, self.inbox, code)
            if screen not in screens.steps_of(given.entry):
                return rendering.go_to(_here(request, code))
            return rendering.go_to(f"{_here(request, code)}/{screens.after(screen, given.entry)}")

        return fill

    def _keep_fields(self, code: str, screen: str, fields: Mapping[str, Sequence[str]]) -> None:
        if screen == "wish":
            giving.wish(self.inbox, code, *wished_in(fields))
        else:
            answers, faults = answers_in(screen, fields)
            giving.answer(self.inbox, code, facts_on(screen), answers)
            if faults:  # what could be kept is kept
                raise BadInputError(" ".join(faults))

    async def _send(self, request: Request, code: str) -> Response:
        await self._form(request, code, "send")
        try:
            await run_in_threadpool(giving.send, self.inbox, code)
        except (NotOpenError, ConsentMissingError):
            raise
        except BadInputError as problem:
            return await self._again(request, code, "send", problem)
        return rendering.go_to(f"{_base(request)}/intake/sent")

    async def _nothing(self, request: Request, code: str) -> Response:
        raise NotOpenError


_CODE = "/intake/{code}"
# Whoever stands at the door lets everything below /intake/ pass, so all of it is answered here, however it is asked.
_EVERY_WAY = ("GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT")
_PATHS = {screen: "" if screen == "start" else f"/{screen}" for screen in screens.STEPS}


def _base(request: Request) -> str:
    base: Any = request.scope.get("root_path", "")
    return str(base)


def _here(request: Request, code: str) -> str:
    return f"{_base(request)}/intake/{code}"


def _check_seal(form: SentForm, code: str, name: str) -> None:
    if not token_fits(form.first("seal"), code, name):
        raise BadInputError(_STALE)


def _told(problem: Exception) -> tuple[str, int]:
    """The sentence and the status of what went wrong."""
    if isinstance(problem, PhotoRefusedError):
        return f"{problem.finding.message} {problem.finding.remedy} It was not kept.", 422
    kinds = ((TooLargeError, 413), (LimitReachedError, 409), (BadInputError, 422))
    return str(problem), next((status for kind, status in kinds if isinstance(problem, kind)), 503)
