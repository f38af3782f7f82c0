"""What an opening is: one record that holds all there is to know of a pipe, a slot, a passive radiator, or of none.

Whoever needs something of an opening asks its record: the search for variables, the packing for sizes, the circuit for
its entries, the table for columns.  Nobody asks for an opening by its name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.arrays import Floats, Indices, Integers
from engine.column import Column
from engine.constraint import Constraint, Slack
from engine.document import Reader
from engine.field import Field
from engine.packing.opening import OpeningPacking
from engine.quantities import Units
from engine.space.bodies import Body, Dimension
from engine.space.interior import Interior
from engine.space.panels import Telling

Values = NDArray[Any]
Shelf = Mapping[str, Floats]
Bodies = Sequence[Body]


@dataclass(frozen=True, kw_only=True)
class Variable:
    """A number of a design that only boxes with one opening have."""

    name: str  # in the problem, in ``Designs.openings`` and, if a job may bound it, among its bounds
    words: str  # what a bound on it is a bound on
    choice: bool  # whether it picks one of several, so that a search draws it anew rather than moves it a little
    span: Callable[[Any], tuple[float, float]]  # of (scenario): lowest and highest value that a search draws
    # Of (values drawn (M,), scenario): the values of the designs, in whole steps or numbers.
    settled: Callable[[Floats, Any], Values]
    absent: int | float  # what designs with other openings have in its place; its type is that of the values

    def none(self, count: int) -> Values:
        """The variable of so many designs with other openings."""
        return np.full(count, self.absent)


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """What a box with an opening is built with: something that makes it a family of its own."""

    part: Any = None  # what is bought for it; None: nothing that differs from box to box
    count: int = 0  # how many of it
    filling: str = ""  # a name in engine.acoustics.filling.FILLINGS
    key: Mapping[str, str | int] = field(default_factory=dict)  # its columns of the front


@dataclass(frozen=True, kw_only=True)
class StockTable:
    """Where a job lists what an opening is made of."""

    path: str  # the table, as in ``stock.pipe``
    before: str  # key of the table of the same parent before which it stands
    many: bool  # whether it stands once for each part
    fields: tuple[Field, ...]
    labels: Mapping[str, str]  # what a form calls each field, by its key
    title: str  # what a form calls the table
    heading: str  # what stands above it, Markdown
    item: str  # what one of its parts is called
    # Code of the fault where a kind of box is asked for and this and the tables of all others that make it are missing;
    # its sentence is given those tables under the names of their openings.
    missing: str
    # Of (reader, place, table, thickness of the board in m): the part that the table stands for (None where it is at
    # fault) and its values.  Faults go to the reader.
    read: Callable[[Reader, str, Mapping[str, Any], float], tuple[Any | None, Mapping[str, Any]]]

    def __post_init__(self) -> None:
        if [*self.labels] != [each.key for each in self.fields] or not (self.title and self.heading and self.item):
            raise ValueError(f"the table {self.path!r} is not whole: labels are missing or in another order")

    @property
    def key(self) -> str:
        """The table's own key."""
        return self.path.rpartition(".")[2]


@dataclass(frozen=True, kw_only=True)
class Step:
    """A small change to a design, as a builder would call it."""

    words: str
    changes: Mapping[str, float]  # by how much it moves each variable
    within: tuple[float, float] | None = None  # where the variable may then lie; None: within the job's bounds
    beyond: str = ""  # why it may not lie elsewhere; empty: a bound of the job's


class Group:
    """The designs of a batch that have one ``opening``, M of N: ``rows`` says which, ``shelf`` what the stock holds.

    What is asked for is gathered when it is asked for.
    """

    def __init__(
        self, opening: Opening, rows: Indices, shelf: Shelf, *, scenario: Any, families: Any, designs: Any, layout: Any
    ) -> None:
        self.opening, self.scenario, self.rows, self.shelf = opening, scenario, rows, shelf
        self._families, self._designs, self._layout = families, designs, layout
        self._family = designs.family[rows]

    def __len__(self) -> int:
        return len(self.rows)

    def variable(self, name: str) -> Values:
        """A variable of the opening, (M,)."""
        return np.asarray(self._designs.openings[name][self.rows])

    @property
    def tuning(self) -> Floats:
        """Tuning of the designs as lumps, (M,) Hz."""
        return np.asarray(self._designs.tuning[self.rows])

    def part(self, figure: str) -> Floats:
        """A figure of the part that each design is fitted with, (M,)."""
        return np.asarray(self._families.part(figure)[self._family])

    @property
    def parts(self) -> Floats:
        """How many parts each design is fitted with, (M,)."""
        return np.asarray(self._families.part_count[self._family])

    def fitted(self, column: str) -> Values:
        """What stands in a column by which families differ, (M,)."""
        items = self._families.items
        return np.array([items[family].fitting.key[column] for family in self._family], dtype=object)

    @property
    def fitting(self) -> Fitting:
        """What the first design is fitted with."""
        found: Fitting = self._families.items[self._family[0]].fitting
        return found

    @property
    def facing(self) -> Integers:
        """The code of the way that the drivers face, (M,)."""
        return np.asarray(self._families.facing[self._family])

    def laid(self, name: str) -> Values:
        """A field of the layout, (M,); of groups of designs that are laid out."""
        return np.asarray(getattr(self._layout, name)[self.rows])


