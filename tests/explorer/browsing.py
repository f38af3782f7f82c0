"""What tests in a real browser share: a page served by a process of its own, and the browser that looks at it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.explorer.pages import APP

PATIENCE = 300_000  # ms
expect.set_options(timeout=PATIENCE)  # the machine may be busy
_ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def served(folder: Path, *stated: str, script: Path = APP) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A running explorer, or another page's script, that was told what is stated: its address and its process.

    It works in ``folder``, and keeps its jobs in ``state`` there.
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "streamlit", "run", str(script)]
    options = [f"--server.port={port}", "--server.headless=true", "--browser.gatherUsageStats=false", "--", *stated]
    environment = {**os.environ, "WEDGEFRONT_STATE": str(folder / "state"), "PYTHONPATH": str(APP.parents[1])}
    log = folder / "server.log"
    with (
        log.open("w") as output,
        subprocess.Popen([*command, *options], env=environment, cwd=folder, stdout=output, stderr=output) as server,
    ):
        try:
            yield _await_server(f"http://localhost:{port}", server, log), server
        finally:
            server.terminate()


def _await_server(address: str, server: subprocess.Popen[bytes], log: Path) -> str:
    end = time.monotonic() + PATIENCE / 1000
    while time.monotonic() < end and server.poll() is None:
        try:
            with urlopen(f"{address}/_stcore/health", timeout=5):
                return address
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the server did not start: {log.read_text()}")


@contextmanager
def launched(chromium: str) -> Iterator[Browser]:
    """The browser of that path."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=_ARGUMENTS)
        yield browser
        browser.close()
