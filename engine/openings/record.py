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

from engine.column import Column
from engine.document import Reader
from engine.field import Field
from engine.packing.opening import OpeningPacking
from engine.quantities import Units
from engine.space.bodies import Body, Dimension
from engine.space.interior import Interior
from engine.space.panels import Telling

Floats = NDArray[np.float64]
Values = NDArray[Any]
Rows = NDArray[np.intp]
Shelf = Mapping[str, Floats]
Bodies = Sequence[Body]


@dataclass(frozen=True, kw_only=True)
class Variable:
    """A number of a design that only boxes with one opening have.

    Attributes
    ----------
    name :
        In the problem, in ``Designs.openings`` and, if a job may bound it, among its bounds.
    words :
        What a bound on it is a bound on.
    choice :
        Whether it picks one of several, so that a search draws it anew rather than moves it a little.
    span :
        Of (scenario): lowest and highest value that a search draws.
    settled :
        Of (values drawn (M,), scenario): the values of the designs, in whole steps or numbers.
    absent :
        What designs with other openings have in its place; its type is that of the values.
    """

    name: str
    words: str
    choice: bool
    span: Callable[[Any], tuple[float, float]]
    settled: Callable[[Floats, Any], Values]
    absent: int | float

    def none(self, count: int) -> Values:
        """The variable of so many designs with other openings."""
        return np.full(count, self.absent)


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """What a box with an opening is built with: something that makes it a family of its own.

    ``part`` is what is bought for it (None: nothing that differs from box to box), ``count`` how many of it,
    ``filling`` a name in :data:`engine.acoustics.filling.FILLINGS`.  ``key`` has its columns of the front.
    """

    part: Any = None
    count: int = 0
    filling: str = ""
    key: Mapping[str, str | int] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class StockTable:
    """Where a job lists what an opening is made of.

    Attributes
    ----------
    path :
        The table, as in ``stock.pipe``.
    before :
        Key of the table of the same parent before which it stands.
    many :
        Whether it stands once for each part.
    fields :
        What may stand in it.
    labels :
        What a form calls each field, by its key.
    title, heading, item :
        What a form calls the table, what stands above it (Markdown), and what one of its parts is called.
    missing :
        Code of the fault where a kind of box is asked for and this and the tables of all others that make it are
        missing; its sentence is given those tables under the names of their openings.
    read :
        Of (reader, place, table, thickness of the board in m): the part that the table stands for (None where it is at
        fault) and its values.  Faults go to the reader.
    """

    path: str
    before: str
    many: bool
    fields: tuple[Field, ...]
    labels: Mapping[str, str]
    title: str
    heading: str
    item: str
    missing: str
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
    """A small change to a design, as a builder would call it.

    ``changes`` says by how much it moves each variable, ``within`` where the variable may then lie (None: within the
    job's bounds), ``beyond`` why it may not lie elsewhere ("": a bound of the job's).
    """

    words: str
    changes: Mapping[str, float]
    within: tuple[float, float] | None = None
    beyond: str = ""


class Group:
    """The designs of a batch that have one opening, M of N; what is asked for is gathered when it is asked for.

    Attributes
    ----------
    opening : Opening
    scenario : engine.scenario.Scenario
    rows :
        Which of the batch they are, (M,).
    shelf :
        What ``opening.shelf`` says of the stock.
    """

    def __init__(
        self,
        opening: Opening,
        *,
        scenario: Any,
        rows: Rows,
        shelf: Shelf,
        families: Any,
        designs: Any,
        layout: Any = None,
    ) -> None:
        self.opening, self.scenario, self.rows, self.shelf = opening, scenario, rows, shelf
        self._families, self._designs, self._layout = families, designs, layout
        self._family = designs.family[rows]

    def __len__(self) -> int:
        return len(self.rows)

    def variable(self, name: str) -> Values:
        """A variable of the opening, (M,)."""
        values: Values = self._designs.openings[name][self.rows]
        return values

    @property
    def tuning(self) -> Floats:
        """Tuning of the designs as lumps, (M,) Hz."""
        values: Floats = self._designs.tuning[self.rows]
        return values

    def part(self, figure: str) -> Floats:
        """A figure of the part that each design is fitted with, (M,)."""
        values: Floats = self._families.part(figure)[self._family]
        return values

    @property
    def parts(self) -> Floats:
        """How many parts each design is fitted with, (M,)."""
        values: Floats = self._families.part_count[self._family]
        return values

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
    def facing(self) -> NDArray[np.int64]:
        """The code of the way that the drivers face, (M,)."""
        values: NDArray[np.int64] = self._families.facing[self._family]
        return values

    def laid(self, name: str) -> Values:
        """A field of the layout, (M,); of groups of designs that are laid out."""
        values: Values = getattr(self._layout, name)[self.rows]
        return values


Figures = Callable[[Group], Mapping[str, Values]]


