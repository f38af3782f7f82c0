"""A slot of the box's own board as bodies: along bottom or top, straight or turning along the right side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from engine.arrays import Floats
from engine.openings.slot.packing import level_of
from engine.packing.placement import SLOT_BAFFLE, SLOT_SIDE
from engine.space import roles
from engine.space.bodies import SAME, SIDES, Body, Dimension, Path, Prism, Shape, Thing, body_of
from engine.space.interior import Interior, at_height, level_section

KIND = "slot"
LEVEL = 1e-6  # m


def bodies(box: Interior) -> list[Body]:
    """The slot of a box; nothing where there was no place for it."""
    placement, own, board = int(box.own.vent_placement), box.own, box.board
    if placement not in (SLOT_SIDE, SLOT_BAFFLE):
        return []
    through_side, turn, clear = placement == SLOT_SIDE, float(own.slot_turn), float(box.opening.height)

    def level(start: float, end: float) -> Floats:
        low, high = sorted(level_of(box.shell, bool(own.vent_low), k) for k in (start, end))
        return level_section(box.inner, low, high)

    through = board if through_side else box.front * float(box.shell.baffle_secant)
    right = box.width - board
    end = right if turn else board + float(box.packed.vent_length) - through
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
    front = [at_height(box.outer[1], box.outer[2], z) for z in section[1:3, 1]]
    hole = Prism(section=np.array([section[1], *front, section[2]]), x=(board, board + float(own.slot_width)))
    return slot(boards, duct, free_air, hole, panel="baffle")


def slot(
    boards: Sequence[Prism], duct: Sequence[Prism], free_air: Prism, window: Prism, *, panel: str,
    outside: Prism | None = None,
) -> list[Body]:  # fmt: skip
    """Bodies of a slot that goes through a ``panel`` by a ``window``.

    ``boards`` close it towards the box: one along the width and, beside a leg along the right side, a second one.
    ``duct`` is its opening along the width and, where it turns, along the right side; ``free_air`` and ``outside`` are
    kept free before its inner mouth, and beside the box before its outer one.
    """

    def body(called: str, role: roles.Role, *shapes: Shape, through: str = "") -> Body:
        return Body(called, role, Thing(KIND), shapes, through)

    line = Path(points=_middle_line(boards[0], duct, free_air, window, panel=panel), arm=0.5 * height(duct[0]))
    return [
        body("the slot", roles.SLOT_BOARD, *boards),
        body("the air in the slot", roles.DUCT, *duct),
        body("the air in the slot", roles.DUCT_AIR, free_air),
        body("the mouth of the slot", roles.WINDOW, window, through=panel),
        body("the middle of the slot", roles.MIDDLE_LINE, line),
        *([body("the air outside the slot", roles.OUTSIDE_AIR, outside)] if outside else []),
    ]


def is_low(board: Prism, channel: Prism) -> bool:
    """Whether the slot lies along the bottom, so that its leg goes up; else along the top, and down."""
    return bool(board.section[:, 1].mean() > channel.section[:, 1].mean())


def height(channel: Prism) -> float:
    return float(np.ptp(channel.section[:, 1]))


def levels(duct: Sequence[Prism], *, low: bool) -> tuple[float, float, float]:
    """Where its panel, its clear height and its leg end, z in m; the last two are the same without a leg."""
    nearest, farthest = (np.min, np.max) if low else (np.max, np.min)
    near, levels = duct[0].section[:, 1], np.concatenate([each.section[:, 1] for each in duct])
    return float(nearest(near)), float(farthest(near)), float(farthest(levels))


def _middle_line(board: Prism, duct: Sequence[Prism], air: Prism, window: Prism, *, panel: str) -> Floats:
    """From the middle of the outer mouth to that of the inner one, mitred where it turns, and on through the air."""
    run, end = duct[0], np.max if is_low(board, duct[0]) else np.min
    middle = _between(run, 0.5 * float(run.section[:, 1].min() + run.section[:, 1].max()))
    if panel in SIDES:
        points = [(window.x[0], *window.section.mean(axis=0))]
    else:
        x = 0.5 * sum(window.x)
        points = [(x, *window.section[1:3].mean(axis=0)), (x, *middle)]
    if len(duct) == 1:
        points += [(run.x[1], *middle), (air.x[1], *middle)]
    else:
        x, ends = 0.5 * sum(duct[1].x), [_between(leg, end(leg.section[:, 1])) for leg in (duct[1], air)]
        points += [(x, *place) for place in (middle, *ends)]
    return np.array(points)


def slot_length(bodies: Sequence[Body]) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    # Its steps go along the axes; that the middle of a leg drifts where back or baffle lean does not count.
    line = body_of(bodies, roles.MIDDLE_LINE).paths[0].points[:-1]
    return float(np.abs(np.diff(line, axis=0)).max(axis=1).sum())


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
    board, duct = body_of(bodies, roles.SLOT_BOARD).prisms[0], body_of(bodies, roles.DUCT).prisms
    panel, corner, end = levels(duct, low=is_low(board, duct[0]))
    foremost = float(duct[0].section[:, 0].max())
    chain = [(panel, corner), *([(corner, end)] if len(duct) > 1 else [])]
    upright = [Dimension(view="section", ends=(min(ends), max(ends)), source=foremost) for ends in chain]
    return [*upright, Dimension(view="plan", ends=board.x, words="slot board ")]
