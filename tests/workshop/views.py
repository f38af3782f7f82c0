"""The four views of a design made by hand, and what every drawing has to keep to."""

from __future__ import annotations

import re
from collections.abc import Callable
from xml.etree import ElementTree as ET

from engine.parts import Space
from engine.quantities import Units
from engine.space.envelope import Envelope
from engine.workshop.design import Design
from engine.workshop.isometric import isometric_of
from engine.workshop.panel import panel_of
from engine.workshop.plan import plan_of
from engine.workshop.room import free_around
from engine.workshop.section import section_of
from tests.workshop.reading import SVG, overlaps, page, reach


def section(design: Design, space: Space, units: Units) -> str:
    free = free_around(Envelope(space).stretches, float(design.low[0]), float(design.high[0]))
    return section_of(design, space, free, units)


VIEWS: dict[str, Callable[[Design, Space, Units], str]] = {
    "section": section,
    "front": lambda design, space, units: panel_of(design, units, name="front"),
    "plan": plan_of,
    "isometric": isometric_of,
}


def check(svg: str) -> None:
    """Well-formed, described, inside its page, no word over another, no fixed colour, nothing to run or load."""
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert (root.get("aria-labelledby") or "").split() == ids
    for tag in ("title", "desc"):
        assert (root.findtext(f"{SVG}{tag}") or "").strip()
    assert not re.search(r"<script|href|url\(|\bon\w+=\"|#[0-9a-fA-F]{3}|nan|inf\b", re.sub(r">[^<]*<", "><", svg))
    for element in root.iter():
        for name in ("fill", "stroke"):
            assert element.get(name, "none") in ("none", "currentColor")
    left, top, right, bottom = reach(svg)
    width, height = page(svg)
    assert left >= 0.0
    assert top >= 0.0
    assert right <= width
    assert bottom <= height
    assert overlaps(svg) == []
