"""Which of the page library's own sessions was begun by whom: what one phone has in hand is taken up by no other.

The library lets whoever names a session go on with it, and a name is no secret. A phone that lost its network for a
moment goes on where it was; any other name is taken off what it asks for.
"""

from collections import OrderedDict

from starlette.types import Scope

MOST_REMEMBERED = 2_000  # one for each time that a page was opened; the oldest is forgotten first
UPLOADS = "/_stcore/upload_file/"
_ASKS_FOR = b"sec-websocket-protocol"  # the library's own use of it: a word, a token, the session to go on with
_BEFORE_THE_NAME = 2


class PageSessions:
    """The page sessions that were begun behind one door."""

    def __init__(self) -> None:
        self._begun_by: OrderedDict[str, str] = OrderedDict()

    def learn(self, message: bytes, session: str) -> bool:
        """Whether this message of the page names the page session; it belongs to `session` from now on."""
        name = _named_in(message)
        if not name:
            return False
        self._begun_by[name] = session
        if len(self._begun_by) > MOST_REMEMBERED:
            self._begun_by.popitem(last=False)
        return True

    def own(self, scope: Scope, session: str) -> Scope:
        """The scope of a socket, without the name of any page session that `session` did not begin."""
        headers = [
            (name, self._without_others(value, session) if name.lower() == _ASKS_FOR else value)
            for name, value in scope["headers"]
        ]
        return {**scope, "headers": headers}

    def is_own(self, path: str, session: str) -> bool:
        """Whether `session` began the page session that a path begins with."""
        return self._begun_by.get(path.partition("/")[0]) == session

    def _without_others(self, value: bytes, session: str) -> bytes:
        said = value.split(b",")
        name = b"".join(said[_BEFORE_THE_NAME:]).strip().decode("latin-1")
        return value if self.is_own(name, session) else b",".join(said[:_BEFORE_THE_NAME])


def _named_in(message: bytes) -> str:
    from google.protobuf.message import DecodeError  # type: ignore[import-untyped]
    from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

    try:
        return str(ForwardMsg.FromString(message).new_session.initialize.session_id)
    except DecodeError:
        return ""
