"""Boards that are cut alike, so that each is drawn and listed once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.words.voice import listed
from engine.workshop.board import Board, Caution

_GRID = 1e-6  # m


def alike(boards: Sequence[Board]) -> list[tuple[Board, ...]]:
    """Boards in groups that are the same to the saw and the drill, each group where its first board stands."""
    groups: dict[Any, list[Board]] = {}
    for board in boards:
        groups.setdefault(_key(board), []).append(board)
    return [tuple(group) for group in groups.values()]


def names_of(boards: Sequence[Board]) -> str:
    """Names of boards in a few words: "braces 1 to 4", "supports 1 and 3"."""
    return listed(in_few(board.name for board in boards))


def in_few(names: Iterable[str]) -> list[str]:
    """Names that differ by a last number put together, each kind once.

    >>> in_few(["brace 1", "brace 2", "brace 3", "back", "pipe 1", "pipe 3", "foot 1", "foot 2"])
    ['braces 1 to 3', 'back', 'pipes 1 and 3', 'feet 1 and 2']
    """
    found = []
    for stem, same in groupby(map(_numbered, names), lambda one: one[0]):
        numbers = [number for _, number in same if number is not None]
        if len(numbers) < 2:
            found.append(f"{stem} {numbers[0]}" if numbers else stem)
            continue
        run = len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1))
        said = f"{numbers[0]} to {numbers[-1]}" if run else listed([str(number) for number in numbers])
        found.append(f"{_several(stem)} {said}")
    return found


def told_together(cautions: Iterable[Caution]) -> list[Caution]:
    """Those about little wood at the edges of one board in one, with the least there is: "hole for vents 1 to 3"."""
    found: list[Caution] = []
    edges: dict[str, list[Caution]] = {}
    for caution in cautions:
        if caution.code == "edge":
            edges.setdefault(caution.board, []).append(caution)
        else:
            found.append(caution)
    for same in edges.values():
        about, least = listed(in_few(each.about for each in same)), min(each.value for each in same)
        found.append(same[0]._replace(about=about, value=least))
    return found


def _several(stem: str) -> str:
    return "feet" if stem == "foot" else f"{stem}s"


def _numbered(name: str) -> tuple[str, int | None]:
    """A name without its last number, and that."""
    stem, _, number = name.rpartition(" ")
    return (stem, int(number)) if stem and number.isdecimal() else (name, None)


def _key(board: Board) -> Any:
    cuts = sorted(
        (
            cut.operation, cut.face, _whole(cut.depth), _whole(cut.diameter), _whole(cut.lean),
            sorted(map(tuple, _grid(board.seen(cut.places)))),
            () if cut.ring is None else sorted(map(tuple, _grid(board.seen(cut.ring.points)))),
            () if cut.ring is None else sorted(_grid(cut.ring.bulges)),
        )
        for cut in board.cuts
    )  # fmt: skip
    faces = (_grid(board.seen(board.corners(side))) for side in ("outside", "inside"))
    return repr((board.role, _whole(board.thickness), [sorted(map(tuple, face)) for face in faces], cuts))


def _grid(values: Floats) -> Any:
    return np.rint(np.asarray(values) / _GRID).astype(int).tolist()


def _whole(value: float) -> int:
    """In steps of the grid; -1 where there is none."""
    return -1 if np.isnan(value) else round(value / _GRID)
