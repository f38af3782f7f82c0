"""Drawings read back from their XML, by rules of their own."""

from __future__ import annotations

import math
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SVG = "{http://www.w3.org/2000/svg}"
TEXT_HEIGHT = 14.0
HEAVY, MEDIUM = 2.4, 1.3


def words_of(svg: str) -> str:
    return " ".join("".join(text.itertext()) for text in ET.fromstring(svg).iter(f"{SVG}text")).replace("\u00a0", " ")


def number(element: ET.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def circles(svg: str, *, width: float | None = None) -> Floats:
    """Centre and radius of the circles of a drawing, (K, 3)."""
    found = [
        [number(circle, name) for name in ("cx", "cy", "r")]
        for circle in ET.fromstring(svg).iter(f"{SVG}circle")
        if width is None or number(circle, "stroke-width") == width
    ]
    return np.array(found).reshape(-1, 3)


def ellipses(svg: str, *, dashed: bool) -> Floats:
    """Centre, half-axes and slant in degrees, (K, 5), of the ellipses that are dashed or not."""
    found = []
    for ellipse in ET.fromstring(svg).iter(f"{SVG}ellipse"):
        if (ellipse.get("stroke-dasharray") is not None) == dashed:
            slant = float((ellipse.get("transform") or "rotate(0 ").split("(")[1].split()[0])
            found.append([*(number(ellipse, name) for name in ("cx", "cy", "rx", "ry")), slant])
    return np.array(found).reshape(-1, 5)


def paths(svg: str) -> list[tuple[float, str, bool, Floats]]:
    """Stroke width, dashes, whether closed, and corners (K, 2) of every path."""
    found = []
    for path in ET.fromstring(svg).iter(f"{SVG}path"):
        text = path.get("d", "")
        closed = text.endswith("Z")
        corners = [[float(part) for part in pair.split()] for pair in text.rstrip(" Z")[1:].split(" L")]
        found.append((number(path, "stroke-width"), path.get("stroke-dasharray", ""), closed, np.array(corners)))
    return found


def outlines(svg: str) -> list[tuple[float, Floats]]:
    """Stroke width and corners of every closed path."""
    return [(width, corners) for width, _, closed, corners in paths(svg) if closed]


def heavy(svg: str) -> Floats:
    """All corners of heavy paths together, (K, 2)."""
    return np.concatenate([corners for width, _, _, corners in paths(svg) if width == HEAVY])


def rules(svg: str) -> Floats:
    """Stroke width and ends of straight lines on the page, (K, 5)."""
    found = [
        [number(line, name) for name in ("stroke-width", "x1", "y1", "x2", "y2")]
        for line in ET.fromstring(svg).iter(f"{SVG}line")
    ]
    return np.array(found).reshape(-1, 5)


def scale(svg: str, length: float = 0.1) -> float:
    """Page units per metre, off the first scale bar: the first heavy rule is ``length`` m long."""
    bar = next(line for line in rules(svg) if line[0] == HEAVY)
    return math.hypot(bar[3] - bar[1], bar[4] - bar[2]) / length


def boxes_of_words(svg: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """What room words take: letters 0.58 of their height wide, as in wide fonts."""
    boxes = []
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        words = "".join(text.itertext())
        wide, (x, y) = 0.58 * TEXT_HEIGHT * len(words), (number(text, "x"), number(text, "y"))
        shift = {"start": 0.0, "middle": -0.5, "end": -1.0}[text.get("text-anchor", "start")] * wide
        half = 0.45 * TEXT_HEIGHT
        if text.get("transform"):
            boxes.append((words, (x - half, y - shift - wide, x + half, y - shift)))
        else:
            boxes.append((words, (x + shift, y - half, x + shift + wide, y + half)))
    return boxes


def overlaps(svg: str) -> list[tuple[str, str]]:
    """Pairs of words that lie over one another."""
    return [
        (one, other)
        for (one, a), (other, b) in combinations(boxes_of_words(svg), 2)
        if not (a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1])
    ]


def reach(svg: str) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of all that is drawn, ellipses and words taken by the box round them."""
    points = [corners for _, _, _, corners in paths(svg)]
    points += [rules(svg)[:, 1:3], rules(svg)[:, 3:5]]
    for rings in (circles(svg), ellipses(svg, dashed=True), ellipses(svg, dashed=False)):
        if len(rings):
            points += [rings[:, :2] - rings[:, 2:3], rings[:, :2] + rings[:, 2:3]]
    points += [np.array(box).reshape(2, 2) for _, box in boxes_of_words(svg)]
    everything = np.concatenate(points)
    left, top = everything.min(axis=0)
    right, bottom = everything.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def page(svg: str) -> tuple[float, float]:
    """Width and height of the view box."""
    _, _, width, height = (float(part) for part in (ET.fromstring(svg).get("viewBox") or "0 0 0 0").split())
    return width, height
