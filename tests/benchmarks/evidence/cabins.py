"""The vehicle's cabin: the estimate in its limits, measurements read back, and what figures make of either."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

import numpy as np

from engine.acoustics.cabin import Cabin, EstimatedCabin, MeasuredCabin, gain_db, mean_gain_db
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.acoustics.limits import max_output
from engine.formats.measurement import read_cabin
from tests.acoustics import drawn
from tests.acoustics.test_cabin import BAND, dense_f3
from tests.benchmarks.evidence.checks import Check, Evidence, furthest, greatest

LENGTHS = np.array([2.0, 2.5, 3.0, 4.0])
LIMIT = 17.0
WAYS = {"comma": (",", "."), "semicolon": (";", "."), "tab": ("\t", "."), "semicolon, decimal comma": (";", ",")}


def evidence() -> Evidence:
    yield from _estimate()
    yield from _measurement()
    yield from _figures()


def _estimate() -> Evidence:
    sealed = [EstimatedCabin(largest_dimension=length, leak_hz=0.0) for length in LENGTHS]
    yield Check(
        what="estimate: corner, cabins of 2 to 4 m",
        against="first mode c/(2·length), Kuttruff [M]; values [C]",
        cases=len(LENGTHS),
        worst=furthest([each.corner_hz for each in sealed], [85.8, 68.64, 57.2, 42.9]),
        allowed=5e-3,
        unit="Hz",
    )
    leaky = [EstimatedCabin(largest_dimension=length, leak_hz=10.0) for length in LENGTHS]
    slopes = {
        "estimate: rise of a sealed cabin": (sealed, 1.0, 12.0, "first principles, p = ρc²·U/(jωV): 12 dB an octave"),
        "estimate: rise below the leak": (leaky, 0.1, 6.0, "first principles: 6 dB an octave"),
    }
    for what, (cabins, low, slope, against) in slopes.items():
        rises = [gain_db(each, np.array([low, 2.0 * low])) for each in cabins]
        yield Check(
            what=what,
            against=against,
            cases=len(cabins),
            worst=furthest([rise[0] - rise[1] for rise in rises], slope * math.log10(4.0) / 0.6),
            allowed=0.05,
            unit="dB",
        )
    # p = ρc²·U/(jωV) over ρωU/(2π) at 1 m; cabins of these volumes are about so long.
    omega = 2.0 * math.pi * 20.0
    over = [
        float(gain_db(EstimatedCabin(largest_dimension=length), np.array([20.0]))[0])
        - 20.0 * math.log10(343.2**2 / volume * 2.0 * math.pi / omega**2)
        for volume, length in ((2.5, 2.5), (3.5, 3.0))
    ]
    yield Check(
        what="estimate: gain at 20 Hz over that of a sealed rigid cabin",
        against="upper bound, first principles, 2.5 and 3.5 m³",
        cases=len(over),
        worst=greatest(over),
        allowed=0.0,
        unit="dB",
        note="an estimate: measured cabins differ by several dB",
    )


def _jagged() -> MeasuredCabin:
    """Twelve points an octave, with what standing waves do to a measurement."""
    rng = np.random.default_rng(3)
    frequency = 10.0 * 2.0 ** (np.arange(52) / 12.0)
    level = 10.0 * np.log10(1.0 + (60.0 / frequency) ** 4) + rng.normal(0.0, 1.0, len(frequency))
    return MeasuredCabin(frequency=np.round(frequency, 2), level_db=np.round(level, 2))


def _measurement() -> Evidence:
    cabin = _jagged()
    off = []
    with tempfile.TemporaryDirectory() as folder:
        for place, (sign, point) in enumerate(WAYS.values()):
            path = Path(folder) / f"{place}.csv"
            points = zip(cabin.frequency, cabin.level_db, strict=True)
            lines = [f"{hertz:.2f}{sign}{level:.2f}".replace(".", point) for hertz, level in points]
            path.write_text("\n".join(["# measured", sign.join(("Hz", "dB")), *lines]), encoding="utf-8")
            back = read_cabin(path)
            off += [furthest(back.frequency, cabin.frequency), furthest(back.level_db, cabin.level_db)]
    yield Check(
        what="measurement: CSV read back, every point",
        against="what was written",
        cases=len(WAYS) * len(cabin.frequency),
        worst=greatest(off),
        allowed=0.0,
        note=f"columns and decimals apart by {', '.join(WAYS)}",
    )
    between = np.sqrt(cabin.frequency[1:] * cabin.frequency[:-1])
    beyond = np.array([1.0, 1000.0])
    ours = np.concatenate([gain_db(cabin, between), gain_db(cabin, beyond)])
    middles = 0.5 * (cabin.level_db[1:] + cabin.level_db[:-1])
    yield Check(
        what="measurement: half way between points, and beyond its ends",
        against="straight in dB over log f; end values held",
        cases=len(ours),
        worst=furthest(ours, np.concatenate([middles, cabin.level_db[[0, -1]]])),
        allowed=1e-9,
        unit="dB",
    )


def _figures() -> Evidence:
    systems = drawn.systems(150, seed=51, passive=0.3)
    cabins: dict[str, tuple[Cabin, float]] = {
        "estimated": (EstimatedCabin(largest_dimension=2.8, leak_hz=12.0), 0.3),
        "measured": (_jagged(), 0.5),
    }
    for name, (cabin, allowed) in cabins.items():
        found = figures(systems, music_band=BAND, vent_speed_limit=LIMIT, frequency=FIGURES_GRID, cabin=cabin)
        expected = dense_f3(systems, cabin, BAND[1])
        both = np.isfinite(expected) & np.isfinite(found.f3_cabin) & (expected > 1.5) & (expected < 70.0)
        off = 100.0 * np.abs(found.f3_cabin[both] / expected[both] - 1.0)
        # A dip of a measurement may just touch half power, on one grid and not on the other.
        share = 1.0 if name == "estimated" else 0.98
        yield Check(
            what=f"f3 in {'an' if name == 'estimated' else 'a'} {name} cabin" + ("" if share == 1.0 else ", 98 of 100"),
            against="complex circuit, 12 000 frequencies",
            cases=int(both.sum()),
            worst=float(np.quantile(off, share)),
            allowed=allowed,
            unit="%",
        )
    cabin = cabins["estimated"][0]
    found = figures(systems, music_band=BAND, vent_speed_limit=LIMIT, cabin=cabin)
    lower = np.isfinite(found.f3) & np.isfinite(found.f3_cabin)
    yield Check(
        what="f3 in an estimated cabin over f3 in half space",
        against="never above it: the gain is 0 dB or more",
        cases=int(lower.sum()),
        worst=float(np.max(found.f3_cabin[lower] / found.f3[lower])),
        allowed=1.001,
    )
    dense = np.geomspace(*BAND, 4001)
    level = max_output(systems, frequency=dense, vent_speed_limit=LIMIT)[0] + gain_db(cabin, dense)
    mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / 4000
    yield Check(
        what="mean maximum output in the vehicle",
        against="output and gain on 4 001 frequencies",
        cases=len(systems),
        worst=furthest(found.output_db + mean_gain_db(cabin, music_band=BAND), mean),
        allowed=0.02,
        unit="dB",
    )
