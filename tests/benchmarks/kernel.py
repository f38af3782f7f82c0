"""How quick the figures are: ``python -m tests.benchmarks.kernel``.

Designs × frequencies a second of ``figures`` (f3, mean output, worst excursion and vent speed,
all included): at small signal; with passive radiators; and with everything on, which is thin boxes, warm coils,
jets in the vents, Bl and Cms that change over the stroke in two of five drivers, infrasonic filter,
crossover and cabin; and what the air inside adds to that, which is worked out once a design.  Small signal
against one ``scipy.signal.freqs`` call a design (the response alone) and against ngspice (an AC analysis of each
design's circuit), on the same designs in one run.  Also the exact mode that tables are made with.
"""

from __future__ import annotations

import os

# One core for everybody; read when NumPy is imported.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import math
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy import signal

from engine.acoustics.cabin import EstimatedCabin
from engine.acoustics.cavity import ACROSS, FACE, Cavities, Ports
from engine.acoustics.circuit import Systems
from engine.acoustics.figures import FIGURES_GRID, SEARCH_GRID, figures
from engine.acoustics.filters import Chain, section_qs
from engine.acoustics.thin_box import thin_box
from tests.acoustics import drawn, scalar_twin
from tests.acoustics.pipes import tuning_of
from tests.acoustics.test_circuit_simulator import simulate

BATCH = 1000
REPEATS = 30
CABIN = EstimatedCabin(largest_dimension=2.5)
SIMULATED = 50


