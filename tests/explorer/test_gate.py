"""The gate before the explorer, promises to the user: nobody comes in who may not, and whoever may is not kept out.

Requests are handed to it as a server would; that browsers and sockets behave so is in ``test_opening.py``.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping
from typing import Any

import pytest

from explorer import gate, gate_pages
from explorer.gate import Gate, Keys
from explorer.serving import THIS_MACHINE

TOKEN, TICKET, PASSWORD = "the-token", "a-ticket", "correct horse"
HERE = "localhost:8610"
COOKIE = f"a=1; wedgefront-8610={TOKEN}; b={{"
FOLLOWED = {"sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}


class Answer(dict[str, str]):
    """Headers of an answer, its status and its text; ``status`` 101 where a socket is let through."""

    status = 0
    text = ""


async def _served(scope: Any, receive: Any, send: Any) -> None:
    """What stands behind the gate."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    headers = [(b"content-type", b"text/html"), (b"X-Frame-Options", b"ALLOWALL")]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": b"a job"})


def made(**more: Any) -> Gate:
    keys = {"token": TOKEN, "names": frozenset(THIS_MACHINE), "tickets": {TICKET}} | more
    return Gate(_served, Keys(**keys), port=8610, inline=["sha256-x"])


def asked(
    at: Gate, path: str = "/", headers: Mapping[str, str] | None = None, *, kind: str = "http", method: str = "GET",
    body: bytes = b"", client: str = "192.0.2.1",
) -> Answer:  # fmt: skip
    """What a request comes to; a header that is empty is left out."""
    stated = {"host": HERE, **(headers or {})}
    path, _, query = path.partition("?")
    scope = {
        "type": kind, "path": path, "query_string": query.encode(), "client": (client, 1), "method": method,
        "headers": [(name.encode(), value.encode()) for name, value in stated.items() if value != ""],
    }  # fmt: skip
    answer = Answer()
    incoming = iter([{"type": "websocket.connect"} if kind == "websocket" else {"type": "http.request", "body": body}])

    async def receive() -> Any:
        return next(incoming)

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            answer.status = message["status"]
            answer.update((name.decode().lower(), value.decode()) for name, value in message["headers"])
        elif message["type"] == "http.response.body":
            answer.text += message["body"].decode()
        else:
            answer.status = 101 if message["type"] == "websocket.accept" else 403

    asyncio.run(at(scope, receive, send))
    return answer


EVERYTHING = [
    "/", "/trade-offs", "/media/x.csv", "/component/x", "/static/js/index.js", "/_stcore/host-config", "//x",
    "/_stcore/stream", "/_stcore/upload_file/s/f", "/_stcore/metrics", "/_stcore/agent/openapi.json",
    "/_stcore/bidi-components/x",
]  # fmt: skip


@pytest.mark.parametrize("path", EVERYTHING)
@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "POST", "DELETE", "OPTIONS"])
def test_without_a_token_nothing_is_had(path: str, method: str) -> None:
    for headers in ({}, {"cookie": "wedgefront-8610=wrong"}, {"cookie": f"wedgefront-8611={TOKEN}"}):
        answer = asked(made(), path, headers, method=method)
        assert answer.status == 403
        assert "a job" not in answer.text
        assert "set-cookie" not in answer


def test_with_the_cookie_all_is_had() -> None:
    for path in EVERYTHING:
        assert asked(made(), path, {"cookie": COOKIE}).text == "a job"
    assert asked(made(), "/_stcore/stream", {"cookie": COOKIE}, kind="websocket").status == 101
    own = {"cookie": COOKIE, "origin": f"http://{HERE}", "sec-fetch-site": "same-origin"}
    assert asked(made(), "/_stcore/upload_file/s/f", own, method="PUT").status == 200
    assert asked(made(), "/_stcore/stream", own, kind="websocket").status == 101


@pytest.mark.parametrize("shown", [TOKEN, TICKET])
def test_a_token_is_exchanged_for_a_cookie_and_leaves_the_address(shown: str) -> None:
    answer = asked(made(), f"/trade-offs?job=a%26b&token={shown}&x=1")
    assert answer.status == 200
    assert answer["set-cookie"] == f"wedgefront-8610={TOKEN}; Path=/; HttpOnly; SameSite=Strict"
    assert 'content="0;url=/trade-offs?job=a%26b&amp;x=1"' in answer.text
    assert answer["cache-control"] == "no-store"


