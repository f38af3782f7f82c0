"""Maximum output: how far each limit lets the drive go, and which one binds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine.acoustics.circuit import Index, Systems
from engine.acoustics.large_signal import LargeResponse, respond_until
from engine.arrays import Floats, Integers, Number

# A code of a limit is its place in here.
LIMITS = ("amplifier", "thermal", "excursion", "vent", "passive radiator")

REFERENCE_PRESSURE = 20e-6  # Pa, 0 dB SPL


def level_db(pressure_squared: Floats) -> Floats:
    """Level in dB re 20 µPa from the square of an RMS pressure in Pa."""
    return np.asarray(10.0 * np.log10(pressure_squared / REFERENCE_PRESSURE**2))


def allowances(systems: Systems, *, vent_speed_limit: float, drive: float = 1.0) -> dict[str, Number]:
    """What each limit allows N systems, by the names of ``large_signal.Limits``.

    The amplifier's is one of them with a ``drive`` of 1, and none with 0.  ``vent_speed_limit`` is peak, m/s.
    """
    radiator_xmax = np.where(systems.radiating, systems.radiator_xmax, np.inf)
    return {
        "drive": drive,
        "heat": 1.0 / systems.rated_power,
        "excursion": systems.xmax**-2.0,
        "vent_speed": vent_speed_limit**-2.0,
        "radiator": radiator_xmax**-2.0,
    }


def overdrive(
    systems: Systems, heat: Floats, squares: Sequence[Floats], *, vent_speed_limit: float, rows: Index = slice(None)
) -> list[Floats]:
    """What a drive does over what each limit allows, all as powers; above 1 the limit is broken.

    In the order of ``LIMITS`` after the amplifier's.  ``heat`` is that of one driver's coil in W; ``squares`` are those
    of peak excursion (m), vent air speed (m/s) and passive radiators' excursion (m), the last of which may be left
    out, and its limit with it.  ``rows`` are the systems that all this is of, last axis or (N, 1).  Where the model is
    linear all go with the power.
    """
    allowed = allowances(systems, vent_speed_limit=vent_speed_limit)
    most = [np.broadcast_to(each, len(systems))[rows] for each in list(allowed.values())[1:]]
    return [each * limit for each, limit in zip((heat, *squares), most, strict=False)]


def max_output(
    systems: Systems, *, frequency: Floats, vent_speed_limit: float
) -> tuple[Floats, Integers, LargeResponse]:
    """The loudest that N systems play without breaking a limit, full power's effects included.

    ``frequency`` (F,) or (N, F) in Hz; ``vent_speed_limit`` peak, m/s.  Gives the level in dB re 20 µPa at 1 m in half
    space (N, F), the limit met first as its place in ``LIMITS`` (N, F), and all else that the systems do there.  A nan
    row has nan level and a code of no meaning.  Good for the fundamental, up to about Xmax.
    """
    with np.errstate(all="ignore"):
        found = respond_until(systems, allowances(systems, vent_speed_limit=vent_speed_limit), frequency=frequency)
        binding = np.argmax(np.stack(ratios(systems, found, vent_speed_limit)), axis=0)
        return level_db(found.pressure**2), np.asarray(binding), found


def ratios(systems: Systems, found: LargeResponse, vent_speed_limit: float) -> tuple[Floats, ...]:
    """What N systems do over what each limit allows, as powers, the amplifier's first; (N, F) each."""
    squares, rows = [found.excursion**2, found.vent_speed**2, found.radiator_excursion**2], (slice(None), np.newaxis)
    return found.drive**2, *overdrive(systems, found.heat, squares, vent_speed_limit=vent_speed_limit, rows=rows)
