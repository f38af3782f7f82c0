"""One stated design: what ``evaluate`` gives back."""

from __future__ import annotations

import dataclasses
import json
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin, mean_gain_db
from engine.acoustics.filters import Chain
from engine.errors import InputFaults
from engine.evaluate import Result, evaluate, systems_of
from engine.parts import Driver, PassiveRadiator
from engine.stated_design import StatedDesign

DRIVER = Driver(name="Alder 10", fs=30.0, qes=0.45, qms=6.0, vas=0.05, sd=0.034, re=3.4, xmax=0.01, rated_power=300.0)
VENTED = StatedDesign(
    driver=DRIVER, voltage=30.0, box_kind="vented", volume=0.04, vent_count=2, vent_diameter=0.075, tuning=32.0, ql=7.0
)
CLOSED = StatedDesign(driver=DRIVER, voltage=30.0, box_kind="closed", volume=0.04, ql=math.inf)
PASSIVE = StatedDesign(
    driver=DRIVER,
    voltage=30.0,
    box_kind="radiator",
    volume=0.04,
    ql=7.0,
    radiator=PassiveRadiator(name="Alder 10 P", fs=20.0, qms=8.0, vas=0.06, sd=0.034, xmax=0.018),
    radiator_count=2,
    added_mass=0.1,
)
IN_A_CAR = EstimatedCabin(largest_dimension=3.0)

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
    "radiator_added_mass_kg",
    "radiator_notch_hz",
    "radiator_ratio",
    "radiator_worst_hz",
    "radiator_excursion_peak_m",
    "coil_rise_k",
    "compression_db",
    "compression_worst_db",
    "vent_loss",
    "f3_cabin_hz",
    "output_cabin_db",
    "spl_cabin_db",
    "model_to_hz",
    "beyond_model",
    "filter_recommended_shape",
    "filter_recommended_order",
    "filter_recommended_hz",
    "filter_recommended_q",
    "filter_recommended_reason",
    "f3_recommended_hz",
    "gain_recommended",
    "level_recommended_db",
    "gain",
    "power_share",
    "gain_limited_by",
    "gain_limited_hz",
    "level_hz",
    "level_db",
}
OF_LEVELS = {"level_hz", "level_db", "level_recommended_db"}


@pytest.mark.parametrize("stated", [VENTED, CLOSED, dataclasses.replace(PASSIVE, cabin=IN_A_CAR)])
def test_the_contracted_keys_are_there_and_flat(stated: StatedDesign) -> None:
    """File contract: every promised key, plain JSON without NaN, lists as long as the sweep."""
    result = evaluate(stated)
    assert set(result) >= KEYS
    back = json.loads(json.dumps(result, allow_nan=False))
    for key in KEYS:
        if isinstance(back[key], list):
            points = len(stated.levels) if key in OF_LEVELS else stated.sweep[2]
            assert len(back[key]) == points or key == "beyond_model"


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
    for key in ("tuning_hz", "vent_length_m", "vent_speed_m_s", "vent_mach", "vent_loss", "radiator_ratio"):
        assert result[key] is None
    assert result["radiator_excursion_peak_m"] == result["spl_cabin_db"] == [None] * 200
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


def figure(result: Result, key: str) -> float:
    value = result[key]
    assert isinstance(value, float), key
    return value


def curve(result: Result, key: str) -> NDArray[np.float64]:
    return np.array(result[key], dtype=float)


def test_added_mass_and_tuning_lead_to_each_other() -> None:
    """Published (Small 1974): fb = fp·sqrt(1 + δ), fp the radiator's own resonance with the mass on it, δ the spring of
    the radiators over that of the box; the mass worked out from the tuning is the one put in.
    """
    result = evaluate(PASSIVE)
    radiator = PASSIVE.radiator
    assert radiator is not None
    own = 1.0 / (2.0 * math.pi * math.sqrt(radiator.cms * (radiator.mms + 0.1)))
    delta = 2 * radiator.vas / PASSIVE.volume
    tuning = figure(result, "tuning_hz")
    assert tuning == pytest.approx(own * math.sqrt(1.0 + delta), rel=1e-12)
    assert figure(result, "radiator_notch_hz") == pytest.approx(own, rel=1e-9)
    again = evaluate(dataclasses.replace(PASSIVE, added_mass=None, tuning=tuning))
    assert again["radiator_added_mass_kg"] == pytest.approx(0.1, rel=1e-9)
    assert again["f3_hz"] == pytest.approx(result["f3_hz"], rel=1e-9)


