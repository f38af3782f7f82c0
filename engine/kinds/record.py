"""What makes a kind of box: what it is called, what stands in its opening, and the network that this is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complexfloating[Any, Any]]
Opening = Literal["none", "vent", "radiator"]


class Boxes(Protocol):
    """What of a batch of N boxes a network is made of, each (N,), SI; :class:`engine.acoustics.circuit.Systems`."""

    @property
    def cab(self) -> Floats:
        """Compliance, m³/Pa."""

    @property
    def omega_b(self) -> Floats:
        """ωb, rad/s."""

    @property
    def mutual(self) -> Floats:
        """Inertance of the box's air that cones and opening share, kg/m⁴."""

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
    """A kind of box.

    Attributes
    ----------
    name
        In files and in the column ``box_kind``.
    label, noun, short, choice
        A heading ("Vented box"), in a sentence ("a vented box"), in a cell of a table, and in a form.
    built
        Of a design of another kind, how it is made instead: "is … instead of vented".
    opening
        What stands in it.  Of vents the air's speed is judged, of passive radiators the excursion.
    tuned_by
        What of a stated design is built for the tuning and follows from it: a key of ``[vent]`` or ``[radiator]``;
        "" where a box has no tuning, and ωb is its own resonance with the cones in it.
    usual_ql
        Q of its leakage where none is stated.
    order
        Of its branch's bottom; of 2 and more the openings may oppose the drivers, which makes notches.
    branch
        Its network.  Rows of a batch that are of another kind may come out as anything.
    mark, dash
        Its mark in a chart of designs, and how its line is dashed.
    """

    name: str
    label: str
    noun: str
    short: str
    choice: str
    built: str
    opening: Opening
    tuned_by: Literal["", "length", "added_mass"]
    usual_ql: float
    order: int
    branch: Callable[[Boxes], Branch]
    mark: str
    dash: tuple[int, int]

    def __post_init__(self) -> None:
        words = ("name", "label", "noun", "short", "choice", "built", "mark")
        empty = [name for name in words if not getattr(self, name)]
        if empty:
            raise ValueError(f"a kind of box lacks {' and '.join(empty)}")

    @property
    def tuned(self) -> bool:
        return bool(self.tuned_by)


def merged(branches: Sequence[tuple[NDArray[np.bool_], Branch]]) -> Branch:
    """One branch of several kinds of box, each for the rows (N,) it is given for."""
    if len(branches) == 1:
        return branches[0][1]

    def each(name: Literal["top", "bottom"]) -> list[Floats]:
        terms = max(len(getattr(branch, name)) for _, branch in branches)
        found = [np.zeros(len(branches[0][0])) for _ in range(terms)]
        for rows, branch in branches:
            for term, value in zip(found, getattr(branch, name), strict=False):
                np.copyto(term, value, where=rows)
        return found

    area = np.zeros(len(branches[0][0]))
    for rows, branch in branches:
        np.copyto(area, branch.area, where=rows)
    return Branch(top=each("top"), bottom=each("bottom"), area=area)


def own_mass(boxes: Boxes) -> Floats:
    """map·ωb²·cab of a vent: all that resonates with the box, less the share that the cones have in it."""
    return 1.0 - boxes.omega_b**2 * boxes.cab * boxes.mutual


def _value(coefficients: Sequence[Floats], s: Complexes) -> Any:
    total: Any = coefficients[-1] + np.zeros_like(s)
    for coefficient in coefficients[-2::-1]:
        total = total * s + coefficient
    return total
