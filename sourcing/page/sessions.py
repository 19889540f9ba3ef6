"""Who is at the page: a session for each browser, known by a cookie, with a token that its forms must carry."""

from __future__ import annotations

import hmac
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

IDLE = 12 * 3600.0  # seconds after which a session that nobody uses ends
LONGEST = 7 * 24 * 3600.0
MOST = 1000


@dataclass(slots=True)
class Session:
    """A browser at the page. `token` is what its forms carry; `signed_in` whether its password was right."""

    key: str
    token: str
    signed_in: bool
    begun: float
    used: float


class Sessions:
    """The sessions of a running page; they end with it."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, Lock()
        self._known: OrderedDict[str, Session] = OrderedDict()

    def begin(self, signed_in: bool) -> Session:
        now = self._clock()
        session = Session(secrets.token_urlsafe(32), secrets.token_urlsafe(32), signed_in, now, now)
        with self._lock:
            self._known[session.key] = session
            if len(self._known) > MOST:
                # Whoever has not given the password pushes out nobody who has.
                del self._known[
                    next((key for key, one in self._known.items() if not one.signed_in), next(iter(self._known)))
                ]
        return session

    def of(self, key: str | None) -> Session | None:
        """The session of a cookie; None where there is none, or it has ended."""
        now = self._clock()
        with self._lock:
            session = self._known.get(key or "")
            if session is None:
                return None
            if now - session.used > IDLE or now - session.begun > LONGEST:
                del self._known[session.key]
                return None
            session.used = now
            self._known.move_to_end(session.key)
            return session

    def signed_in(self, session: Session) -> Session:
        """A session that has given the password, in the place of one that had not: a key seen before is worth nothing after."""
        self.end(session)
        return self.begin(signed_in=True)

    def end(self, session: Session) -> None:
        with self._lock:
            self._known.pop(session.key, None)


def is_token(session: Session, said: str) -> bool:
    """Whether a form carries the token of its session."""
    return hmac.compare_digest(session.token.encode(), said.encode("utf-8", "surrogatepass"))
