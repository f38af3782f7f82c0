"""Maximum output: each limit alone, all together, and the twin."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from engine.acoustics.circuit import respond
from engine.acoustics.limits import LIMITS, max_output
from tests.acoustics import drawn, scalar_twin

FREQUENCY = np.geomspace(10.0, 200.0, 64)


def test_level_and_limit_agree_with_the_scalar_twin() -> None:
    """Independent implementation."""
    systems = drawn.systems(60, seed=21, passive=0.4, highest_q=2.0)
    level, binding, _ = max_output(systems, frequency=FREQUENCY, vent_speed_limit=17.0)
    seen = set()
    for row in range(len(systems)):
        twin = scalar_twin.twin_of(systems, row)
        for column, frequency in enumerate(FREQUENCY):
            expected, limit = scalar_twin.loudest(twin, float(frequency), 17.0)
            assert level[row, column] == pytest.approx(expected, abs=1e-8)
            assert LIMITS[binding[row, column]] == limit
            seen.add(limit)
    assert seen == set(LIMITS), "some limit never bound: the test is too tame"


@pytest.mark.parametrize("limit", LIMITS)
def test_alone_a_limit_is_just_met(limit: str) -> None:
    """Analytic limit: with all others out of the way, the drive that meets this one is the answer."""
    systems = drawn.systems(60, seed=22, passive=0.4)
    systems = systems.take(systems.radiating if limit == "passive radiator" else systems.vented)
    number = len(systems)
    far = np.full(number, 1e12)
    drive = systems.voltage if limit == "amplifier" else far
    alone = dataclasses.replace(
        systems,
        voltage=drive,
        rated_power=systems.rated_power if limit == "thermal" else far * 1e30,
        xmax=systems.xmax if limit == "excursion" else far * 1e30,
        radiator_xmax=systems.radiator_xmax if limit == "passive radiator" else far * 1e30,
    )
    speed_limit = 17.0 if limit == "vent" else 1e40
    level, binding, _ = max_output(alone, frequency=FREQUENCY, vent_speed_limit=speed_limit)
    assert np.all(binding == LIMITS.index(limit))
    full = respond(alone, frequency=FREQUENCY)
    # How much less than full drive the level stands for; then what that drive does to the limited thing.
    scale = 10.0 ** (level / 20.0) * 20e-6 / np.abs(full.pressure)
    reached = {
        "amplifier": scale * drive[:, np.newaxis],
        "thermal": (scale * full.current) ** 2 * systems.re[:, np.newaxis],
        "excursion": math.sqrt(2.0) * scale * full.excursion,
        "vent": math.sqrt(2.0) * scale * full.vent_speed,
        "passive radiator": math.sqrt(2.0) * scale * full.radiator_excursion,
    }[limit]
    allowed = {
        "amplifier": systems.voltage,
        "thermal": systems.rated_power,
        "excursion": systems.xmax,
        "vent": np.full(number, 17.0),
        "passive radiator": systems.radiator_xmax,
    }[limit]
    np.testing.assert_allclose(reached, np.broadcast_to(allowed[:, np.newaxis], reached.shape), rtol=1e-9)


def test_a_closed_box_has_no_vent_limit() -> None:
    """Analytic limit: no vent, no air speed, however low the limit."""
    systems = drawn.systems(60, seed=23)
    closed = systems.take(~systems.vented)
    level, binding, _ = max_output(closed, frequency=FREQUENCY, vent_speed_limit=1e-6)
    assert np.all(binding != LIMITS.index("vent"))
    assert np.all(np.isfinite(level))


def test_more_amplifier_never_makes_it_quieter() -> None:
    """Conservation of sense: raising one limit cannot lower the level, and nothing beats full drive."""
    systems = drawn.systems(60, seed=24)
    before, _, _ = max_output(systems, frequency=FREQUENCY, vent_speed_limit=17.0)
    for change in ("voltage", "rated_power", "xmax"):
        more = dataclasses.replace(systems, **{change: 1.5 * getattr(systems, change)})
        after, _, _ = max_output(more, frequency=FREQUENCY, vent_speed_limit=17.0)
        assert np.all(after >= before - 1e-9), change
    full = 20.0 * np.log10(np.abs(respond(systems, frequency=FREQUENCY).pressure) / 20e-6)
    assert np.all(before <= full + 1e-9)
