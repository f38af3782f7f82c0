"""What an opening brings for the packing: its sizes, what it adds to a packed box, and its loops over designs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from engine.core.compiled import Table
from engine.packing.contents import Contents


@dataclass(frozen=True, kw_only=True)
class OpeningPacking:
    """How boxes with one kind of opening are packed.

    ``sizes_of`` gives a row of its own for each design, with the ``number`` of its openings, from the contents and the
    ``Box`` rows of designs that all have it.  ``own`` is the class whose fields a packed box has besides ``Packed``,
    with the values of boxes that have other openings as defaults.

    ``pack(start, stop, chosen, batch, sizes, own)`` packs the designs numbered ``chosen[start:stop]`` of a
    :class:`~engine.packing.contents.Batch` (``sizes`` is numbered like ``chosen``, all else by design);
    ``place(start, stop, chosen, batch, across, sizes, own)`` then says where things stand across the width.
    Both are compiled loops over a function of one design.
    """

    sizes_of: Callable[[Contents, Table], Table]
    own: type
    pack: Callable[..., None]
    place: Callable[..., None]