def test_a_tuning_no_radiator_is_light_enough_for_is_refused() -> None:
    """User's promise: the highest tuning is the one with nothing added."""
    bare = figure(evaluate(dataclasses.replace(PASSIVE, added_mass=0.0)), "tuning_hz")
    with pytest.raises(InputFaults, match=rf"box: radiator\.tuning = 60 Hz: expected less than {bare:.1f} Hz"):
        evaluate(dataclasses.replace(PASSIVE, added_mass=None, tuning=60.0), source="box")
    just = evaluate(dataclasses.replace(PASSIVE, added_mass=None, tuning=bare))
    assert figure(just, "radiator_added_mass_kg") == pytest.approx(0.0, abs=1e-9)


def test_a_square_slot_is_nearly_the_round_vent_of_its_area() -> None:
    """Analytic: Rayleigh's ends of a square are 1.2 % shorter than those of the circle of its area, so it comes out
    that much of the ends longer.
    """
    side = 0.075 * math.sqrt(math.pi) / 2.0
    slot = dataclasses.replace(VENTED, vent_diameter=None, vent_width=side, vent_height=side)
    square, pipe = (figure(evaluate(each), "vent_length_m") for each in (slot, VENTED))
    ends = 0.0375 * (0.85 + 0.613)
    assert square - pipe == pytest.approx(0.012 * ends, rel=0.2)
    assert evaluate(dataclasses.replace(slot, tuning=None, vent_length=square))["tuning_hz"] == pytest.approx(32.0)


def test_the_loss_of_a_vent_is_estimated_unless_it_is_stated() -> None:
    """Analytic: exit 1, entries 0.5 and 1 on average 0.75, and wall friction 0.02 a diameter of length."""
    result = evaluate(VENTED)
    assert result["vent_loss"] == pytest.approx(1.75 + 0.02 * figure(result, "vent_length_m") / 0.075)
    free = evaluate(dataclasses.replace(VENTED, vent_loss=0.0))
    assert free["vent_loss"] == 0.0
    assert figure(free, "output_db") > figure(result, "output_db")


def test_without_heat_and_losses_nothing_is_compressed() -> None:
    """Analytic limit: a cold coil, a straight motor and a vent without loss leave the linear model."""
    cold = dataclasses.replace(DRIVER, thermal_resistance=0.0)
    result = evaluate(dataclasses.replace(VENTED, driver=cold, vent_loss=0.0))
    assert figure(result, "coil_rise_k") == pytest.approx(0.0, abs=1e-9)
    assert np.max(np.abs(curve(result, "compression_db"))) < 1e-6
    warm = evaluate(VENTED)
    assert figure(warm, "coil_rise_k") > 20.0
    assert figure(warm, "compression_worst_db") > 0.5
    assert figure(warm, "f3_hz") == figure(result, "f3_hz")


def test_the_vehicle_adds_its_gain_and_nothing_else() -> None:
    """Conservation: level in the vehicle less level outside is the cabin's gain, (f1/f)⁴/(1 + (fl/f)²) beside 1."""
    result = evaluate(dataclasses.replace(CLOSED, cabin=IN_A_CAR))
    frequency = curve(result, "frequency_hz")
    gain = 10.0 * np.log10(1.0 + (343.2 / 6.0 / frequency) ** 4 / (1.0 + (10.0 / frequency) ** 2))
    np.testing.assert_allclose(curve(result, "spl_cabin_db") - curve(result, "spl_db"), gain, atol=1e-9)
    added = figure(result, "output_cabin_db") - figure(result, "output_db")
    assert added == pytest.approx(mean_gain_db(IN_A_CAR, music_band=CLOSED.music_band), abs=1e-9)
    assert figure(result, "f3_cabin_hz") < figure(result, "f3_hz")
    assert "estimated from the cabin's size, not measured" in str(result["beyond_model"])


def test_what_nobody_measured_in_the_vehicle_is_said() -> None:
    """User's promise."""
    frequency = np.array([30.0, 40.0, 50.0, 60.0, 70.0])
    cabin = MeasuredCabin(frequency=frequency, level_db=np.zeros(5))
    beyond = evaluate(dataclasses.replace(CLOSED, cabin=cabin))["beyond_model"]
    assert "In the vehicle below 30 Hz and above 80 Hz" not in str(beyond)
    assert "In the vehicle below 30 Hz and above 70 Hz nothing was measured" in str(beyond)


