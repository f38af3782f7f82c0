"""What a finished box is told to be, beside what was foreseen, and what mends it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine import built
from engine.evaluate import systems_of
from engine.formats.design import parse_design
from engine.measured.sweep import Sweep
from engine.measured.verdict import AsBuilt, Sweeps, measured_driver, of_stated
from engine.report import measured
from engine.stated_design import StatedDesign
from tests.acoustics import scalar_twin

HZ = np.geomspace(7.0, 400.0, 150)
DRIVER = {
    "fs": "30 Hz", "qes": 0.4, "qms": 5, "vas": "100 L", "sd": "330 cm^2", "re": "4 ohm", "le": "1 mH",
    "xmax": "10 mm", "rated_power": "300 W",
}  # fmt: skip
VENTED = {
    "driver": DRIVER, "drive": {"voltage": "20 V"}, "box": {"kind": "vented", "volume": "70 L"},
    "vent": {"diameter": "100 mm", "length": "250 mm"},
}  # fmt: skip
RADIATOR = {
    "driver": DRIVER, "drive": {"voltage": "20 V"}, "box": {"kind": "radiator", "volume": "50 L"},
    "radiator": {
        "fs": "20 Hz", "qms": 8, "vas": "150 L", "sd": "480 cm^2", "xmax": "15 mm", "added_mass": "150 g",
    },
}  # fmt: skip
CLOSED = {"driver": DRIVER, "drive": {"voltage": "20 V"}, "box": {"kind": "closed", "volume": "70 L"}}


def stated(tables: dict[str, Any]) -> StatedDesign:
    return parse_design(tables, source="design.toml")


def sweep_of(design: StatedDesign, *, noise: float = 0.003) -> Sweep:
    """Of a box as it was really built, by the scalar twin, which shares no code with the product."""
    twin = scalar_twin.twin_of(replace(systems_of(design), filter_order=np.zeros(1)), 0)
    twin = replace(twin, voltage=1.0)
    rng = np.random.default_rng(2)
    z = np.array([abs(scalar_twin.solve(twin, float(hz)).impedance) for hz in HZ])
    return Sweep(source="a.csv", frequency=HZ, magnitude=z * np.exp(noise * rng.normal(size=len(HZ))))


def held_against(drawn: StatedDesign, really: StatedDesign) -> AsBuilt:
    return of_stated(drawn, Sweeps(box=(sweep_of(really),)))


def test_a_vent_too_long_is_cut_to_the_tuning() -> None:
    """Independent implementation: 30 mm too long is told within 2 mm and 10 %, and cut so the box is tuned as drawn."""
    drawn = stated(VENTED)
    assert drawn.vent_length is not None
    really = replace(drawn, vent_length=drawn.vent_length + 0.030)
    done = held_against(drawn, really)
    tuning, mend = done.fit.found["tuning"], done.mend
    assert mend is not None
    assert tuning.value == pytest.approx(built.tuning(really), rel=2e-3)
    assert tuning.foreseen == pytest.approx(built.tuning(drawn))
    assert mend.what == "vent"
    assert mend.low <= mend.change <= mend.high < 0.0
    assert mend.change == pytest.approx(-0.030, abs=0.005)
    after = replace(really, vent_length=drawn.vent_length + 0.030 + mend.change)
    assert built.tuning(after) == pytest.approx(built.tuning(drawn), rel=5e-3)
    said = " ".join(measured.told(done, "metric"))
    assert "cut" in said
    assert "lower" in said
    assert "measure again" in said
    assert "in" in " ".join(measured.told(done, "us"))


def test_a_volume_that_is_off_is_named() -> None:
    """Independent implementation: 8 % less air than drawn is told as the volume that explains the tuning."""
    drawn = stated(VENTED)
    # Vas over the volume is what an impedance tells: the spring is stiffer by as much.
    done = held_against(drawn, replace(drawn, volume=0.92 * drawn.volume))
    assert done.mend is not None
    assert done.mend.volume == pytest.approx(-0.08 * drawn.volume, rel=0.08)
    assert done.mend.change > 0.0
    assert done.fit.found["vas"].off == pytest.approx(1.0 / 0.92 - 1.0, abs=0.02)
    said = " ".join(measured.told(done, "metric"))
    assert "longer" in said
    assert "less air than drawn" in said


def test_mass_on_a_passive_radiator() -> None:
    """Independent implementation: 40 g too many are told within 10 %, and taking them off brings the tuning."""
    drawn = stated(RADIATOR)
    assert drawn.added_mass is not None
    really = replace(drawn, added_mass=drawn.added_mass + 0.040)
    done = held_against(drawn, really)
    assert done.mend is not None
    assert done.mend.what == "mass"
    assert done.mend.change == pytest.approx(-0.040, rel=0.10)
    assert done.mend.can
    after = replace(really, added_mass=drawn.added_mass + 0.040 + done.mend.change)
    assert built.tuning(after) == pytest.approx(built.tuning(drawn), rel=5e-3)
    assert "take" in " ".join(measured.told(done, "metric")).lower()


def test_as_drawn_is_left_alone() -> None:
    """Promise: nobody is sent to the saw for what noise makes of a box that is right."""
    drawn = stated(VENTED)
    done = held_against(drawn, drawn)
    said = " ".join(measured.told(done, "metric"))
    assert "leave it" in said
    assert "cut" not in said
    assert "within 5 % of its data sheet" in said


def test_a_closed_box_has_nothing_to_mend() -> None:
    """Promise: no tuning, no vent; the driver in the box is told all the same."""
    done = held_against(stated(CLOSED), stated(CLOSED))
    assert done.mend is None
    assert "tuning" not in done.fit.found
    assert "Vas" in " ".join(measured.told(done, "metric"))


def test_the_measured_driver_is_the_one_that_was_measured() -> None:
    """Independent implementation: its figures, and all that follows from them, within 2 %."""
    drawn = stated(VENTED)
    true = replace(drawn.driver, fs=32.5, qes=0.46, qms=4.2, re=4.2, le=1.2e-3)
    found = measured_driver(drawn.driver, held_against(drawn, replace(drawn, driver=true)).fit)
    for name in ("fs", "qes", "qms", "re", "bl", "mms"):
        assert getattr(found, name) == pytest.approx(getattr(true, name), rel=0.02)


def test_everything_is_in_the_json() -> None:
    """Promise: flat keys, SI, numbers or None."""
    done = held_against(stated(VENTED), stated(VENTED))
    told = measured.in_json(done)
    assert {"tuning_hz", "tuning_hz_low", "tuning_hz_high", "mend_change", "peaks_hz", "measured_f3_hz"} <= set(told)
    assert all(math.isfinite(each) for each in told.values() if isinstance(each, float))
    assert told["tuning_hz_foreseen"] == pytest.approx(built.tuning(stated(VENTED)))
