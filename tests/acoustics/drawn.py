"""Systems drawn at random, for tests of every kind and for the benchmark."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.travel import motor_bend, stiffness_bend
from engine.air import REFERENCE_AIR, Air
from engine.kinds import KINDS
from engine.parts import Driver, PassiveRadiator


def drivers(rng: np.random.Generator, number: int) -> list[Driver]:
    """Invented subwoofer drivers from small to large, half of them with a lossy coil section; none grows warm."""

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    return [
        Driver(
            name=f"driver {i}",
            fs=between(18.0, 45.0),
            qes=between(0.3, 0.9),
            qms=between(3.0, 12.0),
            vas=between(0.02, 0.2),
            sd=between(0.02, 0.12),
            re=between(1.0, 8.0),
            le=between(1e-4, 3e-3),
            l2=between(1e-4, 3e-3) if i % 2 else 0.0,
            r2=between(1.0, 10.0) if i % 2 else 0.0,
            xmax=between(0.005, 0.025),
            rated_power=between(100.0, 1200.0),
            thermal_resistance=0.0,
        )
        for i in range(number)
    ]


def radiators(rng: np.random.Generator, number: int) -> list[PassiveRadiator]:
    """Invented passive radiators, soft and stiff, light and heavy."""

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    return [
        PassiveRadiator(
            name=f"radiator {i}",
            fs=between(12.0, 40.0),
            qms=between(3.0, 30.0),
            vas=between(0.02, 0.4),
            sd=between(0.02, 0.12),
            xmax=between(0.008, 0.03),
        )
        for i in range(number)
    ]


def systems(
    number: int,
    *,
    seed: int,
    air: Air = REFERENCE_AIR,
    losses: bool = True,
    passive: float = 0.0,
    highest_q: float | None = None,
    thin: bool = False,
    lossy_coils: float = 0.0,
) -> Systems:
    """Closed and vented boxes, one to three drivers, filters of order 0 to 4, with and without each loss.

    Without ``losses`` nothing damps the boxes but the cones: the sharpest peaks there are.  ``passive``
    is the share that has passive radiators instead; with ``highest_q`` every filter section has a Q of its own,
    0.4 or more; above 0.7 filters raise something.  ``thin`` boxes have inertia of their air, ``lossy_coils``
    is the share whose coils follow a power law.
    """
    rng = np.random.default_rng(seed)

    def between(low: float, high: float) -> np.ndarray:
        return np.exp(rng.uniform(np.log(low), np.log(high), number))

    def some(values: np.ndarray, share: float) -> np.ndarray:
        return np.where(losses & (rng.random(number) < share), values, np.inf)

    count = rng.integers(1, 4, number).astype(float)
    vents = rng.integers(0, 4, number).astype(float)
    made = Systems.of(
        drivers(rng, number),
        count=count,
        volume=count * between(0.01, 0.15),
        voltage=between(5.0, 60.0),
        filling=rng.uniform(1.0, 1.4, number),
        ql=some(between(4.0, 20.0), 0.7),
        qa=some(between(5.0, 100.0), 0.5),
        qp=some(between(10.0, 100.0), 0.5),
        tuning=np.where(vents > 0, between(18.0, 60.0), np.nan),
        vent_count=vents,
        vent_area=np.where(vents > 0, between(1e-3, 1e-2), np.nan),
        filter_order=rng.integers(0, 5, number).astype(float),
        filter_hz=between(10.0, 35.0),
        air=air,
    )
    chosen = rng.random(number) < passive
    drones = radiators(rng, number)
    figures = {name: np.array([getattr(each, name) for each in drones]) for name in ("sd", "cms", "rms", "xmax")}
    tuning = np.where(chosen, between(18.0, 60.0), made.tuning)
    many = rng.integers(1, 4, number)
    if highest_q is not None:
        made = replace(made, filter_q=between(0.4, highest_q), filter_q2=between(0.4, highest_q))
    made = replace(
        made,
        tuning=tuning,
        vent_count=np.where(chosen, 0.0, made.vent_count),
        radiator_count=np.where(chosen, many, 0.0),
        kind=np.where(chosen, KINDS.code("radiator"), made.kind),
        **{f"radiator_{name}": np.where(chosen, values, np.nan) for name, values in figures.items()},
    )
    if thin:
        # Up to a fifth of the mass in the openings, of either sign, and a twentieth of the cones'.
        share = rng.uniform(-0.2, 0.2, number)
        tuned = made.vented | made.radiating
        made = replace(
            made,
            mutual=np.where(tuned, share / np.where(tuned, made.omega_b**2 * made.cab, 1.0), 0.0),
            air_mass=rng.uniform(0.0, 0.05, number) * made.mms,
        )
    with_law = rng.random(number) < lossy_coils
    law = {"kr": between(1e-3, 3e-2), "xr": between(0.5, 0.9), "ki": between(1e-3, 3e-2), "xi": between(0.5, 0.9)}
    return replace(made, **{name: np.where(with_law, values, 0.0) for name, values in law.items()})


def at_full_power(number: int, *, seed: int, bent: float = 1.0, passive: float = 0.0, thin: bool = False) -> Systems:
    """Drawn systems with all that grows with the level, the amplifier at 0.3 to 2 times the rated power.

    Coils reach 150 K at rated power, vents lose K = 1.75; a share ``bent`` has 82 % of its force factor and 75 %
    of its compliance left at xmax.
    """
    made = systems(number, seed=seed, passive=passive, thin=thin)
    rng = np.random.default_rng(seed)
    drive, some = rng.uniform(0.3, 2.0, number), rng.random(number) < bent
    return replace(
        made,
        voltage=np.sqrt(drive * made.rated_power * made.re),
        thermal=150.0 / made.rated_power,
        vent_loss=np.full(number, 1.75),
        bl2=np.where(some, motor_bend(share=0.82, xmax=made.xmax), 0.0),
        k2=np.where(some, stiffness_bend(share=0.75, xmax=made.xmax), 0.0),
    )
