"""`sourcing serve`: the counter page, on this machine or open to the shop's network behind a password."""

from __future__ import annotations

import asyncio
import getpass
import importlib.util
import ipaddress
import os
import socket
import sys
import webbrowser
from contextlib import suppress
from pathlib import Path
from threading import Timer
from typing import TYPE_CHECKING

import typer

from sourcing.cli.ending import Exit

if TYPE_CHECKING:
    from uvicorn import Server

    from sourcing.page.doorkeeper import Doorkeeper

# What the extra `page` brings: the name to import, by which it is asked for.
NEEDED = ("fastapi", "jinja2", "uvicorn", "python_multipart", "argon2", "tomlkit")
PROCESSES = min(4, max(2, os.cpu_count() or 1))  # that work on jobs
HOW = 'The page needs more than the command line: install it with  pip install "sourcing[page]"  (in this folder: ".[page]").'


def serve(
    catalogs: Path,
    jobs: Path,
    reports: Path,
    host: str,
    port: int,
    password_file: Path | None,
    names: list[str],
    certificate: Path | None,
    key: Path | None,
    browse: bool,
) -> Exit:
    """Serve the page until Ctrl-C."""
    is_open = not is_loopback(host)
    refused = _refused(catalogs, host, is_open and password_file is None)
    if refused:
        typer.echo(refused, err=True)
        return Exit.BAD_INPUT

    import uvicorn
    from uvicorn.protocols.http.h11_impl import H11Protocol

    from sourcing.page.app import create_app
    from sourcing.page.desk import Desk
    from sourcing.page.doorkeeper import Doorkeeper, watched
    from sourcing.page.guard import Rules
    from sourcing.page.reach import Reach

    password = _password(password_file) if password_file is not None else ""
    rules = Rules(password=password, open=is_open, names=frozenset(name.casefold() for name in names))
    reach = Reach(catalogs, jobs, reports)
    app = create_app(reach, rules, Desk(reach, processes=PROCESSES))
    address = f"{'https' if certificate else 'http'}://{f'[{host}]' if ':' in host else host}:{port}/"
    keeper = Doorkeeper()
    try:
        ear = _listening(host, port, keeper, plain=certificate is None)
    except OSError as error:
        typer.echo(f"{host} port {port}: {error.strerror or error}. Give another --port, or --host.", err=True)
        return Exit.BAD_INPUT
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, proxy_headers=False, ssl_certfile=certificate,
        ssl_keyfile=key, timeout_graceful_shutdown=5, http=watched(H11Protocol, keeper), ws="none",
        timeout_keep_alive=60,  # longer than somebody thinks: a connection is not closed as the next request comes
    )  # fmt: skip
    typer.echo(f"The counter page: {address}  (Ctrl-C ends it)", err=True)
    if browse and not is_open:
        later = Timer(1.0, webbrowser.open, [address])
        later.daemon = True
        later.start()
    with suppress(KeyboardInterrupt):  # that is how a page ends
        asyncio.run(_served(uvicorn.Server(config), ear, keeper))
    return Exit.PROVEN


def _refused(catalogs: Path, host: str, without_password: bool) -> str:
    """Why there is no page to serve; "" where there is one. In a folder without a shop it begins with making one."""
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        return f"{HOW} Missing: {', '.join(missing)}."
    if without_password:
        return f"{host} is open to the network: give --password-file FILE, which is made where it is not there."
    if not catalogs.is_dir() and catalogs != Path("catalogs"):
        return f"{catalogs}: expected a folder with shop.toml and suppliers.toml; correct --catalogs."
    return ""


async def _served(server: Server, ear: socket.socket, keeper: Doorkeeper) -> None:
    watching = asyncio.create_task(keeper.watch())
    try:
        await server.serve(sockets=[ear])
    finally:
        watching.cancel()


def _listening(host: str, port: int, keeper: Doorkeeper, plain: bool) -> socket.socket:
    """A socket that listens. Raises OSError where the address is not ours, or somebody has it."""
    from sourcing.page.doorkeeper import Ear

    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    ear = Ear(family, socket.SOCK_STREAM)
    ear.keeper, ear.plain = keeper, plain
    try:
        if sys.platform != "win32":  # there it would let two programs have one port
            ear.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        ear.bind((host, port))
        ear.listen(128)
    except OSError:
        ear.close()
        raise
    return ear


def is_loopback(host: str) -> bool:
    """Whether a host is this machine alone."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _password(path: Path) -> str:
    """The hash of the page's password; where the file is not there, a new password is asked for and its hash kept there."""
    from sourcing.page.passwords import keep_in, kept_in

    if path.exists():
        return kept_in(path)
    if not sys.stdin.isatty():
        typer.echo(f"{path} is not there, and nobody is here to choose a password.", err=True)
        raise typer.Exit(Exit.BAD_INPUT)
    first = getpass.getpass(f"A new password for the page (its hash goes into {path}): ")
    if first != getpass.getpass("Once more: "):
        typer.echo("These are two different passwords; nothing was written.", err=True)
        raise typer.Exit(Exit.BAD_INPUT)
    return keep_in(path, first)