@dataclass(frozen=True, kw_only=True)
class Limit:
    """A constraint that only boxes with one opening, or a few, have.

    ``excess`` of (group) is 0 or less where it is kept, (M,); ``short_of`` is what a design that breaks it is short of,
    ``blocks`` goes on from "but".
    """

    name: str
    short_of: str
    blocks: str
    excess: Callable[[Group], Floats]


@dataclass(frozen=True, kw_only=True)
class Slack:
    """Something of which the packing says how much is left, m, that only boxes with one opening, or a few, need.

    ``short_of`` and ``blocks`` as of a :class:`Limit`; ``voids`` says whether a box without it is no box at all.
    """

    name: str
    short_of: str
    blocks: str
    voids: bool = False


@dataclass(frozen=True, kw_only=True)
class Opening:
    """All there is to know of one opening.

    Attributes
    ----------
    name :
        Of the opening, unique.
    box_kind :
        The kind of box that it makes.
    vent_kind :
        What stands in the front's column of that name; "" of what is no vent.
    tuned :
        Whether it gives the box a tuning.
    table :
        Where a job lists what it is made of; None where that is nothing.
    bounds :
        Fields of the job's bounds on its variables, each with what a form calls it.
    fittings :
        Of (scenario): one for each family of boxes that the job allows; none where what they need is not in stock.
    shelf :
        Of (scenario): what the stock holds, as arrays to gather from.
    variables :
        In the order in which they stand in the problem.
    contents :
        Of a group not yet laid out: sizes for the packing, fields of :class:`engine.packing.contents.Contents`.
    packing :
        What it takes to pack boxes with it.
    circuit :
        Of a group laid out: its entries of :class:`engine.acoustics.circuit.Systems`.
    beside :
        Of a group laid out: free air that it needs on the left of the box, (M,) m.
    limits :
        Constraints of its own.
    slacks :
        Constraints of its own that the packing knows.
    weight, cost :
        Of a group laid out: what it adds to a box, (M,) kg and (M,) in the job's currency.
    key :
        Columns of the front by which its families differ, beside ``vent_kind``.
    own_columns :
        Columns that the front has for it alone, each with the key of the one that it stands behind.
    columns :
        The columns of the front that it fills, each of a group laid out.
    settled :
        Of (rows of a front with this opening, shelf): its variables, the way back from the front.
    stated :
        Of (one row of a front, group of that design laid out): what it adds to a
        :class:`engine.stated_design.StatedDesign`.
    steps :
        Of a group of one design not laid out: the small changes worth a thought.
    named :
        Of (one row of a front, or of its key): the box that it makes, in words.
    instead :
        What a box of the same kind has in place of it, as the end of "instead of …".
    said :
        Of (one row of a front, units): what the box breathes through, in one line.
    bodies :
        Of a laid-out box that has it: what it is made of, each body's thing called like the opening.
    dimensions :
        Of the bodies of one of them: sizes that it adds to drawings.
    told :
        Of (bodies of each of them in one box, how things are said): paragraphs for the builder beside a drawing.
    """

    name: str
    box_kind: str
    vent_kind: str
    tuned: bool
    table: StockTable | None
    bounds: tuple[tuple[Field, str], ...]
    fittings: Callable[[Any], Iterable[Fitting]]
    shelf: Callable[[Any], Shelf]
    variables: tuple[Variable, ...]
    contents: Figures
    packing: OpeningPacking
    circuit: Figures
    beside: Callable[[Group], Floats]
    limits: tuple[Limit, ...]
    weight: Callable[[Group], Floats]
    cost: Callable[[Group], Floats]
    key: tuple[str, ...]
    own_columns: tuple[tuple[str, Column], ...]
    columns: Mapping[str, Callable[[Group], Any]]
    settled: Callable[[pd.DataFrame, Shelf], Mapping[str, Values]]
    stated: Callable[[Any, Group], Mapping[str, Any]]
    steps: Callable[[Group], Iterable[Step]]
    named: Callable[[Any], str]
    instead: str
    slacks: tuple[Slack, ...] = ()
    said: Callable[[Any, Units], str]
    bodies: Callable[[Interior], list[Body]]
    dimensions: Callable[[Bodies], list[Dimension]]
    told: Callable[[Sequence[Bodies], Telling], list[str]]

    def __post_init__(self) -> None:
        words = [self.box_kind, self.instead, *(variable.words for variable in self.variables)]
        words += [text for limit in self.limits for text in (limit.name, limit.short_of, limit.blocks)]
        words += [text for slack in self.slacks for text in (slack.name, slack.short_of, slack.blocks)]
        if not all(words):
            raise ValueError(f"the opening {self.name!r} is not whole: words are missing")


def nothing(group: Group) -> Floats:
    """What an opening adds that adds nothing, (M,)."""
    return np.zeros(len(group))
