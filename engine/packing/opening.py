"""What an opening brings for the packing: its sizes, what it adds to a packed box, and its loops over designs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table
from engine.packing.contents import Contents, Rules


@dataclass(frozen=True, kw_only=True)
class OpeningPacking:
    """How boxes with one kind of opening are packed.

    ``chosen`` says which designs have it, (N,), where the contents do not.  ``sizes_of`` gives a row of its own for
    each design, from the contents and the ``Box`` rows of those designs alone.  ``own`` is the class whose fields a
    packed box has besides ``Packed``, with the values of boxes that have other openings as defaults.

    ``pack(start, stop, chosen, boxes, drivers, rules, around, packed, sizes, own)`` packs the designs numbered
    ``chosen[start:stop]`` (``sizes`` is numbered like ``chosen``, all else by design); ``place(start, stop,
    chosen, boxes, drivers, rules, packed, column_x, brace_x, opening_x, ports, sizes, own)`` then says where they
    stand across the width.  Both are compiled loops over a function of one design.
    """

    chosen: Callable[[Contents], NDArray[np.bool_]]
    sizes_of: Callable[[Contents, Table, Rules], Table]
    own: type
    pack: Callable[..., None]
    place: Callable[..., None]
    count: Callable[[Contents], NDArray[np.float64]]  # openings of each design, (N,)
