"""The command ``open``: who may come in and where, the server started and ended, the browser sent there."""

from __future__ import annotations

import argparse
import getpass
import json
import os
import secrets
import socket
import subprocess
import sys
import webbrowser
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from engine.errors import refusal
from explorer.serving import LEAVE, LOCALHOST, THIS_MACHINE, addresses_of, first_free

PORT, PORTS = 8501, 100  # where none is asked for: the first free one of so many
PASSWORD = "WEDGEFRONT_PASSWORD"  # an environment variable
SHORTEST_PASSWORD = 8
EVERYWHERE = {"0.0.0.0": "every IPv4 address of this computer", "::": "every IPv6 address of this computer"}

OPEN_TO_OTHERS = """\
Open to others: the explorer listens at {where}, port {port}. Whoever reaches that and knows the password
sees, changes and deletes every job kept here, and has this computer search. Nothing on the way is encrypted (no TLS):
whoever can listen in on the network can read the password and the jobs. Do this in a network you trust, and close it
when you are done. From other computers: {there}"""


def open_explorer(options: argparse.Namespace, arguments: Sequence[str]) -> int:
    """Serve the explorer until it is ended, its page told ``arguments``; the exit status.

    Raises InputFaults where it cannot be served as asked.
    """
    host = options.host or LOCALHOST
    try:
        addresses = addresses_of(host)
    except OSError as error:
        raise refusal("--host", "no_such_host", value=host, reason=error.strerror or str(error)) from None
    elsewhere = any(address not in THIS_MACHINE for _, address in addresses)
    told: dict[str, Any] = {
        "addresses": addresses,
        "ports": [options.port] if options.port else list(range(PORT, PORT + PORTS)),
        "token": secrets.token_urlsafe(24),
        "ticket": secrets.token_urlsafe(24),
        "password": _password(options) if elsewhere else None,
        "names": sorted({*THIS_MACHINE, *(_names_of(host) if elsewhere else ())}),
        "any_address": elsewhere,
    }
    with _started(arguments) as server:
        answer = _told(server, told)
        if "port" not in answer:
            raise _cannot_listen(host, told, answer)
        port = answer["port"]
        if elsewhere:
            print(OPEN_TO_OTHERS.format(where=EVERYWHERE.get(host, host), port=port, there=_there(host, port)))
        elif port not in (options.port, PORT):
            print(f"Port {PORT} is in use, so the explorer takes {port}.")
        here = f"http://{_in_address(host if elsewhere and host not in EVERYWHERE else LOCALHOST)}:{port}/"
        print(f"The explorer opens at {here}?token={told['token']}  (Ctrl-C here closes it)", flush=True)
        if options.browser and _has_screen():
            with suppress(webbrowser.Error):
                # What a browser is started with, others on this machine can see: this one opens once.
                webbrowser.open(f"{here}?token={told['ticket']}")
        with suppress(KeyboardInterrupt):
            return server.wait()
        return 0


@contextmanager
def _started(arguments: Sequence[str]) -> Iterator[subprocess.Popen[bytes]]:
    """The server's process.  It ends with the pipe that it reads, so with this block or with this process."""
    path = os.pathsep.join(filter(None, [str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH")]))
    # In a session of its own, as Ctrl-C is for the launcher; -P: nothing is taken from the folder one happens to be in.
    command = [sys.executable, "-P", "-m", "explorer.serving", *arguments]
    # Memory that threads have freed is shared by all; each with its own would keep it.
    environment = {"MALLOC_ARENA_MAX": "4", **os.environ, "PYTHONPATH": path}
    server = subprocess.Popen(
        command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
    )
    try:
        yield server
    finally:
        for pipe in (server.stdin, server.stdout):
            assert pipe is not None
            with suppress(OSError):
                pipe.close()
        try:
            server.wait(2 * LEAVE)
        except (subprocess.TimeoutExpired, KeyboardInterrupt):
            server.kill()
            server.wait()


def _told(server: subprocess.Popen[bytes], told: dict[str, Any]) -> dict[str, Any]:
    """What the server answers to what it is told: the port at which it listens, or why at none."""
    assert server.stdin is not None
    assert server.stdout is not None
    with suppress(OSError):
        server.stdin.write(json.dumps(told).encode() + b"\n")
        server.stdin.flush()
    answer: dict[str, Any] = json.loads(server.stdout.readline() or '{"why": "the server did not start"}')
    return answer


def _cannot_listen(host: str, told: dict[str, Any], answer: dict[str, Any]) -> Exception:
    """Why the server listens nowhere, with a port that is free."""
    if not answer.get("in_use"):
        return refusal("--host", "no_such_host", value=host, reason=answer["why"])
    asked = told["ports"][0]
    free = first_free(told["addresses"], range(asked + 1, min(asked + 1 + PORTS, 65536)))
    if free is None:
        return refusal("--port", "port_in_use", value=str(asked), reason=answer["why"])
    return refusal("--port", "port_in_use_but", value=str(asked), reason=answer["why"], free=free)


def _password(options: argparse.Namespace) -> str:
    """The password from its file, the environment or whoever sits at the terminal.  Raises InputFaults."""
    stated: str
    if options.password_file is not None:
        place = str(options.password_file)
        try:
            stated = options.password_file.read_text(encoding="utf-8").partition("\n")[0].strip()
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "it is not text in UTF-8"
            raise refusal(place, "unreadable", reason=reason) from None
    elif PASSWORD in os.environ:
        place, stated = PASSWORD, os.environ[PASSWORD]
    elif sys.stdin is not None and sys.stdin.isatty():
        place, stated = "--host", getpass.getpass("A password for whoever comes from elsewhere: ")
        if len(stated) >= SHORTEST_PASSWORD and getpass.getpass("The same once more: ") != stated:
            raise refusal(place, "passwords_differ")
    else:
        raise refusal("--host", "no_password", value=options.host, variable=PASSWORD)
    if len(stated) < SHORTEST_PASSWORD:
        raise refusal(place, "password_too_short", least=SHORTEST_PASSWORD)
    return stated


def _names_of(host: str) -> set[str]:
    """The names by which others reach this machine, as far as it knows them without asking anybody."""
    own = socket.gethostname().lower()
    return {host.lower(), own, f"{own.partition('.')[0]}.local"} - set(EVERYWHERE)


def _there(host: str, port: int) -> str:
    """The address to use elsewhere."""
    return f"http://{_in_address(socket.gethostname() if host in EVERYWHERE else host)}:{port}/"


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _has_screen() -> bool:
    """Whether there is a screen for a browser to open on; elsewhere a browser in the terminal would start."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
