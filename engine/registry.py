"""A registry: records by name, in their order, no two of one name.

What there is several kinds of (facings, filter shapes, kinds of box …) is one record each, and everything else goes by
the registry.  A record checks itself when it is made, the registry that no two are called the same, so a record that is
not whole fails the import.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

Made = TypeVar("Made")


class Named(Protocol):
    """A record as a registry takes it."""

    @property
    def name(self) -> str: ...


Record = TypeVar("Record", bound=Named)


class OnDemand(dict[str, Made]):
    """A table that also knows what it can make of a name; only what it holds is iterated over."""

    def __init__(self, made: Callable[[str], Made | None]) -> None:
        super().__init__()
        self._made = made

    def __missing__(self, name: str) -> Made:
        record = self._made(name)
        if record is None:
            raise KeyError(f"{name!r} is none of {', '.join(self)}")
        return record

    def __contains__(self, name: object) -> bool:
        return super().__contains__(name) or (isinstance(name, str) and self._made(name) is not None)


class Registry(OnDemand[Record]):
    """Records of one kind by their names, in order; iterates over the names, so that it serves as a field's choices.

    ``made`` makes those of a name that there are too many of to list.
    """

    def __init__(self, *records: Record, made: Callable[[str], Record | None] = lambda name: None) -> None:
        super().__init__(made)
        self._followers: list[Callable[[], None]] = []
        for record in records:
            self._add(record)

    def _add(self, record: Record) -> None:
        if not record.name or record.name in self:
            raise ValueError(f"expected a name of its own, found {record.name!r}")
        self[record.name] = record

    @property
    def records(self) -> tuple[Record, ...]:
        """All of them, in their order."""
        return tuple(self.values())

    def code(self, name: str) -> int:
        """The place of a record among the others, for arrays."""
        return list(self).index(name)

    def each(self, field: str) -> NDArray[Any]:
        """What stands in a field of every record, by their codes."""
        return np.array([getattr(record, field) for record in self.values()])

    @contextmanager
    def added(self, record: Record) -> Iterator[Record]:
        """With one more record, the last, for as long as the context lasts: for tests."""
        self._add(record)
        try:
            self._tell()
            yield record
        finally:
            del self[record.name]
            self._tell()

    def followed(self, fill: Callable[[], None]) -> Callable[[], None]:
        """Decorates what fills a table made of these records: called at once, and again whenever one is added."""
        self._followers.append(fill)
        fill()
        return fill

    def _tell(self) -> None:
        for fill in self._followers:
            fill()