Figures = Callable[[Group], Mapping[str, Values]]


@dataclass(frozen=True, kw_only=True)
class Limit(Constraint):
    """A constraint that only boxes with one opening, or a few, have."""

    excess: Callable[[Group], Floats]  # 0 or less where it is kept, (M,)


def nothing(group: Group) -> Floats:
    """What an opening adds that adds nothing, (M,)."""
    return np.zeros(len(group))


@dataclass(frozen=True, kw_only=True)
class Opening:
    """All there is to know of one opening.  What takes a group takes one laid out unless said otherwise."""

    name: str
    box_kind: str  # the kind of box that it makes
    vent_kind: str  # what stands in the front's column of that name; "" of what is no vent
    table: StockTable | None = None  # where a job lists what it is made of; None where that is nothing
    bounds: tuple[tuple[Field, str], ...] = ()  # fields of the bounds on its variables, and what a form calls them
    # Of (scenario): one for each family of boxes that the job allows; none where what they need is not in stock.
    fittings: Callable[[Any], Iterable[Fitting]]
    shelf: Callable[[Any], Shelf] = lambda scenario: {}  # of (scenario): what the stock holds, as arrays to gather from
    variables: tuple[Variable, ...] = ()  # in the order in which they stand in the problem
    contents: Figures  # of a group not yet laid out: sizes for the packing, see engine.packing.contents
    packing: OpeningPacking  # what it takes to pack boxes with it
    circuit: Figures  # its entries of engine.acoustics.circuit.Systems
    beside: Callable[[Group], Floats]  # free air that it needs on the left of the box, (M,) m
    before: Callable[[Group], Floats] = nothing  # free way that cones of its own need before their panel, (M,) m
    limits: tuple[Limit, ...] = ()  # constraints of its own
    slacks: tuple[Slack, ...] = ()  # constraints of its own that the packing knows
    weight: Callable[[Group], Floats]  # what it adds to a box, (M,) kg
    cost: Callable[[Group], Floats]  # what it adds to a box, (M,) in the job's currency
    key: tuple[str, ...] = ()  # columns of the front by which its families differ, beside ``vent_kind``
    own_columns: tuple[tuple[str, Column], ...] = ()  # of the front for it alone, each behind the column of that key
    columns: Mapping[str, Callable[[Group], Any]]  # the columns of the front that it fills
    # Of (rows of a front with it, shelf): its variables.
    settled: Callable[[pd.DataFrame, Shelf], Mapping[str, Values]] = lambda rows, shelf: {}
    stated: Callable[[Any, Group], Mapping[str, Any]]  # of (row of a front, its group): fields of a StatedDesign
    # What a box that is given states of it, and what a form calls each; the first is what tells it from others that
    # make the same kind of box.
    given: tuple[tuple[Field, str], ...] = ()
    # Of (values of those fields, parts listed for it): the parts that such a box is made of, as if no others were
    # listed, and its columns of the front.
    chosen: Callable[[Mapping[str, Any], Sequence[Any]], tuple[Sequence[Any], Mapping[str, Any]]] = (
        lambda values, parts: ((), {})
    )
    # Of (one design laid out): what those fields are for it, SI, with what is built in place of the tuning.
    giving: Callable[[Group], Mapping[str, Any]] = lambda group: {}
    built: tuple[str, str] = ("", "")  # field of a given box that may stand for its tuning, and its column of the front
    steps: Callable[[Group], Iterable[Step]] = lambda group: ()  # of one design not laid out: what is worth a thought
    named: Callable[[Any], str]  # of (row of a front, or its key): the box that it makes, in words
    instead: str  # what a box of the same kind has in place of it, as the end of "instead of …"
    said: Callable[[Any, Units], str]  # of (row of a front, units): what the box breathes through, in one line
    bodies: Callable[[Interior], list[Body]]  # what it is made of, each body's thing called like the opening
    # Of the bodies of one of them: sizes that it adds to drawings.
    dimensions: Callable[[Bodies], list[Dimension]] = lambda bodies: []
    # Of (bodies of each of them in one box, how things are said): paragraphs for the builder beside a drawing.
    told: Callable[[Sequence[Bodies], Telling], list[str]]

    def __post_init__(self) -> None:
        if not all([self.box_kind, self.instead, *(variable.words for variable in self.variables)]):
            raise ValueError(f"the opening {self.name!r} is not whole: words are missing")
