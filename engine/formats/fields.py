"""What a scenario file may say: every table, its fields, their plausible ranges and what they mean.

The reader checks files against these and the explorer builds its forms from them, so a key is
described here and nowhere else.  Ranges are wide: they catch a slipped unit or digit, not a
daring design.
"""

from __future__ import annotations

from engine.acoustics.filling import FILLINGS
from engine.datasheet import CROSS_CHECKED, FULL_POWER, THIELE_SMALL
from engine.facings import FACINGS
from engine.field import Field, SubTable
from engine.formats.design import AIR, SOUND_GOALS
from engine.formats.listening import CABIN, CHAIN, FILTER_SHAPE
from engine.goals import GOALS, Goal
from engine.kinds import KINDS
from engine.openings import OPENINGS

DRIVER = (
    Field(key="name", kind="text", required=True, help="What you call it."),
    Field(
        key="counts",
        kind="count",
        form="list",
        default=[1],
        low=1,
        high=8,
        help="How many to try in one box, such as 1, 2.",
    ),
    *THIELE_SMALL,
    *CROSS_CHECKED,
    Field(key="coils", kind="count", default=1, low=1, high=4, help="Voice coils on one driver."),
    Field(
        key="coil_impedance",
        kind="resistance",
        required=True,
        low="0.25 ohm",
        high="64 ohm",
        help="Nominal impedance of one coil.",
    ),
    Field(
        key="stated_wiring",
        kind="choice",
        default="parallel",
        choices=("series", "parallel"),
        help="How the coils were joined for the sheet's Re and Le.",
    ),
    Field(
        key="outer_diameter",
        kind="length",
        required=True,
        low="80 mm",
        high="700 mm",
        help="Over the flange.",
    ),
    Field(
        key="cutout_diameter",
        kind="length",
        required=True,
        low="60 mm",
        high="690 mm",
        help="Hole in the baffle.",
    ),
    Field(
        key="magnet_diameter",
        kind="length",
        required=True,
        low="30 mm",
        high="600 mm",
        help="Over the magnet and its boot.",
    ),
    Field(
        key="mounting_depth",
        kind="length",
        required=True,
        low="20 mm",
        high="500 mm",
        help="From the flange's seat to the rearmost point of the magnet.",
    ),
    Field(
        key="magnet_depth",
        kind="length",
        low="5 mm",
        high="300 mm",
        help="How far the magnet with its boot reaches forward from the rearmost point; without it the basket is "
        "taken to narrow all the way down.",
    ),
    Field(
        key="rear_gap",
        kind="length",
        low="0 mm",
        high="150 mm",
        help="Air that a vent in the pole needs behind the magnet; without it the box's breathing gap.",
    ),
    Field(
        key="terminal_depth",
        kind="length",
        low="5 mm",
        high="500 mm",
        help="From the flange's seat to the far end of the terminals, if they stand out beside the basket.",
    ),
    Field(
        key="displacement",
        kind="volume",
        default="0 L",
        low="0 L",
        high="30 L",
        help="Volume one driver takes inside the box.",
    ),
    Field(
        key="mass",
        kind="mass",
        low="0.1 kg",
        high="60 kg",
        help="Weight of one driver; needed if weight is an objective.",
    ),
    Field(
        key="price",
        kind="price",
        low=0,
        high=100_000,
        help="Price of one driver; needed if cost is an objective.",
    ),
    *FULL_POWER,
)


def _stretch(key: str, words: str, *, required: bool = False) -> Field:
    return Field(key=key, kind="length", form="range", required=required, low="-5000 mm", high="5000 mm", help=words)


def _outside(key: str, what: str) -> Field:
    return Field(
        key=key,
        kind="length",
        form="range",
        low="20 mm",
        high="4000 mm",
        help=f"{what} of the box, lowest and highest.",
    )


def _limit(goal: Goal) -> Field:
    side = "Lowest" if goal.better == "max" else "Highest"
    kind = "price" if goal.kind == "money" else goal.kind
    low, high = goal.plausible
    return Field(key=goal.key, kind=kind, low=low, high=high, help=f"{side} accepted: {goal.label}.{goal.caution}")


