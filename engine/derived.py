"""Thiele/Small figures that a data sheet leaves out and that follow from those it states.

The figures are tied together by definition (Thiele 1971, "Loudspeakers in vented boxes", Proc. IREE Australia 22;
Small 1972, "Direct-radiator loudspeaker system analysis", J. Audio Eng. Soc. 20(5); equations from memory): what
follows is as good as what it follows from, and nothing is estimated here.  Xmax, rated power, Le and sizes follow from
nothing.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from engine.air import REFERENCE_AIR
from engine.field import Field
from engine.quantities import NotAQuantity, Units, parse, write

SOURCE = "Thiele 1971, Small 1972"
FIGURES = 4  # significant ones that a figure worked out is written with: as many as any sheet has


def compliance(vas: float, sd: float) -> float:
    """Suspension compliance in m/N from the volume of air as springy, m³, and the cone's area, m²."""
    return vas / (REFERENCE_AIR.stiffness * sd**2)


def moving_mass(fs: float, cms: float) -> float:
    """Moving mass with air load in kg from the resonance, Hz, and compliance, m/N."""
    return 1.0 / ((2.0 * math.pi * fs) ** 2 * cms)


def resonance(mms: float, cms: float) -> float:
    """Resonance in Hz from moving mass, kg, and compliance, m/N."""
    return 1.0 / (2.0 * math.pi * math.sqrt(mms * cms))


def springy_air(cms: float, sd: float) -> float:
    """The volume of air as springy, m³, from compliance, m/N, and the cone's area, m²."""
    return REFERENCE_AIR.stiffness * sd**2 * cms


def total_q(qes: float, qms: float) -> float:
    """Total Q from the electrical and the mechanical one."""
    return qes * qms / (qes + qms)


def force_factor(fs: float, mms: float, re: float, qes: float) -> float:
    """Force factor in T m from the resonance, Hz, moving mass, kg, coil resistance, ohm, and electrical Q."""
    return math.sqrt(2.0 * math.pi * fs * mms * re / qes)


def _other_q(qts: float, q: float) -> float:
    """The Q that with ``q`` makes ``qts``; nan where none does, since the total is below either."""
    return qts * q / (q - qts) if q > qts else math.nan


class Way(NamedTuple):
    """``target`` follows from ``given``, all in SI."""

    target: str
    given: tuple[str, ...]
    formula: Callable[..., float]


# In order: of two ways to a figure the first that what is stated allows.
WAYS = (
    Way("qes", ("qts", "qms"), lambda qts, qms: _other_q(qts, qms)),
    Way("qms", ("qts", "qes"), lambda qts, qes: _other_q(qts, qes)),
    Way("cms", ("vas", "sd"), compliance),
    Way("mms", ("fs", "cms"), moving_mass),
    Way("cms", ("fs", "mms"), lambda fs, mms: 1.0 / ((2.0 * math.pi * fs) ** 2 * mms)),
    Way("fs", ("mms", "cms"), resonance),
    Way("vas", ("cms", "sd"), springy_air),
    Way("sd", ("vas", "cms"), lambda vas, cms: math.sqrt(vas / (REFERENCE_AIR.stiffness * cms))),
    Way("bl", ("fs", "mms", "re", "qes"), force_factor),
    Way("qes", ("fs", "mms", "re", "bl"), lambda fs, mms, re, bl: 2.0 * math.pi * fs * mms * re / bl**2),
    Way("re", ("fs", "mms", "bl", "qes"), lambda fs, mms, bl, qes: qes * bl**2 / (2.0 * math.pi * fs * mms)),
    Way("qts", ("qes", "qms"), total_q),
)
KEYS = tuple(dict.fromkeys(way.target for way in WAYS))


@dataclass(frozen=True)
class Derived:
    """A figure that follows from others, SI, and the keys of those."""

    value: float
    given: tuple[str, ...]


def derive(stated: Mapping[str, float]) -> dict[str, Derived]:
    """What follows from the figures stated, SI, by key; what is stated is never among it.

    >>> found = derive({"fs": 32.0, "vas": 0.0294, "sd": 0.033, "re": 1.8, "qes": 0.511})
    >>> {key: float(f"{each.value:.3g}") for key, each in found.items()}
    {'cms': 0.00019, 'mms': 0.13, 'bl': 9.59}
    """
    known, found = dict(stated), dict[str, Derived]()
    while True:
        for way in WAYS:
            if way.target in known or not all(key in known for key in way.given):
                continue
            try:
                value = way.formula(**{key: known[key] for key in way.given})
            except (ZeroDivisionError, OverflowError, ValueError):
                continue
            if math.isfinite(value) and value > 0.0:
                known[way.target] = value
                found[way.target] = Derived(value, way.given)
                break
        else:
            return found


def derived_of(table: Mapping[str, Any], fields: Sequence[Field]) -> dict[str, Derived]:
    """What follows from a driver's table as it is written: text with units, plain numbers for ratios.

    Figures that cannot be read say nothing; they are the reader's to refuse.
    """
    kinds = {field.key: field.kind for field in fields if field.key in KEYS}
    stated = {key: value for key, kind in kinds.items() if (value := _read(table.get(key), kind)) is not None}
    absent = {key for key in kinds if table.get(key) is None}
    return {key: each for key, each in derive(stated).items() if key in absent}


def as_stated(value: float, kind: str, units: Units = "metric") -> Any:
    """A figure worked out as it would stand in a file, to four significant ones."""
    rounded = float(f"{value:.{FIGURES}g}")
    return rounded if kind == "ratio" else _short(write(value, kind, units))


def _short(text: str) -> str:
    number, _, unit = text.partition(" ")
    return f"{float(f'{float(number):.{FIGURES}g}'):.12g} {unit}"


def _read(stated: Any, kind: str) -> float | None:
    if kind == "ratio":
        usable = isinstance(stated, int | float) and not isinstance(stated, bool)
        return float(stated) if usable and 0.0 < stated <= sys.float_info.max else None  # whole numbers go beyond
    try:
        value = parse(stated, kind) if isinstance(stated, str) else math.nan
    except NotAQuantity:
        return None
    return value if 0.0 < value < math.inf else None
