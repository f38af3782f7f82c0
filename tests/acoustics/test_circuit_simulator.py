"""The circuit against a general circuit simulator, ngspice, that knows nothing of loudspeakers.

The whole equivalent circuit is written down as a netlist, drivers one by one: coil, gyrator
as two current-controlled voltage sources, mass, resistance and spring of the moving parts,
the cone as a transformer (controlled sources), and the box, its air's inertia, leak and vents on the acoustical
side.  The filter is a chain of buffered first- and second-order sections.  One AC analysis
covers all systems.
"""

from __future__ import annotations

import math
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.acoustics.circuit import SHARED, Systems
from engine.acoustics.curves import Curves, curves
from tests.acoustics import drawn, scalar_twin
from tests.acoustics.scalar_twin import Twin

SYSTEMS = 50
POINTS_A_DECADE = 60
PROBES = ("compliance", "cone", "vent", "coil")  # currents written out, in this order


def filter_lines(name: str, twin: Twin) -> tuple[list[str], str]:
    """A Butterworth high-pass from node ``drive_name``, and the node it comes out at."""
    order, node, lines = int(twin.filter_order), f"drive_{name}", []
    w = 2.0 * math.pi * twin.filter_hz
    for k in range(order // 2):
        # Series C, shunt L and R: s²/(s² + s/(RC) + 1/(LC)) with 1/(RC) = w·damping.
        damping = 1.0 / (twin.filter_q, twin.filter_q2)[k]
        inner, out = f"f{k}_{name}", f"g{k}_{name}"
        lines += [
            f"CF{k}_{name} {node} {inner} {1.0 / w:.17g}",
            f"LF{k}_{name} {inner} 0 {1.0 / w:.17g}",
            f"RF{k}_{name} {inner} 0 {1.0 / damping:.17g}",
            f"EF{k}_{name} {out} 0 {inner} 0 1",
        ]
        node = out
    if order % 2:
        inner, out = f"fo_{name}", f"go_{name}"
        lines += [
            f"CFO_{name} {node} {inner} {1.0 / w:.17g}",
            f"RFO_{name} {inner} 0 1",
            f"EFO_{name} {out} 0 {inner} 0 1",
        ]
        node = out
    return lines, node


def netlist(name: str, twin: Twin) -> list[str]:
    """One system, every driver of it, its own voltage source."""
    cab = twin.filling * twin.volume / (twin.rho * twin.c**2)
    vented = twin.vent_count > 0
    cone_springs = 1.0 / twin.cms + twin.count * twin.sd**2 / cab
    radiating = twin.radiator_count > 0
    moving = twin.mms + twin.air_mass
    wb = 2.0 * math.pi * twin.tuning if vented or radiating else math.sqrt(cone_springs / moving)
    lines, terminal = filter_lines(name, twin)
    lines.append(f"VS_{name} drive_{name} 0 DC 0 AC {twin.voltage:.17g}")
    for n in range(int(twin.count)):
        d = f"{n}_{name}"
        coil = f"a{d}"
        lines += [f"VCOIL{d} {terminal} {coil} 0", f"RE{d} {coil} b{d} {twin.re:.17g}"]
        lines.append(f"LE{d} b{d} c{d} {twin.le:.17g}")
        if twin.l2 > 0.0:
            lines += [f"L2{d} c{d} e{d} {twin.l2:.17g}", f"R2{d} c{d} e{d} {twin.r2:.17g}"]
        else:
            lines.append(f"VL2{d} c{d} e{d} 0")
        lines += [
            f"HBACK{d} e{d} 0 VCONE{d} {twin.bl:.17g}",  # back voltage bl·u
            f"HFORCE{d} m{d} 0 VCOIL{d} {twin.bl:.17g}",  # force bl·i
            f"VCONE{d} m{d} n{d} 0",  # its current is the velocity
            f"LM{d} n{d} o{d} {moving:.17g}",
            f"RM{d} o{d} q{d} {twin.rms:.17g}",
            f"CM{d} q{d} r{d} {twin.cms:.17g}",
            f"EBOX{d} r{d} 0 box_{name} 0 {twin.sd:.17g}",  # force sd·p against the cone
            f"FBOX{d} 0 box_{name} VCONE{d} {twin.sd:.17g}",  # flow sd·u into the box
        ]
    absorption = 0.0 if math.isinf(twin.qa) else 1.0 / (wb * twin.qa * cab)
    # The inertia that cones and openings share; may be negative, which is fine with an AC analysis.
    lines += [
        f"VAB_{name} box_{name} sm_{name} 0",
        f"LAB_{name} sm_{name} s_{name} {twin.mutual:.17g}" if twin.mutual else f"VLAB_{name} sm_{name} s_{name} 0",
        f"CAB_{name} s_{name} t_{name} {cab:.17g}",
    ]
    lines.append(f"RAB_{name} t_{name} 0 {absorption:.17g}" if absorption else f"VRAB_{name} t_{name} 0 0")
    if not math.isinf(twin.ql):
        lines.append(f"RAL_{name} box_{name} 0 {twin.ql / (wb * cab):.17g}")
    if vented:
        count = int(twin.vent_count)
        mass = count * (1.0 / (wb**2 * cab) - twin.mutual)  # of each of them
        lines.append(f"VAP_{name} box_{name} vents_{name} 0")
        for n in range(count):
            lines.append(f"LAP{n}_{name} vents_{name} w{n}_{name} {mass:.17g}")
            drag = 0.0 if math.isinf(twin.qp) else count / (wb * cab) / twin.qp
            lines.append(f"RAP{n}_{name} w{n}_{name} 0 {drag:.17g}" if drag else f"VRAP{n}_{name} w{n}_{name} 0 0")
    elif radiating:
        # Each radiator by itself: mass, losses and spring of the cone behind a transformer.
        lines.append(f"VAP_{name} box_{name} vents_{name} 0")
        area = twin.radiator_sd
        mass = (1.0 / twin.radiator_cms + twin.radiator_count * area**2 / cab) / wb**2
        mass -= twin.radiator_count * area**2 * twin.mutual
        for n in range(int(twin.radiator_count)):
            d = f"{n}_{name}"
            lines += [
                f"FPR{d} vents_{name} 0 VPR{d} {area:.17g}",
                f"EPR{d} k{d} 0 vents_{name} 0 {area:.17g}",
                f"VPR{d} k{d} ka{d} 0",
                f"LPR{d} ka{d} kb{d} {mass:.17g}",
                f"CPR{d} kb{d} kc{d} {twin.radiator_cms:.17g}",
                f"RPR{d} kc{d} 0 {twin.radiator_rms:.17g}",
            ]
    else:
        lines += [f"VAP_{name} box_{name} vents_{name} 0", f"RAP_{name} vents_{name} 0 1e30"]
    return lines


def simulate(
    ngspice: str, folder: Path, twins: list[Twin], *, sweep: str = f"dec {POINTS_A_DECADE} 10 200"
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Frequencies (F,) and the probes' currents (N, 4, F), all from one run of ngspice over a ``sweep`` of its own."""
    lines = ["all systems"]
    vectors = []
    for number, twin in enumerate(twins):
        name = f"s{number}"
        lines += netlist(name, twin)
        vectors += [f"i(vab_{name})", f"i(vcone0_{name})", f"i(vap_{name})", f"i(vcoil0_{name})"]
    lines += [
        ".options reltol=1e-9 abstol=1e-18 vntol=1e-15 gmin=1e-30",
        ".control",
        "set wr_singlescale",
        "set numdgt=14",
        # Every node would be kept otherwise.
        f"save {' '.join(vectors)}",
        f"ac {sweep}",
        f"wrdata out.txt {' '.join(vectors)}",
        "quit",
        ".endc",
        ".end",
    ]
    (folder / "all.cir").write_text("\n".join(lines), encoding="utf-8")
    run = subprocess.run(
        [ngspice, "-b", "all.cir"], cwd=folder, capture_output=True, text=True, timeout=300, check=False
    )
    output = folder / "out.txt"
    assert output.exists(), f"ngspice gave nothing:\n{run.stdout[-2000:]}\n{run.stderr[-2000:]}"
    table = np.loadtxt(output)
    currents = table[:, 1::2] + 1j * table[:, 2::2]
    return table[:, 0], currents.T.reshape(len(twins), len(PROBES), -1)


@pytest.fixture(scope="module")
def systems() -> Systems:
    """Closed, vented, with passive radiators; one to three drivers, lossy coils, filters of order 0 to 4."""
    systems = drawn.systems(SYSTEMS, seed=61, passive=0.3, highest_q=0.7, thin=True)
    assert np.any(systems.mutual > 0.0)
    assert np.any(systems.mutual < 0.0)
    assert 10 < systems.vented.sum() < 45
    assert systems.radiating.sum() > 10
    assert set(systems.count) == {1.0, 2.0, 3.0}
    assert set(systems.filter_order) == {0.0, 1.0, 2.0, 3.0, 4.0}
    assert 10 < np.sum(systems.l2 > 0.0) < 40
    assert np.any(np.isfinite(systems.ql[~systems.vented]))
    assert np.any(np.isinf(systems.ql[systems.vented]))
    assert np.any(np.isfinite(systems.qa))
    assert np.any(np.isfinite(systems.qp[systems.vented]))
    return systems


@pytest.fixture(scope="module")
def simulated(
    systems: Systems, program: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    twins = [scalar_twin.twin_of(systems, row) for row in range(SYSTEMS)]
    return simulate(program("ngspice"), tmp_path_factory.mktemp("ngspice"), twins)


@pytest.fixture(scope="module")
def ours(systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]]) -> Curves:
    return curves(systems, frequency=simulated[0], vent_speed_limit=17.0)


def test_level(systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]], ours: Curves) -> None:
    """Independent implementation, ngspice: level within 0.01 dB, 10 Hz to 200 Hz."""
    frequency, currents = simulated
    pressure = systems.air.rho * frequency * np.abs(currents[:, PROBES.index("compliance")])
    level = 20.0 * np.log10(pressure / 20e-6)
    assert np.max(np.abs(ours.spl_db - level)) < 0.01


