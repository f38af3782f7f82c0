"""A slot of the box's own board as bodies: along bottom or top, straight or turning along the right side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from engine.openings.slot.packing import level_of
from engine.packing.placement import SLOT_BAFFLE, SLOT_SIDE
from engine.space.bodies import (
    DUCT,
    DUCT_AIR,
    MIDDLE_LINE,
    OUTSIDE_AIR,
    SAME,
    SIDES,
    SLOT_BOARD,
    WINDOW,
    Body,
    Dimension,
    Path,
    Prism,
    Role,
    Shape,
    Thing,
    body_of,
)
from engine.space.interior import Interior, at_height, level_section

Floats = NDArray[np.float64]

KIND = "slot"
LEVEL = 1e-6  # m


def bodies(box: Interior) -> list[Body]:
    """The slot of a box; nothing where there was no place for it."""
    laid = box.laid
    placement = int(laid["vent_placement"])
    if placement not in (SLOT_SIDE, SLOT_BAFFLE):
        return []
    board, through_side, turn = box.board, placement == SLOT_SIDE, laid["slot_turn"]
    at_bottom, clear = bool(laid["vent_low"]), box.size("slot_height")

    def level(start: float, end: float) -> Floats:
        low, high = sorted(level_of(box.shell, at_bottom, k) for k in (start, end))
        return level_section(box.inner, low, high)

    through = board if through_side else board * float(box.shell.baffle_secant)
    right = box.width - board
    end = right if turn else board + laid["vent_length"] - through
    section = level(0.0, clear)
    leg = (right - clear, right)
    boards = [Prism(section=level(clear, clear + board), x=(board, leg[0] if turn else end))]
    duct = [Prism(section=section, x=(board, end))]
    free_air = Prism(section=section, x=(end, end + clear))
    if turn:
        if turn > board + SAME:
            boards.append(Prism(section=level(clear + board, clear + turn), x=(leg[0] - board, leg[0])))
        duct.append(Prism(section=level(clear, clear + turn), x=leg))
        free_air = Prism(section=level(clear + turn, 2.0 * clear + turn), x=leg)
    if through_side:
        window = Prism(section=section, x=(0.0, board))
        return slot(boards, duct, free_air, window, panel="left side", outside=Prism(section=section, x=(-clear, 0.0)))
    (_, low), (_, high) = section[1:3]
    front = [at_height(box.outer[1], box.outer[2], z) for z in (low, high)]
    hole = np.array([section[1], *front, section[2]])
    return slot(boards, duct, free_air, Prism(section=hole, x=(board, board + laid["slot_width"])), panel="baffle")


def slot(
    boards: Sequence[Prism],
    duct: Sequence[Prism],
    free_air: Prism,
    window: Prism,
    *,
    panel: str,
    outside: Prism | None = None,
) -> list[Body]:
    """Bodies of a slot.

    Parameters
    ----------
    boards
        What closes it towards the box: one along the width and, beside a leg along the right side, a second one.
    duct
        Its opening along the width and, where it turns, along the right side.
    free_air, outside
        Air kept free before its inner mouth, and beside the box before its outer one.
    window
        Its hole in the ``panel`` that it goes through.
    """

    def body(called: str, role: Role, *shapes: Shape, through: str = "") -> Body:
        return Body(name=called, role=role, thing=Thing(KIND), shapes=shapes, panel=through)

    line = _middle_line(boards[0], duct, free_air, window, panel=panel)
    found = [
        body("the slot", SLOT_BOARD, *boards),
        body("the air in the slot", DUCT, *duct),
        body("the air in the slot", DUCT_AIR, free_air),
        body("the mouth of the slot", WINDOW, window, through=panel),
        body("the middle of the slot", MIDDLE_LINE, Path(points=line, arm=0.5 * height(duct[0]))),
    ]
    return found if outside is None else [*found, body("the air outside the slot", OUTSIDE_AIR, outside)]


# Measured


def is_low(board: Prism, channel: Prism) -> bool:
    """Whether the slot lies along the bottom, so that its leg goes up; else along the top, and down."""
    return bool(board.section[:, 1].mean() > channel.section[:, 1].mean())


def height(channel: Prism) -> float:
    return float(np.ptp(channel.section[:, 1]))


def levels(duct: Sequence[Prism], *, low: bool) -> tuple[float, float, float]:
    """Where its panel, its clear height and its leg end, z in m; the last two are the same without a leg."""
    levels = duct[0].section[:, 1]
    ends = np.concatenate([each.section[:, 1] for each in duct])
    if low:
        return float(levels.min()), float(levels.max()), float(ends.max())
    return float(levels.max()), float(levels.min()), float(ends.min())


def _middle_line(board: Prism, duct: Sequence[Prism], air: Prism, window: Prism, *, panel: str) -> Floats:
    """From the middle of the outer mouth to that of the inner one, mitred where it turns, and on through the air."""
    run, up = duct[0], is_low(board, duct[0])
    if panel in SIDES:
        mouth = np.array([window.x[0], *window.section.mean(axis=0)])
        points = [mouth]
    else:
        mouth = np.array([0.5 * sum(window.x), *window.section[1:3].mean(axis=0)])
        points = [mouth, np.array([mouth[0], *_middle(run)])]
    if len(duct) == 1:
        points += [np.array([x, *_middle(each)]) for each, x in ((run, run.x[1]), (air, air.x[1]))]
    else:
        x = 0.5 * sum(duct[1].x)
        points += [np.array([x, *place]) for place in (_middle(run), _end(duct[1], up=up), _end(air, up=up))]
    return np.array(points)


def slot_length(bodies: Sequence[Body]) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    # Its steps go along the axes; that the middle of a leg drifts where back or baffle lean does not count.
    line = body_of(bodies, MIDDLE_LINE).paths[0].points[:-1]
    return float(np.abs(np.diff(line, axis=0)).max(axis=1).sum())


def _middle(body: Prism) -> Floats:
    """Of a section: halfway between back and baffle at half its height, (2,)."""
    low, high = body.section.min(axis=0), body.section.max(axis=0)
    return _between(body, 0.5 * float(low[1] + high[1]))


def _end(body: Prism, *, up: bool) -> Floats:
    """The middle of the upper or lower end of a section, (2,)."""
    levels = body.section[:, 1]
    return _between(body, float(levels.max() if up else levels.min()))


def _between(body: Prism, z: float) -> Floats:
    """Halfway between back and baffle at a height, (2,)."""
    corners = np.vstack([body.section, body.section[:1]])
    at = [
        low[0] + (z - low[1]) / (high[1] - low[1]) * (high[0] - low[0])
        for low, high in pairwise(corners)
        if min(low[1], high[1]) <= z <= max(low[1], high[1]) and abs(high[1] - low[1]) > LEVEL
    ]
    return np.array([0.5 * (min(at) + max(at)), z]) if at else np.array([float(body.section[:, 0].mean()), z])


def dimensions(bodies: Sequence[Body]) -> list[Dimension]:
    """Clear height and leg beside the section, the board along the width below the plan."""
    board, duct = body_of(bodies, SLOT_BOARD).prisms[0], body_of(bodies, DUCT).prisms
    panel, corner, end = levels(duct, low=is_low(board, duct[0]))
    foremost = float(duct[0].section[:, 0].max())
    chain = [(panel, corner), *([(corner, end)] if len(duct) > 1 else [])]
    upright = [Dimension(view="section", ends=(min(ends), max(ends)), source=foremost) for ends in chain]
    return [*upright, Dimension(view="plan", ends=board.x, words="slot board ")]
