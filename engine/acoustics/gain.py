"""The gain of a design: the largest share of full drive, one setting, at which nothing breaks its limit.

At each frequency :func:`engine.acoustics.limits.max_output` finds the drive at which the first of cone, passive
radiator, vent air and coil meets its limit; the smallest of these over all frequencies that the design is fed is its
gain.  What a filter raises counts: the amplifier is not to run out of voltage either.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.large_signal import respond_until
from engine.acoustics.limits import allowances, ratios
from engine.acoustics.peaks import NEEDED, RAISED, highest
from engine.arrays import Floats, Integers

TOP = 200.0  # Hz, up to where designs are fed
_LOOKS = 64  # points at which it is looked for first


@dataclass(frozen=True, kw_only=True)
class Use:
    """How designs are used: fed from which frequency, heard at which, and whether they are turned down at all.

    ``levels`` are where headline levels are taken, Hz.  With ``full_drive`` nothing is turned down, whatever breaks.
    """

    fed_from: float = 20.0  # Hz
    levels: tuple[float, ...] = (30.0, 40.0, 50.0)
    full_drive: bool = False


FULL_DRIVE = Use(fed_from=10.0, levels=(), full_drive=True)


def shares(systems: Systems, *, frequency: Floats, vent_speed_limit: float) -> tuple[Floats, Integers]:
    """The gain at which N systems come to the first limit at each frequency by itself, and which; both (N, F).

    ``frequency`` (F,) or (N, F) in Hz.  A share of full drive, above 1 where the amplifier cannot break any; the limit
    is a place in ``limits.LIMITS``.
    """
    with np.errstate(all="ignore"):
        limits = allowances(systems, vent_speed_limit=vent_speed_limit, drive=0.0)
        found = respond_until(systems, limits, frequency=frequency)
        return found.share, 1 + np.argmax(np.stack(ratios(systems, found, vent_speed_limit)[1:]), axis=0)


def gain_of(systems: Systems, *, fed_from: float, vent_speed_limit: float) -> tuple[Floats, Floats, Integers]:
    """The gain of N systems, a share of full drive, the frequency in Hz that sets it, and what binds there; each (N,).

    Fed from ``fed_from`` Hz to 200 Hz.  Where the amplifier binds there is no frequency but of what a filter raises.
    """
    limits = allowances(systems, vent_speed_limit=vent_speed_limit, drive=0.0)
    found = respond_until(systems, limits, frequency=np.geomspace(fed_from, TOP, _LOOKS))
    with np.errstate(all="ignore"):
        hz, least = highest(found, curve=NEEDED, values=1.0 / found.share, limits=limits)
        peak, most = highest(found, curve=RAISED, values=np.maximum(found.found.signal, 1.0), limits=limits)
    _, bound = shares(systems, frequency=hz[:, np.newaxis], vent_speed_limit=vent_speed_limit)
    free = most >= least
    return (
        1.0 / np.where(free, most, least),
        np.where(free, np.where(most > 1.0, peak, np.nan), hz),
        np.where(free, 0, bound[:, 0]),
    )