def test_excursion(simulated: tuple[NDArray[np.float64], NDArray[np.complex128]], ours: Curves) -> None:
    """Independent implementation, ngspice: peak excursion within 0.1 %."""
    frequency, currents = simulated
    peak = math.sqrt(2.0) * np.abs(currents[:, PROBES.index("cone")]) / (2.0 * math.pi * frequency)
    np.testing.assert_allclose(ours.excursion_peak_m, peak, rtol=1e-3)


def test_vent_air_speed(
    systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]], ours: Curves
) -> None:
    """Independent implementation, ngspice: peak air speed within 0.1 % (trap 8: RMS would be 29 % less)."""
    _, currents = simulated
    vented = systems.vented
    area = (systems.vent_count * systems.vent_area)[vented, np.newaxis]
    flow = np.abs(currents[vented, PROBES.index("vent")])
    peak = math.sqrt(2.0) * flow / area
    np.testing.assert_allclose(ours.vent_speed_peak_m_s[vented], peak, rtol=1e-3)
    assert np.max(np.abs(peak / math.sqrt(2.0) / ours.vent_speed_peak_m_s[vented] - 1.0)) > 0.29


def test_radiator_excursion(
    systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]], ours: Curves
) -> None:
    """Independent implementation, ngspice: peak excursion of a passive radiator within 0.1 %."""
    frequency, currents = simulated
    chosen = systems.radiating
    area = (systems.radiator_count * systems.radiator_sd)[chosen, np.newaxis]
    peak = math.sqrt(2.0) * np.abs(currents[chosen, PROBES.index("vent")]) / area / (2.0 * math.pi * frequency)
    np.testing.assert_allclose(ours.radiator_excursion_peak_m[chosen], peak, rtol=1e-3)


