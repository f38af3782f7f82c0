"""Passive radiators, slots, bends, flares and filling, and the circuit that they stand in."""

from __future__ import annotations

import math
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.integrate import dblquad, quad

from engine.acoustics.bends import MITRE_SQUARES, elbow_length
from engine.acoustics.circuit import Systems, respond
from engine.acoustics.curves import curves
from engine.acoustics.figures import figures
from engine.acoustics.filling import FILLINGS
from engine.acoustics.flares import flared_end
from engine.acoustics.slots import flush_end, full_width_end
from engine.acoustics.squares import Squares
from engine.built import vent_length
from engine.evaluate import systems_of
from engine.stated_design import StatedDesign
from tests.acoustics import drawn, scalar_twin
from tests.acoustics.pipes import DRIVER, PIPED, tuning_of
from tests.acoustics.test_circuit_simulator import PROBES, SYSTEMS, simulate
from tests.benchmarks.evidence.checks import Check, Evidence, Floats, furthest, furthest_percent, greatest
from tests.published.test_bends_and_flares import corner_squares, flared_mouth
from tests.published.test_passive_radiators import AT, FS, ROWS, SAMPLES, levels, system
from tests.published.test_slots import BY_ASPECT

BAND = (25.0, 80.0)
GRID = np.geomspace(10.0, 200.0, 41)


def evidence() -> Evidence:
    yield from _published_radiators()
    yield from _circuit()
    yield from _simulated()
    yield from _slots()
    yield from _bends_and_flares()
    yield from _filling()


def _published_radiators() -> Evidence:
    off = [
        furthest(levels(system(qt=qt, alpha=alpha, delta=delta, h=h, count=count), AT), expected)
        for (qt, alpha, delta, h), expected, _ in SAMPLES
        for count in (1, 3)
    ]
    yield Check(
        what="passive radiators, one and three: level of two alignments",
        against="Small 1974's circuit, samples [C]",
        cases=len(off) * len(AT),
        worst=greatest(off),
        allowed=1e-4,
        unit="dB",
    )
    notches = []
    for delta in (0.5, 1.0, 2.0, 3.0):
        box = system(qt=0.4, alpha=1.0, delta=delta, h=1.0)
        near = np.geomspace(0.8, 1.2, 20_000)  # of fp
        silent = near[np.argmin(levels(box, tuple(near / math.sqrt(1.0 + delta))))]
        notches.append(furthest_percent(silent, 1.0))
    yield Check(
        what="passive radiators: where the response falls silent",
        against="fb = fp·sqrt(1 + delta), Small 1974 [M+C]",
        cases=len(notches),
        worst=greatest(notches),
        allowed=2e-3,
        unit="%",
        note="to the step of the frequencies",
    )
    f3 = []
    for row in ROWS:
        qt, alpha, h, expected = (float(row[key]) for key in ("qt", "alpha", "h", "f3_fs"))
        ql = math.inf if row["ql"] == "inf" else float(row["ql"])
        soft = system(qt=qt, alpha=alpha, delta=1e5, h=h, ql=ql)
        f3.append(furthest_percent(figures(soft, music_band=BAND, vent_speed_limit=17.0).f3 / FS, expected))
    yield Check(
        what="passive radiators, very soft: f3 of vented alignments",
        against="Small 1974 [P]: as vents; vented rows [C]",
        cases=len(f3),
        worst=greatest(f3),
        allowed=0.1,
        unit="%",
    )


def _circuit() -> Evidence:
    systems = drawn.systems(60, seed=1, passive=0.4, highest_q=2.0, thin=True, lossy_coils=0.5)
    full = respond(systems, frequency=GRID)
    apart: list[float] = []
    for row in range(len(systems)):
        twin = scalar_twin.twin_of(systems, row)
        for column, frequency in enumerate(GRID):
            point = scalar_twin.solve(twin, float(frequency))
            for name in ("pressure", "excursion", "vent_speed", "radiator_excursion", "current", "impedance"):
                expected = getattr(point, name)
                if expected:
                    apart.append(abs(getattr(full, name)[row, column] / expected - 1.0))
    yield Check(
        what="circuit, all kinds of boxes, lossy coils: six quantities",
        against="scalar twin, from Small's acoustical circuit",
        cases=len(systems) * len(GRID),
        worst=greatest(apart),
        allowed=1e-9,
        note="relative",
    )
    systems = drawn.systems(1000, seed=2, passive=0.4, highest_q=2.0, thin=True, lossy_coils=0.5)
    exact, at = np.abs(respond(systems, frequency=GRID).pressure) ** 2, Squares(systems).at(np.log(GRID)[:, np.newaxis])
    yield Check(
        what="real polynomials for the search: pressure squared",
        against="complex circuit",
        cases=exact.size,
        worst=float(np.max(np.abs(at.pressure.T - exact) / (exact + 1e-3 * exact.max(axis=1, keepdims=True)))),
        allowed=1e-9,
        note="relative",
    )
    systems = drawn.systems(400, seed=11, passive=1.0)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    dense = math.sqrt(2.0) * respond(systems, frequency=np.geomspace(10.0, 200.0, 6000)).radiator_excursion.max(axis=1)
    yield Check(
        what="passive radiators: worst excursion over Xmax, search grid",
        against="complex circuit, 6 000 frequencies",
        cases=len(systems),
        worst=furthest_percent(found.radiator_ratio, dense / systems.radiator_xmax),
        allowed=0.1,
        unit="%",
    )


