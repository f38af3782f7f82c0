"""Joint orders: which of a box's panels goes over which; outside and inside of the box are the same in all of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.arrays import Floats
from engine.registry import Registry
from engine.scenario import JOINT_ORDERS
from engine.space.interior import at_height


@dataclass(frozen=True, kw_only=True)
class JointOrder:
    """One joint order.  Bottom and top always lie between the sides, and the back between those four."""

    name: str
    words: str  # what the builder reads of it
    baffle_over_all: bool  # else the baffle lies between sides, bottom and top
    last: str  # the panel that closes the box, through which braces and pipes get into it


JOINTS = Registry(
    JointOrder(
        name="sides over all", words="the sides cover the edges of all other panels", baffle_over_all=False,
        last="right side",
    ),
    JointOrder(
        name="baffle over all", words="the baffle covers the front edges of sides, bottom and top",
        baffle_over_all=True, last="baffle",
    ),
)  # fmt: skip
if tuple(JOINTS) != JOINT_ORDERS:
    raise ValueError("expected joint orders as a job may state them")


class Lengthwise(NamedTuple):
    """A panel along the width: the lines (2, 2) in the section that its outside and inside face are, and its ends."""

    outside: Floats
    inside: Floats
    x: tuple[float, float]


class Sides(NamedTuple):
    """Section (K, 2) of both side panels, and the thickness of either."""

    section: Floats
    thickness: float


def panels(
    order: JointOrder, *, outer: Floats, inner: Floats, width: float, board: float, layer: float
) -> tuple[Sides, Mapping[str, Lengthwise]]:
    """Sides, and the other panels by their names, of a box with these sections (4, 2), lengths in m.

    The baffle is the board that bounds the inside; a second ``layer`` lies before it.
    """
    low, high, tall = board, float(outer[2, 1]) - board, float(outer[2, 1])

    def back(z: float) -> Floats:
        return at_height(outer[0], outer[3], z)

    def front(z: float) -> Floats:
        return at_height(outer[1], outer[2], z)

    def behind_baffle(z: float) -> Floats:
        return at_height(inner[1], inner[2], z)

    # The whole baffle is board and layer: where they meet shares it in their proportion.
    share = layer / (board + layer)

    def between_layers(z: float) -> Floats:
        return np.asarray(front(z) + share * (behind_baffle(z) - front(z)))

    over = order.baffle_over_all
    foremost = behind_baffle if over else front  # to where sides, bottom and top reach
    ends = (0.0, tall) if over else (low, high)
    across = (0.0, width) if over else (board, width - board)
    between = (board, width - board)

    def upright(line: Callable[[float], Floats], heights: tuple[float, float]) -> Floats:
        return np.array([line(z) for z in heights])

    found = {
        "bottom": Lengthwise(np.array([back(0.0), foremost(0.0)]), np.array([back(low), foremost(low)]), between),
        "top": Lengthwise(np.array([foremost(tall), back(tall)]), np.array([foremost(high), back(high)]), between),
        "back": Lengthwise(upright(back, (low, high)), inner[[0, 3]], between),
        "baffle": Lengthwise(upright(between_layers, ends), upright(behind_baffle, ends), across),
    }
    if layer > 0.0:
        found["baffle layer"] = Lengthwise(upright(front, ends), upright(between_layers, ends), across)
    section = np.array([outer[0], foremost(0.0), foremost(tall), outer[3]])
    return Sides(section, board), found
