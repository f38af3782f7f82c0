"""What an opening brings for the packing: its sizes, what it adds to a packed box, and its loops over designs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table


@dataclass(frozen=True, kw_only=True)
class OpeningPacking:
    """How boxes with one kind of opening are packed.

    ``sizes_of`` gives a row of its own for each of N designs, with the ``number`` of its openings, from N, sizes by
    name, (N,) each, and how thick their baffles are, m, (N,) or one for all; rows of designs that have another opening
    are not used.  ``own`` is the class whose fields a packed box has besides ``Packed``, with the values of boxes that
    have other openings as defaults.  ``pack`` and ``place`` are compiled loops, made by
    :func:`engine.packing.loops.packing` and :func:`engine.packing.loops.placing`.
    """

    sizes_of: Callable[[int, Mapping[str, NDArray[np.float64]], NDArray[np.float64] | float], Table]
    own: type
    pack: Callable[..., None]
    place: Callable[..., None]
