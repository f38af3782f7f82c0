"""Maximum output: how far each limit lets the drive go, and which one binds."""

from __future__ import annotations

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.large_signal import LargeResponse, respond_until
from engine.arrays import Floats, Indices, Integers

# A code of a limit is its place in here.
LIMITS = ("amplifier", "thermal", "excursion", "vent", "passive radiator")

REFERENCE_PRESSURE = 20e-6  # Pa, 0 dB SPL


def level_db(pressure_squared: Floats) -> Floats:
    """Level in dB re 20 µPa from the square of an RMS pressure in Pa."""
    return np.asarray(10.0 * np.log10(pressure_squared / REFERENCE_PRESSURE**2))


def overdrive(
    *,
    heat: Floats,
    excursion_squared: Floats,
    vent_speed_squared: Floats,
    radiator_excursion_squared: Floats | None,
    rated_power: Floats,
    xmax: Floats,
    vent_speed_limit: float,
    radiator_xmax: Floats,
) -> tuple[Floats, ...]:
    """What a drive does over what each limit allows, all as powers; above 1 the limit is broken.

    In the order of ``LIMITS`` after the amplifier's.  ``heat`` is that of one driver's coil in W; excursion (m)
    and vent air speed (m/s) are peak, the rest SI.  ``radiator_xmax`` is inf where there is no passive
    radiator; None for the excursion leaves that limit out.  Where the model is linear all go with the power.
    """
    others = (heat * (1.0 / rated_power), excursion_squared * xmax**-2.0, vent_speed_squared * vent_speed_limit**-2.0)
    if radiator_excursion_squared is None:
        return others
    return *others, radiator_excursion_squared * radiator_xmax**-2.0


def max_output(
    systems: Systems, *, frequency: Floats, vent_speed_limit: float
) -> tuple[Floats, Integers, LargeResponse]:
    """The loudest that N systems play without breaking a limit, full power's effects included.

    ``frequency`` (F,) or (N, F) in Hz; ``vent_speed_limit`` peak, m/s.  Gives the level in dB re 20 µPa at 1 m in half
    space (N, F), the limit met first as its place in ``LIMITS`` (N, F), and all else that the systems do there.  A nan
    row has nan level and a code of no meaning.  Good for the fundamental, up to about Xmax.
    """
    with np.errstate(all="ignore"):
        found = respond_until(
            systems,
            lambda found, rows: np.maximum.reduce(_ratios(systems, found, rows, vent_speed_limit)),
            frequency=frequency,
        )
        rows = np.arange(len(systems))[:, np.newaxis]
        binding = np.argmax(np.stack(_ratios(systems, found, rows, vent_speed_limit)), axis=0)
        return level_db(np.abs(found.pressure) ** 2), np.asarray(binding), found


def _ratios(systems: Systems, found: LargeResponse, rows: Indices, vent_speed_limit: float) -> tuple[Floats, ...]:
    """What points of some ``rows`` do over what each limit allows, as powers, the amplifier's first."""
    others = overdrive(
        heat=found.heat,
        excursion_squared=found.excursion**2,
        vent_speed_squared=found.vent_speed**2,
        radiator_excursion_squared=found.radiator_excursion**2,
        rated_power=systems.rated_power[rows],
        xmax=systems.xmax[rows],
        vent_speed_limit=vent_speed_limit,
        radiator_xmax=np.where(systems.radiating, systems.radiator_xmax, np.inf)[rows],
    )
    return found.drive**2, *others
