"""Who may come in: a layer of our own before everything that the explorer serves, pages, socket and files alike.

Whoever runs on this machine, or looks at a page of somebody else's in the same browser, can reach a port of this
machine.  So a request is let through only where all of this holds:

* its ``Host`` is a name that this program goes by; else a foreign name that was made to point here would do;
* its ``Origin``, where it states one, is the very address it was sent to; browsers do not count ports when they tell
  sites apart, so that the cookie alone would not stop a page from another port;
* it is not asked for by another page, unless that is a link that somebody follows;
* it holds a cookie with this run's token.  The cookie is had for the token in the address, for a ticket that opens once
  (what a browser is started with can be seen by other users of the machine), or for the password.

``/health`` answers everybody, and tells nothing.  What the library serves itself is asked only after that.
"""

from __future__ import annotations

import hmac
import ipaddress
import re
import time
from collections import deque
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from explorer import gate_pages

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Served = Callable[[Scope, Receive, Send], Awaitable[None]]

HEALTH = "/health"
OPEN = (HEALTH, "/_stcore/health")  # the second is what the page asks while the program is away
TOKEN = "token"  # in an address
_HOST = re.compile(r"(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?")
LONGEST_FORM = 4_096  # bytes of a password's form
WRONG_MOST, WRONG_WITHIN = 10, 60.0  # wrong passwords from one address, within so many seconds
REMEMBERED = 1_000  # addresses with wrong passwords

# Nothing is loaded from elsewhere and nobody may put a page of ours into theirs.  What the library's pages need is let
# be: styles that scripts write, components as modules from memory, a font in a style sheet, and a line of script in the
# page itself, by its digest.
POLICY = {
    "default-src": "'self'",
    "script-src": "'self' blob: {inline}",
    "style-src": "'self' 'unsafe-inline'",
    "img-src": "'self' data: blob:",
    "media-src": "'self' data: blob:",
    "font-src": "'self' data:",
    "connect-src": "'self'",
    "worker-src": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-src": "'none'",
    "frame-ancestors": "'none'",
}
COMMON = {
    "x-frame-options": "DENY",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), payment=()",
}


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What lets somebody in, and under which names this program is reached."""

    token: str
    names: frozenset[str]  # lower case
    password: str | None = None
    any_address: bool = False  # whether an IP address will do for a name: nobody can make another point here
    tickets: set[str] = field(default_factory=set)  # each opens once

    def opens(self, shown: str) -> bool:
        """Whether a token that somebody shows is this run's, or a ticket, which is then used up."""
        if _same(shown, self.token):
            return True
        used = [ticket for ticket in self.tickets if _same(shown, ticket)]
        self.tickets.difference_update(used)
        return bool(used)


