"""The command ``open`` as it runs, promises to the user: who gets in, who does not, and that it ends when it should."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
import streamlit
from playwright.sync_api import Browser, Page, expect

from explorer import serving
from explorer.opening import OPEN_TO_OTHERS
from tests.explorer.browsing import ARGUMENTS, PATIENCE, ROOT, Running, answers, free_port, opened

SECONDS = PATIENCE / 1000

# Whatever a process of ours does that looks beyond this machine is written down.
LOOK_OUT = """
import os, sys

def beyond(event, given):
    if event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.getnameinfo"):
        told = str(given[0])
    elif event in ("socket.connect", "socket.sendto"):
        told = str(given[1])
    else:
        return
    if not any(own in told for own in ("localhost", "127.0.0.1", "::1", "None")):
        with open(os.environ["LOOK_OUT"], "a") as log:
            log.write(f"{event} {told}\\n")

sys.addaudithook(beyond)
"""


@pytest.fixture(scope="module")
def looked_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where a look beyond this machine would be written down."""
    return tmp_path_factory.mktemp("look-out") / "seen"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, looked_out: Path) -> Iterator[Running]:
    """A running explorer without a job."""
    folder = tmp_path_factory.mktemp("opened")
    (looked_out.parent / "sitecustomize.py").write_text(LOOK_OUT)
    path = os.pathsep.join([str(looked_out.parent), str(ROOT)])
    with opened(folder, environment={"PYTHONPATH": path, "LOOK_OUT": str(looked_out)}) as running:
        yield running


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    context.set_default_timeout(PATIENCE)
    yield context.new_page()
    context.close()


def status(address: str, **headers: str) -> int:
    try:
        with urlopen(Request(address, headers=headers), timeout=SECONDS) as answer:
            found: int = answer.status
            return found
    except HTTPError as error:
        return error.code


class Neighbour(BaseHTTPRequestHandler):
    """A page of somebody else's on another port of this machine."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("content-type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!DOCTYPE html><title>another</title><body>")

    def log_message(self, *_: Any) -> None:
        pass


@pytest.fixture
def another_port() -> Iterator[str]:
    """The address of a page on another port."""
    with ThreadingHTTPServer(("127.0.0.1", 0), Neighbour) as other:
        threading.Thread(target=other.serve_forever, daemon=True).start()
        yield f"http://localhost:{other.server_port}/"
        other.shutdown()


SOCKET = """address => new Promise(done => {
    const socket = new WebSocket(address.replace('http', 'ws') + '/_stcore/stream', ['streamlit']);
    socket.onopen = () => done('opened'); socket.onerror = () => done('refused');
})"""
LOADED = """([address, kind]) => new Promise(done => {
    const element = Object.assign(document.createElement(kind), {src: address});
    element.onload = () => done('loaded'); element.onerror = () => done('refused');
    document.body.append(element);
})"""


def test_a_page_on_another_port_has_neither_socket_nor_file_nor_frame(
    server: Running, page: Page, another_port: str
) -> None:
    """Though its browser is in: cookies know no ports."""
    page.goto(server.entry)
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()
    assert page.evaluate(SOCKET, server.address) == "opened"
    page.goto(another_port)
    cookies = page.context.cookies(another_port)
    assert [cookie["name"] for cookie in cookies if cookie["name"].startswith("wedgefront")]  # it does come with it
    assert page.evaluate(SOCKET, server.address) == "refused"
    script = next((Path(streamlit.__file__).with_name("static") / "static/js").glob("index.*.js")).name
    assert page.evaluate(LOADED, [f"{server.address}/static/js/{script}", "script"]) == "refused"
    asked = "address => fetch(address, {credentials: 'include'}).then(() => 'had', () => 'refused')"
    assert page.evaluate(asked, f"{server.address}/_stcore/host-config") == "refused"
    page.evaluate(LOADED, [server.address, "iframe"])
    assert all("Jobs" not in frame.locator("body").inner_text() for frame in page.frames)


def test_a_name_that_was_made_to_point_here_has_nothing(
    server: Running, browser: Browser, program: Callable[[str], str]
) -> None:
    port = server.address.rpartition(":")[2]
    arguments = [*ARGUMENTS, "--host-resolver-rules=MAP evil.example 127.0.0.1"]
    misled = browser.browser_type.launch(executable_path=program("chromium"), args=arguments)
    page = misled.new_page()
    answer = page.goto(f"http://evil.example:{port}/?{server.entry.partition('?')[2]}")
    assert answer is not None
    assert answer.status == 421
    assert page.evaluate(SOCKET, f"http://evil.example:{port}") == "refused"
    assert page.context.cookies() == []
    misled.close()


def test_who_is_in_goes_about_as_before(server: Running, page: Page) -> None:
    """Tabs, reloads, addresses kept: all without the token, which is in no address any more."""
    page.goto(server.entry)
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()
    assert "token" not in page.url
    page.go_back()
    assert "token" not in page.url
    page.goto(f"{server.address}/words")
    expect(page.get_by_role("heading", name="Words")).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", name="Words")).to_be_visible()
    tab = page.context.new_page()
    tab.goto(f"{server.address}/jobs")
    expect(tab.get_by_role("heading", name="Jobs")).to_be_visible()


def test_a_link_on_another_page_opens_a_view(server: Running, page: Page, another_port: str) -> None:
    """From another site (the other loopback name is one), where a strict cookie does not come with the first step."""
    page.goto(server.entry)
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()
    page.goto(another_port.replace("localhost", "127.0.0.1"))
    page.evaluate("address => { location.href = address }", f"{server.address}/words")
    expect(page.get_by_role("heading", name="Words")).to_be_visible()


def test_who_is_not_in_is_told_where_to_look(server: Running, page: Page) -> None:
    page.goto(f"{server.address}/trade-offs")
    expect(page.get_by_text("Look at the terminal in which it runs")).to_be_visible()
    assert page.evaluate(SOCKET, server.address) == "refused"
    assert status(server.address) == 403
    assert status(f"{server.address}/_stcore/host-config") == 403
    assert status(f"{server.address}/health") == 200
    assert status(f"{server.address}/", Host="evil.example") == 421


def test_nobody_else_reads_the_token(server: Running) -> None:
    """Not among a process's arguments nor in its environment, and in no log."""
    token = server.entry.partition("token=")[2].encode()
    for process in (server.process.pid, *children(server.process.pid)):
        for what in ("cmdline", "environ"):
            with suppress(OSError):
                assert token not in Path(f"/proc/{process}/{what}").read_bytes()
    status(server.entry)
    log = Path(f"/proc/{server.process.pid}/fd/2").readlink().read_bytes()
    assert log.count(token) == 1  # where it is told