def _simulated() -> Evidence:
    """Vents and radiators one by one, drivers with their coils and gyrators, in a general circuit simulator."""
    names = {
        "level": ("dB", 0.01),
        "peak excursion": ("%", 0.1),
        "peak air speed in vents": ("%", 0.1),
        "peak excursion of passive radiators": ("%", 0.1),
        "impedance, magnitude": ("%", 0.1),
        "impedance, phase": ("°", 0.06),
    }
    systems = drawn.systems(SYSTEMS, seed=61, passive=0.3, highest_q=0.7, thin=True)
    apart = dict.fromkeys(names, math.nan)
    cases = dict.fromkeys(names, 0)
    program = shutil.which("ngspice")
    if program is not None:
        with tempfile.TemporaryDirectory() as folder:
            twins = [scalar_twin.twin_of(systems, row) for row in range(SYSTEMS)]
            frequency, currents = simulate(program, Path(folder), twins)
        apart = _apart(systems, frequency, currents)
        many = SYSTEMS * len(frequency)
        cases = dict.fromkeys(names, many)
        cases["peak air speed in vents"] = int(systems.vented.sum()) * len(frequency)
        cases["peak excursion of passive radiators"] = int(systems.radiating.sum()) * len(frequency)
    for name, (unit, allowed) in names.items():
        yield Check(
            what=f"{SYSTEMS} boxes: {name}",
            against="ngspice, a general circuit simulator",
            cases=cases[name],
            worst=apart[name],
            allowed=allowed,
            unit=unit,
            absent="" if program else "ngspice is not installed",
        )


def _apart(systems: Systems, frequency: Floats, currents: np.ndarray) -> dict[str, float]:
    ours = curves(systems, frequency=frequency, vent_speed_limit=17.0)
    flow = {probe: np.abs(currents[:, place]) for place, probe in enumerate(PROBES)}
    peak, omega = math.sqrt(2.0), 2.0 * math.pi * frequency
    pressure = systems.air.rho * frequency * flow["compliance"]
    vented, chosen = systems.vented, systems.radiating
    bores = (systems.vent_count * systems.vent_area)[vented, np.newaxis]
    pistons = (systems.radiator_count * systems.radiator_sd)[chosen, np.newaxis]
    filters = zip(systems.filter_order, systems.filter_hz, systems.filter_q, systems.filter_q2, strict=True)
    high_pass = np.array(
        [
            [scalar_twin.high_pass(int(order), f / cutoff if order else 1.0, (q, q2)) for f in frequency]
            for order, cutoff, q, q2 in filters
        ]
    )
    impedance = systems.voltage[:, np.newaxis] * high_pass / currents[:, PROBES.index("coil")]
    return {
        "level": furthest(ours.spl_db, 20.0 * np.log10(pressure / 20e-6)),
        "peak excursion": furthest_percent(ours.excursion_peak_m, peak * flow["cone"] / omega),
        "peak air speed in vents": furthest_percent(
            ours.vent_speed_peak_m_s[vented], peak * flow["vent"][vented] / bores
        ),
        "peak excursion of passive radiators": furthest_percent(
            ours.radiator_excursion_peak_m[chosen], peak * flow["vent"][chosen] / pistons / omega
        ),
        "impedance, magnitude": furthest_percent(ours.impedance_ohm, np.abs(impedance)),
        "impedance, phase": furthest(ours.impedance_phase_deg, np.degrees(np.angle(impedance))),
    }