def test_the_recommended_filter_keeps_its_word() -> None:
    """Conservation: with the filter in the design, gain, levels and f3 are those promised, and nothing is quieter."""
    for stated in (VENTED, CLOSED, PASSIVE):
        result = evaluate(stated)
        order = result["filter_recommended_order"]
        assert isinstance(order, int)
        q = result["filter_recommended_q"]
        filtered = dataclasses.replace(
            stated,
            filter_shape=result["filter_recommended_shape"],
            filter_order=order,
            filter_hz=figure(result, "filter_recommended_hz"),
            filter_q=q if isinstance(q, float) else math.nan,
        )
        held = evaluate(filtered)
        assert figure(held, "gain") == pytest.approx(figure(result, "gain_recommended"), rel=1e-4)
        levels = {key: np.array(each) for key, each in result.items() if isinstance(each, list) and key in OF_LEVELS}
        np.testing.assert_allclose(held["level_db"], levels["level_recommended_db"], atol=0.01)
        assert (levels["level_recommended_db"] >= levels["level_db"] - 0.3).all()
        assert figure(held, "f3_hz") == pytest.approx(figure(result, "f3_recommended_hz"), rel=1e-3)
        assert figure(held, "f3_box_hz") == pytest.approx(figure(result, "f3_box_hz"), rel=1e-9)


def test_no_filter_is_recommended_where_none_helps_or_none_is_needed() -> None:
    """User's promise: a reason in its place."""
    quiet = evaluate(dataclasses.replace(CLOSED, voltage=2.83))
    assert quiet["filter_recommended_hz"] is None
    assert "not needed" in str(quiet["filter_recommended_reason"])
    # Fed from 150 Hz only, it is turned down for what no high-pass far below that does anything about.
    wild = evaluate(dataclasses.replace(CLOSED, voltage=900.0, fed_from=150.0, levels=(150.0, 180.0)))
    assert wild["filter_recommended_hz"] is None
    assert "turn down by" in str(wild["filter_recommended_reason"])


def test_the_air_of_a_thin_box_is_taken_as_stated() -> None:
    """Analytic: at the true tuning the cones stand still whatever the air does, and what it adds to them lowers the
    resonance of a closed box by the square root of the mass.
    """
    lossless = dataclasses.replace(VENTED, ql=1e6, vent_loss=0.0)
    air = dataclasses.replace(lossless, air_mass=0.012, inertance=-9.0, vent_length=0.4)
    result = evaluate(dataclasses.replace(air, sweep=(32.0, 64.0, 2)))
    assert result["vent_length_m"] == 0.4
    assert curve(result, "excursion_peak_m")[0] < 0.05 * curve(result, "excursion_peak_m")[1]
    assert evaluate(dataclasses.replace(air, vent_length=None))["vent_length_m"] is None
    system = systems_of(dataclasses.replace(CLOSED, air_mass=0.012))
    stiff = systems_of(CLOSED).omega_b[0]
    assert system.omega_b[0] == pytest.approx(stiff * math.sqrt(DRIVER.mms / (DRIVER.mms + 0.012)), rel=1e-12)


def test_the_chain_reaches_the_circuit() -> None:
    """Analytic: a crossover's -3 dB at its frequency shows in the sound, and f3 does not know it."""
    chain = Chain(low_pass_order=2, low_pass_hz=60.0, low_pass_q=math.sqrt(0.5))
    cold = dataclasses.replace(
        CLOSED, driver=dataclasses.replace(DRIVER, thermal_resistance=0.0), sweep=(60.0, 70.0, 2)
    )
    plain, crossed = evaluate(cold), evaluate(dataclasses.replace(cold, chain=chain))
    assert curve(plain, "spl_db")[0] - curve(crossed, "spl_db")[0] == pytest.approx(3.01, abs=0.01)
    assert crossed["f3_hz"] == plain["f3_hz"]


def test_where_the_model_stops() -> None:
    """Analytic limit: an eighth of a wave is 0.9 m at c/(8·0.9) = 47.7 Hz, within the music band."""
    result = evaluate(dataclasses.replace(CLOSED, voltage=1.0, largest_dimension=0.9))
    assert result["model_to_hz"] == pytest.approx(343.2 / 7.2)
    assert "no longer moves as one" in str(result["beyond_model"])
    small = evaluate(dataclasses.replace(CLOSED, voltage=1.0))
    assert (small["model_to_hz"], small["beyond_model"]) == (None, [])
