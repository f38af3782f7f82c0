"""What is broken out of a sheet: one board's blank, a strip of several in a row, boards bevel to bevel.

A blank is a rectangle, ``length`` by ``width``: rough at its ends, ripped along its sides, with an allowance wherever
it is cut again.  Boards that share a bevel lie beside each other in one strip, the long point of one against the short
point of the other: one cut makes both slopes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, permutations, product

from engine.parts import Cutting
from engine.workshop.sawing.pieces import ANGLES, Piece, Rim, tilts_of

MERGED = 0.006  # m, that a blank which is cut again is made wider, where another fence setting serves it too
MOST_CHAINED = 3  # boards in one strip bevel to bevel: every cut then starts from an outer edge
SAME = 1e-6  # m
RISE = 1e-4  # m; a width is never less than this under what its cuts need


@dataclass(frozen=True)
class Slot:
    """Where a piece lies in its blank: its least u and v, m, and how.

    ``flipped``: turned over about its length, so that its inside is up and its rims have changed places; ``turned``:
    turned half round as it lies, which changes ends and rims both.
    """

    sort: int
    piece: Piece
    u: float
    v: float
    flipped: bool = False
    turned: bool = False

    @property
    def rims(self) -> tuple[Rim, Rim]:
        """Low and high rim in the blank: ``outside`` is the face that is up there."""
        low, high = self.piece.low, self.piece.high
        if self.flipped:  # about its length: v runs the other way, the inside is up
            low, high = turned_over(high, self.piece.width), turned_over(low, self.piece.width)
        if self.turned:
            low, high = mirrored(high, self.piece.width), mirrored(low, self.piece.width)
        return self._at(low), self._at(high)

    def _at(self, rim: Rim) -> Rim:
        return Rim(rim.outside + self.v, rim.inside + self.v, rim.bevel, rim.name)

    @property
    def up(self) -> str:
        """The face that is up."""
        return "inside" if self.flipped else "outside"

    @property
    def down(self) -> str:
        """The face that is down."""
        return "outside" if self.flipped else "inside"


def mirrored(rim: Rim, width: float) -> Rim:
    """A rim as it is with its piece turned half round as it lies."""
    return Rim(width - rim.outside, width - rim.inside, rim.bevel, rim.name)


def turned_over(rim: Rim, width: float) -> Rim:
    """A rim as it is with the other face up."""
    return Rim(width - rim.inside, width - rim.outside, -rim.bevel, rim.name)


@dataclass(frozen=True)
class Blank:
    """A rectangle to be broken out of a sheet, with what is cut from it."""

    length: float
    width: float
    slots: tuple[Slot, ...]

    @property
    def chained(self) -> bool:
        """Whether boards lie in it bevel to bevel."""
        return len({slot.u for slot in self.slots}) < len(self.slots)

    @property
    def thickness(self) -> float:
        return self.slots[0].piece.thickness

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(slot.piece.name for slot in self.slots)


def blanks_of(pieces: Sequence[Piece], cutting: Cutting, *, longest: float) -> list[Blank]:
    """Every blank that pieces may be cut from, by themselves and together, up to a length in m."""
    tilts = tilts_of(pieces)
    found = [_row([(sort, piece)], cutting, tilts) for sort, piece in enumerate(pieces)]
    found += _rows(pieces, cutting, tilts, longest=longest)
    if cutting.shared:
        found += _chains(pieces, cutting, tilts)
    return _merged([blank for blank in found if blank.length <= longest or len(blank.slots) == 1], cutting)


def _margins(piece: Piece, cutting: Cutting, tilts: Sequence[float]) -> tuple[float, float]:
    """What a piece's blank is wider by, below and above: an allowance at the bevel that is cut first.

    The second one is cut with the first at the fence, to the arris of the edge that was there.
    """
    if not piece.bevelled:
        return 0.0, 0.0
    order = [*tilts, 0.0]
    low, high = (order.index(round(abs(rim.bevel), ANGLES)) for rim in (piece.low, piece.high))
    return (cutting.allowance, 0.0) if low < high else (0.0, cutting.allowance)


def narrow(piece: Piece, cutting: Cutting) -> bool:
    """Whether a piece is too narrow to be guided between fence and blade."""
    return piece.width < cutting.narrowest


def _row(row: Sequence[tuple[int, Piece]], cutting: Cutting, tilts: Sequence[float]) -> Blank:
    """One piece, or several of one width and the same rims one behind the other."""
    piece = row[0][1]
    low, high = _margins(piece, cutting, tilts)
    width = low + piece.width + high
    if narrow(piece, cutting) and piece.bevelled:  # bevelled on a strip that can be guided, ripped off it last
        spare = cutting.narrowest + cutting.kerf
        width += spare
        low += spare if piece.high.bevel else 0.0
    slots, u = [], cutting.allowance
    for sort, each in row:
        slots.append(Slot(sort, each, u, low))
        u += each.length + cutting.kerf
    return Blank(max(u - cutting.kerf + cutting.allowance, cutting.shortest), width, tuple(slots))


def _rows(pieces: Sequence[Piece], cutting: Cutting, tilts: Sequence[float], *, longest: float) -> Iterator[Blank]:
    """Strips of pieces that are alike across: several of one sort, or one of each of two or three sorts."""

    def across(piece: Piece) -> tuple[object, ...]:
        rims = tuple((round(rim.outside, 5), round(rim.inside, 5)) for rim in (piece.low, piece.high))
        return rims, piece.thickness, piece.grain

    for sort, piece in enumerate(pieces):
        for count in range(2, len(piece.names) + 1):
            blank = _row([(sort, piece)] * count, cutting, tilts)
            if blank.length <= longest:
                yield blank
    for count in (2, 3):
        for row in combinations(enumerate(pieces), count):
            if len({across(piece) for _, piece in row}) == 1:
                yield _row(row, cutting, tilts)


def _chains(pieces: Sequence[Piece], cutting: Cutting, tilts: Sequence[float]) -> Iterator[Blank]:
    """Pieces bevel to bevel: of one length, with edges of one angle that slope the same way."""
    usable = [
        (sort, piece)
        for sort, piece in enumerate(pieces)
        if piece.plain and all(piece.square) and piece.bevelled and not narrow(piece, cutting)
    ]
    usable = [(sort, piece) for sort, piece in usable for _ in range(min(len(piece.names), 2))]
    seen: set[tuple[object, ...]] = set()
    for count in range(2, MOST_CHAINED + 1):
        for row in permutations(usable, count):
            lengths = [piece.length for _, piece in row]
            grains = {piece.grain for _, piece in row}
            if max(lengths) - min(lengths) > SAME or len(grains) > 1:
                continue
            sorts = tuple(sort for sort, _ in row)
            if min(sorts, sorts[::-1]) in seen:
                continue
            blank = _chain(row, cutting, tilts[0])
            if blank is not None:
                seen.add(min(sorts, sorts[::-1]))
                yield blank


def _chain(row: Sequence[tuple[int, Piece]], cutting: Cutting, first: float) -> Blank | None:
    """Pieces side by side in this order, each the way up in which its edge slopes as that of the one before.

    ``first`` is the angle that the saw is tilted to first, rad.
    """
    thickness = row[0][1].thickness
    if any(piece.thickness != thickness for _, piece in row):
        return None
    for ways in product(product((False, True), repeat=2), repeat=len(row)):
        slots = [
            Slot(sort, piece, cutting.allowance, 0.0, flipped, turned)
            for (sort, piece), (flipped, turned) in zip(row, ways, strict=True)
        ]
        joints = [(one.rims[1], other.rims[0]) for one, other in pairwise(slots)]
        angles = {round(high.bevel, 6) for high, _ in joints} | {round(-low.bevel, 6) for _, low in joints}
        if len({abs(angle) for angle in angles}) != 1 or 0.0 in angles:
            continue
        if any(round(high.bevel + low.bevel, 6) for high, low in joints):
            continue
        angle = abs(next(iter(angles)))
        # Whatever has another angle besides is tilted to that after this one, so this has to be the first.
        outer = {round(abs(slots[at].rims[at].bevel), ANGLES) for at in (0, -1)} - {0.0, round(angle, ANGLES)}
        return _laid_out(slots, angle, cutting) if not outer or round(angle, ANGLES) == first else None
    return None


def _laid_out(slots: Sequence[Slot], angle: float, cutting: Cutting) -> Blank | None:
    """Slots with their places across.  An edge has an allowance where it is cut a second time to the fence."""
    kerf, spare = cutting.kerf / math.cos(angle), cutting.allowance
    first, last = slots[0], slots[-1]
    placed = [replace(first, v=0.0)]
    for at, slot in enumerate(slots[1:], start=1):
        before = placed[-1].rims[1]
        # The last of two is cut again to its own width from its square edge; the middle one of three likewise.
        again = spare if at == len(slots) - 1 and (at == 2 or not last.rims[1].bevel) else 0.0
        low = slot.rims[0]
        placed.append(replace(slot, v=before.outside - low.outside + kerf + again))
    # An outer edge with a bevel is cut after the shared one, to the arris of the edge that was there; but the last of
    # two keeps its shared edge as it is, and has its allowance there.
    width = max(placed[-1].rims[1][:2]) + (spare if last.rims[1].bevel and len(slots) == 2 else 0.0)
    if thin(slots, cutting):
        return None
    return Blank(max(last.piece.length + 2.0 * spare, cutting.shortest), width, tuple(placed))


def thin(slots: Sequence[Slot], cutting: Cutting) -> bool:
    """Whether boards are too thick for the tilted blade, or too narrow under it to be cut apart."""
    thick = slots[0].piece.thickness
    narrowest = min(min(s.rims[1].outside - s.rims[0].outside, s.rims[1].inside - s.rims[0].inside) for s in slots)
    return narrowest < cutting.narrowest or thick > cutting.depth


def _merged(blanks: Sequence[Blank], cutting: Cutting) -> list[Blank]:
    """Blanks whose width need not be exact made as wide as others, so that one fence setting serves them."""
    exact = sorted({round(b.width, 6) for b in blanks if not any(slot.piece.bevelled for slot in b.slots)})
    rough = sorted({round(b.width, 6) for b in blanks if any(slot.piece.bevelled for slot in b.slots)}, reverse=True)
    served: dict[float, float] = {}
    head = math.inf
    for width in rough:
        near = [each for each in exact if width <= each <= width + MERGED]
        if near:
            served[width] = near[0]
        else:
            head = head if head - width <= MERGED else width
            served[width] = head
    found = []
    for blank in blanks:
        width = (
            served.get(round(blank.width, 6), blank.width)
            if any(s.piece.bevelled for s in blank.slots)
            else blank.width
        )
        more = max(width - blank.width, 0.0)
        # What is more lies beside an edge that is bevelled from the strip's outer edge.
        if more and blank.slots[0].rims[0].bevel:
            found.append(Blank(blank.length, width, tuple(replace(slot, v=slot.v + more) for slot in blank.slots)))
        elif more and not blank.slots[-1].rims[1].bevel and blank.chained:
            found.append(_moved_last(blank, width, more))
        else:
            found.append(replace(blank, width=width) if more else blank)
    return found


def _moved_last(blank: Blank, width: float, more: float) -> Blank:
    """A chain between square edges made wider: its last board moves out, and so much more is cut off beside it."""
    return Blank(blank.length, width, (*blank.slots[:-1], replace(blank.slots[-1], v=blank.slots[-1].v + more)))
