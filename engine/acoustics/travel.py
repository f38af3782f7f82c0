"""Force factor and stiffness that change with the cone's position.

Both as even polynomials of the position x,

    Bl(x) = bl·(1 + b2·x² + b4·x⁴),     K(x) = (1 + k2·x² + k4·x⁴)/cms

(Klippel 2006, JAES 54, 907, expands both in powers of x).  A cone that swings as X·cos θ then
meets, at the swing's own frequency,

    stiffness                   K₁ = (1 + ¾·k2·X² + ⅝·k4·X⁴)/cms
    current in phase with x     bl·(1 + ¾·b2·X² + ⅝·b4·X⁴)
    current in phase with u     bl·(1 + ¼·b2·X² + ⅛·b4·X⁴), and the same for the voltage of the motion,

from the means 2⟨cosⁿ·cos²⟩ and 2⟨cosⁿ·sin²⟩ (describing functions; Krylov & Bogoliubov 1943).  That the last two are
equal keeps the motor's books: what the current gives is what the motion takes.  Odd powers, a rest position off centre,
shift the cone and add harmonics but leave these alone to first order; they are averaged away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine.arrays import Reals

Number = float | Reals

LEAST_BL = 0.1  # of bl: no polynomial says anything true below


def along(second: Number, fourth: Number, square: Number) -> Number:
    """Fundamental over a swing whose peak has this ``square`` in m², on what is in phase with the position."""
    return 1.0 + square * (0.75 * second + 0.625 * square * fourth)


def across(second: Number, fourth: Number, square: Number) -> Number:
    """The same on what is in phase with the velocity."""
    return 1.0 + square * (0.25 * second + 0.125 * square * fourth)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """1 + second·x² + fourth·x⁴, x in m; numbers or arrays, 0 for constant."""

    second: Number = 0.0  # 1/m²
    fourth: Number = 0.0  # 1/m⁴

    def at(self, x: Reals) -> Reals:
        """The polynomial itself, at positions ``x`` in m along one more axis than its coefficients have."""
        square = np.square(x)
        second, fourth = (np.asarray(value)[..., np.newaxis] for value in (self.second, self.fourth))
        return np.asarray(1.0 + square * (second + square * fourth))

    def along(self, square: Reals) -> Reals:
        """:func:`along`, of this shape."""
        return np.asarray(along(self.second, self.fourth, square))

    def across(self, square: Reals) -> Reals:
        """:func:`across`, of this shape."""
        return np.asarray(across(self.second, self.fourth, square))


def motor_bend(*, share: Number, xmax: Number) -> Reals:
    """b2 in 1/m² of a Bl of which ``share`` is left at ``xmax`` (m): a parabola."""
    return np.asarray((np.asarray(share) - 1.0) / np.square(xmax))


def stiffness_bend(*, share: Number, xmax: Number) -> Reals:
    """k2 in 1/m² of a stiffness where ``share`` of the compliance is left at ``xmax`` (m): a parabola."""
    return np.asarray((1.0 / np.asarray(share) - 1.0) / np.square(xmax))


def motor_factors(shape: Shape, square: Reals) -> tuple[Reals, Reals]:
    """``along`` and ``across`` of a motor, kept above a tenth so that far too large swings stay finite."""
    return np.maximum(shape.along(square), LEAST_BL), np.maximum(shape.across(square), LEAST_BL)
