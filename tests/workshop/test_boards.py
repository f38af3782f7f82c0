"""Boards of a design, put together again from the file alone by an independent reader."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from engine.build import box_of
from engine.formats.box import box_text
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.search.evaluator import Evaluator
from engine.workshop.board import Box
from engine.workshop.joints import JOINTS
from explorer.demo_fronts import stored_front
from tests.workshop.put_together import PutTogether

SAMPLED = 4
INSIDE = 1e-4  # of the inside volume, a tenth of what is promised
FLAT = 2e-9  # m, what the file's decimals leave


def designs(demo: str, count: int = SAMPLED) -> list[JudgedDesign]:
    """Some of a demo's front, from one end of it to the other."""
    front = stored_front(demo).front
    rows: Any = front.iloc[np.linspace(0, len(front) - 1, count).astype(int)].to_dict("records")
    return JudgedDesign.batch(Evaluator(read_scenario(demo_scenarios()[demo])), rows)


def check(box: Box) -> PutTogether:
    """A box put together from its file is the box: conservation, and an independent reader's geometry."""
    again = PutTogether(json.loads(box_text(box)))
    (chamber,) = box.chambers
    assert again.inside_volume == pytest.approx(chamber.inside_volume, rel=INSIDE)
    assert len(again.bodies_of_air) == 1
    assert again.overlaps() == []
    assert max(again.thickness_errors()) < FLAT
    low, high = again.over_all
    outer = np.concatenate([np.insert(box.outer.section, 0, x, axis=1) for x in box.outer.x])
    np.testing.assert_allclose([low, high], [outer.min(axis=0), outer.max(axis=0)], atol=1e-8)
    return again


@pytest.mark.parametrize("joints", JOINTS)
@pytest.mark.parametrize("demo", demo_scenarios())
def test_a_box_put_together_from_its_file_is_the_design(demo: str, joints: str) -> None:
    """Promise to the user, by an independent reader: volume, one body of air, nothing overlapping, flat boards."""
    for design in designs(demo):
        box = box_of(design, joints=joints)
        check(box)
        gross = float(design.row["gross_volume_m3"])
        inside = sum(board.volume for board in box.boards if board.role in ("brace", "slot", "block"))
        assert box.chambers[0].inside_volume == pytest.approx(gross - inside, rel=1e-5)
