"""The cabin: the estimate in its limits, the reader of measurements, and what figures make of either."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from engine.acoustics.cabin import Cabin, EstimatedCabin, MeasuredCabin, gain_db, mean_gain_db
from engine.acoustics.circuit import Systems, respond
from engine.acoustics.figures import FIGURES_GRID, SEARCH_GRID, figures
from engine.acoustics.limits import max_output
from engine.errors import InputFaults
from engine.formats.measurement import parse_cabin, read_cabin
from tests.acoustics import drawn

Floats = NDArray[np.float64]
BAND = (25.0, 80.0)
FILE = "Frequency (Hz),dB\n20,12\n30, 10.5\n40,8\n60,3.25\n80,0\n120,-2\n"


def test_the_estimate_in_its_limits() -> None:
    """First principles: 12 dB an octave below c/(2L) sealed, 6 dB below the leak, 3 dB at the corner, none far above.

    c/(2L) by length at 343.2 m/s [C]: 2.0 m 85.8 Hz, 2.5 m 68.6, 3.0 m 57.2, 4.0 m 42.9.
    """
    for length, corner in ((2.0, 85.8), (2.5, 68.64), (3.0, 57.2), (4.0, 42.9)):
        cabin = EstimatedCabin(largest_dimension=length, leak_hz=0.0)
        assert cabin.corner_hz == pytest.approx(corner)
        assert gain_db(cabin, np.array([corner]))[0] == pytest.approx(10.0 * math.log10(2.0))
        low = gain_db(cabin, corner / np.array([16.0, 32.0]))
        assert low[1] - low[0] == pytest.approx(40.0 * math.log10(2.0), abs=1e-3)
        assert gain_db(cabin, np.array([10.0 * corner]))[0] < 1e-3
    leaky = EstimatedCabin(largest_dimension=3.0, leak_hz=10.0)
    low = gain_db(leaky, np.array([0.2, 0.1]))
    assert low[1] - low[0] == pytest.approx(20.0 * math.log10(2.0), abs=0.01)
    tight = EstimatedCabin(largest_dimension=3.0, leak_hz=0.0)
    every = np.geomspace(5.0, 200.0, 50)
    assert np.all(gain_db(leaky, every) < gain_db(tight, every))


def test_the_estimate_stays_below_the_ideal_of_a_sealed_rigid_cabin() -> None:
    """Upper bound, first principles: ρc²U/(jωV) over ρωU/(2π) at 20 Hz is 25.5 dB for 2.5 m³, 22.5 for 3.5 m³ [C].

    Cabins of those volumes are about 2.5 m and 3 m long.
    """
    for volume, length, ideal in ((2.5, 2.5, 25.5), (3.5, 3.0, 22.5)):
        omega = 2.0 * math.pi * 20.0
        assert 20.0 * math.log10(343.2**2 / volume * 2.0 * math.pi / omega**2) == pytest.approx(ideal, abs=0.05)
        assert gain_db(EstimatedCabin(largest_dimension=length), np.array([20.0]))[0] < ideal


def test_a_measurement_is_straight_in_log_f_and_held_at_its_ends() -> None:
    """Analytic: half-way in log f is half-way in dB; beyond its ends a measurement says no more than there."""
    cabin = parse_cabin(FILE, source="car.csv")
    assert gain_db(cabin, np.array([20.0, 80.0])) == pytest.approx([12.0, 0.0])
    assert gain_db(cabin, np.array([math.sqrt(20.0 * 30.0)]))[0] == pytest.approx(11.25)
    assert gain_db(cabin, np.array([1.0, 500.0])) == pytest.approx([12.0, -2.0])
    assert cabin.held_within(BAND) == ""
    assert cabin.held_within((15.0, 150.0)) == (
        "below 20 Hz and above 120 Hz nothing was measured: the end values are held"
    )


@pytest.mark.parametrize(
    "text",
    [
        FILE,
        FILE.replace(",", ";"),
        FILE.replace(",", "\t"),
        FILE.replace(",", ";").replace(".", ","),
        "# measured at the driver's head\n\n" + FILE.replace("\n", "\r\n"),
        FILE.split("\n", 1)[1],
        FILE.replace("\n", ",-12\n", 3),
    ],
)
def test_the_usual_ways_to_write_one_are_read(text: str) -> None:
    """Promise to the user: commas, semicolons, tabs, decimal commas, comments, a third column, no names."""
    cabin = parse_cabin(text, source="car.csv")
    np.testing.assert_allclose(cabin.frequency, [20, 30, 40, 60, 80, 120])
    np.testing.assert_allclose(cabin.level_db, [12, 10.5, 8, 3.25, 0, -2])


def test_all_faults_at_once() -> None:
    """Promise to the user: every line at fault is named, with what stands there and what was expected."""
    text = "f,dB\n20,12\n20,11\nthirty,10\n40,nan\n50\n60,900\n0.1,3\n70,2\n"
    with pytest.raises(InputFaults) as caught:
        parse_cabin(text, source="car.csv")
    told = [str(fault) for fault in caught.value.faults]
    assert told == [
        "car.csv: line 3, frequency = 20: expected a frequency above the 20 Hz of line 2",
        "car.csv: line 4, frequency = thirty: expected a frequency of 1 to 100000 Hz, as a plain number",
        "car.csv: line 5, level = nan: expected a level of -80 to 80 dB, as a plain number",
        "car.csv: line 6 = 50: expected two columns: frequency in Hz and level in dB",
        "car.csv: line 7, level = 900: expected a level of -80 to 80 dB, as a plain number",
        "car.csv: line 8, frequency = 0.1: expected a frequency of 1 to 100000 Hz, as a plain number; was it in kHz?",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "is empty"),
        ("# nothing\n", "is empty"),
        ("20,1\n30,2\n", "has 2 points: expected at least 5"),
        ("dB,Hz\n1,20\n2,30\n3,40\n4,50\n5,60\n", "expected frequency first, then dB"),
    ],
)
def test_what_is_no_measurement_is_refused(text: str, expected: str) -> None:
    """Promise to the user."""
    with pytest.raises(InputFaults, match=expected):
        parse_cabin(text, source="car.csv")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """Promise to the user: missing, a folder, too large, no text; and a good one with a byte-order mark is read."""
    for name, content, expected in (
        ("none.csv", None, "there is no such file"),
        ("large.csv", b"1,1\n" * 300_000, "at most 1 MB"),
        ("binary.csv", b"\xff\xfe\x00\x01", "not text in UTF-8"),
    ):
        path = tmp_path / name
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(InputFaults, match=expected):
            read_cabin(path)
    with pytest.raises(InputFaults, match="is no file"):
        read_cabin(tmp_path)
    (tmp_path / "good.csv").write_bytes(b"\xef\xbb\xbf" + FILE.encode())
    assert len(read_cabin(tmp_path / "good.csv").frequency) == 6


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Robustness: whatever stands in the file, faults or a measurement that rises, never another error."""
    try:
        cabin = parse_cabin(text, source="any")
    except InputFaults:
        return
    assert np.all(np.diff(cabin.frequency) > 0.0)
    assert np.all(np.isfinite(cabin.level_db))