def seconds(work: Callable[[], object], repeats: int) -> float:
    """Best of several runs."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def one_by_one(systems: Systems) -> Callable[[], object]:
    """A loop over the designs, each response by scipy from polynomials prepared beforehand.

    The polynomials are Small's fourth-order ones, leakage the only loss.
    """
    ws = 1.0 / np.sqrt(systems.cms * systems.mms)
    wb = systems.omega_b
    qts = ws * systems.mms / (systems.rms + systems.bl**2 / systems.re)
    alpha = systems.count * systems.sd**2 * systems.cms / systems.cab
    tb, ts = 1.0 / wb, 1.0 / ws
    numerators = np.stack([(tb * ts) ** 2, *np.zeros((4, len(systems)))], axis=1)
    denominators = np.stack(
        [
            (tb * ts) ** 2,
            tb**2 * ts / qts + tb * ts**2 / systems.ql,
            (alpha + 1.0) * tb**2 + tb * ts / (systems.ql * qts) + ts**2,
            tb / systems.ql + ts / qts,
            np.ones(len(systems)),
        ],
        axis=1,
    )
    omega = 2.0 * math.pi * SEARCH_GRID

    def work() -> object:
        return [signal.freqs(b, a, worN=omega)[1] for b, a in zip(numerators, denominators, strict=True)]

    return work


def everything_on(*, passive: float = 0.0) -> Systems:
    """Random designs with all that makes a design cost time."""
    q, q2 = (float(each) for each in section_qs(shape="linkwitz-riley", order=4))
    chain = Chain(low_pass_order=4, low_pass_hz=90.0, low_pass_q=q, low_pass_q2=q2)
    return replace(drawn.at_full_power(BATCH, seed=71, bent=0.4, passive=passive, thin=True), chain=chain)


def air_inside() -> Callable[[], object]:
    """Random wedges with one pipe along the width and one driver in the baffle."""
    rng = np.random.default_rng(73)
    width, height, bottom = (rng.uniform(low, high, BATCH) for low, high in ((0.5, 1.0), (0.3, 0.5), (0.1, 0.2)))
    cavities = Cavities(
        width=width, height=height, bottom_depth=bottom, top_depth=0.6 * bottom, back_slope=np.zeros(BATCH)
    )
    vent, driver = np.full(BATCH, 0.03), np.full(BATCH, 0.1)
    ports = Ports(
        kind=np.tile([ACROSS, FACE], (BATCH, 1)),
        opening=np.tile([True, False], (BATCH, 1)),
        x=np.stack([0.5 * width, 0.7 * width], axis=1),
        y=np.stack([0.5 * bottom, bottom], axis=1),
        z=np.stack([0.3 * height, 0.5 * height], axis=1),
        radius=np.stack([vent, driver], axis=1),
        outer=np.stack([1.05 * vent, driver], axis=1),
        inside=np.zeros((BATCH, 2)),
    )
    one, volume, length = np.ones(BATCH), 0.8 * width * height * bottom, 0.5 * width
    tuning = tuning_of(length=length, volume=volume, diameter=2.0 * vent)
    return lambda: thin_box(
        cavities=cavities,
        ports=ports,
        tuning=tuning,
        volume=volume,
        vent_length=length,
        vent_area=math.pi * vent**2,
        vent_count=one,
        sd=math.pi * driver**2,
        driver_count=one,
        radiator_sd=np.nan * one,
        radiator_count=0.0 * one,
        radiator_moving=np.nan * one,
        outer_end=0.85 * vent,
    )


def main() -> int:
    systems = drawn.systems(BATCH, seed=71)
    vented = drawn.systems(4 * BATCH, seed=72)
    vented = vented.take(np.flatnonzero(vented.vented)[:BATCH])
    points = len(SEARCH_GRID)

    def judge(batch: Systems, cabin: EstimatedCabin | None = None) -> Callable[[], object]:
        return lambda: figures(batch, music_band=(25.0, 80.0), vent_speed_limit=17.0, cabin=cabin)

    def tabled(batch: Systems) -> Callable[[], object]:
        return lambda: figures(
            batch, music_band=(25.0, 80.0), vent_speed_limit=17.0, cabin=CABIN, frequency=FIGURES_GRID, exact=True
        )

    passive, full, full_passive = (
        drawn.systems(BATCH, seed=71, passive=1.0),
        everything_on(),
        everything_on(passive=1.0),
    )
    rates = {
        "figures, closed and vented": (BATCH, points, seconds(judge(systems), REPEATS)),
        "figures, vented boxes": (BATCH, points, seconds(judge(vented), REPEATS)),
        "figures, passive radiators": (BATCH, points, seconds(judge(passive), REPEATS)),
        "everything on, closed and vented": (BATCH, points, seconds(judge(full, CABIN), REPEATS)),
        "everything on, passive radiators": (BATCH, points, seconds(judge(full_passive, CABIN), REPEATS)),
        "everything on, exact, closed and vented": (BATCH, len(FIGURES_GRID), seconds(tabled(full), 2)),
        "scipy.signal.freqs, one call a design": (BATCH, points, seconds(one_by_one(vented), 5)),
    }
    if shutil.which("ngspice"):
        twins = [scalar_twin.twin_of(systems, row) for row in range(SIMULATED)]
        with tempfile.TemporaryDirectory() as folder:
            frequency, _ = simulate("ngspice", Path(folder), twins)
            spent = seconds(lambda: simulate("ngspice", Path(folder), twins), 3)
        rates["ngspice, all in one run"] = (SIMULATED, len(frequency), spent)
    else:
        print("ngspice is not installed: left out")

    inside = seconds(air_inside(), REPEATS)
    everything = rates["everything on, closed and vented"][2]
    rates["everything on, with the air inside"] = (BATCH, points, everything + inside)
    reference = rates["figures, closed and vented"]
    best = reference[0] * reference[1] / reference[2]
    print(f"Python {platform.python_version()}, NumPy {np.__version__}, one core of {platform.machine()}")
    print(f"{'':42}{'designs/s':>14}{'× frequencies/s':>18}{'time over that of the first':>30}")
    for name, (designs, frequencies, spent) in rates.items():
        rate = designs * frequencies / spent
        print(f"{name:42}{designs / spent:14,.0f}{rate:18,.0f}{best / rate:28,.2f} ×")
    return 0


if __name__ == "__main__":
    sys.exit(main())
