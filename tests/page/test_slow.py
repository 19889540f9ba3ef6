"""Whoever opens connections and says nothing, or a letter at a time, keeps nobody else from being served."""

from __future__ import annotations

import asyncio
import http.client
import shutil
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi import Request
from fastapi.responses import PlainTextResponse
from uvicorn.protocols.http.h11_impl import H11Protocol

from page.conftest import ShopFolder
from page.served import demo_in, served
from sourcing.cli.serve import _listening, _served
from sourcing.page.app import create_app
from sourcing.page.doorkeeper import Caller, Doorkeeper, Patience, Phase, watched

SHORT = Patience(each=8, all=14, greeting=1.0, headers=1.0, body=1.0, a_second=2000, longest=20.0, unread=1.5)
GET = b"GET /static/mark.svg HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n"


@dataclass(frozen=True)
class Running:
    port: int
    keeper: Doorkeeper

    def opens(self, source: str = "127.0.0.1") -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=10, source_address=(source, 0))

    def answers(self, source: str = "127.0.0.1", path: str = "/static/mark.svg") -> float:
        """Ask as somebody honest does; the seconds until the answer is there."""
        begun = time.monotonic()
        asked = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20, source_address=(source, 0))
        asked.request("GET", path)
        answer = asked.getresponse()
        assert answer.status == 200 and answer.read()
        asked.close()
        return time.monotonic() - begun


@contextmanager
def running(shop: ShopFolder, **tls: str) -> Iterator[Running]:
    """The page in a thread of this process, with little patience."""
    keeper = Doorkeeper(SHORT)
    app = create_app(shop.reach)

    async def slow() -> PlainTextResponse:
        await asyncio.sleep(3.0)
        return PlainTextResponse("done")

    async def takes(request: Request) -> PlainTextResponse:
        return PlainTextResponse(str(len(await request.body())))

    app.add_api_route("/slow", slow)
    app.add_api_route("/takes", takes, methods=["POST"])
    ear = _listening("127.0.0.1", 0, keeper, plain=not tls)
    config = uvicorn.Config(app, log_level="error", http=watched(H11Protocol, keeper), ws="none",
                            timeout_graceful_shutdown=1, **tls)  # type: ignore[arg-type]  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=lambda: asyncio.run(_served(server, ear, keeper)), daemon=True)
    thread.start()
    for _ in range(200):
        if server.started:
            break
        time.sleep(0.05)
    try:
        yield Running(ear.getsockname()[1], keeper)
    finally:
        server.should_exit = True
        thread.join(20)


@pytest.fixture
def page(shop: ShopFolder) -> Iterator[Running]:
    with running(shop) as made:
        yield made


