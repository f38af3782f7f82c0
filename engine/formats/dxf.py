"""Outlines to be cut as DXF, in millimetres: closed ones, arcs as arcs, a layer for each operation.

R2000 (AC1015), the oldest that has closed light polylines and says its units: what cutting programs read best, common
practice, no source.  The same input gives the same bytes.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import ezdxf
import numpy as np
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace
from ezdxf.units import MM

from engine.arrays import Floats

MILLIMETRES = 1e3  # a metre
NOTES = "NOTES"  # the layer of words, which nothing is cut on
_HELD = re.compile(r"[\x00-\x1f\x7f\u2028\u2029]+")  # what would end a line of the file


@dataclass(frozen=True, eq=False)
class Curve:
    """A closed outline on a layer: corners (K, 2) in m, and bulges (K,), tangents of a quarter of each arc's angle.

    Two corners with bulges of 1 are a circle, and written as one.
    """

    layer: str
    points: Floats
    bulges: Floats


@dataclass(frozen=True)
class Note:
    """Words that begin at a place, m, in letters ``height`` m high."""

    place: tuple[float, float]
    words: str
    height: float = 0.006


def write_dxf(curves: Sequence[Curve], notes: Sequence[Note], *, colours: dict[str, int]) -> bytes:
    """The file; ``colours`` are those of all layers (AutoCAD's index), which are there whether used or not."""
    with _nothing_of_today():
        document = ezdxf.new("R2000", units=MM)
        document.header["$MEASUREMENT"] = 1
        for name, colour in {**colours, NOTES: 8}.items():
            document.layers.add(name, color=colour)
        space = document.modelspace()
        for curve in curves:
            _draw(space, curve)
        for note in notes:
            place, height = tuple(MILLIMETRES * each for each in note.place), MILLIMETRES * note.height
            space.add_text(in_dxf(note.words), height=height, dxfattribs={"layer": NOTES, "insert": place})
        _set_extents(document, curves)
        stream = io.StringIO()
        document.write(stream)
        return document.encode(stream.getvalue())


def in_dxf(words: str) -> str:
    r"""Any text as one line of a drawing, in which nothing is a code for something else.

    >>> in_dxf("Ms %%u Example\n0\nEOF")
    'Ms % % u Example 0 EOF'
    """
    line = _HELD.sub(" ", words).encode("utf-8", "replace").decode("utf-8")
    # A caret begins a control character, "\U+" a letter by its number, two per cent signs a sign or a way of writing.
    return line.replace("^", "\N{MODIFIER LETTER CIRCUMFLEX ACCENT}").replace("\\", "/").replace("%%", "% % ")


def _draw(space: Modelspace, curve: Curve) -> None:
    points, bulges = MILLIMETRES * curve.points, curve.bulges
    on = {"layer": curve.layer}
    if len(points) == 2 and np.all(np.abs(np.abs(bulges) - 1.0) < 1e-12):
        middle, radius = points.mean(axis=0), 0.5 * float(np.hypot(*(points[1] - points[0])))
        space.add_circle(tuple(middle.tolist()), radius, dxfattribs=on)
        return
    corners = [(*map(float, point), float(bulge)) for point, bulge in zip(points, bulges, strict=True)]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=on)


def _set_extents(document: Drawing, curves: Sequence[Curve]) -> None:
    corners = MILLIMETRES * np.concatenate([curve.points for curve in curves])
    low, high = corners.min(axis=0), corners.max(axis=0)
    document.header["$EXTMIN"] = (*low.tolist(), 0.0)
    document.header["$EXTMAX"] = (*high.tolist(), 0.0)


@contextmanager
def _nothing_of_today() -> Iterator[None]:
    """No clock and no number drawn by chance in what is written meanwhile."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
