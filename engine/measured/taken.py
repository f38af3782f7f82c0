"""What a sweep was taken of, as the house's own circuit, and that circuit with figures other than foreseen.

A sweep of the finished box is of the circuit that its design was judged with, the air in the box included.  Beside it
may stand sweeps of one of its drivers: in free air, in free air with a mass on its cone, in a closed box of a known
volume.  All share one driver, so that each tells what it can of it (Small 1972, 1973: added mass and known volume).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.inductance import lossy_from_sheet
from engine.arrays import Complexes, Floats
from engine.measured.names import DRIVER, LOSSES
from engine.measured.sweep import Sweep

Coil = Literal["plain", "lossy", "second", "wright"]
Of = Literal["box", "free", "mass", "closed"]

_FREE = 1e6  # m³, of a box that is none
COILS: tuple[Coil, ...] = ("plain", "lossy", "second")
COIL_WORDS = {
    "plain": "a plain inductance", "lossy": "an inductance with losses (Leach 2002)",
    "second": "an inductance with a lossy second one", "wright": "a resistance and a reactance that grow (Wright 1990)",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Taken:
    """A sweep, what it was taken of, and that as foreseen: ``systems`` of one row.

    ``times`` is what the sweep's impedance is of one driver's: drivers in series over drivers in parallel.
    ``added`` is the mass put on the cone, kg.
    """

    sweep: Sweep
    of: Of
    systems: Systems
    times: float = 1.0
    added: float = 0.0

    def impedance(self, changes: Mapping[str, Floats], coil: Coil, frequency: Floats) -> Complexes:
        """Impedance in ohm at ``frequency`` (F,) of N circuits that differ from the foreseen one; (N, F)."""
        changed = changed_systems(self.systems, changes, coil=coil, box=self.of == "box", added=self.added)
        return np.asarray(self.times * respond(changed, frequency=frequency).impedance)


def in_box(sweep: Sweep, systems: Systems, *, times: float) -> Taken:
    """A sweep of the finished box."""
    return Taken(sweep=sweep, of="box", systems=without_drive(systems), times=times)


def in_free_air(sweep: Sweep, systems: Systems, *, added: float = 0.0) -> Taken:
    """A sweep of one of the drivers of ``systems`` in free air, with a mass in kg ``added`` to its cone."""
    return Taken(sweep=sweep, of="mass" if added else "free", systems=_alone(systems, volume=_FREE), added=added)


def in_closed_box(sweep: Sweep, systems: Systems, *, volume: float) -> Taken:
    """A sweep of one of the drivers in a closed box without leaks whose air takes ``volume``, m³."""
    return Taken(sweep=sweep, of="closed", systems=_alone(systems, volume=volume))


def without_drive(systems: Systems) -> Systems:
    """The same on 1 V and without a filter, which say nothing of an impedance."""
    return replace(systems, voltage=np.ones(len(systems)), filter_order=np.zeros(len(systems)))


def _alone(systems: Systems, *, volume: float) -> Systems:
    """One driver of some systems in a closed box, its cone carrying no more air than its data sheet has in it."""
    one, nothing = np.ones(len(systems)), np.zeros(len(systems))
    return replace(
        without_drive(systems), count=one, volume=volume * one, filling=one, ql=one * math.inf, qa=one * math.inf,
        mutual=nothing, air_mass=nothing, vent_count=nothing, radiator_count=nothing, tuning=one * math.nan,
        kind=np.zeros(len(systems), dtype=np.int64),
    )  # fmt: skip


def changed_systems(
    systems: Systems, changes: Mapping[str, Floats], *, coil: Coil, box: bool = True, added: float = 0.0
) -> Systems:
    """N circuits that differ from one of a single row.

    ``changes`` are by what its figures are multiplied, (N,) each: of ``DRIVER`` with all else of the data sheet as it
    is (Small 1972: fs² ∝ 1/(cms·mms), vas ∝ cms, qes ∝ fs·mms·re/bl², qms ∝ fs·mms/rms), and of a ``box`` its
    ``tuning`` and ``radiator_rms``.  Told as they are: a box's ``LOSSES``, and of a ``coil`` ``le`` and ``n``, or
    ``le``, ``l2`` and ``r2``, or ``kr`` and ``ki``; without any the coil stays as foreseen.  ``added`` kg are on each
    cone.
    """
    count = len(next(iter(changes.values())))
    base = systems.take(np.zeros(count, dtype=np.intp))
    one = np.ones(count)
    re, fs, qms, qes, vas = (changes.get(name, one) for name in DRIVER)
    mass = 1.0 / (fs**2 * vas)
    figures: dict[str, Any] = {
        "re": base.re * re, "cms": base.cms * vas, "mms": base.mms * mass + added, "rms": base.rms * fs * mass / qms,
        "bl": base.bl * np.sqrt(fs * mass * re / qes),
    }  # fmt: skip
    if {"le", "kr"} & set(changes):
        figures |= dict.fromkeys(("le", "l2", "r2", "kr", "xr", "ki", "xi"), 0.0 * one)
        match coil:
            case "wright":
                figures |= {name: changes[name] for name in ("kr", "ki")} | {"xr": base.xr, "xi": base.xi}
            case "plain":
                figures["le"] = changes["le"]
            case "lossy":
                law = lossy_from_sheet(le=changes["le"], n=changes["n"])
                figures |= {name: np.asarray(getattr(law, name)) * one for name in ("kr", "xr", "ki", "xi")}
            case "second":
                figures |= {name: changes[name] for name in ("le", "l2", "r2")}
    if box:
        figures |= {name: changes[name] for name in LOSSES if name in changes}
        figures |= {name: getattr(base, name) * changes[name] for name in ("tuning", "radiator_rms") if name in changes}
    return replace(base, **figures)
