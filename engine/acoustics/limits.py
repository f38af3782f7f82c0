"""Maximum output: how far each limit lets the drive go, and which one binds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.circuit import Systems, respond

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

# A code of a limit is its place in here.
LIMITS = ("amplifier", "thermal", "excursion", "vent")

REFERENCE_PRESSURE = 20e-6  # Pa, 0 dB SPL


def level_db(pressure_squared: Floats) -> Floats:
    """Level in dB re 20 µPa from the square of an RMS pressure in Pa."""
    return np.asarray(10.0 * np.log10(pressure_squared / REFERENCE_PRESSURE**2))


def overdrive(
    *,
    heat: Floats,
    excursion_squared: Floats,
    vent_speed_squared: Floats,
    rated_power: Floats,
    xmax: Floats,
    vent_speed_limit: float,
) -> tuple[Floats, Floats, Floats]:
    """Power at full drive over the power that just meets each limit; above 1 the limit is broken.

    In the order of ``LIMITS`` after the amplifier's, whose own is 1: it gives its full
    voltage and no more.  ``heat`` is re·I² of one driver in W; excursion (m) and vent air
    speed (m/s) are peak, the rest SI.  The model is linear, so all go with the power.
    """
    return heat / rated_power, excursion_squared / xmax**2, vent_speed_squared / vent_speed_limit**2


def max_output(systems: Systems, *, frequency: Floats, vent_speed_limit: float) -> tuple[Floats, Codes]:
    """Level in dB at the largest drive that breaks no limit, and the limit that binds.

    ``frequency`` in Hz is (F,) or (N, F), ``vent_speed_limit`` m/s peak; both results are
    (N, F), the second a place in ``LIMITS``.  A nan row has nan level and a code of no meaning.
    """
    full = respond(systems, frequency=frequency)
    with np.errstate(all="ignore"):
        others = overdrive(
            heat=full.current**2 * systems.re[:, np.newaxis],
            excursion_squared=2.0 * full.excursion**2,
            vent_speed_squared=2.0 * full.vent_speed**2,
            rated_power=systems.rated_power[:, np.newaxis],
            xmax=systems.xmax[:, np.newaxis],
            vent_speed_limit=vent_speed_limit,
        )
        every = np.stack([np.ones_like(others[0]), *others])
        return level_db(np.abs(full.pressure) ** 2 / np.max(every, axis=0)), np.argmax(every, axis=0)