def test_a_ticket_opens_once() -> None:
    at = made()
    assert "set-cookie" in asked(at, f"/?token={TICKET}")
    again = asked(at, f"/?token={TICKET}")
    assert again.status == 403
    assert "set-cookie" not in again


@pytest.mark.parametrize("shown", ["", "wrong", TOKEN[:-1], f"{TOKEN}x", "\u00e9", "%00"])
def test_a_wrong_token_says_where_the_right_one_is(shown: str) -> None:
    answer = asked(made(), f"/?token={shown}")
    assert answer.status == 403
    assert "terminal" in answer.text
    assert TOKEN not in answer.text
    assert asked(made(), f"/?token={shown}", {"cookie": COOKIE}).status == 200  # who is in stays in


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example", "evil.example:8610", "127.0.0.1.evil.example", "[::2]:8610",
             "user@localhost", "localhost/x", "localhost:x", "local host", "192.0.2.7", "", "localhost#", "localhost?"],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["http", "websocket"])
def test_a_foreign_name_is_not_answered_to(host: str, kind: str) -> None:
    """A name of somebody else's that was made to point here, cookie or not."""
    answer = asked(made(), headers={"host": host, "cookie": COOKIE}, kind=kind)
    assert answer.status == (421 if kind == "http" else 403)
    assert "a job" not in answer.text
    assert asked(made(), "/health", {"host": host}).status == 421


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:9000", "127.0.0.1:8610", "[::1]:8610", "localhost.:8610"])
def test_own_names_are_answered_to(host: str) -> None:
    """Under any port, since one may be led here from another."""
    assert asked(made(), headers={"host": host, "cookie": COOKIE}).status == 200


def test_two_names_are_none() -> None:
    scope_of_two = Gate(_served, Keys(token=TOKEN, names=frozenset(THIS_MACHINE)), port=8610)
    request = gate._Request({"path": "/", "headers": [(b"host", b"localhost"), (b"host", b"evil.example")]})
    assert not scope_of_two._known(request)


ELSEWHERE = [f"http://localhost:{port}" for port in (8611, 80)] + [
    "http://localhost", "http://127.0.0.1:8610", "null", "http://evil.example", f"ftp://{HERE}", f"{HERE}", "x\x00",
]  # fmt: skip


@pytest.mark.parametrize("origin", ELSEWHERE)
def test_a_page_from_elsewhere_has_nothing_though_the_cookie_comes_with_it(origin: str) -> None:
    """Browsers send it from any port of the same name."""
    stated = {"cookie": COOKIE, "origin": origin}
    assert asked(made(), "/_stcore/stream", stated, kind="websocket").status == 403
    for method in ("GET", "POST", "PUT"):
        assert asked(made(), "/media/x", stated, method=method).status == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("dest", ["script", "image", "style", "iframe", "frame", "object", "empty", "audio"])
def test_nothing_is_loaded_into_a_page_from_elsewhere(site: str, dest: str) -> None:
    mode = "navigate" if dest in ("iframe", "frame", "object") else "no-cors"
    stated = {"cookie": COOKIE, "sec-fetch-site": site, "sec-fetch-mode": mode, "sec-fetch-dest": dest}
    for path in EVERYTHING:
        assert asked(made(), path, stated).status == 403


def test_a_link_from_elsewhere_is_followed() -> None:
    """The cookie does not come with it, but with the step after that."""
    first = asked(made(), "/shortlist?job=x", {"sec-fetch-site": "cross-site", **FOLLOWED})
    assert first.status == 200
    assert 'content="0;url=/shortlist?job=x"' in first.text
    assert "set-cookie" not in first
    assert "a job" not in first.text
    then = {"sec-fetch-site": "same-origin", **FOLLOWED}
    assert asked(made(), "/shortlist?job=x", {"cookie": COOKIE, **then}).text == "a job"
    assert asked(made(), "/shortlist?job=x", then).status == 403  # and goes round no further
    assert asked(made(), headers={"cookie": COOKIE, "sec-fetch-site": "same-site", **FOLLOWED}).text == "a job"


@pytest.mark.parametrize("path", ["//evil.example/x", "/\\evil.example", "/%0d%0aset-cookie:a=b", '/"><script>'])
def test_onward_is_never_elsewhere(path: str) -> None:
    text = asked(made(), f"{path}?token={TOKEN}").text
    (there,) = [part.partition('"')[0] for part in text.split("0;url=")[1:]]
    assert there.startswith("/")
    assert not there.startswith(("//", "/\\"))
    assert "<script>" not in text


