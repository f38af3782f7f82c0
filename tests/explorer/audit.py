"""A general accessibility audit of a page in the browser, with axe-core, and what of the toolkit's own is let pass."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

GRAVE = ("serious", "critical")
WIDTHS = (1400, 820, 400)
SCHEMES = ("light", "dark")
_OPTIONS = {"resultTypes": ["violations"]}


@dataclass(frozen=True)
class Allowed:
    """A finding that is the toolkit's and none of ours: its rule, what its place has in it, and why it stays."""

    rule: str
    within: str  # CSS selector of what the found element is or lies in
    reason: str


ALLOWED: tuple[Allowed, ...] = ()


def findings(page: Page) -> list[str]:
    """What is seriously or critically wrong with a page as it stands, each with its place; what is allowed left out."""
    if not page.evaluate("typeof window.axe === 'object'"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate(f"axe.run({json.dumps(_OPTIONS)})")
    return [
        f"{violation['id']} ({violation['impact']}): {_told(node)}"
        for violation in found["violations"]
        if violation["impact"] in GRAVE
        for node in violation["nodes"]
        if not _is_allowed(page, violation["id"], node)
    ]


def at_each_width(page: Page, settle: Callable[[], None]) -> Iterator[int]:
    """The page at each width, one after the other, once it has settled; it ends as wide as it began."""
    before = page.viewport_size
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        settle()
        yield width
    if before is not None:
        page.set_viewport_size(before)
    settle()


def _told(node: dict[str, Any]) -> str:
    """Where a finding is, and what is wrong there."""
    place = " ".join(map(str, node["target"]))
    checks = [check["message"] for kind in ("any", "all", "none") for check in node.get(kind, [])]
    return f"{place} {node['html'][:160]!r}: {'; '.join(checks[:2])}"


def _is_allowed(page: Page, rule: str, node: dict[str, Any]) -> bool:
    place = node["target"][0]
    where = [place] if isinstance(place, str) else place
    if len(where) != 1:
        return False
    return any(
        allowed.rule == rule
        and page.evaluate(
            "([found, within]) => !!document.querySelector(found)?.closest(within)", [where[0], allowed.within]
        )
        for allowed in ALLOWED
    )
