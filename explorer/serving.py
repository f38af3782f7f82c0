"""The explorer's server, a process of its own that lives as long as the one that started it.

What it is told comes through its standard input as one line of JSON, so that no secret stands among a process's
arguments or in its environment, where others may read it.  The same pipe is the lifeline: it closes when the launcher
ends, however that ends, and then this process ends too.
"""

from __future__ import annotations

import base64
import errno
import json
import logging
import os
import re
import socket
import sys
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, suppress
from hashlib import sha256
from importlib import import_module
from pathlib import Path
from typing import Any

LOCALHOST = "localhost"
THIS_MACHINE = ("localhost", "127.0.0.1", "::1")
LEAVE = 5.0  # s that an orderly end may take
SWITCH = 0.0005  # s that one thread may hold the interpreter while others wait: whoever asks is answered soon
WAITING = 128  # who may wait at the door
LOADED = ("pandas", "altair", "engine.judged", "engine.build", "engine.search.runs", "engine.insight.reasons")
LARGEST_MESSAGE = 2**25  # bytes that a page may send at once; files come another way

Address = tuple[int, str]  # family, address
_INLINE = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


def addresses_of(host: str) -> list[Address]:
    """The addresses to listen at for a name; for this machine alone both loopback ones.  Raises OSError."""
    if host == LOCALHOST:
        # A browser may try either first: whoever else could listen at the other one would be asked in our place.
        return [(socket.AF_INET, "127.0.0.1"), *([(socket.AF_INET6, "::1")] if knows_ipv6() else [])]
    found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    return list(dict.fromkeys((int(family), str(address[0])) for family, _, _, _, address in found))


def knows_ipv6() -> bool:
    """Whether this machine can listen at its own IPv6 address."""
    try:
        with socket.socket(socket.AF_INET6) as probe:
            probe.bind(("::1", 0))
    except OSError:
        return False
    return True


def bound(addresses: Sequence[Address], port: int) -> list[socket.socket]:
    """Sockets that listen at a port of all of some addresses.  Raises OSError, and listens at none then."""
    with ExitStack() as opened:
        sockets = []
        for family, address in addresses:
            here = opened.enter_context(socket.socket(family))
            if os.name == "posix":  # elsewhere two programs could then listen at one port
                here.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                here.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            here.bind((address, port))
            here.listen(WAITING)
            sockets.append(here)
        opened.pop_all()
        return sockets


def first_free(addresses: Sequence[Address], ports: Iterable[int]) -> int | None:
    """The first of some ports that nobody listens at; None where there is none."""
    for port in ports:
        with suppress(OSError):
            for each in bound(addresses, port):
                each.close()
            return port
    return None


def _listening(told: dict[str, Any]) -> tuple[list[socket.socket], dict[str, Any]]:
    """Sockets at the first free port of those told, and what there is to answer: which that is, or why none."""
    answer: dict[str, Any] = {}
    for port in told["ports"]:
        try:
            return bound(told["addresses"], port), {"port": port}
        except OSError as error:
            in_use = error.errno in (errno.EADDRINUSE, errno.EACCES)
            answer = {"why": os.strerror(error.errno) if error.errno else str(error), "in_use": in_use}
            if not in_use:
                break
    return [], answer


def inline_scripts(page: bytes) -> Iterator[str]:
    """The digests of the scripts that stand in a page itself."""
    for script in _INLINE.findall(page):
        yield "sha256-" + base64.b64encode(sha256(script).digest()).decode()


def main() -> None:
    told = json.loads(sys.stdin.buffer.readline())
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)  # whatever is printed is no answer
    sockets, answer = _listening(told)
    # From here on whoever comes waits, and is answered as soon as all is loaded.
    print(json.dumps(answer), file=answers)
    answers.close()
    if sockets:
        _serve(sockets, answer["port"], told)


def _serve(sockets: list[socket.socket], port: int, told: dict[str, Any]) -> None:
    import streamlit
    import uvicorn
    from streamlit.starlette import App

    # What the first page takes longest to load is loaded before anybody is answered: loading holds the interpreter.
    for name in LOADED:
        import_module(name)

    from explorer.gate import Gate, Keys

    keys = Keys(
        token=told["token"], password=told["password"], names=frozenset(told["names"]),
        any_address=told["any_address"], tickets={told["ticket"]},
    )  # fmt: skip
    page = Path(streamlit.__file__).with_name("static") / "index.html"
    gate = Gate(App(Path(__file__).with_name("app.py")), keys, port=port, inline=inline_scripts(page.read_bytes()))
    config = uvicorn.Config(
        gate,
        log_level="warning",
        proxy_headers=False,  # what a header says of where somebody is is not believed
        server_header=False,
        ws="websockets-sansio",
        ws_max_size=LARGEST_MESSAGE,
        ws_ping_interval=30,
        ws_ping_timeout=60,
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=1,
    )
    sys.setswitchinterval(SWITCH)
    logging.getLogger("uvicorn.access").disabled = True  # addresses may hold a token
    server = uvicorn.Server(config)
    threading.Thread(target=_end_with_launcher, args=(server,), name="wedgefront-lifeline", daemon=True).start()
    server.run(sockets=sockets)


def _end_with_launcher(server: Any) -> None:
    """Wait for the pipe to close; then end in order, and if that takes long, at once."""
    while os.read(0, 1):
        pass
    server.should_exit = True
    time.sleep(LEAVE)
    os._exit(0)


if __name__ == "__main__":
    main()
