"""Roles of bodies: how drawings draw a body, what the exact check (``solids``) keeps it clear of, whether it takes air.

Nobody who draws or checks knows what a driver, a pipe or a slot is made of; its own file does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

Pen = Literal["cut", "outline", "thin", "hidden", "faint", "axis", "reach", "rounded", "margin"]


class Look(NamedTuple):
    """A line, and the share of ink that fills what is inside it."""

    pen: Pen
    wash: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Role:
    """What a body is for: how it is drawn, what it keeps clear of.

    A drawing leaves out what has no look in it.  ``gap_to`` names roles that it stays a breathing gap away from,
    ``clear_of`` those that it may touch but not share a place with.  Bodies of one thing, and a body and the panel it
    goes through, are not measured against each other.
    """

    name: str

    cut: Look | None = None  # in a section through it; ``mounted``: through the axis of what it belongs to
    beside: Look | None = None  # in a section that passes beside it
    end_on: Look | None = None  # in a section, of what is mounted in a side panel
    above: Pen | None = None  # seen from above
    own: Pen | None = None  # square on to the panel that it goes through
    other: Pen | None = None  # square on to another panel
    inside: Pen | None = None  # in the isometric, behind the panels
    outside: Pen | None = None  # in the isometric, on the panel that it goes through where that shows
    mounted: bool = False  # part of something round in a panel
    sawn: bool = False  # a section through it shows no board there
    label: str = ""  # written in it, square on to its panel
    beside_words: str = ""  # what is drawn though the section passes beside it
    room_words: str = ""  # what room is kept for where it is drawn

    gap_to: frozenset[str] = frozenset()
    clear_of: frozenset[str] = frozenset()
    on_face: bool = False  # measured only against what goes through the same panel
    with_own: bool = False  # measured against bodies of its own thing too
    within: Literal["", "box", "behind panel"] = ""  # what of it has to lie inside the box
    in_panel: bool = False  # lies within the narrow sides of the panel that it goes through
    off_edges: bool = False  # keeps off the box's rounded edges
    takes_air: bool = False
    trimmed: bool = False  # where it reaches far out of a box, its thing is drawn cut short


def _names(*names: str) -> frozenset[str]:
    return frozenset(names)


_FITTED = _names("radiator", "slot board", "pipe", "passing pipe", "cup", "brace", "dowel", "block")
_ON_FACE = _names("driver flange", "radiator flange", "cup flange", "pipe", "passing pipe", "window")

DRIVER_FLANGE = Role(
    name="driver flange", mounted=True, on_face=True, off_edges=True, gap_to=_ON_FACE,
    cut=Look("outline", 0.5), end_on=Look("hidden"), above="hidden", own="outline", outside="outline",
)  # fmt: skip
RADIATOR_FLANGE = replace(
    DRIVER_FLANGE, name="radiator flange", label="passive", beside_words="passive radiator", beside=Look("hidden"),
    other="hidden",
)  # fmt: skip
CUP_FLANGE = Role(
    name="cup flange", on_face=True, off_edges=True, gap_to=_ON_FACE,
    cut=Look("outline"), beside=Look("hidden"), above="hidden", own="outline", outside="outline",
)  # fmt: skip
SEAT = Role(name="seat", in_panel=True)  # of a flange on the outer face: off the joints that show there
SCREWS = Role(  # the board that the screws of a flange need, and how far they stand out behind it
    name="screws", in_panel=True, clear_of=_names("panel", "brace", "dowel", "slot board")
)
DUCT = Role(  # between boards: it touches them and panels
    name="duct", within="box", with_own=True, takes_air=True, trimmed=True,
    clear_of=_FITTED | _names("basket", "magnet", "rear air", "terminals"),
)  # fmt: skip
DUCT_AIR = replace(DUCT, name="duct air", takes_air=False)  # before its inner mouth
FREE_AIR = Role(  # before the inner mouth of a pipe
    name="free air", within="box", with_own=True, clear_of=_FITTED | _names("basket", "magnet", "terminals", "panel")
)
BASKET = Role(
    name="basket", mounted=True, within="box", takes_air=True,
    cut=Look("outline"), end_on=Look("outline"), above="hidden", inside="faint",
    gap_to=_FITTED | _names("basket", "magnet", "panel"), clear_of=_names("rear air", "terminals"),
)  # fmt: skip
MAGNET = replace(BASKET, name="magnet", cut=Look("outline", 0.3), end_on=Look("outline", 0.3), other="hidden")
REAR_AIR = Role(  # behind a magnet
    name="rear air", mounted=True, within="box", room_words="driver",
    cut=Look("reach"), end_on=Look("reach"), clear_of=_FITTED | _names("panel"),
)  # fmt: skip
# Room for the solder tags beside a basket.
TERMINALS = replace(REAR_AIR, name="terminals", clear_of=_FITTED | _names("terminals", "panel"))
BLOCK = Role(  # carries a pipe
    name="block", within="box", takes_air=True, clear_of=_names("block"),
    cut=Look("outline"), beside=Look("hidden"), above="hidden", other="hidden", inside="faint",
)  # fmt: skip
RADIATOR = replace(
    BLOCK, name="radiator", mounted=True, room_words="radiator", cut=Look("reach"), end_on=Look("hidden"),
    gap_to=_FITTED | _names("panel"), clear_of=frozenset(),
)  # fmt: skip
SLOT_BOARD = replace(
    BLOCK, name="slot board", trimmed=True, beside_words="vent", cut=Look("cut", 0.16), gap_to=_names("cup"),
    clear_of=_names("pipe", "passing pipe", "brace", "dowel"),
)  # fmt: skip
PIPE = replace(
    BLOCK, name="pipe", within="behind panel", trimmed=True, sawn=True, beside_words="vent", own="hidden",
    gap_to=_names("pipe", "passing pipe", "cup", "panel", "brace", "dowel"),
)  # fmt: skip
PASSING_PIPE = replace(  # along the width, through holes in braces, on blocks
    PIPE, name="passing pipe", gap_to=PIPE.gap_to - {"brace", "dowel"}, clear_of=_names("brace", "dowel", "block")
)
RIM = Role(name="rim", within="behind panel", takes_air=True)  # of a flare, as a cylinder as wide as it gets
SOCKET = replace(RIM, name="socket")  # of an elbow, round its pipe
CUP = replace(
    BLOCK,
    name="cup",
    within="behind panel",
    sawn=True,
    gap_to=_names("brace", "dowel", "block", "panel"),
    clear_of=frozenset(),
)
BRACE = Role(name="brace", within="box", takes_air=True, clear_of=_names("brace", "dowel", "block"))
DOWEL = replace(BRACE, name="dowel", within="")  # its ends are in the panels
PANEL = Role(name="panel", cut=Look("cut", 0.16))
LAYER = Role(name="layer")  # the outer one of a double baffle, a part of that panel
HOLE = Role(name="hole", in_panel=True, own="cut", outside="outline")  # round, for what passes a panel
CUTOUT = replace(HOLE, name="cut-out", mounted=True, sawn=True)  # of what is mounted
WINDOW = Role(  # the mouth of a duct in its panel
    name="window", sawn=True, in_panel=True, off_edges=True, trimmed=True,
    above="hidden", own="cut", other="hidden", outside="outline",
)  # fmt: skip
MOUTH = Role(name="mouth", off_edges=True)  # of a pipe, on the outer face
BORE = Role(name="bore", cut=Look("thin"), own="outline", outside="outline")
FLARE = Role(name="flare", sawn=True, cut=Look("outline"))  # the quarter round at an end of a bore
AXIS = Role(name="axis", mounted=True, cut=Look("axis"), end_on=Look("axis"), above="axis")  # of what is mounted
MIDDLE_LINE = Role(name="middle line", cut=Look("axis"), above="axis", other="axis")  # of a vent and the air before it
OUTSIDE_AIR = Role(name="outside air")  # beside the box, before a mouth

# In the order in which pairs are named: "the air before vent 1 and driver 1".
ROLES = (
    DRIVER_FLANGE, RADIATOR_FLANGE, CUP_FLANGE, SEAT, SCREWS, DUCT, DUCT_AIR, FREE_AIR, BASKET, MAGNET, REAR_AIR,
    TERMINALS, RADIATOR, SLOT_BOARD, PIPE, PASSING_PIPE, RIM, SOCKET, CUP, BRACE, DOWEL, BLOCK, PANEL, LAYER,
    CUTOUT, HOLE, WINDOW, MOUTH, BORE, FLARE, AXIS, MIDDLE_LINE, OUTSIDE_AIR,
)  # fmt: skip
RANK = {role.name: rank for rank, role in enumerate(ROLES)}
_UNKNOWN = {name for role in ROLES for name in role.gap_to | role.clear_of} - RANK.keys()
if len(RANK) != len(ROLES) or _UNKNOWN:
    raise RuntimeError(f"roles of bodies: two of one name, or none of {sorted(_UNKNOWN)}")
