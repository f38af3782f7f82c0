"""One laid-out box as whoever makes bodies for it sees it: its sizes, what goes in, where things lie."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from engine.arrays import Floats
from engine.core.compiled import Table
from engine.facings import DOWN
from engine.packing.face import Face, at_face, face_of

ROUND = 64  # corners of a pipe's hole in a brace or a block, drawn round the pipe


@dataclass(frozen=True, kw_only=True)
class Interior:
    """A box with its layout: the rows that the packing's functions take, lengths in m.

    ``outer`` and ``inner`` are its sections (4, 2), as those of ``Wedges``; ``opening`` holds the sizes of its opening,
    ``own`` what that says of the box.  ``brace_x`` are the left faces of braces, the other places across the
    width are centres: of columns of drivers, and of passive radiators or straight vents through the drivers' panel.
    """

    outer: Floats
    inner: Floats
    shell: Table  # an engine.packing.box.Box
    driver: Table  # an engine.packing.contents.Driver
    rules: Table  # an engine.packing.contents.Allowances
    packed: Table  # an engine.packing.inside.Packed
    opening: Table
    own: Table
    column_x: tuple[float, ...]
    brace_x: tuple[float, ...]
    opening_x: tuple[float, ...]

    @cached_property
    def board(self) -> float:
        return float(self.shell.board)

    @cached_property
    def front(self) -> float:
        """Thickness of the baffle, its second layer included, m."""
        return float(self.shell.front)

    @cached_property
    def width(self) -> float:
        return float(self.shell.outer_width)

    @cached_property
    def face(self) -> Face:
        """The panel that carries drivers, or the baffle where they are in a side panel."""
        found: Face = face_of(self.shell, self.driver.facing)
        return found

    @property
    def panel(self) -> str:
        return "bottom" if self.driver.facing == DOWN else "baffle"

    @property
    def inward(self) -> Floats:
        """Unit vector square to it, into the box."""
        return np.array([0.0, -self.face.up_z, self.face.up_y])

    def on_panel(self, x: float, s: float, depth: float = 0.0) -> Floats:
        """A point (x, y, z) ``s`` along that panel and ``depth`` behind its outer face."""
        return np.array([x, *at_face(self.face, float(s), float(depth))])


def level_section(section: Floats, low: float, high: float) -> Floats:
    """What of a box's section (4, 2) lies between two heights, (4, 2): its corners in the same order."""
    back_low, back_high = (at_height(section[0], section[3], z) for z in (low, high))
    front_low, front_high = (at_height(section[1], section[2], z) for z in (low, high))
    return np.array([back_low, front_low, front_high, back_high])


def at_height(low: Floats, high: Floats, z: float) -> Floats:
    """The point (y, z) at a height on the line through two others."""
    part = (z - low[1]) / (high[1] - low[1])
    return np.array([low[0] + part * (high[0] - low[0]), z])


def round_hole(centre: Floats, radius: float) -> shapely.Polygon:
    """A pipe's hole in a plate (y, z), its corners on the outside."""
    return shapely.Point(centre).buffer(radius / np.cos(np.pi / ROUND), quad_segs=ROUND // 4)
