"""The curves of each design over frequency, for charts and for what ``evaluate`` prints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.limits import level_db, max_output
from engine.arrays import Floats, Integers

_STEP = 1e-4  # of ω, to either side: its square is the error of a centred difference


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Curves of N designs at F frequencies, every field (N, F), filter in.

    Level and all that moves are at the gain, with what grows with the level; impedance and group delay are
    those of a cold coil at low level.  Heat and compression are at the gain too; without one, at maximum
    output.
    """

    spl_db: Floats  # re 20 µPa at 1 m, half space
    excursion_peak_m: Floats  # one-way
    vent_speed_peak_m_s: Floats  # 0 without vents
    radiator_excursion_peak_m: Floats  # one-way; 0 without passive radiators
    impedance_ohm: Floats  # magnitude at one driver's terminals
    impedance_phase_deg: Floats
    group_delay_s: Floats
    max_output_db: Floats  # at the largest drive that breaks no limit
    limited_by: Integers  # place in limits.LIMITS
    coil_rise_k: Floats  # above the air
    compression_db: Floats  # what the level falls short of the linear model's at the same drive


def curves(systems: Systems, *, frequency: Floats, vent_speed_limit: float, gain: Floats | None = None) -> Curves:
    """All curves of ``systems`` at ``frequency`` (F,) in Hz; ``vent_speed_limit`` in m/s, peak.

    ``gain`` (N,) is a share of full drive; none is full drive.

    Group delay is -dφ/dω of the sound pressure, from a centred difference over ω(1 ± 1e-4).
    """
    frequency = np.asarray(frequency, dtype=float)
    linear = respond(systems, frequency=frequency)
    full = respond_large(systems, frequency=frequency, gain=1.0 if gain is None else gain)
    level, binding, most = max_output(systems, frequency=frequency, vent_speed_limit=vent_speed_limit)
    heated, heating = (most, linear) if gain is None else (full, respond(systems, frequency=frequency, gain=gain))
    with np.errstate(all="ignore"):
        above = respond(systems, frequency=frequency * (1.0 + _STEP)).pressure
        below = respond(systems, frequency=frequency * (1.0 - _STEP)).pressure
        return Curves(
            spl_db=level_db(full.pressure**2),
            excursion_peak_m=full.excursion,
            vent_speed_peak_m_s=full.vent_speed,
            radiator_excursion_peak_m=full.radiator_excursion,
            impedance_ohm=np.abs(linear.impedance),
            impedance_phase_deg=np.degrees(np.angle(linear.impedance)),
            group_delay_s=-np.angle(above / below) / (2.0 * _STEP * 2.0 * math.pi * frequency),
            max_output_db=level,
            limited_by=binding,
            coil_rise_k=heated.coil_rise,
            compression_db=compression_db(heated, heating.pressure),
        )
