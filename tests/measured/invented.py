"""Sweeps of invented loudspeakers, made by a general circuit simulator, ngspice, and given noise.

What is foreseen of each box differs from what it is by as much as drivers differ from their data sheets and boxes from
their drawings; only the latter is simulated.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from engine.acoustics.circuit import Systems
from engine.arrays import Floats
from engine.measured.sweep import Sweep
from engine.measured.taken import Taken, changed_systems, in_box, without_drive
from tests.acoustics import drawn
from tests.acoustics.scalar_twin import twin_of
from tests.acoustics.test_circuit_simulator import PROBES, simulate

# Standard deviations of what is built and bought from what is foreseen, of the logarithm.
OFF = {"re": 0.05, "fs": 0.08, "qms": 0.25, "qes": 0.10, "vas": 0.12, "tuning": 0.06, "radiator_rms": 0.3}
SWEEP = "dec 80 5 500"


def foreseen(number: int, *, seed: int) -> Systems:
    """Tuned boxes as drawn: vented and with passive radiators, the air in them included, leak 7."""
    many = drawn.systems(3 * number, seed=seed, passive=0.3, thin=True)
    made = without_drive(many.take(np.flatnonzero(many.tuned)[:number]))
    one = np.ones(number)
    return replace(made, ql=7.0 * one, qa=np.inf * one, qp=np.inf * one, voltage=one)


def as_built(systems: Systems, *, seed: int) -> Systems:
    """The same as they come out: figures off by ``OFF``, leaks of 4 to 15, coils with losses of their own."""
    rng, number = np.random.default_rng(seed), len(systems)
    changes = {name: np.exp(size * rng.normal(size=number)) for name, size in OFF.items()}
    ql = np.exp(rng.uniform(np.log(4.0), np.log(15.0), number))
    return replace(
        _changed(systems, changes), ql=ql, le=systems.le * np.exp(0.2 * rng.normal(size=number)),
    )  # fmt: skip


def _changed(systems: Systems, changes: dict[str, Floats]) -> Systems:
    """Each row with changes of its own."""
    rows = [
        changed_systems(
            systems.take(np.array([row])), {name: each[[row]] for name, each in changes.items()}, coil="plain"
        )
        for row in range(len(systems))
    ]
    names = [name for name in rows[0].__dataclass_fields__ if name not in ("chain", "air")]
    joined = {name: np.concatenate([getattr(row, name) for row in rows]) for name in names}
    return Systems(**joined, chain=systems.chain, air=systems.air)


def swept(ngspice: str, folder: Path, built: Systems, sweep: str = SWEEP) -> tuple[Floats, Floats]:
    """Frequencies (F,) and impedances (N, F) of one driver in each box, by ngspice."""
    twins = [twin_of(built, row) for row in range(len(built))]
    frequency, currents = simulate(ngspice, folder, twins, sweep=sweep)
    return frequency, built.voltage[:, np.newaxis] / currents[:, PROBES.index("coil")]


def noisy(frequency: Floats, impedance: Floats, *, noise: float, seed: int, phase: bool) -> Sweep:
    """An instrument's sweep of it: noise in proportion, alike in size and phase."""
    rng = np.random.default_rng(seed)
    size = np.abs(impedance) * np.exp(noise * rng.normal(size=len(frequency)))
    angle = np.angle(impedance) + noise * rng.normal(size=len(frequency))
    return Sweep(source=f"sweep {seed}", frequency=frequency, magnitude=size, phase=angle if phase else None)


def taken_of(systems: Systems, frequency: Floats, impedances: Floats, *, noise: float, seed: int) -> list[Taken]:
    """Noisy sweeps of boxes, every other with a phase, each with the circuit foreseen."""
    return [
        in_box(
            noisy(frequency, impedances[row], noise=noise, seed=seed + row, phase=bool(row % 2)),
            systems.take(np.array([row])), times=1.0,
        )
        for row in range(len(systems))
    ]  # fmt: skip
