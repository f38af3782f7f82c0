"""A job in little: its space from the side, and in it the box that was picked, drawn from a row's figures alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.parts import Space
from engine.workshop import keepouts
from engine.workshop.svg import PAD, Line, Mark, Sheet

TALLEST = 250.0  # page units that the space takes
KEYS = ("box_forward_m", "box_up_m", "bottom_depth_m", "top_depth_m", "outer_height_m", "back_angle_deg")


def small_section(space: Space, row: Mapping[str, Any] | None) -> str:
    """SVG of a space's cross-section and, where a row of a front is given, the outline of its box in it."""
    about = "The space from the side" if row is None else "The space from the side, with the box in it"
    sheet = Sheet("small", "The job in little", about, "metric")
    marks: list[Mark] = [Line(outline, "faint") for outline in keepouts.sections(space.keepouts)]
    marks.append(Line(np.asarray(space.section, dtype=float), "outline"))
    if row is not None:
        marks.append(Line(box_outline(row), "cut", wash=0.22))
    sheet.fit(marks, left=PAD, right=PAD, top=PAD, tallest=TALLEST)
    sheet.draw(marks)
    sheet.height = TALLEST + 2.0 * PAD  # all alike, so that they stand side by side
    return sheet.svg()


def box_outline(row: Mapping[str, Any]) -> Floats:
    """Outer corners (4, 2), forward and up in m, of the box of a row where it stands in its space."""
    forward, up, bottom, top, height, lean = (float(row[key]) for key in KEYS)
    back = height * math.tan(math.radians(lean))
    corners = [(0.0, 0.0), (bottom, 0.0), (back + top, height), (back, height)]
    placed: Floats = np.asarray(corners) + np.array([forward, up])
    return placed
