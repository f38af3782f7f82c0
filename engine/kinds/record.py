"""What makes a kind of box: what it is called, what stands in its opening, and the network that this is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from engine.arrays import Flags, Floats

Complexes = NDArray[np.complexfloating[Any, Any]]
Opening = Literal["none", "vent", "radiator"]


class Boxes(Protocol):
    """What of a batch of N boxes a network is made of, each (N,), SI; :class:`engine.acoustics.circuit.Systems`.

    ``cab`` is the compliance, m³/Pa, ``omega_b`` ωb in rad/s; ``mutual`` the inertance of the box's air that cones and
    opening share, kg/m⁴.
    """

    @property
    def cab(self) -> Floats: ...
    @property
    def omega_b(self) -> Floats: ...
    @property
    def mutual(self) -> Floats: ...
    @property
    def qp(self) -> Floats: ...
    @property
    def vent_count(self) -> Floats: ...
    @property
    def vent_area(self) -> Floats: ...
    @property
    def radiator_count(self) -> Floats: ...
    @property
    def radiator_sd(self) -> Floats: ...
    @property
    def radiator_cms(self) -> Floats: ...
    @property
    def radiator_rms(self) -> Floats: ...


@dataclass(frozen=True)
class Branch:
    """The branch of N boxes that all openings of each make: admittance ωb·cab·top(p)/bottom(p), p = jω.

    Coefficients (N,), lowest power first; ``area`` (N,) in m² is that of all openings of a box together, what their
    speed is taken over.  What no opening lets through has a ``top`` of 0.
    """

    top: Sequence[Floats]
    bottom: Sequence[Floats]
    area: Floats

    def ratio(self, s: Complexes) -> Any:
        """Top over bottom at ``s`` = jω, (F, 1) or (F, N); (F, N)."""
        return _value(self.top, s) / _value(self.bottom, s)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of box."""

    name: str  # in files and in the column ``box_kind``
    label: str  # a heading: "Vented box"
    noun: str  # in a sentence: "a vented box"
    short: str  # in a cell of a table
    choice: str  # in a form
    built: str  # of a design of another kind, how it is made instead: "is … instead of vented"
    opening: Opening  # what stands in it; of vents the air's speed is judged, of passive radiators the excursion
    # What of a stated design is built for the tuning and follows from it: a key of ``[vent]`` or ``[radiator]``; ""
    # where a box has no tuning, and ωb is its own resonance with the cones in it.
    tuned_by: Literal["", "length", "added_mass"]
    usual_ql: float  # Q of its leakage where none is stated
    order: int  # of its branch's bottom; of 2 and more the openings may oppose the drivers, which makes notches
    branch: Callable[[Boxes], Branch]  # its network; rows of a batch that are of another kind may come out as anything
    mark: str  # in a chart of designs
    dash: tuple[int, int]  # how its line is dashed

    def __post_init__(self) -> None:
        words = ("name", "label", "noun", "short", "choice", "built", "mark")
        empty = [name for name in words if not getattr(self, name)]
        if empty:
            raise ValueError(f"a kind of box lacks {' and '.join(empty)}")

    @property
    def tuned(self) -> bool:
        return bool(self.tuned_by)


def merged(branches: Sequence[tuple[Flags, Branch]]) -> Branch:
    """One branch of several kinds of box, each for the rows (N,) it is given for."""
    if len(branches) == 1:
        return branches[0][1]

    def each(name: Literal["top", "bottom"]) -> list[Floats]:
        terms = max(len(getattr(branch, name)) for _, branch in branches)
        found = [np.zeros(branches[0][0].shape) for _ in range(terms)]
        for rows, branch in branches:
            for term, value in zip(found, getattr(branch, name), strict=False):
                np.copyto(term, value, where=rows)
        return found

    area = np.select([rows for rows, _ in branches], [branch.area for _, branch in branches], 0.0)
    return Branch(top=each("top"), bottom=each("bottom"), area=area)


def own_mass(boxes: Boxes) -> Floats:
    """map·ωb²·cab of a vent: all that resonates with the box, less the share that the cones have in it."""
    return 1.0 - boxes.omega_b**2 * boxes.cab * boxes.mutual


def _value(coefficients: Sequence[Floats], s: Complexes) -> Any:
    total: Any = coefficients[-1] + np.zeros_like(s)
    for coefficient in coefficients[-2::-1]:
        total = total * s + coefficient
    return total