def dense_f3(systems: Systems, cabin: Cabin, top: float) -> Floats:
    """The last point below half power up to ``top``, from the complex circuit; nan where that is the top."""
    grid = np.geomspace(1.0, top, 12_000)
    bare = respond(replace(systems, filter_order=np.zeros(len(systems))), frequency=grid, coil_inductance=False)
    signal = (
        respond(systems, frequency=grid).current
        / respond(replace(systems, filter_order=np.zeros(len(systems))), frequency=grid).current
    )
    power = np.abs(bare.pressure / systems.reference_pressure[:, np.newaxis] * signal) ** 2
    power *= cabin.gain_squared(np.log(grid))
    last = np.array([np.flatnonzero(row < 0.5)[-1] if np.any(row < 0.5) else -1 for row in power])
    return np.where(last == len(grid) - 1, np.nan, np.where(last < 0, 0.0, grid[last]))


@pytest.mark.parametrize("grid", [SEARCH_GRID, FIGURES_GRID])
@pytest.mark.parametrize("passive", [0.0, 0.5])
def test_f3_in_an_estimated_cabin(grid: Floats, passive: float) -> None:
    """Independent implementation: the complex circuit on a dense grid; to 0.3 %, and never above f3 in half space."""
    cabin = EstimatedCabin(largest_dimension=2.8, leak_hz=12.0)
    systems = drawn.systems(150, seed=51, passive=passive)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0, frequency=grid, cabin=cabin)
    expected = dense_f3(systems, cabin, BAND[1])
    # The search looks at whole grid points up to the band's top: what only just gets there may differ.
    both = np.isfinite(expected) & np.isfinite(found.f3_cabin) & (expected > 1.5) & (expected < 70.0)
    assert both.sum() > 60
    np.testing.assert_allclose(found.f3_cabin[both], expected[both], rtol=3e-3)
    np.testing.assert_array_equal(np.isnan(found.f3_cabin), found.f3_cabin_shortfall > 0.0)
    lower = np.isfinite(found.f3) & np.isfinite(found.f3_cabin)
    assert np.all(found.f3_cabin[lower] <= found.f3[lower] * 1.001)


def test_f3_in_a_measured_cabin() -> None:
    """Independent implementation: a jagged measurement, twelve points an octave; to 0.5 % for 98 of 100 boxes."""
    rng = np.random.default_rng(3)
    frequency = 10.0 * 2.0 ** (np.arange(52) / 12.0)
    level = 10.0 * np.log10(1.0 + (60.0 / frequency) ** 4) + rng.normal(0.0, 1.0, len(frequency))
    cabin = MeasuredCabin(frequency=frequency, level_db=level)
    systems = drawn.systems(200, seed=52)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0, frequency=FIGURES_GRID, cabin=cabin)
    expected = dense_f3(systems, cabin, BAND[1])
    both = np.isfinite(expected) & np.isfinite(found.f3_cabin) & (expected > 1.5) & (expected < 70.0)
    assert both.sum() > 80
    off = np.abs(found.f3_cabin[both] / expected[both] - 1.0) > 5e-3
    assert off.mean() <= 0.02


def test_output_in_a_cabin_is_output_and_the_cabins_mean() -> None:
    """Identity: dB averaged over ln f add, so no cabin changes which of two designs is louder."""
    cabin = parse_cabin(FILE, source="car.csv")
    systems = drawn.systems(40, seed=53)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    dense = np.geomspace(*BAND, 4001)
    level = max_output(systems, frequency=dense, vent_speed_limit=17.0)[0] + gain_db(cabin, dense)
    mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / 4000
    np.testing.assert_allclose(found.output_db + mean_gain_db(cabin, music_band=BAND), mean, atol=0.02)


def test_without_a_cabin_there_is_no_figure_of_it() -> None:
    """Contract."""
    found = figures(drawn.systems(5, seed=54), music_band=BAND, vent_speed_limit=17.0)
    assert np.all(np.isnan(found.f3_cabin))
    assert np.all(np.isnan(found.f3_cabin_shortfall))
