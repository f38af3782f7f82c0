"""What a vent loses when the air in it is fast.

Air leaving a vent at speed w is a jet that keeps its ½ρw², and entering round an edge costs it
more, so that a vent with both ends open takes

    Δp = ½·ρ·K·w·|w|,     K = 1 + K_entry + K_bends + f·L/D,

as in steady flow: exit 1 (Borda), entry and bends after the handbooks of hydraulics (Idelchik 1986; from memory).  That
steady figures hold at each moment of an oscillating flow is Iguchi's hypothesis (Iguchi, Ohmi & Maegawa 1982), Ingard &
Ising 1967 found it for sharp openings, and it needs the air to move by more than about the vent's radius each way.  A
tone of peak speed W then meets the resistance of the same fundamental,

    Δp₁/W = 4/(3π)·ρ·K·W,

because sin·|sin| has the fundamental 8/(3π).  No threshold is put in: the resistance grows from nothing in proportion
to W, and starts to show where it rivals the box's other losses.  For the usual K of 1.75, L of 0.3 m and 30 Hz that is
Q = ωL·3π/(4·K·W), 15 at 5 m/s and 8 at 10 m/s, where Salvatti, Devantier & Button 2002 see it start (their 5 to 10 m/s
is from memory).  The mass is left alone: Bezzola, Kubota & Devantier 2020 measured it nearly constant with level.
"""

from __future__ import annotations

import math

import numpy as np

from engine.acoustics.vents import EndKind
from engine.arrays import Floats, Number

# In ½ρw², from memory of Idelchik 1986: a sharp edge flush in a wall, and the end of a thin tube
# standing free (Borda's mouthpiece).
ENTRY: dict[EndKind, float] = {"flush": 0.5, "free": 1.0}
EXIT = 1.0
MITRED_BEND = 1.1  # 90°, sharp
SWEPT_BEND = 0.3  # 90°, centre line about one diameter

# Entry loss over the radius of the lip in diameters, for rounded ends (Idelchik 1986, from memory).
_LIP = np.array([0.0, 0.02, 0.04, 0.06, 0.08, 0.12, 0.16, 0.20])
_LIP_ENTRY = np.array([0.50, 0.37, 0.26, 0.20, 0.15, 0.09, 0.06, 0.03])

WALL_FRICTION = 0.02  # Darcy's f of a smooth pipe at Re = 6e4: Blasius 1913, 0.316·Re^-¼

JET = 4.0 / (3.0 * math.pi)  # Δp₁/(ρ·K·W²)


def rounded_entry(*, lip: Number) -> Floats:
    """Entry loss of an end rounded to a radius of ``lip`` diameters; 0.03 from 0.2 on."""
    return np.asarray(np.interp(lip, _LIP, _LIP_ENTRY))


def vent_loss(
    *,
    length: Number,
    diameter: Number,
    entries: tuple[Number, Number] = (ENTRY["flush"], ENTRY["free"]),
    bends: Number = 0.0,
) -> Floats:
    """K of a vent, in ½ρw²: what one half-swing costs, on average over both ways.

    ``length`` and ``diameter`` in m, hydraulic diameter where the vent is a slot; ``entries`` the entry loss of each
    end, ``bends`` the sum over all bends.  Exits count 1 each however rounded, which is what fast air makes of a flare
    (Salvatti et al. 2002 find straight ends no worse at the highest levels).
    """
    entry = 0.5 * (np.asarray(entries[0]) + np.asarray(entries[1]))
    return np.asarray(EXIT + entry + bends + WALL_FRICTION * np.asarray(length) / np.asarray(diameter))


def jet_resistance(*, loss: Number, speed: Number, rho: float) -> Floats:
    """Quasi-linear specific resistance Δp₁/W in Pa·s/m at the peak air ``speed`` W in m/s.

    Divide by the vents' whole area for the acoustic one.  Within 1 % of the full
    equations of motion over a whole system (see the tests).
    """
    return np.asarray(JET * rho * np.asarray(loss) * speed)


def jet_speed(*, frequency: Number, diameter: Number) -> Floats:
    """Peak air speed in m/s at which the air moves by the vent's radius each way, ω·D/2.

    Above it the loss is surely that of a jet; below it this module's is an estimate.
    """
    return np.asarray(math.pi * np.asarray(frequency) * np.asarray(diameter))
