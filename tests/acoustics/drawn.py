"""Systems drawn at random, for tests of every kind and for the benchmark."""

from __future__ import annotations

import numpy as np

from engine.acoustics.circuit import Systems
from engine.air import REFERENCE_AIR, Air
from engine.parts import Driver


def drivers(rng: np.random.Generator, number: int) -> list[Driver]:
    """Invented subwoofer drivers from small to large, half of them with a lossy coil section."""

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
        )
        for i in range(number)
    ]


def systems(number: int, *, seed: int, air: Air = REFERENCE_AIR, losses: bool = True) -> Systems:
    """Closed and vented boxes, one to three drivers, filters of order 0 to 4, with and without each loss.

    Without ``losses`` nothing damps the boxes but the drivers: the sharpest peaks there are.
    """
    rng = np.random.default_rng(seed)

    def between(low: float, high: float) -> np.ndarray:
        return np.exp(rng.uniform(np.log(low), np.log(high), number))

    def some(values: np.ndarray, share: float) -> np.ndarray:
        return np.where(losses & (rng.random(number) < share), values, np.inf)

    count = rng.integers(1, 4, number).astype(float)
    vents = rng.integers(0, 4, number).astype(float)
    return Systems.of(
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
