"""What tests in a real browser share: a page served by a process of its own, and the browser that looks at it."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.explorer.pages import APP

ROOT = APP.parents[1]
PATIENCE = 300_000  # ms
expect.set_options(timeout=PATIENCE)  # the machine may be busy
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class Running(NamedTuple):
    """A running explorer: where it is, the address that lets a browser in, and the process that was started."""

    address: str
    entry: str
    process: subprocess.Popen[bytes]


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


@contextmanager
def opened(folder: Path, *stated: str, environment: Mapping[str, str] = MappingProxyType({})) -> Iterator[Running]:
    """The explorer as ``wedgefront open`` runs it, told what is stated.

    It works in ``folder``, and keeps its jobs in ``state`` there.
    """
    command = [sys.executable, "-m", "explorer.cli", "open", *stated]
    if "--browser" not in stated:
        command.append("--no-browser")
    if "--port" not in stated:
        command += ["--port", str(free_port())]
    with _running(folder, command, environment) as (process, log):
        entry = _awaited(process, log, lambda: re.search(r"http://\S+\?token=\S+", log.read_text()))[0]
        address = entry.partition("/?")[0]
        _awaited(process, log, lambda: answers(address))
        yield Running(address, entry, process)


@contextmanager
def served(folder: Path, script: Path) -> Iterator[str]:
    """A page's script by itself, as the toolkit serves it: its address."""
    port = free_port()
    command = [sys.executable, "-m", "streamlit", "run", str(script)]
    options = [f"--server.port={port}", "--server.headless=true", "--browser.gatherUsageStats=false"]
    with _running(folder, [*command, *options]) as (process, log):
        address = f"http://localhost:{port}"
        _awaited(process, log, lambda: answers(address))
        yield address


@contextmanager
def _running(
    folder: Path, command: Sequence[str], more: Mapping[str, str] = MappingProxyType({})
) -> Iterator[tuple[subprocess.Popen[bytes], Path]]:
    environment = {
        **os.environ, "WEDGEFRONT_STATE": str(folder / "state"), "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1",
        **more,
    }  # fmt: skip
    log = folder / "server.log"
    with (
        log.open("w") as output,
        subprocess.Popen(command, env=environment, cwd=folder, stdout=output, stderr=output) as process,
    ):
        try:
            yield process, log
        finally:
            process.terminate()


def answers(address: str) -> bool:
    """Whether a server answers there, whoever asks."""
    try:
        with urlopen(f"{address}/_stcore/health", timeout=5):
            return True
    except OSError:
        return False


def _awaited(process: subprocess.Popen[bytes], log: Path, found: Callable[[], Any]) -> Any:
    end = time.monotonic() + PATIENCE / 1000
    while time.monotonic() < end and process.poll() is None:
        if seen := found():
            return seen
        time.sleep(0.2)
    pytest.fail(f"the server did not start: {log.read_text()}")


@contextmanager
def launched(chromium: str) -> Iterator[Browser]:
    """The browser of that path."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        yield browser
        browser.close()
