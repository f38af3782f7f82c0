"""What grows with the level: heat, jets in the vent, the stroke; and the coil's lossy inductance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from engine.acoustics.circuit import respond
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.acoustics.heating import COEFFICIENTS, hot_resistance
from engine.acoustics.inductance import PowerLaw, lossy, lossy_from_sheet
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.limits import LIMITS, max_output
from engine.acoustics.travel import Shape
from engine.acoustics.turbulence import ENTRY, jet_resistance, rounded_entry, vent_loss
from engine.air import REFERENCE_AIR
from tests.acoustics import drawn
from tests.acoustics.test_large_signal import ratios
from tests.benchmarks.evidence.checks import Check, Evidence, Floats, Table, furthest, furthest_percent, greatest
from tests.benchmarks.full_power import ALLOWED, CASES, FIGURES, UP_TO, VENTED, Row, rows, worst

THETA = (np.arange(4096) + 0.5) * 2.0 * math.pi / 4096
BAND = (25.0, 80.0)
LIMIT = 17.0
VENT, LEAK_Q = {"length": 0.3, "diameter": 0.08}, 7.0


def evidence() -> Evidence:
    yield from _heat()
    yield from _jets()
    yield from _travel()
    yield from _inductance()
    yield from _in_time()
    yield from _quick()
    yield _onset()


def _heat() -> Evidence:
    copper = COEFFICIENTS["copper"]
    current, re, thermal = np.linspace(0.5, 11.0, 22), 3.2, 0.4
    hot = np.full(len(current), re)
    for _ in range(5000):
        hot = re * (1.0 + copper * thermal * hot * current**2)
    found = np.array([hot_resistance(re, each, thermal, copper) for each in current.tolist()])
    yield Check(
        what="coil's warm resistance, closed form",
        against="iteration: resistance, heat, rise, resistance …",
        cases=len(current),
        worst=furthest_percent(found, hot),
        allowed=1e-9,
        unit="%",
        note=f"up to {(hot[-1] / re - 1.0) / copper:.0f} K",
    )
    warm = float(hot_resistance(1.0, math.sqrt(10.0 / 1.72), 18.0, 0.004))
    yield Check(
        what="compression of a coil warmed from 20 to 200 °C",
        against="general encyclopedia: 4.7 dB [P]",
        cases=1,
        worst=furthest(20.0 * math.log10(warm), 4.7),
        allowed=0.05,
        unit="dB",
    )


def _jets() -> Evidence:
    rho, loss = REFERENCE_AIR.rho, 1.75
    power, pressure = [], []
    for peak in (2.0, 8.0, 30.0):
        w = peak * np.sin(THETA)
        resistance = float(jet_resistance(loss=loss, speed=peak, rho=rho))
        power.append(0.5 * resistance * peak**2 / float(np.mean(0.5 * rho * loss * np.abs(w) ** 3)))
        fundamental = 2.0 * float(np.mean(0.5 * rho * loss * w * np.abs(w) * np.sin(THETA)))
        pressure.append(resistance * peak / fundamental)
    for what, values in (("power that its resistance takes", power), ("fundamental of its pressure", pressure)):
        yield Check(
            what=f"jet: {what}",
            against="½ρK·w·|w| at every instant, by quadrature",
            cases=len(values),
            worst=furthest_percent(values, 1.0),
            allowed=1e-4,
            unit="%",
        )
    usual = float(vent_loss(length=0.0, diameter=1.0))
    yield Check(
        what="vent loss K, one end flush and one free, without friction",
        against="Borda, Idelchik 1986 [M]: 1 + (0.5 + 1)/2",
        cases=1,
        worst=furthest(usual, 1.75),
        allowed=1e-12,
        note="K is an estimate from hydraulics, ± 25 %",
    )
    # Loss of a jet grows with speed, so that its Q falls with it.
    k = float(vent_loss(**VENT))
    at_one = 2.0 * math.pi * 30.0 * rho * VENT["length"] / float(jet_resistance(loss=k, speed=1.0, rho=rho))
    speeds = np.array([at_one / (2.0 * LEAK_Q), at_one / LEAK_Q])
    yield Check(
        what="where a vent's loss comes to half of the usual leak's, to all",
        against="5 to 10 m/s, Salvatti, Devantier & Button 2002 [M]",
        cases=2,
        worst=furthest_percent(speeds, [5.0, 10.0]),
        allowed=25.0,
        unit="%",
        note=f"0.3 m at 30 Hz: {speeds[0]:.1f} and {speeds[1]:.1f} m/s; allowed is what K may be off by",
    )


def _travel() -> Evidence:
    off, books = [], []
    for second, fourth in ((-900.0, -2.0e5), (1500.0, 0.0), (-1250.0, 8.0e5)):
        shape = Shape(second=second, fourth=fourth)
        for peak in (0.004, 0.012):
            x = peak * np.cos(THETA)
            values, square = 1.0 + second * x**2 + fourth * x**4, np.array(peak**2)
            off.append(furthest(shape.along(square), 2.0 * np.mean(values * np.cos(THETA) ** 2)))
            off.append(furthest(shape.across(square), 2.0 * np.mean(values * np.sin(THETA) ** 2)))
            power = float(np.mean(values * np.sin(THETA + 0.7) * -np.sin(THETA)))
            books.append(furthest(power, -0.5 * float(shape.across(square)) * math.cos(0.7)))
    yield Check(
        what="Bl and Cms over the stroke: describing functions",
        against="Fourier coefficients by quadrature",
        cases=len(off),
        worst=greatest(off),
        allowed=1e-12,
    )
    yield Check(
        what="the same: current's power is what the motion takes",
        against="conservation, by quadrature",
        cases=len(books),
        worst=greatest(books),
        allowed=1e-12,
    )


def _inductance() -> Evidence:
    omega = 2.0 * math.pi * np.array([20.0, 50.0, 200.0, 1000.0])

    def impedance(law: PowerLaw) -> Floats:
        return np.asarray(law.resistance(omega) + 1j * law.reactance(omega))

    exponents = (0.5, 0.6, 0.7, 0.8, 0.9)
    off = [np.max(np.abs(impedance(lossy(k=0.03, n=n)) / (0.03 * (1j * omega) ** n) - 1.0)) for n in exponents]
    yield Check(
        what="lossy coil: Vanderkooy (n = ½) and Leach (n up to 0.9)",
        against="k·(jω)^n as a complex power",
        cases=len(exponents) * len(omega),
        worst=greatest(off),
        allowed=1e-12,
        note="relative",
    )
    samples = {
        4.138116 + 8.121510j: lossy(k=0.02, n=0.7),
        2.802496 + 2.802496j: lossy(k=0.05, n=0.5),
    }
    yield Check(
        what="the same at 1 kHz",
        against="Leach 2002, Vanderkooy 1989, samples [C]",
        cases=len(samples),
        worst=greatest(abs(complex(impedance(law)[3]) - expected) for expected, law in samples.items()),
        allowed=1e-6,
        unit="ohm",
    )
    angle = 0.35 * math.pi
    wright = PowerLaw(kr=0.02 * math.cos(angle), xr=0.7, ki=0.02 * math.sin(angle), xi=0.7)
    yield Check(
        what="Wright's law with both exponents alike",
        against="Leach's",
        cases=len(omega),
        worst=float(np.max(np.abs(impedance(wright) / impedance(lossy(k=0.02, n=0.7)) - 1.0))),
        allowed=1e-12,
        note="relative",
    )
    bare = replace(drawn.systems(20, seed=38), le=np.zeros(20), l2=np.zeros(20))
    seen = []
    for law in (lossy_from_sheet(le=1.5e-3, n=0.7), lossy_from_sheet(le=1.5e-3, n=0.5), wright):
        stated = {name: np.full(20, float(value)) for name, value in vars(law).items()}
        high = np.array([20e3])
        added = [respond_large(each, frequency=high).impedance for each in (replace(bare, **stated), bare)]
        expected = law.resistance(2.0 * math.pi * high) + 1j * law.reactance(2.0 * math.pi * high)
        seen.append(np.max(np.abs((added[0] - added[1]) / expected - 1.0)))
    yield Check(
        what="all three at a driver's terminals, far above resonance",
        against="the law itself",
        cases=20 * len(seen),
        worst=greatest(seen),
        allowed=1e-6,
        note="relative",
    )


def _in_time() -> Evidence:
    """Every case of the table of integration in time, up to Xmax; what happens beyond goes into the notes."""
    found = [row for case in CASES for row in rows(case)]
    against = "equations of motion integrated in time"
    for what, names in {
        "nothing grows with the level (is the twin right?)": ("linear",),
        "warm coil": ("coil heat",),
        "jets in the vent": ("vent loss",),
        "Bl and Cms over the stroke": ("Bl and Cms", "steep Bl and Cms"),
        "all of them": ("all, closed", "all, vented", "all, thin", "all, passive"),
        "motor and suspension off centre, left out": ("all, closed, skewed",),
    }.items():
        some = [row for row in found if row.case.startswith(names) and ("skewed" in row.case) == ("skewed" in names[0])]
        linear = names == ("linear",)
        yield _level(what, against, some, allowed=2e-3 if linear else ALLOWED["level_db"], everywhere=linear)
    within = [row for row in found if row.over_xmax <= UP_TO]
    beyond = [row for row in found if row.over_xmax > UP_TO and not row.case.startswith("linear")]
    furthest_out = max(row.over_xmax for row in beyond)
    for name, words in FIGURES.items():
        if name == "level_db":
            continue
        yield Check(
            what=f"all cases: {words}",
            against=against,
            cases=sum(getattr(row, name) != 0.0 for row in within),
            worst=100.0 * worst(within, name),
            allowed=100.0 * ALLOWED[name],
            unit="%",
            note=f"beyond Xmax, to {furthest_out:.1f} of it, {100.0 * worst(beyond, name):.1f} %",
        )
    yield Check(
        what="all cases: is the integration settled?",
        against="the window of ten periods before",
        cases=len(found),
        worst=100.0 * greatest(row.settled for row in within),
        allowed=0.1,
        unit="%",
    )


def _level(what: str, against: str, some: list[Row], *, allowed: float, everywhere: bool) -> Check:
    within = [row for row in some if everywhere or row.over_xmax <= UP_TO]
    beyond = [row for row in some if row.over_xmax > UP_TO]
    lost = max(abs(row.compression_db) for row in within)
    note = f"to {max(row.over_xmax for row in within):.2f} Xmax, {max(row.speed for row in within):.0f} m/s, "
    note += f"{max(row.coil_rise for row in within):.0f} K; linear model off by {lost:.2f} dB"
    if beyond and not everywhere:
        note += f"; to {max(row.over_xmax for row in beyond):.2f} Xmax {worst(beyond, 'level_db'):.2f} dB"
    return Check(
        what=f"level, {what}",
        against=against,
        cases=len(within),
        worst=worst(within, "level_db"),
        allowed=allowed,
        unit="dB",
        note=note,
    )


def _quick() -> Evidence:
    """The search's quick form and the tables' exact one, over random boxes of all kinds with everything on."""
    every = [
        drawn.at_full_power(300, seed=53, bent=0.5, thin=True),
        drawn.at_full_power(300, seed=53, bent=0.5, passive=1.0, thin=True),
    ]
    fine = np.geomspace(*BAND, 193)
    off = []
    for systems in every:
        level = max_output(systems, frequency=fine, vent_speed_limit=LIMIT)[0]
        mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / (len(fine) - 1)
        off.append(np.abs(figures(systems, music_band=BAND, vent_speed_limit=LIMIT).output_db - mean))
    apart = np.concatenate(off)
    for what, value, allowed in (
        ("all", np.max(apart), 0.25),
        ("99 of 100", np.quantile(apart, 0.99), 0.1),
    ):
        yield Check(
            what=f"search's quick form: mean maximum output, {what}",
            against="exact large-signal model, 193 frequencies",
            cases=len(apart),
            worst=float(value),
            allowed=allowed,
            unit="dB",
            note=f"middle {np.median(apart):.3f} dB",
        )
    systems = drawn.at_full_power(60, seed=55, bent=0.0, passive=0.3, thin=True)
    found = figures(systems, music_band=BAND, vent_speed_limit=LIMIT, frequency=FIGURES_GRID, exact=True)
    dense = respond_large(systems, frequency=np.geomspace(10.0, 200.0, 4000))
    some = systems.vented
    yield Check(
        what="tables' figures: worst excursion and vent air speed",
        against="exact large-signal model, 4 000 frequencies",
        cases=len(systems) + int(some.sum()),
        worst=greatest(
            [
                furthest_percent(found.excursion_ratio, dense.excursion.max(axis=1) / systems.xmax),
                furthest_percent(found.vent_speed[some], dense.vent_speed.max(axis=1)[some]),
            ]
        ),
        allowed=0.1,
        unit="%",
    )
    systems = drawn.at_full_power(200, seed=36, passive=0.3, thin=True)
    _, codes, most = max_output(systems, frequency=FIGURES_GRID[::8], vent_speed_limit=LIMIT)
    reached = ratios(systems, most)
    bound = {LIMITS[code] for code in np.unique(codes)}
    yield Check(
        what="maximum output: greatest of all limits' ratios",
        against="1: one limit met, none passed",
        cases=reached[0].size,
        worst=furthest(reached.max(axis=0), 1.0),
        allowed=1e-9,
        note=f"binding somewhere: {', '.join(name for name in LIMITS if name in bound)}",
    )


def _onset() -> Table:
    """What a vent loses as it is driven harder, at the tuning of the table's vented box."""
    volts = np.geomspace(0.5, 100.0, 200)
    frequency = np.array([float(VENTED.tuning[0])])
    kinds = {
        "rounded at both ends": vent_loss(**VENT, entries=(rounded_entry(lip=0.2), rounded_entry(lip=0.2))),
        "both ends flush": vent_loss(**VENT, entries=(ENTRY["flush"], ENTRY["flush"])),
        "one end flush, one free": vent_loss(**VENT),
    }
    found = []
    for name, loss in kinds.items():
        driven = VENTED.take(np.zeros(len(volts), dtype=np.intp))
        driven = replace(driven, voltage=volts, vent_loss=np.full(len(volts), float(loss)))
        large = respond_large(driven, frequency=frequency)
        lost = compression_db(large, respond(driven, frequency=frequency).pressure)[:, 0]
        speed = large.vent_speed[:, 0]
        at = [f"{np.interp(each, speed, lost):.1f} dB" for each in (5.0, 10.0, 17.0)]
        where = [f"{np.interp(each, lost, speed):.1f} m/s" for each in (0.5, 1.0, 3.0)]
        found.append((name, f"{float(loss):.2f}", *where, *at))
    box = f"{1000.0 * VENTED.volume[0]:.0f} L at {frequency[0]:.0f} Hz, leak's Q {VENTED.ql[0]:.0f}"
    return Table(
        title=f"Where a vent begins to lose, {box}, a tone at the tuning; published: 5 to 10 m/s (Salvatti, Devantier "
        "& Button 2002 [M]), 17 m/s for 5 % of the speed of sound (Small 1973 [M]):",
        heads=("vent", "K", "0.5 dB at", "1 dB at", "3 dB at", "5 m/s", "10 m/s", "17 m/s"),
        rows=tuple(found),
    )