_FIELDS: dict[str, tuple[Field, ...]] = {
    "": (
        Field(key="title", kind="text", required=True, help="Name of the job."),
        Field(key="about", kind="text", help="A sentence or two on the vehicle and the wish."),
        Field(
            key="currency",
            kind="text",
            help="Three capital letters, such as EUR; needed if anything has a price.",
        ),
    ),
    "air": AIR,
    "space": (
        Field(
            key="section",
            kind="length",
            form="corners",
            low="-5000 mm",
            high="5000 mm",
            help="Corners of the free cross-section seen from the side, in order: forward, up. Forward is "
            "the way the baffle faces, from the rearmost point of the space; up is from its floor.",
        ),
        Field(
            key="width",
            kind="length",
            required=True,
            low="100 mm",
            high="4000 mm",
            help="Free width across the vehicle.",
        ),
        Field(
            key="margin",
            kind="length",
            default="0 mm",
            low="0 mm",
            high="200 mm",
            help="Kept free all round, of walls and of keep-outs.",
        ),
    ),
    "space.measured": (
        Field(
            key="height",
            kind="length",
            required=True,
            low="0 mm",
            high="5000 mm",
            help="Height above the floor; rows go upwards, and two of one height are a level ledge.",
        ),
        Field(
            key="back",
            kind="length",
            default="0 mm",
            low="0 mm",
            high="5000 mm",
            help="How far the back wall stands forward of its rearmost point at that height.",
        ),
        Field(
            key="depth",
            kind="length",
            required=True,
            low="0 mm",
            high="5000 mm",
            help="From the back wall to what bounds the space in front, at that height.",
        ),
    ),
    "space.clearance": tuple(
        Field(
            key=side,
            kind="length",
            default="0 mm",
            low="0 mm",
            high="1000 mm",
            help=f"Room kept {where} the box beyond the margin{why}.",
        )
        for side, where, why in (
            ("back", "behind", ""),
            ("front", "in front of", ", such as a seat's travel"),
            ("bottom", "below", ", such as for a battery's terminals"),
            ("top", "above", ", such as for a lid or a hand"),
            ("left", "on the left of", ", seen facing the baffle"),
            ("right", "on the right of", ", seen facing the baffle"),
        )
    ),
    "space.keepout": (
        Field(key="name", kind="text", required=True, help="What stands there, such as a wheel arch."),
        _stretch(
            "across",
            "From where to where across the width it stands, from the left end of the space, seen facing the baffle.",
            required=True,
        ),
        _stretch("forward", "From where to where it stands forward of the rearmost point of the space."),
        _stretch("up", "From where to where it stands above the floor."),
        Field(
            key="section",
            kind="length",
            form="corners",
            low="-5000 mm",
            high="5000 mm",
            help="Corners of its cross-section seen from the side, in order: forward, up. In place of forward and up.",
        ),
    ),
    "space.door": (
        Field(
            key="width",
            kind="length",
            required=True,
            low="100 mm",
            high="4000 mm",
            help="Width of the opening the box must go through.",
        ),
        Field(
            key="height",
            kind="length",
            required=True,
            low="100 mm",
            high="4000 mm",
            help="Height of the opening the box must go through.",
        ),
        Field(
            key="turning_room",
            kind="length",
            low="100 mm",
            high="10000 mm",
            help="Widest circle behind the opening in which the box can be turned; without it there is room enough.",
        ),
    ),
    "box": (
        Field(
            key="kinds",
            kind="choice",
            form="list",
            default=["closed", "vented"],
            choices=KINDS,
            help="Kinds of box to try; those with passive radiators need [[radiator]].",
        ),
        Field(
            key="fillings",
            kind="choice",
            form="list",
            default=["none"],
            choices=tuple(FILLINGS),
            help="Fillings to try in closed boxes: none, walls lined, half filled or filled loosely with fibres. What "
            "they do is an estimate from common practice.",
        ),
        Field(
            key="facings",
            kind="choice",
            form="list",
            default=["front"],
            choices=FACINGS,
            help="Where the drivers may sit: in the baffle, in the bottom panel or in the right side panel.",
        ),
        Field(
            key="back_angle",
            kind="angle",
            default="0 deg",
            low="-60 deg",
            high="60 deg",
            help="Lean of the box's back from upright; positive leans towards the baffle's side going up.",
        ),
        Field(
            key="ql",
            kind="ratio",
            default=7,
            low=1,
            high=200,
            help="Leakage Q of boxes that are not closed; 7 is usual, 5 for a leaky box, 15 for a very tight one.",
        ),
        Field(
            key="breathing_gap",
            kind="length",
            default="10 mm",
            low="0 mm",
            high="100 mm",
            help="Air kept free around basket, magnet and vents.",
        ),
        Field(
            key="carpet",
            kind="length",
            default="0 mm",
            low="0 mm",
            high="30 mm",
            help="Thickness of what covers the box outside; it takes up space all round.",
        ),
        Field(
            key="round_over",
            kind="length",
            default="0 mm",
            low="0 mm",
            high="40 mm",
            help="Radius of the rounded outer edges, at most the board's thickness; flanges stay off them.",
        ),
    ),
    "driver": DRIVER,
    "amplifier": (
        Field(key="name", kind="text", required=True, help="What you call it."),
        Field(
            key="lowest_load",
            kind="resistance",
            required=True,
            low="0.25 ohm",
            high="32 ohm",
            help="Lowest load its maker allows. A lower one can burn it.",
        ),
    ),
    "amplifier.load": (
        Field(
            key="impedance",
            kind="resistance",
            required=True,
            low="0.25 ohm",
            high="32 ohm",
            help="Load on the channel you use.",
        ),
        Field(
            key="power",
            kind="power",
            required=True,
            low="1 W",
            high="20000 W",
            help="Continuous (RMS) power into that load.",
        ),
    ),
    "stock": (
        Field(
            key="board_thickness",
            kind="length",
            required=True,
            low="6 mm",
            high="40 mm",
            help="Thickness as measured, not as named.",
        ),
        Field(
            key="board_density",
            kind="density",
            default="740 kg/m^3",
            low="200 kg/m^3",
            high="1500 kg/m^3",
            help="MDF is about 740, birch plywood about 680.",
        ),
        Field(
            key="board_price",
            kind="price_per_area",
            low=0,
            high=10_000,
            help="Price of the board by area; needed if cost is an objective.",
        ),
        Field(
            key="brace_span",
            kind="length",
            low="100 mm",
            high="2000 mm",
            help="Widest panel left without a brace; empty: follows from the board's thickness.",
        ),
    ),
    "stock.terminal_cup": (
        Field(
            key="cutout_diameter",
            kind="length",
            required=True,
            low="15 mm",
            high="250 mm",
            help="Hole for the cup that takes the cable through a panel.",
        ),
        Field(
            key="flange_diameter",
            kind="length",
            required=True,
            low="20 mm",
            high="300 mm",
            help="Over the cup's flange; over its corners if it is square.",
        ),
        Field(
            key="depth",
            kind="length",
            required=True,
            low="5 mm",
            high="200 mm",
            help="From the panel's outer face to the rearmost point of cup and terminals.",
        ),
    ),
    "filter": (
        Field(
            key="kind",
            kind="choice",
            required=True,
            choices=("none", "highpass"),
            help="Infrasonic high-pass, or none.",
        ),
        *FILTER_SHAPE,
        Field(
            key="frequency",
            kind="frequency",
            form="range",
            low="5 Hz",
            high="100 Hz",
            help="Range of its frequency to try, lowest and highest; of a Butterworth where it is 3 dB down.",
        ),
    ),
    "chain": CHAIN,
    "cabin": CABIN,
    "bounds": (
        _outside("outer_width", "Outer width"),
        _outside("outer_height", "Outer height"),
        _outside("top_depth", "Outer depth at the top"),
        _outside("bottom_depth", "Outer depth at the bottom"),
        Field(
            key="tuning",
            kind="frequency",
            form="range",
            low="8 Hz",
            high="150 Hz",
            help="Tuning of vented boxes and of those with passive radiators, lowest and highest.",
        ),
    ),
    "search": (
        Field(key="evaluations", kind="count", default=400_000, low=500, high=50_000_000, help="Designs to try."),
    ),
}