def _slots() -> Evidence:
    ours = [float(flush_end(width=aspect, height=1.0)) / math.sqrt(aspect) for aspect, _ in BY_ASPECT]
    yield Check(
        what="slots: end in a large panel over root of area, 1:1 to 20:1",
        against="Rayleigh's rectangular piston [C]",
        cases=len(BY_ASPECT),
        worst=furthest(ours, [expected for _, expected in BY_ASPECT]),
        allowed=5e-6,
    )
    off = []
    for p, q in ((0.3, 0.1), (0.4, 0.03)):
        value, _ = dblquad(
            lambda y, x, p=p, q=q: (p - x) * (q - y) / math.hypot(x, y), 0.0, p, 0.0, q, epsabs=1e-10, epsrel=1e-8
        )
        off.append(furthest_percent(flush_end(width=p, height=q), 4.0 * value / (2.0 * math.pi * p * q)))
    yield Check(
        what="slots: the same",
        against="Rayleigh's integral by quadrature",
        cases=len(off),
        worst=greatest(off),
        allowed=1e-4,
        unit="%",
    )
    ratios = np.array([0.2, 0.1, 0.05])
    narrow = (3.0 - 2.0 * np.log(2.0 * math.pi * ratios)) / math.pi * ratios
    yield Check(
        what="slots: end from side panel to side panel, narrow ones",
        against="analytic limit (h/π)·(3 - 2·ln(2πh/H)) [C]",
        cases=len(ratios),
        worst=furthest_percent([full_width_end(ratio, 1.0) for ratio in ratios], narrow),
        allowed=2.0,
        unit="%",
    )


def _bends_and_flares() -> Evidence:
    yield Check(
        what="mitred corner of a slot, squares that it counts for",
        against="Hall 1968: 0.559 [M]",
        cases=1,
        worst=furthest(MITRE_SQUARES, 0.559),
        allowed=5e-4,
    )
    coarse, fine = corner_squares(16), corner_squares(32)
    yield Check(
        what="the same",
        against="finite differences, step^(4/3) off (Motz 1946)",
        cases=1,
        worst=furthest_percent(MITRE_SQUARES, fine + (fine - coarse) / (2.0 ** (4.0 / 3.0) - 1.0)),
        allowed=0.5,
        unit="%",
    )
    off = []
    for sweep, bore in ((0.08, 0.04), (0.12, 0.03), (0.05, 0.049)):
        conductance, _ = quad(lambda x, R=sweep, a=bore: 2.0 * math.sqrt(a * a - x * x) / (R + x), -bore, bore)
        expected = 0.5 * math.pi * math.pi * bore**2 / conductance
        off.append(furthest_percent(elbow_length(radius=sweep, diameter=2.0 * bore), expected))
    yield Check(
        what="swept bend of a pipe, length that it counts for",
        against="flow ∝ 1/r by quadrature",
        cases=len(off),
        worst=greatest(off),
        allowed=1e-4,
        unit="%",
    )
    yield Check(
        what="end of a pipe without a flare, by the next line's elements",
        against="King 1936: 0.8217 radii [M]",
        cases=1,
        worst=furthest_percent(flared_mouth(bore=1.0, flare=0.0), 0.8217),
        allowed=0.3,
        unit="%",
    )
    radii = np.array([0.1, 0.25, 0.5, 1.0])
    yield Check(
        what="flared end of a pipe, to the bore's own radius, in such radii",
        against="potential flow by finite elements (no published table)",
        cases=len(radii),
        worst=furthest(flared_end(diameter=2.0, flare_radius=radii), [flared_mouth(bore=1.0, flare=r) for r in radii]),
        allowed=0.23,
        note="the horn law takes flares for lighter than they are: air does not fill them evenly",
    )
    rng = np.random.default_rng(41)
    drawn = zip(rng.uniform(0.01, 0.2, 200), rng.uniform(0.04, 0.16, 200), rng.uniform(18.0, 50.0, 200), strict=True)
    off = []
    for volume, diameter, tuning in drawn:
        length = vent_length(replace(PIPED, volume=float(volume), vent_diameter=float(diameter), tuning=float(tuning)))
        assert length is not None
        off.append(furthest_percent(tuning_of(length=length, volume=volume, diameter=diameter), tuning))
    yield Check(
        what="vents: tuning of the length that is cut for it",
        against="Helmholtz's resonator by hand",
        cases=200,
        worst=greatest(off),
        allowed=1e-9,
        unit="%",
    )


def _filling() -> Evidence:
    most = max(each.compliance for each in FILLINGS.values())
    yield Check(
        what="filling: most that it softens the air of a box",
        against="isothermal limit, γ = 1.40; Small 1972 [M]",
        cases=len(FILLINGS),
        worst=most,
        allowed=1.4,
        note=f"1 to {most:g}; its absorption is common practice, no source",
    )
    stiff = StatedDesign(driver=DRIVER, voltage=1.0, box_kind="closed", volume=1e-4, ql=math.inf)
    hollow, filled = (systems_of(replace(stiff, filling=each)) for each in (1.0, 1.4))
    yield Check(
        what="filling: resonance of a small box, to the limit over empty",
        against="1/sqrt(1.4) = 0.845 [C]",
        cases=1,
        worst=furthest(filled.omega_b / hollow.omega_b, 1.0 / math.sqrt(1.4)),
        allowed=5e-4,
    )
