"""Who is at the door: so many connections for an address and in all, and so long to say what is wanted.

Whoever opens connections and says nothing, or a letter at a time, holds them from others. So a connection has a time within which
its request must be there, and where an address has all that it may have, the one of it that makes others wait longest is closed
for the one that comes. What is being answered is never closed.
"""

from __future__ import annotations

import asyncio
import socket
import time
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any

from sourcing.page.guard import who_is

FULL = b"HTTP/1.1 503 Service Unavailable\r\nconnection: close\r\nretry-after: 5\r\ncontent-length: 0\r\n\r\n"
LOOKS = 0.5  # seconds between two looks at who is slow


class Phase(IntEnum):
    """What a connection is waited for; where one must go, those of the first kinds go first."""

    GREETING = 0  # accepted; with https its keys are not agreed on yet
    HEADERS = 1
    IDLE = 2  # answered, and kept for the next request
    BODY = 3
    ANSWERING = 4


@dataclass(frozen=True, slots=True)
class Patience:
    """How much is borne.

    Attributes
    ----------
    each, all : connections of an address (of IPv6: of its network), and of everybody
    greeting, headers : seconds until keys are agreed on, and until the headers of a request are there
    body, a_second, longest : a body may take `body` seconds and one more for each `a_second` bytes of it, at most `longest`
    idle : seconds after an answer; the server itself ends it sooner, unless its last words are not taken
    unread : seconds for which nothing of an answer is taken
    """

    each: int = 64
    all: int = 160
    greeting: float = 10.0
    headers: float = 15.0
    body: float = 20.0
    a_second: int = 4096
    longest: float = 900.0
    idle: float = 90.0
    unread: float = 60.0

    def ends(self, phase: Phase, got: int) -> float:
        """The seconds that a phase may take, with so many bytes of a body there."""
        match phase:
            case Phase.GREETING:
                return self.greeting
            case Phase.HEADERS:
                return self.headers
            case Phase.BODY:
                return min(self.longest, self.body + got / self.a_second)
            case Phase.IDLE:
                return self.idle
        return float("inf")


@dataclass(eq=False, slots=True)
class Caller:
    """A connection: who it is, what it is waited for and since when, and how many bytes came in this phase.

    `has_more` tells whether bytes of it lie there that nobody has read yet.
    """

    who: str
    since: float
    close: Callable[[], object]
    gone: Callable[[], bool]
    has_more: Callable[[], bool]
    phase: Phase = Phase.GREETING
    got: int = 0
    unread_since: float | None = None
    flow: Any = field(default=None, repr=False)

    def turns(self, phase: Phase, now: float) -> None:
        self.phase, self.since, self.got = phase, now, 0


class Doorkeeper:
    """Counts the connections of a page, and closes those that are slow; used by one event loop."""

    def __init__(self, patience: Patience = Patience(), clock: Callable[[], float] = time.monotonic) -> None:
        self.patience, self.clock = patience, clock
        self._here: dict[tuple[Any, ...], Caller] = {}
        self.hears = False  # whether the listening socket asks; on Windows the system accepts by itself

    def __len__(self) -> int:
        return len(self._here)

    def accepts(
        self,
        address: tuple[Any, ...],
        close: Callable[[], object],
        gone: Callable[[], bool] = lambda: False,
        has_more: Callable[[], bool] = lambda: False,
    ) -> bool:
        """Whether a connection that was just accepted may stay; another one may be closed for it."""
        self._forget(key for key, one in self._here.items() if one.gone())
        who = who_is(str(address[0])) if address else ""
        if not self._has_room(who):
            return False
        self._here[address] = Caller(who, self.clock(), close, gone, has_more)
        return True

    def _has_room(self, who: str) -> bool:
        crowds = Counter(one.who for one in self._here.values())
        if crowds[who] >= self.patience.each:
            return self._makes_room(who)
        if len(self._here) >= self.patience.all:
            return self._makes_room(max(crowds, key=lambda one: crowds[one]))
        return True

    def _makes_room(self, who: str) -> bool:
        """Close the connection of somebody that is waited for longest; False where all of them are being answered."""
        now = self.clock()
        waits = [(key, one) for key, one in self._here.items() if one.who == who and one.phase < Phase.ANSWERING]
        if not waits:
            return False
        key, slowest = min(waits, key=lambda pair: _worth(pair[1], now))
        self._forget([key])
        slowest.close()
        return True

    def known(self, address: tuple[Any, ...]) -> Caller | None:
        return self._here.get(address)

    def leaves(self, address: tuple[Any, ...], caller: Caller | None) -> None:
        if caller is not None and self._here.get(address) is caller:
            del self._here[address]

    def look(self) -> None:
        """Close whatever took too long."""
        now = self.clock()
        for key, one in list(self._here.items()):
            if one.gone():
                self._forget([key])
            elif self._is_slow(one, now):
                self._forget([key])
                one.close()

    def _is_slow(self, one: Caller, now: float) -> bool:
        if one.flow is not None and one.flow.write_paused:
            one.unread_since = now if one.unread_since is None else one.unread_since
            return now - one.unread_since > self.patience.unread
        one.unread_since = None
        if one.phase is Phase.BODY and one.flow is not None and one.flow.read_paused:
            one.since, one.got = now, 0  # it is we who do not take it
        return now - one.since > self.patience.ends(one.phase, one.got)

    def _forget(self, keys: Iterable[tuple[Any, ...]]) -> None:
        for key in list(keys):
            self._here.pop(key, None)

    async def watch(self) -> None:
        """Look again and again, until it is cancelled."""
        while True:
            await asyncio.sleep(LOOKS)
            self.look()


