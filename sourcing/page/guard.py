"""The guard at the door: every request passes it before any view sees it.

It refuses a host name that is not ours (against names that are rebound to this machine), a change that another site asks for,
a body that is too large, whoever asks too often, and, where there is a password, whoever has not given it. It begins a session
for each browser, and sets what tells the browser what a page of ours may do: no script but our own, nothing from elsewhere.
"""

from __future__ import annotations

import ipaddress
import logging
import re
import socket
from dataclasses import dataclass, field
from http import HTTPStatus
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sourcing.page.rates import Gate, Rate
from sourcing.page.sessions import Session, Sessions

LOG = logging.getLogger("sourcing.page")
DEFECT = "This is a defect of the tool, and nothing was done. What it was stands where the page was started."
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
DOOR = "/door"
COOKIE = "sourcing_session"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
_LENGTH = re.compile(r"[0-9]{1,15}")
NOBODY = Session("", "", False, 0.0, 0.0)
LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})


@dataclass(frozen=True)
class Rules:
    """What the guard holds everybody to.

    Attributes
    ----------
    password : the hash of the password; empty where the page is for this machine alone
    open : whether the page is open to the shop's network
    names : host names that are ours, besides this machine's own and its addresses
    form_bytes, upload_bytes : the largest body of a form, and of an upload (a path under `uploads`)
    """

    password: str = ""
    open: bool = False
    names: frozenset[str] = frozenset()
    form_bytes: int = 1_000_000
    upload_bytes: int = 64_000_000
    uploads: tuple[str, ...] = ("/sheets", "/book/letterhead/picture")
    reads: Rate = field(default_factory=lambda: Rate(400, 3000))
    changes: Rate = field(default_factory=lambda: Rate(120, 600))
    sent_files: Rate = field(default_factory=lambda: Rate(20, 20))
    guesses: Rate = field(default_factory=lambda: Rate(5, 5))