class Gate:
    """An ASGI application that lets through to another one whoever may."""

    def __init__(self, served: Served, keys: Keys, *, port: int, inline: Iterable[str] = ()) -> None:
        """``inline``: digests of scripts that stand in pages themselves, as a content policy names them."""
        self._served, self._keys = served, keys
        self._cookie = f"wedgefront-{port}"  # browsers keep one cookie of a name for all ports of a machine
        allowed = " ".join(f"'{digest}'" for digest in inline)
        policy = "; ".join(f"{what} {where.format(inline=allowed).strip()}" for what, where in POLICY.items())
        self._headers = _encoded(COMMON | {"content-security-policy": policy})
        self._wrong: dict[str, deque[float]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await self._asked(_Request(scope), scope, receive, send)
        elif scope["type"] == "websocket":
            request = _Request(scope)
            if self._known(request) and request.own_origin and self._has_cookie(request):
                await self._served(scope, receive, send)
            else:
                await receive()
                await send({"type": "websocket.close", "code": 1008})  # before it is accepted: 403
        else:
            await self._served(scope, receive, send)

    async def _asked(self, request: _Request, scope: Scope, receive: Receive, send: Send) -> None:
        if not self._known(request):
            await _answer(send, 421, gate_pages.other_name())
        elif request.path in OPEN and (request.path == HEALTH or not self._has_cookie(request)):
            await _answer(send, 200, "ok", kind="text/plain")
        elif not request.own_origin or request.from_another_page:
            await _answer(send, 403, gate_pages.other_page())
        elif request.token is not None and request.method == "GET":
            await self._arrived(request, send)
        elif self._has_cookie(request):
            await self._served(scope, receive, self._guarded(send))
        elif request.method == "POST" and self._keys.password is not None:
            await self._told_password(request, scope, receive, send)
        elif request.followed_from_elsewhere:
            # The cookie does not come with a link on somebody else's page; it does with the next step, from here.
            await _answer(send, 200, gate_pages.onward(request.target))
        else:
            await _answer(send, 403, gate_pages.closed(asks=self._keys.password is not None))

    async def _arrived(self, request: _Request, send: Send) -> None:
        """Somebody shows a token: for the right one the cookie, and on to the same address without it."""
        assert request.token is not None
        if self._keys.opens(request.token):
            # A page, not a redirection: the cookie would not come with that if the link stood on another site.
            await _answer(send, 200, gate_pages.onward(request.target), cookie=self._set_cookie())
        elif self._has_cookie(request):
            await _answer(send, 200, gate_pages.onward(request.target))  # an old address, in a browser that is in
        else:
            await _answer(send, 403, gate_pages.closed(asks=self._keys.password is not None, wrong=True))

    async def _told_password(self, request: _Request, scope: Scope, receive: Receive, send: Send) -> None:
        """Somebody types a password: for the right one the cookie.  Few tries a minute from each address."""
        assert self._keys.password is not None
        client, now = (scope.get("client") or ("", 0))[0], time.monotonic()
        wrong = self._wrong.get(client, deque())
        while wrong and now - wrong[0] > WRONG_WITHIN:
            wrong.popleft()
        body = await _body(receive)
        if len(wrong) >= WRONG_MOST:
            await _answer(send, 429, gate_pages.asking("often"))
        elif body is None or not _same(dict(parse_qsl(body)).get("password", ""), self._keys.password):
            wrong.append(now)
            self._wrong[client] = wrong
            while len(self._wrong) > REMEMBERED:
                del self._wrong[next(iter(self._wrong))]
            await _answer(send, 403, gate_pages.asking("wrong"))
        else:
            self._wrong.pop(client, None)
            await _answer(send, 303, "", cookie=self._set_cookie(), to=request.target)

    def _known(self, request: _Request) -> bool:
        """Whether the name that a request is sent to is one of this program's."""
        if request.name is None:
            return False
        return request.name in self._keys.names or (self._keys.any_address and _is_address(request.name))

    def _has_cookie(self, request: _Request) -> bool:
        return any(_same(shown, self._keys.token) for shown in request.cookies(self._cookie))

    def _set_cookie(self) -> str:
        return f"{self._cookie}={self._keys.token}; Path=/; HttpOnly; SameSite=Strict"

    def _guarded(self, send: Send) -> Send:
        """Answers with what keeps pages to themselves."""
        named = {name for name, _ in self._headers}

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [(name, value) for name, value in message.get("headers", ()) if name.lower() not in named]
                message = {**message, "headers": [*kept, *self._headers]}
            await send(message)

        return guarded


class _Request:
    """What a request says of itself."""

    def __init__(self, scope: Scope) -> None:
        self.path: str = scope["path"]
        self.method: str = scope.get("method", "GET")
        self._headers: list[tuple[bytes, bytes]] = scope["headers"]
        self._query: list[tuple[str, str]] = parse_qsl(scope.get("query_string", b"").decode("latin-1"), True)

    def _all(self, name: str) -> list[str]:
        wanted = name.encode()
        return [value.decode("latin-1") for key, value in self._headers if key.lower() == wanted]

    def _one(self, name: str) -> str:
        return (self._all(name) or [""])[0]

    @property
    def name(self) -> str | None:
        """The name or address in ``Host``, without its port; None where that is missing, doubled or malformed."""
        stated = self._all("host")
        return _name_of(stated[0]) if len(stated) == 1 else None

    @property
    def own_origin(self) -> bool:
        """Whether the page that asks, where one is named, is at the very address that it asks."""
        return all(_is_at(origin, self._one("host")) for origin in self._all("origin"))

    @property
    def _followed(self) -> bool:
        """Whether somebody follows a link, or types an address, into a window of its own."""
        asked = self.method, self._one("sec-fetch-mode"), self._one("sec-fetch-dest")
        return asked == ("GET", "navigate", "document")

    @property
    def from_another_page(self) -> bool:
        """Whether a page from elsewhere asks, as browsers say, for anything but to be left for ours."""
        return self._one("sec-fetch-site") in ("cross-site", "same-site") and not self._followed

    @property
    def followed_from_elsewhere(self) -> bool:
        return self._one("sec-fetch-site") == "cross-site" and self._followed

    @property
    def token(self) -> str | None:
        return dict(self._query).get(TOKEN)

    @property
    def target(self) -> str:
        """The address asked for, on this machine and without a token."""
        left = urlencode([(name, value) for name, value in self._query if name != TOKEN])
        return "/" + quote(self.path.lstrip("/")) + (f"?{left}" if left else "")

    def cookies(self, name: str) -> list[str]:
        """Every cookie of that name; other programs of this machine may have set some, and what they like."""
        each = [part.partition("=") for stated in self._all("cookie") for part in stated.split(";")]
        return [value.strip() for key, _, value in each if key.strip() == name]


def _name_of(stated: str) -> str | None:
    """The name or address of ``name:port``; None where that is not what is stated."""
    found = _HOST.fullmatch(stated)
    return found[1].strip("[]").rstrip(".").lower() or None if found else None


def _is_at(origin: str, host: str) -> bool:
    parts = urlsplit(origin) if origin.isprintable() else None
    return parts is not None and parts.scheme in ("http", "https") and parts.netloc.lower() == host.lower()


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _same(shown: str, right: str) -> bool:
    """Compared in a time that tells nothing."""
    return hmac.compare_digest(shown.encode(errors="replace"), right.encode(errors="replace"))


def _encoded(headers: dict[str, str]) -> list[tuple[bytes, bytes]]:
    return [(name.encode(), value.encode("latin-1")) for name, value in headers.items()]


async def _body(receive: Receive) -> str | None:
    """What a form says; None where that is longer than one of ours."""
    found = b""
    while len(found) <= LONGEST_FORM:
        message = await receive()
        if message["type"] != "http.request":
            return None
        found += message.get("body", b"")
        if not message.get("more_body", False):
            return found.decode("utf-8", "replace") if len(found) <= LONGEST_FORM else None
    return None


async def _answer(
    send: Send, status: int, text: str, *, kind: str = "text/html", cookie: str = "", to: str = ""
) -> None:
    """Answer with a small page of the gate's own."""
    headers = COMMON | {
        "content-type": f"{kind}; charset=utf-8",
        "cache-control": "no-store",
        "content-security-policy": gate_pages.POLICY,
    }
    headers |= {"set-cookie": cookie} if cookie else {}
    headers |= {"location": to} if to else {}
    body = text.encode()
    length = [(b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": _encoded(headers) + length})
    await send({"type": "http.response.body", "body": body})