def _worth(one: Caller, now: float) -> tuple[int, bool, float]:
    """What goes first: by phase, of one phase whoever said nothing and then the oldest, of bodies the slowest."""
    waited = now - one.since
    kind = max(one.phase, Phase.HEADERS)  # whoever has just come is not worse than whoever has been here
    if one.phase is Phase.BODY:
        return kind, True, one.got / (waited + 1.0)
    return kind, one.got > 0 or one.has_more(), -waited


def _has_more(one: socket.socket) -> bool:
    """Whether a connection has sent something that was not read yet: on a busy machine nobody came to it."""
    try:
        return bool(one.recv(1, socket.MSG_PEEK))
    except OSError:  # nothing there, or it is closed
        return False


class Ear(socket.socket):
    """A listening socket that asks the doorkeeper about each connection, before anything is read of it."""

    keeper: Doorkeeper
    plain = True  # http: whoever is refused is told so

    def accept(self) -> tuple[socket.socket, Any]:
        """As its base does; BlockingIOError, as where nobody is there, where the one who came was refused."""
        made, address = super().accept()
        self.keeper.hears = True

        def hang_up() -> None:
            with suppress(OSError):
                made.shutdown(socket.SHUT_RDWR)

        made.setblocking(False)
        if self.keeper.accepts(address, hang_up, lambda: made.fileno() < 0, lambda: _has_more(made)):
            return made, address
        with suppress(OSError), made:
            if self.plain:
                made.send(FULL)
        raise BlockingIOError


def _never() -> bool:
    """Of a connection that says itself when it is lost."""
    return False


class Watching(asyncio.Protocol):
    """What a server's protocol tells the doorkeeper; mixed into it by `watched`.

    The base has `cycle`, the request at hand (`more_body`, `response_complete`), `flow` (`read_paused`, `write_paused`), and
    calls `on_response_complete`.
    """

    keeper: Doorkeeper
    cycle: Any
    flow: Any
    _caller: Caller | None = None
    _address: tuple[Any, ...] = ()

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        self._address = transport.get_extra_info("peername") or (id(self),)
        known = self.keeper.known(self._address)
        if known is None and self.keeper.hears:  # closed for another one while its keys were agreed on
            transport.abort()
            return
        if known is None and not self.keeper.accepts(self._address, transport.abort):
            transport.write(FULL)
            transport.close()
            return
        self._caller = known or self.keeper.known(self._address)
        assert self._caller is not None
        self._caller.close, self._caller.gone, self._caller.flow = transport.abort, _never, self.flow
        self._caller.turns(Phase.HEADERS, self.keeper.clock())

    def data_received(self, data: bytes) -> None:
        caller, before = self._caller, self.cycle
        if caller is None:
            return
        if caller.phase is Phase.IDLE:
            caller.turns(Phase.HEADERS, self.keeper.clock())
        caller.got += len(data)
        super().data_received(data)
        self._turn(self.cycle is not before)

    def on_response_complete(self) -> None:
        before = self.cycle
        super().on_response_complete()  # type: ignore[misc]
        if self._caller is None:
            return
        if self.cycle is not before:  # the next request was there already
            self._turn(True)
        elif not self.cycle.more_body:
            self._caller.turns(Phase.IDLE, self.keeper.clock())

    def connection_lost(self, exc: Exception | None) -> None:
        self.keeper.leaves(self._address, self._caller)
        super().connection_lost(exc)

    def _turn(self, is_new: bool) -> None:
        """A request's headers or body came to their end."""
        cycle, caller = self.cycle, self._caller
        if cycle is None or caller is None or (cycle.response_complete and not is_new and not cycle.more_body):
            return
        phase = Phase.BODY if cycle.more_body else Phase.IDLE if cycle.response_complete else Phase.ANSWERING
        if is_new or phase is not caller.phase:
            caller.turns(phase, self.keeper.clock())


def watched(protocol: type, keeper: Doorkeeper) -> type:
    """A server's protocol that tells the doorkeeper what it is waiting for."""
    return type("Watched", (Watching, protocol), {"keeper": keeper})
