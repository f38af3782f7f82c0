"""The few plain pages of the gate, for whoever is not in, or not yet; no script, nothing loaded."""

from __future__ import annotations

import base64
from hashlib import sha256

from engine.markup import in_markup

_STYLE = (
    "body{font:1rem/1.5 system-ui,sans-serif;max-width:36rem;margin:12vh auto;padding:0 1.5rem}"
    "h1{font-size:1.4rem}input,button{font:inherit;padding:.4rem .7rem}"
    ":root{color-scheme:light dark}code{overflow-wrap:anywhere}"
)
_DIGEST = base64.b64encode(sha256(_STYLE.encode()).digest()).decode()
POLICY = (
    f"default-src 'none'; style-src 'sha256-{_DIGEST}'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

# Why somebody is asked for the password again.
_ASKED_AGAIN = {
    "": "",
    "wrong": "<p role=alert>That is not the password.</p>",
    "often": "<p role=alert>Too many wrong passwords came from your address. Wait a minute, then try again.</p>",
}


def _page(title: str, inner: str, head: str = "") -> str:
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">{head}'
        '<meta name="viewport" content="width=device-width"><meta name="robots" content="noindex">'
        f"<title>{title}</title><style>{_STYLE}</style></head><body><main><h1>{title}</h1>{inner}</main></body></html>"
    )


def onward(target: str) -> str:
    """On to an address of ours."""
    there = in_markup(target)
    return _page(
        "wedgefront", f'<p><a href="{there}">Go on to the explorer</a></p>',
        head=f'<meta http-equiv="refresh" content="0;url={there}">',
    )  # fmt: skip


def closed(*, asks: bool, wrong: bool = False) -> str:
    """Who comes without the token, or with one of an earlier run: where to find it, or to type the password."""
    if asks:
        return asking()
    why = (
        "The token in that address is not this run's: wedgefront makes a new one each time it is started."
        if wrong
        else "This browser has not come in yet, or wedgefront was started anew since it did."
    )
    return _page(
        "This address alone does not open wedgefront",
        f"<p>{why}</p><p>Look at the terminal in which it runs, and use the whole address that stands there, from "
        "<code>http://</code> to the end of the token. Then this page can be reloaded; your jobs are kept.</p>",
    )


def asking(again: str = "") -> str:
    """Ask for the password."""
    return _page(
        "wedgefront",
        f"{_ASKED_AGAIN[again]}<form method=post><p><label>Password <input type=password name=password required "
        "autofocus autocomplete=current-password></label> <button>Come in</button></p></form>"
        "<p>It was set by whoever started wedgefront. Nothing on the way is encrypted.</p>",
    )


def other_name() -> str:
    """Asked for under a name that this program does not go by."""
    return _page(
        "Not under this name",
        "<p>wedgefront does not answer to the name in this address. Use the address that stands in the terminal in "
        "which it runs.</p>",
    )


def other_page() -> str:
    """Asked for by a page from elsewhere."""
    return _page("Not from another page", "<p>wedgefront answers its own pages only.</p>")