class Guard:
    """The guard as a layer around the application."""

    def __init__(self, app: ASGIApp, rules: Rules, sessions: Sessions) -> None:
        self._app, self._rules, self._sessions = app, rules, sessions
        self._gates = {
            "reads": Gate(rules.reads),
            "changes": Gate(rules.changes),
            "sent_files": Gate(rules.sent_files),
            "guesses": Gate(rules.guesses),
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
                return
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        session, is_new = self._session(headers, scope)
        scope["state"] = {**scope.get("state", {}), "session": session}
        refused = self._refused(scope, headers, session)
        sent = self._sending(scope, send, session if is_new else None)
        if refused is not None:
            await refused(scope, receive, sent)
            return
        try:
            await self._app(scope, _counted(receive, self._most(scope)), sent)
        except TooLarge:
            await _said(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "This is more than the page takes.")(scope, receive, sent)
        except Exception:
            # Answered here, so that this answer too carries our headers and tells a browser nothing of the inside.
            LOG.exception("a defect of the tool at %s", scope["path"])
            await _said(HTTPStatus.INTERNAL_SERVER_ERROR, DEFECT)(scope, receive, sent)

    # -- who --

    def _session(self, headers: Headers, scope: Scope) -> tuple[Session, bool]:
        session = self._sessions.of(_cookie(headers, scope))
        if session is not None:
            return session, False
        if scope["path"].startswith("/static/"):
            return NOBODY, False
        return self._sessions.begin(signed_in=not self._rules.password), True

    # -- what --

    def _refused(self, scope: Scope, headers: Headers, session: Session) -> Response | None:
        """The answer to what is refused; None where it may pass."""
        if not self._is_ours(headers.get("host", "")):
            return _said(HTTPStatus.MISDIRECTED_REQUEST, "This page does not answer to that name.")
        if scope["method"] not in SAFE and _is_foreign(headers, scope):
            return _said(HTTPStatus.FORBIDDEN, "This was asked for by another page than ours, and was not done.")
        if not self._may(scope):
            answer = _said(HTTPStatus.TOO_MANY_REQUESTS, "Too much at once. Wait a moment, then go on.")
            answer.headers["retry-after"] = "10"
            return answer
        length = headers.get("content-length", "0")
        if not _LENGTH.fullmatch(length) or int(length) > self._most(scope):
            return _said(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "This is more than the page takes.")
        if not _is_read_as_utf8(headers.get("content-type", "")):
            return _said(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "The page reads UTF-8 only.")
        path = scope["path"]
        if not session.signed_in and path != DOOR and not path.startswith("/static/"):
            if path.startswith("/api/") or scope["method"] not in SAFE:
                return _said(HTTPStatus.UNAUTHORIZED, "Sign in first.")
            return RedirectResponse(DOOR, HTTPStatus.SEE_OTHER)
        return None

    def _is_ours(self, host: str) -> bool:
        """Whether a Host header names this machine. An address names it whoever says it; another name may be rebound."""
        try:
            name = (urlsplit(f"//{host}").hostname or "").rstrip(".")
        except ValueError:
            return False
        if name in LOOPBACK_NAMES or name in self._rules.names:
            return True
        if not self._rules.open:
            return False
        own = socket.gethostname().casefold()
        return name in (own, f"{own}.local", socket.getfqdn().casefold()) or _is_address(name)

    def _may(self, scope: Scope) -> bool:
        who = who_is(scope["client"][0] if scope.get("client") else "")
        if scope["method"] in SAFE:
            return self._gates["reads"].opens(who)
        if scope["path"] == DOOR:
            return self._gates["guesses"].opens(who)
        return self._gates["sent_files" if self._is_upload(scope) else "changes"].opens(who)

    def _is_upload(self, scope: Scope) -> bool:
        return str(scope["path"]).startswith(self._rules.uploads)

    def _most(self, scope: Scope) -> int:
        return self._rules.upload_bytes if self._is_upload(scope) else self._rules.form_bytes

    def _sending(self, scope: Scope, send: Send, begun: Session | None) -> Send:
        """Send with our headers on every answer, and the cookie of a session that has just begun."""

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-cache" if scope["path"].startswith("/static/") else "no-store")
                if begun is not None and "set-cookie" not in headers:
                    headers.append("set-cookie", cookie_of(scope, begun))
            await send(message)

        return sent


def cookie_of(scope: Scope, session: Session) -> str:
    """The header that gives a browser its session: no script reads it, no other site sends it."""
    secure = "; Secure" if scope["scheme"] == "https" else ""
    return f"{_cookie_name(scope)}={session.key}; Path=/; HttpOnly; SameSite=Strict{secure}"


class TooLarge(Exception):
    """A body that went on for longer than its header said, or that had none."""


def _counted(receive: Receive, most: int) -> Receive:
    left = most

    async def counted() -> Message:
        nonlocal left
        message = await receive()
        if message["type"] == "http.request":
            left -= len(message.get("body", b""))
            if left < 0:
                raise TooLarge
        return message

    return counted


def _cookie_name(scope: Scope) -> str:
    """A name for each port: a browser does not tell them apart, and two pages would push out each other's sessions."""
    server = scope.get("server")
    return f"{COOKIE}_{server[1]}" if server else COOKIE


def _cookie(headers: Headers, scope: Scope) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(_cookie_name(scope))
    except CookieError:
        return None
    return found.value if found else None


def _is_foreign(headers: Headers, scope: Scope) -> bool:
    """Whether the browser says that another site asks: by Sec-Fetch-Site, or by an Origin that is not our own."""
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return True
    origin = headers.get("origin")
    return origin is not None and origin != f"{scope['scheme']}://{headers.get('host', '')}"


def _is_read_as_utf8(kind: str) -> bool:
    """Whether a body names no decoder of its own: some of them take the square of a text's length, or make what is no text."""
    told = kind.casefold()
    return "charset" not in told or re.search(r'^[^;]*;\s*charset="?utf-8"?\s*$', told) is not None


def who_is(address: str) -> str:
    """Whom a rate counts: an address, or the whole network of one where a machine may take as many as it likes (IPv6, /64)."""
    try:
        known = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(known, ipaddress.IPv4Address):
        return address
    return str(known.ipv4_mapped or ipaddress.ip_network((known, 64), strict=False))


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _said(status: HTTPStatus, words: str) -> Response:
    return PlainTextResponse(words + "\n", status)
