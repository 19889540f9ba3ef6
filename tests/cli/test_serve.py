"""The command that opens the counter page: where it answers, what it asks for, how it ends."""

from __future__ import annotations

import importlib.util
import signal
import socket
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from page.served import served

from cli.conftest import Counter, Said
from sourcing.cli.serve import is_loopback

Run = Callable[..., Said]


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there")
def test_it_serves_the_shops_jobs_until_ctrl_c(counter: Counter, kept_sheets: Path) -> None:
    with served(counter.folder, kept_sheets) as running:
        assert f"The counter page: {running.address}/" in running.log.read_text(encoding="utf-8").splitlines()[0]
        assert "exact-block" in running.says("/")
        running.process.send_signal(signal.SIGINT)
        assert running.process.wait(timeout=300) == 0


def test_a_port_that_somebody_has_is_named(counter: Counter, sourcing: Run) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        said = sourcing("serve", "--no-browser", "--port", port)
    assert said.code == 2
    assert f"127.0.0.1 port {port}: " in said.err and "Give another --port" in said.err


def test_open_to_the_network_it_asks_for_a_password(counter: Counter, sourcing: Run) -> None:
    said = sourcing("serve", "--no-browser", "--host", "0.0.0.0")
    assert said.code == 2
    assert "0.0.0.0 is open to the network: give --password-file FILE" in said.err


def test_a_password_file_without_a_hash_is_refused(counter: Counter, sourcing: Run) -> None:
    path = counter.folder / "password"
    path.write_text("open sesame\n", encoding="utf-8")
    said = sourcing("serve", "--no-browser", "--host", "0.0.0.0", "--password-file", path)
    assert said.code == 2
    assert "expected the hash that `sourcing serve --password-file` wrote; found something else" in said.err


def test_without_the_pages_part_it_says_what_to_install(
    counter: Counter, sourcing: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    said = sourcing("serve", "--no-browser")
    assert said.code == 2
    assert 'pip install "sourcing[page]"' in said.err and "Missing: fastapi, jinja2" in said.err


def test_a_folder_that_is_not_there_is_named(counter: Counter, sourcing: Run) -> None:
    said = sourcing("serve", "--no-browser", "--catalogs", "nowhere")
    assert said.code == 2
    assert "nowhere: expected a folder with shop.toml and suppliers.toml; correct --catalogs." in said.err


@pytest.mark.parametrize(
    ("host", "alone"),
    [("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("::", False),
     ("192.168.1.5", False), ("counter", False), ("localhost.example", False)],
)  # fmt: skip
def test_only_this_machines_own_addresses_are_this_machine(host: str, alone: bool) -> None:
    assert is_loopback(host) is alone