def is_closed(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        while said := one.recv(65536):
            del said
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def comes_true(what: Callable[[], bool], seconds: float = 15.0) -> bool:
    """Whether something is so before long; a busy machine takes its time."""
    ends = time.monotonic() + seconds
    while not what():
        if time.monotonic() > ends:
            return False
        time.sleep(0.1)
    return True


def said_by(one: socket.socket, end: bytes) -> bool:
    """Whether the other side says what ends so."""
    said = b""
    while not said.endswith(end):
        more = one.recv(65536)
        if not more:
            return False
        said += more
    return True


def closed_after(one: socket.socket, letters: bytes, every: float, most: float = 15.0) -> float:
    """Send a letter at a time until the other side hangs up; the seconds that it took."""
    begun = time.monotonic()
    for at in range(10_000):
        if time.monotonic() - begun > most or is_closed(one):
            break
        with suppress(OSError):
            one.send(letters[at % len(letters) : at % len(letters) + 1])
        time.sleep(every)
    return time.monotonic() - begun


def test_silent_connections_of_one_address_keep_not_even_that_address_from_an_answer(page: Running) -> None:
    silent = [page.opens() for _ in range(60)]
    assert page.answers() < 12.0
    assert comes_true(lambda: sum(not is_closed(one) for one in silent) <= SHORT.each)
    assert len(page.keeper) <= SHORT.each
    assert comes_true(lambda: all(map(is_closed, silent)))  # those that were left took too long meanwhile


@pytest.mark.skipif(sys.platform != "linux", reason="only there every address of 127.0.0.0/8 is this machine's")
def test_many_addresses_together_have_an_end_and_a_further_one_is_served(page: Running) -> None:
    silent = [page.opens(f"127.0.0.{host}") for host in (2, 3, 4, 5) for _ in range(20)]
    assert page.answers("127.0.0.9") < 12.0
    assert comes_true(lambda: sum(not is_closed(one) for one in silent) <= SHORT.all)


def test_headers_a_letter_at_a_time_have_a_time_within_which_they_must_end(page: Running) -> None:
    with page.opens() as one:
        one.send(b"GET / HTTP/1.1\r\nx: ")
        assert 0.5 < closed_after(one, b"abc", 0.05) < 10.0


def test_a_body_a_letter_at_a_time_has_one_too(page: Running) -> None:
    head = b"POST /takes HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-length: 5000\r\n\r\n"
    with page.opens() as one:
        one.send(head)
        assert 0.5 < closed_after(one, b"abc", 0.05) < 10.0


def test_a_body_that_goes_on_after_it_was_refused_has_one_too(page: Running) -> None:
    head = b"POST /takes HTTP/1.1\r\nhost: elsewhere.example\r\ncontent-length: 500000\r\n\r\n"
    with page.opens() as one:
        one.send(head)
        assert b"421" in one.recv(100)
        assert closed_after(one, b"abc", 0.05) < 10.0


def test_a_body_that_comes_slowly_but_steadily_is_taken(page: Running) -> None:
    body = b"x" * 32_000
    head = f"POST /takes HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-length: {len(body)}\r\n\r\n".encode()
    begun = time.monotonic()
    with page.opens() as one:
        one.send(head)
        for at in range(0, len(body), 1000):
            one.send(body[at : at + 1000])
            time.sleep(0.1)
        assert said_by(one, b"\r\n\r\n32000")
    assert time.monotonic() - begun > 3 * SHORT.body


def test_a_connection_that_is_kept_for_the_next_page_is_not_slow(page: Running) -> None:
    with page.opens() as one:
        for _ in range(3):
            one.send(GET)
            assert said_by(one, b"</svg>\n")
            time.sleep(1.8)  # longer than headers may take
        one.send(GET[:20])
        assert closed_after(one, b"x", 0.05) < 10.0  # but a request that was begun is


def test_what_is_being_answered_is_closed_for_nobody(page: Running) -> None:
    told: list[float] = []
    asking = [threading.Thread(target=lambda: told.append(page.answers(path="/slow"))) for _ in range(3)]
    for one in asking:
        one.start()
    time.sleep(0.5)
    silent = [page.opens() for _ in range(60)]
    for one in asking:
        one.join(20)
    assert len(told) == 3 and min(told) >= 3.0 and silent


def test_where_all_are_being_answered_the_next_one_is_told_to_come_again(page: Running) -> None:
    asking = [page.opens() for _ in range(SHORT.each)]
    for one in asking:
        one.send(GET.replace(b"/static/mark.svg", b"/slow"))
    here = page.keeper._here
    assert comes_true(lambda: sum(one.phase == Phase.ANSWERING for one in list(here.values())) == SHORT.each)
    with page.opens() as late:
        assert late.recv(1000).startswith(b"HTTP/1.1 503") and late.recv(1000) == b""
    for one in asking:
        assert b"200 OK" in one.recv(1000)
    assert page.answers() < 12.0


def test_an_answer_that_nobody_takes_is_given_up(page: Running) -> None:
    one = socket.socket()
    one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    one.connect(("127.0.0.1", page.port))
    one.settimeout(1)
    with suppress(OSError):
        one.sendall(GET.replace(b"mark.svg", b"htmx.min.js") * 200)
    assert comes_true(lambda: len(page.keeper) == 0)
    one.close()


def test_with_https_whoever_agrees_on_no_keys_keeps_nobody_out(shop: ShopFolder, tmp_path: Path) -> None:
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("no openssl here to make a certificate with")
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    subprocess.run([openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", key, "-out", certificate, "-days", "2",
                    "-subj", "/CN=127.0.0.1"], check=True, capture_output=True)  # fmt: skip
    with running(shop, ssl_keyfile=str(key), ssl_certfile=str(certificate)) as page:
        silent = [page.opens() for _ in range(60)]
        for one in silent[::2]:
            with suppress(OSError):
                one.send(b"\x16")
        trusting = ssl.create_default_context()
        trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
        begun = time.monotonic()
        asked = http.client.HTTPSConnection("127.0.0.1", page.port, timeout=20, context=trusting)
        asked.request("GET", "/static/mark.svg")
        assert asked.getresponse().status == 200 and time.monotonic() - begun < 8.0
        assert comes_true(lambda: sum(not is_closed(one) for one in silent) <= SHORT.each)
        asked.close()
        assert comes_true(lambda: all(map(is_closed, silent)) and len(page.keeper) == 0)


@pytest.mark.skipif(sys.platform != "linux", reason="only there can a running process be given fewer files")
def test_more_silent_connections_than_the_page_may_have_files_open_do_not_stop_it(
    tmp_path: Path, kept_sheets: Path
) -> None:
    import resource

    with served(demo_in(tmp_path), kept_sheets) as running:
        resource.prlimit(running.process.pid, resource.RLIMIT_NOFILE, (200, 200))
        port = int(running.address.rsplit(":", 1)[1])
        silent = [socket.create_connection(("127.0.0.1", port), timeout=20) for _ in range(300)]
        for _ in range(3):
            assert "<svg" in running.says("/static/mark.svg", 20)
        assert comes_true(lambda: sum(not is_closed(one) for one in silent) <= Patience().each)


# -- the rules by themselves, with a clock of their own --


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def comes(keeper: Doorkeeper, host: str, port: int, closed: list[int], said: bool = False) -> Caller | None:
    known = keeper.accepts((host, port), lambda: closed.append(port), has_more=lambda: said)
    return keeper.known((host, port)) if known else None


def test_the_one_that_was_waited_for_longest_goes_first() -> None:
    clock, closed = Clock(), list[int]()
    keeper = Doorkeeper(Patience(each=3, all=9), clock)
    for port, phase in enumerate((Phase.ANSWERING, Phase.IDLE, Phase.HEADERS)):
        caller = comes(keeper, "192.0.2.1", port, closed)
        assert caller
        caller.turns(phase, clock.now)
        clock.now += 1
    assert comes(keeper, "192.0.2.1", 10, closed) and closed == [2]  # headers before what is idle
    assert comes(keeper, "192.0.2.2", 11, closed) and closed == [2]  # another address has its own
    for number in range(3):
        clock.now += 1
        assert comes(keeper, "192.0.2.1", 20 + number, closed)
    assert closed == [2, 10, 20, 21]  # the newest, of what says nothing, stays


def test_whoever_said_something_that_nobody_came_to_read_goes_after_whoever_said_nothing() -> None:
    clock, closed = Clock(), list[int]()
    keeper = Doorkeeper(Patience(each=3, all=9), clock)
    for port, said in ((1, True), (2, False), (3, False)):
        assert comes(keeper, "192.0.2.1", port, closed, said)
        clock.now += 1
    for port in (4, 5, 6):
        assert comes(keeper, "192.0.2.1", port, closed)
    assert closed == [2, 3, 4]


def test_of_bodies_the_slowest_goes_first() -> None:
    clock, closed = Clock(), list[int]()
    keeper = Doorkeeper(Patience(each=2, all=9), clock)
    for port, got in ((1, 50_000), (2, 10)):
        caller = comes(keeper, "192.0.2.1", port, closed)
        assert caller
        caller.turns(Phase.BODY, clock.now)
        caller.got = got
    clock.now += 5
    assert comes(keeper, "192.0.2.1", 3, closed) and closed == [2]


def test_a_body_has_time_for_what_it_brings_and_no_end_of_it() -> None:
    patience = Patience(body=20.0, a_second=4096, longest=900.0)
    assert patience.ends(Phase.BODY, 0) == 20.0
    assert patience.ends(Phase.BODY, 409_600) == 120.0
    assert patience.ends(Phase.BODY, 64_000_000) == 900.0


def test_a_whole_network_of_ipv6_is_one_caller() -> None:
    closed: list[int] = []
    keeper = Doorkeeper(Patience(each=2, all=9), Clock())
    for port in range(4):
        assert comes(keeper, f"2001:db8::{port + 1}", port, closed)
    assert len(closed) == 2 and len(keeper) == 2


def test_what_was_closed_before_its_keys_were_agreed_on_counts_no_more() -> None:
    gone: dict[int, bool] = {}
    keeper = Doorkeeper(Patience(each=2, all=9), Clock())

    def accepts(port: int) -> Any:
        return keeper.accepts(("192.0.2.1", port), lambda: None, lambda: gone.get(port, False))

    assert accepts(1) and accepts(2)
    gone[1] = True
    assert accepts(3) and keeper.known(("192.0.2.1", 2)) is not None and len(keeper) == 2
