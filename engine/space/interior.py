"""One laid-out box as whoever makes bodies for it sees it: its sizes, what goes in, where things lie."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.core.compiled import Table
from engine.facings import DOWN
from engine.packing.contents import Contents
from engine.packing.face import Face, at_face
from engine.parts import TerminalCup
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

ROUND = 64  # corners of a pipe's hole in a brace or a block, drawn round the pipe


@dataclass(frozen=True, kw_only=True)
class Interior:
    """A box with its layout.

    ``wedge`` and ``contents`` are batches of one; ``laid`` has what the packing found, by name.  ``brace_x`` are the
    left faces of braces, the other places across the width are centres: of columns of drivers, and of passive
    radiators or straight vents through the drivers' panel.  The rest are the rows that the packing's functions take:
    the box, its drivers, the rules, and the sizes of its opening with what that one says besides.
    """

    wedge: Wedges
    contents: Contents
    face: Face
    gap: float  # m, breathing gap
    laid: Mapping[str, float]
    cup: TerminalCup | None
    column_x: tuple[float, ...]
    brace_x: tuple[float, ...]
    opening_x: tuple[float, ...]
    shell: Table  # an engine.packing.box.Box
    driver: Table
    rules: Table
    opening: Table
    own: Table

    @property
    def board(self) -> float:
        return self.wedge.board

    @property
    def width(self) -> float:
        return float(self.wedge.outer_width[0])

    @property
    def outer(self) -> Floats:
        section: Floats = self.wedge.outer_section[0]
        return section

    @property
    def inner(self) -> Floats:
        section: Floats = self.wedge.inner_section[0]
        return section

    @property
    def panel(self) -> str:
        """Name of the panel that carries drivers, or the baffle where they are in a side panel."""
        return "bottom" if int(self.contents.facing[0]) == DOWN else "baffle"

    @property
    def inward(self) -> Floats:
        """Unit vector square to that panel, into the box."""
        return np.array([0.0, -self.face.up_z, self.face.up_y])

    def on_panel(self, x: float, s: float, depth: float) -> Floats:
        """A point (x, y, z) ``s`` along that panel and ``depth`` behind its outer face."""
        return np.array([x, *at_face(self.face, float(s), float(depth))])

    def size(self, name: str) -> float:
        """A size of the contents, by its name there."""
        return float(self.contents.size(name)[0])


def at_height(low: Floats, high: Floats, z: float) -> Floats:
    """The point (y, z) at a height on the line through two others."""
    part = (z - low[1]) / (high[1] - low[1])
    return np.array([low[0] + part * (high[0] - low[0]), z])


def level_section(section: Floats, low: float, high: float) -> Floats:
    """What of a box's section (4, 2) lies between two heights, (4, 2): its corners in the same order."""
    back, front = (section[0], section[3]), (section[1], section[2])
    return np.array([at_height(*back, low), at_height(*front, low), at_height(*front, high), at_height(*back, high)])


def round_hole(centre: Floats, radius: float) -> shapely.Polygon:
    """A pipe's hole in a plate (y, z), its corners on the outside."""
    return shapely.Point(centre).buffer(radius / np.cos(np.pi / ROUND), quad_segs=ROUND // 4)