@pytest.mark.parametrize("path", gate.OPEN)
def test_health_is_told_to_everybody_and_tells_nothing(path: str) -> None:
    for headers in ({}, {"origin": "http://evil.example"}, {"cookie": "wedgefront-8610=wrong"}):
        answer = asked(made(), path, headers)
        assert (answer.status, answer.text) == (200, "ok")
        assert "set-cookie" not in answer


def test_every_page_keeps_to_itself() -> None:
    """Framing and content policies, on what is served and on what the gate says, over what the library sets."""
    behind = asked(made(), headers={"cookie": COOKIE})
    for answer in (behind, asked(made()), asked(made(), headers={"host": "x"}), asked(made(), f"/?token={TOKEN}")):
        assert answer["x-frame-options"] == "DENY"
        assert "frame-ancestors 'none'" in answer["content-security-policy"]
        assert answer["x-content-type-options"] == "nosniff"
        assert answer["cross-origin-resource-policy"] == "same-origin"
    policy = dict(part.split(" ", 1) for part in behind["content-security-policy"].split("; "))
    assert policy["script-src"] == "'self' blob: 'sha256-x'"
    assert not [source for sources in policy.values() for source in sources.split() if "://" in source or "*" in source]
    assert "unsafe-eval" not in behind["content-security-policy"]


def with_password() -> Gate:
    return made(password=PASSWORD, any_address=True, names=frozenset({*THIS_MACHINE, "workshop.local"}))


def typed(at: Gate, password: str, **how: Any) -> Answer:
    own = {"origin": f"http://{HERE}", "content-type": "application/x-www-form-urlencoded"}
    return asked(at, "/trade-offs?job=x", own, method="POST", body=f"password={password}".encode(), **how)


def test_a_password_lets_in_where_one_was_set() -> None:
    at = with_password()
    asks = asked(at, "/trade-offs?job=x")
    assert asks.status == 403
    assert "type=password" in asks.text
    wrong = typed(at, "wrong+horse")
    assert wrong.status == 403
    assert "not the password" in wrong.text
    assert "set-cookie" not in wrong
    right = typed(at, "correct+horse")
    assert (right.status, right["location"]) == (303, "/trade-offs?job=x")
    assert TOKEN in right["set-cookie"]
    assert typed(made(), "correct+horse").status == 403  # where none was set there is none
    assert typed(at, "x" * 100_000).status == 403


def test_a_password_typed_on_another_page_is_not_taken() -> None:
    other = {"origin": "http://evil.example"}
    answer = asked(with_password(), headers=other, method="POST", body=b"password=correct+horse")
    assert answer.status == 403
    assert "set-cookie" not in answer


def test_passwords_are_not_tried_out(monkeypatch: pytest.MonkeyPatch) -> None:
    at, now = with_password(), time.monotonic()
    monkeypatch.setattr(gate.time, "monotonic", lambda: now)
    for number in range(gate.WRONG_MOST):
        assert typed(at, f"wrong{number}").status == 403
    assert typed(at, "correct+horse").status == 429
    assert typed(at, "correct+horse", client="192.0.2.2").status == 303  # from elsewhere one may still
    monkeypatch.setattr(gate.time, "monotonic", lambda: now + gate.WRONG_WITHIN + 1.0)
    assert typed(at, "correct+horse").status == 303
    monkeypatch.setattr(gate, "REMEMBERED", 3)
    for number in range(10):
        typed(at, "wrong", client=f"198.51.100.{number}")
    assert len(at._wrong) == 3


@pytest.mark.parametrize("host", ["192.0.2.7:8610", "[2001:db8::1]:8610", "workshop.local"])
def test_open_to_others_its_addresses_and_names_are_answered_to(host: str) -> None:
    """No name can be made to point at an address that stands there itself."""
    assert asked(with_password(), headers={"host": host}).status == 403
    assert asked(with_password(), headers={"host": "evil.example"}).status == 421


def test_own_pages_hold_no_script_and_load_nothing() -> None:
    pages = [gate_pages.onward("/"), gate_pages.asking(), gate_pages.other_name(), gate_pages.other_page()]
    for page in [*pages, gate_pages.closed(asks=False), gate_pages.closed(asks=False, wrong=True)]:
        assert "<script" not in page
        assert "src=" not in page
        assert "http-equiv" not in page or page == pages[0]