def test_impedance(
    systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]], ours: Curves
) -> None:
    """Independent implementation, ngspice: one driver's impedance within 0.1 % and 0.06°, behind the filter."""
    frequency, currents = simulated
    high_pass = np.array(
        [
            [scalar_twin.high_pass(int(order), f / cutoff if order else 1.0, (q, q2)) for f in frequency]
            for order, cutoff, q, q2 in zip(
                systems.filter_order, systems.filter_hz, systems.filter_q, systems.filter_q2, strict=True
            )
        ]
    )
    terminal = systems.voltage[:, np.newaxis] * high_pass
    impedance = terminal / currents[:, PROBES.index("coil")]
    np.testing.assert_allclose(ours.impedance_ohm, np.abs(impedance), rtol=1e-3)
    np.testing.assert_allclose(ours.impedance_phase_deg, np.degrees(np.angle(impedance)), atol=0.06)


def test_a_wrong_circuit_would_be_noticed(
    systems: Systems, simulated: tuple[NDArray[np.float64], NDArray[np.complex128]]
) -> None:
    """That these checks can fail: the box pressure of one driver instead of all n is far outside them."""
    frequency, currents = simulated
    several = systems.count > 1.0
    row = int(np.flatnonzero(several)[0])
    alone = systems.take(np.array([row]))
    wrong = Systems(
        **{name: getattr(alone, name) for name in alone.__dataclass_fields__ if name not in ("count", *SHARED)},
        count=np.array([1.0]),
        chain=alone.chain,
        air=alone.air,
    )
    peak = math.sqrt(2.0) * np.abs(currents[row, PROBES.index("cone")]) / (2.0 * math.pi * frequency)
    ratio = curves(wrong, frequency=frequency, vent_speed_limit=17.0).excursion_peak_m[0] / peak
    assert np.max(np.abs(ratio - 1.0)) > 0.05