_TABLES: dict[str, tuple[SubTable, ...]] = {
    "": (
        SubTable(key="air"),
        SubTable(key="space", required=True),
        SubTable(key="box"),
        SubTable(key="driver", many=True, required=True),
        SubTable(key="amplifier", required=True),
        SubTable(key="stock", required=True),
        SubTable(key="filter", many=True),
        SubTable(key="chain"),
        SubTable(key="cabin"),
        SubTable(key="goals"),
        SubTable(key="bounds"),
        SubTable(key="search"),
    ),
    "space": (
        SubTable(key="measured", many=True),
        SubTable(key="clearance"),
        SubTable(key="keepout", many=True),
        SubTable(key="door"),
    ),
    "amplifier": (SubTable(key="load", many=True, required=True),),
    "stock": (SubTable(key="terminal_cup"),),
    "goals": (SubTable(key="limits"),),
}

FIELDS: dict[str, tuple[Field, ...]] = {}
TABLES: dict[str, tuple[SubTable, ...]] = {}


@GOALS.followed
@OPENINGS.followed
def _fill() -> None:
    """What a job may say of its goals and list for its openings, beside the rest."""
    objectives = Field(
        key="objectives",
        kind="choice",
        form="list",
        default=[goal.key for goal in GOALS.records if goal.default],
        choices=tuple(GOALS),
        help="What to trade against each other; at least two.",
    )
    FIELDS.clear()
    FIELDS.update(_FIELDS)
    TABLES.clear()
    TABLES.update(_TABLES)
    FIELDS["goals"] = (*SOUND_GOALS, objectives)
    FIELDS["goals.limits"] = tuple(map(_limit, GOALS.records))
    for opening in OPENINGS.records:
        FIELDS["bounds"] += tuple(field for field, _ in opening.bounds)
        if opening.table is not None:
            parent, _, key = opening.table.path.rpartition(".")
            inner = list(TABLES[parent])
            place = [each.key for each in inner].index(opening.table.before)
            inner.insert(place, SubTable(key=key, many=opening.table.many))
            TABLES[parent] = tuple(inner)
            FIELDS[opening.table.path] = opening.table.fields
