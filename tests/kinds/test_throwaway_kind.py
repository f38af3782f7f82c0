"""Kinds of box made here and nowhere else, one record each: from the file to the figures."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import figures
from engine.errors import InputFaults
from engine.evaluate import evaluate
from engine.formats.design import parse_design, write_design
from engine.kinds import KINDS
from engine.kinds.closed import CLOSED
from engine.kinds.record import Boxes, Branch, Kind
from engine.kinds.vented import VENTED
from tests.acoustics.pipes import DRIVER, PIPED

PATH = 0.1  # of the porous wall beside the vent, as 1/Q


def _porous(boxes: Boxes) -> Branch:
    """The vent's branch, and beside it a path that is a mere resistance: admittances add up."""
    vent = VENTED.branch(boxes)
    top = (vent.top[0] + PATH * vent.bottom[0], PATH * vent.bottom[1])
    return replace(vent, top=top)


POROUS = replace(
    VENTED,
    name="porous",
    label="Porous box",
    noun="a porous box",
    short="porous",
    choice="Porous",
    built="porous",
    branch=_porous,
)
LEAKY = replace(
    CLOSED,
    name="leaky",
    label="Leaky box",
    noun="a leaky box",
    short="leaky",
    choice="Leaky",
    built="leaky",
    usual_ql=5.0,
    mark="diamond",
    dash=(1, 1),
)


@pytest.fixture
def porous() -> Iterator[Kind]:
    with KINDS.added(POROUS) as kind:
        yield kind


def test_its_network_is_heard(porous: Kind) -> None:
    """Independent path: a resistance beside the vent is a leak by another name, in every model of the circuit."""
    stated = replace(PIPED, vent_diameter=0.1, tuning=32.0, vent_loss=0.0, vent_speed_limit=1e6)
    found = evaluate(replace(stated, box_kind=porous.name))
    expected = evaluate(replace(stated, ql=1.0 / (1.0 / stated.ql + PATH)))
    plain = evaluate(stated)
    for key in ("f3_hz", "output_db", "excursion_ratio", "spl_db", "impedance_ohm", "max_output_db", "tuning_hz"):
        np.testing.assert_allclose(found[key], expected[key], rtol=1e-7, err_msg=key)
    assert found["f3_hz"] != pytest.approx(plain["f3_hz"], rel=1e-3)
    assert found["vent_length_m"] == plain["vent_length_m"]


def test_a_batch_of_all_kinds_is_judged_row_by_row(porous: Kind) -> None:
    """Symmetry: beside other kinds a row has the figures that it has alone."""
    several = Systems.of(
        DRIVER, volume=0.05, voltage=20.0, ql=7.0, tuning=32.0, vent_count=[1.0, 0.0, 1.0], vent_area=0.008
    )
    kinds = np.array([KINDS.code(name) for name in ("vented", "closed", porous.name)])
    several = replace(several, kind=kinds)
    together = figures(several, music_band=(25.0, 80.0), vent_speed_limit=17.0)
    assert len(np.unique(together.f3)) == 3
    for row in range(3):
        alone = figures(several.take(slice(row, row + 1)), music_band=(25.0, 80.0), vent_speed_limit=17.0)
        for name in ("f3", "output_db", "excursion_ratio", "vent_speed"):
            np.testing.assert_allclose(getattr(together, name)[row], getattr(alone, name)[0], rtol=1e-9)


def test_its_file_reads_back_and_its_faults_have_its_name(porous: Kind) -> None:
    """Promise: a design file states it like any other kind."""
    stated = replace(PIPED, box_kind=porous.name, vent_diameter=0.1, tuning=32.0)
    document = tomllib.loads(write_design(stated))
    assert parse_design(document, source="a").box_kind == porous.name
    del document["vent"]
    with pytest.raises(InputFaults, match=r"a porous box needs a table \[vent\]"):
        parse_design(document, source="a")


def test_a_kind_that_is_not_whole_is_refused() -> None:
    """Contract: words missing, or a name that is taken."""
    with pytest.raises(ValueError, match="lacks noun"):
        replace(LEAKY, noun="")
    with pytest.raises(ValueError, match="name of its own"), KINDS.added(replace(LEAKY, name="closed")):
        pass