def test_no_outside_address_is_asked_for(server: Running, page: Page, looked_out: Path) -> None:
    """With a page opened, and a page from elsewhere at the socket, which makes the library ask who it is."""
    page.goto(server.entry)
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()
    assert not looked_out.exists()
    code = (
        f"exec({LOOK_OUT!r}); import socket; socket.socket(socket.AF_INET, socket.SOCK_DGRAM).connect(('192.0.2.1', 9))"
    )
    subprocess.run([sys.executable, "-c", code], env={**os.environ, "LOOK_OUT": str(looked_out)}, check=False)
    assert "192.0.2.1" in looked_out.read_text()  # it does look out
    looked_out.unlink()


def test_an_open_page_goes_on_once_its_browser_is_in_again(tmp_path: Path, page: Page) -> None:
    """The program stopped and started again: the first page to come by the new address lets the others go on."""
    port = str(free_port())
    connected = page.locator("[data-test-connection-state=CONNECTED]")
    with opened(tmp_path, "--port", port) as running:
        page.goto(running.entry)
        expect(page.get_by_role("heading", name="Jobs")).to_be_visible()
        running.process.kill()
        running.process.wait()
        expect(connected).to_have_count(0)
    with opened(tmp_path, "--port", port) as running:
        other = page.context.new_page()
        other.goto(running.entry)
        expect(other.get_by_role("heading", name="Jobs")).to_be_visible()
        expect(connected).to_have_count(1)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the system chooses the browser")
def test_a_browser_is_sent_there_with_what_opens_once(tmp_path: Path) -> None:
    """At once, without a word typed; others who see what it was started with come too late."""
    sent = tmp_path / "sent"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" > {sent}.part && mv {sent}.part {sent}\n')
    browser.chmod(0o700)
    with opened(tmp_path, "--browser", environment={"BROWSER": str(browser), "DISPLAY": ":99"}) as running:
        end = time.monotonic() + SECONDS
        while not sent.exists() and time.monotonic() < end:
            time.sleep(0.1)
        address = sent.read_text().strip()
        assert address.startswith(f"{running.address}/?token=")
        assert address != running.entry
        assert [status(address), status(address)] == [200, 403]


