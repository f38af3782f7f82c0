"""What a user did to a job, step by step, to be undone and done again: inputs, sweeps, picks, filters, the shortlist.

Steps are told by looking: a job that differs from what it was when last looked at was changed by its user, unless the
program has said in between that it did so itself (:meth:`History.settle`), as when a pick follows a change.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from engine.plain_text import all_cleaned
from engine.untrusted import mended, parsed
from explorer.session import Chosen, Document, Job, chosen_from, held_from, is_filter, sweeps_from

MOST = 60  # steps that can be undone
LARGEST = 600_000  # characters of text that they are kept as

Sweeps = dict[str, dict[str, str]]


@dataclass(frozen=True)
class State:
    """What of a job can be undone, as it stood."""

    document: Document
    filters: dict[str, list[Any]]
    pick: Chosen | None
    shortlist: tuple[Chosen, ...]
    sweeps: Sweeps
    held: tuple[str, ...] = ()  # figures that no sweep is asked for
    asked: tuple[tuple[str, bool], ...] = ()  # the price of each on the shortlist, and whether it is recommended


def state_of(job: Job) -> State:
    """A job's present state; documents and sweeps never change in place, the rest is copied."""
    filters = {key: list(value) for key, value in job.filters.items()}
    return _state(job.document, filters, job.pick, tuple(job.shortlist), job.sweeps, tuple(job.held))


def _state(
    document: Document, filters: dict[str, list[Any]], pick: Chosen | None, shortlist: tuple[Chosen, ...],
    sweeps: Sweeps, held: tuple[str, ...],
) -> State:  # fmt: skip
    # Designs are alike whatever is asked for them, so that stands apart.
    asked = tuple((each.price, each.recommended) for each in shortlist)
    return State(document, filters, pick, shortlist, sweeps, held, asked)


@dataclass
class History:
    """The steps of one job, the last one at the end of ``past``; what was undone waits in ``future``."""

    past: list[State] = field(default_factory=list)
    future: list[State] = field(default_factory=list)
    now: State | None = None
    changes: int = 0  # counts them, so that what is kept on disk is written when there is something new

    def note(self, job: Job) -> None:
        """Take what the user changed since the last look as one step."""
        state = state_of(job)
        if self.now is not None and state != self.now:
            self.past = [*self.past, self.now][-MOST:]
            self.future = []
            self.changes += 1
        self.now = state

    def settle(self, job: Job) -> None:
        """Take a job as it stands: what differs from the last look was no step of its user's."""
        self.now = state_of(job)

    def undo(self, job: Job) -> None:
        self._go(job, self.past, self.future)

    def redo(self, job: Job) -> None:
        self._go(job, self.future, self.past)

    def _go(self, job: Job, source: list[State], other: list[State]) -> None:
        if not source:
            return
        other.append(state_of(job))
        self.now = source.pop()
        job.document, job.pick = self.now.document, self.now.pick
        job.filters = {key: list(value) for key, value in self.now.filters.items()}
        job.shortlist, job.sweeps, job.held = list(self.now.shortlist), self.now.sweeps, list(self.now.held)
        job.revision += 1
        self.changes += 1

    def dump(self) -> str:
        """The steps as text, each document and each design once; the earliest go where it would be too long."""
        past = self.past
        while len(text := _dump(past, self.future)) > LARGEST and (past or self.future):
            if past:
                past = past[(len(past) + 1) // 2 :]
            else:
                self.future = []
        return text


def _dump(past: list[State], future: list[State]) -> str:
    pool: dict[str, int] = {}

    def number(part: Any) -> int:
        return pool.setdefault(json.dumps(part, ensure_ascii=False), len(pool))

    def chosen(each: Chosen | None) -> Any:
        return None if each is None else [number(each.row), number(each.document), each.price, each.recommended]

    def step(state: State) -> list[Any]:
        designs = [chosen(each) for each in state.shortlist]
        return [
            number(state.document), state.filters, chosen(state.pick), designs, number(state.sweeps), state.held,
        ]  # fmt: skip

    steps = [[step(state) for state in states] for states in (past, future)]
    return mended(f'{{"steps": {json.dumps(steps, ensure_ascii=False)}, "parts": [{", ".join(pool)}]}}')


def revived(text: str) -> History:
    """Steps from their :meth:`History.dump`; none where that cannot be read, since a job does without."""
    try:
        stored = all_cleaned(parsed(text))
        parts = stored["parts"]

        def chosen(stored: Any) -> Chosen | None:
            if stored is None:
                return None
            row, document, *asked = stored  # an earlier version kept no more
            more = dict(zip(("price", "recommended"), asked, strict=False))
            return chosen_from({"row": parts[row], "document": parts[document], **more})

        past, future = ([_revived(step, parts, chosen) for step in steps][-MOST:] for steps in stored["steps"])
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError):
        return History()
    return History(past, future)


def _revived(step: Any, parts: list[Any], chosen: Callable[[Any], Chosen | None]) -> State:
    document, filters, pick, shortlist, *more = step  # earlier versions had no sweeps, and nothing held
    if not all(is_filter(key, value) for key, value in filters.items()):
        raise ValueError("a filter of another version")
    designs = [each for each in map(chosen, shortlist) if each is not None]
    sweeps = sweeps_from(parts[more[0]], []) if more else {}
    held = held_from(more[1]) if more[1:] else []
    return _state(dict(parts[document]), dict(filters), chosen(pick), tuple(designs), sweeps, tuple(held))
