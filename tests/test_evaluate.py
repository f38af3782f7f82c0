"""One stated design: what ``evaluate`` gives back."""

from __future__ import annotations

import dataclasses
import json
import math

import pytest

from engine.design_file import StatedDesign
from engine.errors import InputFaults
from engine.evaluate import evaluate
from engine.parts import Driver

DRIVER = Driver(name="Alder 10", fs=30.0, qes=0.45, qms=6.0, vas=0.05, sd=0.034, re=3.4, xmax=0.01, rated_power=300.0)
VENTED = StatedDesign(
    driver=DRIVER, voltage=30.0, box_kind="vented", volume=0.04, vent_count=2, vent_diameter=0.075, tuning=32.0, ql=7.0
)
CLOSED = StatedDesign(driver=DRIVER, voltage=30.0, box_kind="closed", volume=0.04, ql=math.inf)

KEYS = {
    "tuning_hz",
    "vent_length_m",
    "f3_hz",
    "reference_db",
    "frequency_hz",
    "spl_db",
    "excursion_peak_m",
    "vent_speed_peak_m_s",
    "impedance_ohm",
    "impedance_phase_deg",
    "group_delay_s",
    "max_output_db",
    "limited_by",
}


def test_the_contracted_keys_are_there_and_flat() -> None:
    """File contract: every promised key, plain JSON without NaN, lists as long as the sweep."""
    result = evaluate(VENTED)
    assert set(result) >= KEYS
    back = json.loads(json.dumps(result, allow_nan=False))
    for key in KEYS:
        if isinstance(back[key], list):
            assert len(back[key]) == VENTED.sweep[2]


def test_length_and_tuning_lead_to_each_other() -> None:
    """Conservation: the length worked out from a tuning tunes back to it, and all figures agree."""
    by_tuning = evaluate(VENTED)
    length = by_tuning["vent_length_m"]
    assert isinstance(length, float)
    by_length = evaluate(dataclasses.replace(VENTED, tuning=None, vent_length=length))
    assert by_length["tuning_hz"] == pytest.approx(32.0, rel=1e-12)
    assert by_length["f3_hz"] == pytest.approx(by_tuning["f3_hz"], rel=1e-9)


def test_common_practice_vents() -> None:
    """Common practice, no source: two vents of 2 in bore, 13.19 in long, tune 1.0 ft³ net to 34 Hz."""
    cubic_foot, inch = 0.3048**3, 0.0254
    stated = dataclasses.replace(
        VENTED, volume=cubic_foot, vent_count=2, vent_diameter=2.0 * inch, tuning=None, vent_length=13.19 * inch
    )
    assert evaluate(stated)["tuning_hz"] == pytest.approx(34.0, abs=0.5)


def test_a_closed_box_has_no_vent_figures() -> None:
    """File contract: what does not apply is null."""
    result = evaluate(CLOSED)
    for key in ("tuning_hz", "vent_length_m", "vent_speed_m_s", "vent_mach"):
        assert result[key] is None
    assert result["f3_hz"] is not None


def test_a_design_without_f3_says_why() -> None:
    """Contract: no f3 is null with a reason."""
    weak = dataclasses.replace(CLOSED, driver=dataclasses.replace(DRIVER, qes=0.02), volume=0.001)
    result = evaluate(weak)
    assert result["f3_hz"] is None
    assert "below the -3 dB line at 200 Hz" in str(result["f3_reason"])
    assert evaluate(CLOSED)["f3_reason"] is None


def test_worst_values_do_not_depend_on_the_sweep() -> None:
    """Contract: worst excursion and air speed are those from 10 Hz to 200 Hz, whatever is plotted."""
    narrow = evaluate(dataclasses.replace(VENTED, sweep=(60.0, 80.0, 5)))
    whole = evaluate(VENTED)
    for key in ("f3_hz", "excursion_ratio", "vent_speed_m_s", "output_db"):
        assert narrow[key] == whole[key]
    assert narrow["frequency_hz"] == pytest.approx([60.0, 64.474195, 69.282032, 74.448390, 80.0])


def test_a_tuning_no_vent_can_reach_is_refused() -> None:
    """User's promise: an impossible tuning is a message with the highest that could be had."""
    with pytest.raises(InputFaults, match=r"box\.toml: vent\.tuning = 400 Hz: expected less than"):
        evaluate(dataclasses.replace(VENTED, tuning=400.0), source="box.toml")