def children(process: int) -> list[int]:
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(process)], capture_output=True, text=True, check=False)
    return [int(each) for each in found.stdout.split()]


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_the_server_ends_with_its_launcher(tmp_path: Path, how: signal.Signals) -> None:
    """However that ends."""
    with opened(tmp_path) as running:
        (server,) = children(running.process.pid)
        running.process.send_signal(how)
        running.process.wait(SECONDS)
        end = time.monotonic() + SECONDS
        while Path(f"/proc/{server}/cmdline").exists() and time.monotonic() < end:
            if not Path(f"/proc/{server}/cmdline").read_bytes():
                break  # ended, and nobody there to take note
            time.sleep(0.1)
        assert not answers(running.address)
        assert time.monotonic() < end


def test_a_port_in_use_passes_to_the_next(tmp_path: Path) -> None:
    """A usual port that is taken is passed over, which is said; one that was asked for is refused, the next offered."""
    addresses = serving.addresses_of(serving.LOCALHOST)
    taken = free_port()
    sockets = serving.bound(addresses, taken)
    try:
        told: dict[str, Any] = {"addresses": addresses, "ports": range(taken, taken + 50)}
        others, answer = serving._listening(told)
        assert others
        assert answer["port"] > taken
        done = command("open", "--port", str(taken), "--no-browser")
        assert done.returncode == 2
        (line,) = done.stderr.splitlines()
        (free,) = re.findall(r"--port (\d+) takes it", line)
        assert taken < int(free)
    finally:
        for each in [*sockets, *others]:
            each.close()


def test_a_port_is_taken_where_half_of_it_is() -> None:
    """Whoever listens at another of a name's addresses would be asked in our place."""
    family, address = (socket.AF_INET6, "::1") if serving.knows_ipv6() else (socket.AF_INET, "127.0.0.2")
    with socket.socket(family) as other:
        other.bind((address, 0))
        other.listen()
        addresses = [(socket.AF_INET, "127.0.0.1"), (family, address)]
        assert serving.first_free(addresses, [other.getsockname()[1]]) is None


def command(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "explorer.cli", *arguments],
        cwd=ROOT, env={**os.environ, **environment}, stdin=subprocess.DEVNULL, capture_output=True, text=True,
        timeout=SECONDS, check=False,
    )  # fmt: skip


def test_other_computers_need_a_password(tmp_path: Path) -> None:
    """Without one, with a short one, with a file that is not there: one line each, and nothing served."""
    short = tmp_path / "short"
    short.write_text("1234567\n")
    refused = partial(command, "open", "--host", "0.0.0.0", "--no-browser")
    for done, says in (
        (refused(), "--password-file"),
        (refused(WEDGEFRONT_PASSWORD="short"), "8 characters"),
        (refused("--password-file", str(short)), "8 characters"),
        (refused("--password-file", str(tmp_path / "none")), "No such file"),
        (command("open", "--host", "192.0.2.1", WEDGEFRONT_PASSWORD="long enough"), "no address of this computer"),
        (command("open", "--host", "no such name", WEDGEFRONT_PASSWORD="long enough"), "no address of this computer"),
    ):
        assert done.returncode == 2
        (line,) = done.stderr.splitlines()
        assert says in line
        assert done.stdout == ""


def test_open_to_others_says_so_and_asks_them_for_the_password(tmp_path: Path, page: Page) -> None:
    secret = "a long secret"
    with opened(tmp_path, "--host", "0.0.0.0", environment={"WEDGEFRONT_PASSWORD": secret}) as running:
        told = (tmp_path / "server.log").read_text()
        port = running.address.rpartition(":")[2]
        assert OPEN_TO_OTHERS.partition("{")[0] in told
        assert "no TLS" in told
        assert secret not in told
        there = f"http://127.0.0.2:{port}"  # as another computer would: by an address of this one
        page.goto(f"{there}/words")
        page.get_by_label("Password").fill("a wrong secret")
        page.get_by_role("button", name="Come in").click()
        expect(page.get_by_text("That is not the password.")).to_be_visible()
        page.get_by_label("Password").fill(secret)
        page.get_by_role("button", name="Come in").click()
        expect(page.get_by_role("heading", name="Words")).to_be_visible()
        page.goto(running.entry)  # who sits here types none
        expect(page.get_by_role("heading", name="Jobs")).to_be_visible()


def test_scripts_in_the_library_s_page_are_known() -> None:
    """Pin: where the library's page changes, its policy is looked at again."""
    page = (Path(streamlit.__file__).with_name("static") / "index.html").read_bytes()
    assert len(list(serving.inline_scripts(page))) == 1
    assert page.count(b"<script") == 2
    assert b"://" not in page.partition(b"<head>")[2].partition(b"<noscript>")[0]
