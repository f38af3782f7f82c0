"""Where a box stands, whether it passes the door and which is the largest, with the compiler off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from engine.arrays import Floats
from engine.parts import Door
from engine.space.envelope import Envelope
from tests.core.uncompiled import uncompiled
from tests.space.spaces import BOARD, SPACES, boxes_for, furnished_space

DOOR = Door(width=0.5, height=0.25, turning_room=0.9)


def answers() -> dict[str, Floats]:
    """Places, violations and largest boxes in some spaces, convex, crooked and furnished."""
    found: dict[str, list[Floats]] = {"places": [], "door": [], "largest": []}
    for number, space in enumerate((SPACES[3], SPACES[20], furnished_space(203, margin=0.01))):
        envelope = Envelope(replace(space, door=DOOR), covering=0.003)
        boxes = boxes_for(space, 60, back_angle=0.2 * (number - 1), seed=number)
        fit = envelope.fit(boxes, below=0.05 * (np.arange(60) % 2))
        found["places"].append(np.array([fit.y, fit.z, fit.violation, fit.x_low, fit.x_high, fit.ahead, fit.stretch]))
        found["door"].append(envelope.door_violation(boxes))
    box = Envelope(SPACES[3]).largest(board=BOARD, back_angle=0.1, below=0.02)
    assert box is not None
    found["largest"].append(np.array([box.outer_height, box.top_depth, box.bottom_depth, box.y, box.z]))
    return {name: np.concatenate(arrays, axis=-1) for name, arrays in found.items()}


def test_plain_python_gives_the_same_answers(tmp_path: Path) -> None:
    """Independent implementation: the same functions run by Python itself, in a process where nothing is compiled."""
    plain = uncompiled(__name__, answers.__name__, tmp_path)
    for name, expected in answers().items():
        np.testing.assert_allclose(plain[name], expected, rtol=0.0, atol=1e-12)
    violation = plain["places"][2]
    assert 0.1 < np.mean(violation <= 0.0) < 0.9
