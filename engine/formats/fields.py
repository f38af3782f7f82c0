"""What a scenario file may say: every table, its fields, their plausible ranges and what they mean.

The reader checks files against these and the explorer builds its forms from them, so a key is described here and
nowhere else.  Ranges are wide: they catch a slipped unit or digit, not a daring design.
"""

from __future__ import annotations

from engine.acoustics.filling import FILLINGS
from engine.datasheet import CROSS_CHECKED, FULL_POWER, THIELE_SMALL
from engine.facings import FACINGS
from engine.field import Field, SubTable
from engine.formats.listening import AIR, CABIN, CHAIN, FILTER_SHAPE, SOUND_GOALS
from engine.goals import GOALS, Goal
from engine.kinds import KINDS
from engine.openings import OPENINGS

DRIVER = (
    Field("name", "text", "What you call it.", required=True),
    Field("counts", "count", "How many to try in one box, such as 1, 2.", form="list", default=[1], low=1, high=8),
    *THIELE_SMALL,
    *CROSS_CHECKED,
    Field("coils", "count", "Voice coils on one driver.", default=1, low=1, high=4),
    Field("coil_impedance", "resistance", "Nominal impedance of one coil.",
          required=True, low="0.25 ohm", high="64 ohm"),
    Field("stated_wiring", "choice", "How the coils were joined for the sheet's Re and Le.",
          default="parallel", choices=("series", "parallel")),
    Field("outer_diameter", "length", "Over the flange.", required=True, low="80 mm", high="700 mm"),
    Field("cutout_diameter", "length", "Hole in the baffle.", required=True, low="60 mm", high="690 mm"),
    Field("magnet_diameter", "length", "Over the magnet and its boot.", required=True, low="30 mm", high="600 mm"),
    Field("mounting_depth", "length", "From the flange's seat to the rearmost point of the magnet.",
          required=True, low="20 mm", high="500 mm"),
    Field("magnet_depth", "length", "How far the magnet with its boot reaches forward from the rearmost point; "
          "without it the basket is taken to narrow all the way down.", low="5 mm", high="300 mm"),
    Field("rear_gap", "length", "Air that a vent in the pole needs behind the magnet; without it the box's breathing "
          "gap.", low="0 mm", high="150 mm"),
    Field("terminal_depth", "length", "From the flange's seat to the far end of the terminals, if they stand out "
          "beside the basket.", low="5 mm", high="500 mm"),
    Field("displacement", "volume", "Volume one driver takes inside the box.", default="0 L", low="0 L", high="30 L"),
    Field("mass", "mass", "Weight of one driver; needed if weight is an objective.", low="0.1 kg", high="60 kg"),
    Field("price", "price", "Price of one driver; needed if cost is an objective.", low=0, high=100_000),
    *FULL_POWER,
)  # fmt: skip


def _stretch(key: str, words: str, *, required: bool = False) -> Field:
    return Field(key, "length", words, form="range", required=required, low="-5000 mm", high="5000 mm")


def _outside(key: str, what: str) -> Field:
    return Field(key, "length", f"{what} of the box, lowest and highest.", form="range", low="20 mm", high="4000 mm")


def _limit(goal: Goal) -> Field:
    side = "Lowest" if goal.better == "max" else "Highest"
    kind = "price" if goal.kind == "money" else goal.kind
    low, high = goal.plausible
    return Field(goal.key, kind, f"{side} accepted: {goal.label}.{goal.caution}", low=low, high=high)


_FIELDS: dict[str, tuple[Field, ...]] = {
    "": (
        Field("title", "text", "Name of the job.", required=True),
        Field("about", "text", "A sentence or two on the vehicle and the wish."),
        Field("currency", "text", "Three capital letters, such as EUR; needed if anything has a price."),
    ),
    "air": AIR,
    "space": (
        Field("section", "length", "Corners of the free cross-section seen from the side, in order: forward, up. "
              "Forward is the way the baffle faces, from the rearmost point of the space; up is from its floor.",
              form="corners", low="-5000 mm", high="5000 mm"),
        Field("width", "length", "Free width across the vehicle.", required=True, low="100 mm", high="4000 mm"),
        Field("margin", "length", "Kept free all round, of walls and of keep-outs.",
              default="0 mm", low="0 mm", high="200 mm"),
    ),
    "space.measured": (
        Field("height", "length", "Height above the floor; rows go upwards, and two of one height are a level ledge.",
              required=True, low="0 mm", high="5000 mm"),
        Field("back", "length", "How far the back wall stands forward of its rearmost point at that height.",
              default="0 mm", low="0 mm", high="5000 mm"),
        Field("depth", "length", "From the back wall to what bounds the space in front, at that height.",
              required=True, low="0 mm", high="5000 mm"),
    ),
    "space.clearance": tuple(
        Field(side, "length", f"Room kept {where} the box beyond the margin{why}.",
              default="0 mm", low="0 mm", high="1000 mm")
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
        Field("name", "text", "What stands there, such as a wheel arch.", required=True),
        _stretch("across", "From where to where across the width it stands, from the left end of the space, seen "
                 "facing the baffle.", required=True),
        _stretch("forward", "From where to where it stands forward of the rearmost point of the space."),
        _stretch("up", "From where to where it stands above the floor."),
        Field("section", "length", "Corners of its cross-section seen from the side, in order: forward, up. In place "
              "of forward and up.", form="corners", low="-5000 mm", high="5000 mm"),
    ),
    "space.door": (
        Field("width", "length", "Width of the opening the box must go through.",
              required=True, low="100 mm", high="4000 mm"),
        Field("height", "length", "Height of the opening the box must go through.",
              required=True, low="100 mm", high="4000 mm"),
        Field("turning_room", "length", "Widest circle behind the opening in which the box can be turned; without it "
              "there is room enough.", low="100 mm", high="10000 mm"),
    ),
    "box": (
        Field("kinds", "choice", "Kinds of box to try; those with passive radiators need [[radiator]].",
              form="list", default=["closed", "vented"], choices=KINDS),
        Field("fillings", "choice", "Fillings to try in closed boxes: none, walls lined, half filled or filled "
              "loosely with fibres. What they do is an estimate from common practice.",
              form="list", default=["none"], choices=tuple(FILLINGS)),
        Field("facings", "choice", "Where the drivers may sit: in the baffle, in the bottom panel or in the right "
              "side panel.", form="list", default=["front"], choices=FACINGS),
        Field("back_angle", "angle", "Lean of the box's back from upright; positive leans towards the baffle's side "
              "going up.", default="0 deg", low="-60 deg", high="60 deg"),
        Field("ql", "ratio", "Leakage Q of boxes that are not closed; 7 is usual, 5 for a leaky box, 15 for a very "
              "tight one.", default=7, low=1, high=200),
        Field("breathing_gap", "length", "Air kept free around basket, magnet and vents.",
              default="10 mm", low="0 mm", high="100 mm"),
        Field("carpet", "length", "Thickness of what covers the box outside; it takes up space all round.",
              default="0 mm", low="0 mm", high="30 mm"),
        Field("round_over", "length", "Radius of the rounded outer edges, at most the board's thickness; flanges stay "
              "off them.", default="0 mm", low="0 mm", high="40 mm"),
    ),
    "driver": DRIVER,
    "amplifier": (
        Field("name", "text", "What you call it.", required=True),
        Field("lowest_load", "resistance", "Lowest load its maker allows. A lower one can burn it.",
              required=True, low="0.25 ohm", high="32 ohm"),
    ),
    "amplifier.load": (
        Field("impedance", "resistance", "Load on the channel you use.", required=True, low="0.25 ohm", high="32 ohm"),
        Field("power", "power", "Continuous (RMS) power into that load.", required=True, low="1 W", high="20000 W"),
    ),
    "stock": (
        Field("board_thickness", "length", "Thickness as measured, not as named.",
              required=True, low="6 mm", high="40 mm"),
        Field("board_density", "density", "MDF is about 740, birch plywood about 680.",
              default="740 kg/m^3", low="200 kg/m^3", high="1500 kg/m^3"),
        Field("board_price", "price_per_area", "Price of the board by area; needed if cost is an objective.",
              low=0, high=10_000),
        Field("brace_span", "length", "Widest panel left without a brace; empty: follows from the board's thickness.",
              low="100 mm", high="2000 mm"),
    ),
    "stock.terminal_cup": (
        Field("cutout_diameter", "length", "Hole for the cup that takes the cable through a panel.",
              required=True, low="15 mm", high="250 mm"),
        Field("flange_diameter", "length", "Over the cup's flange; over its corners if it is square.",
              required=True, low="20 mm", high="300 mm"),
        Field("depth", "length", "From the panel's outer face to the rearmost point of cup and terminals.",
              required=True, low="5 mm", high="200 mm"),
    ),
    "filter": (
        Field("kind", "choice", "Infrasonic high-pass, or none.", required=True, choices=("none", "highpass")),
        *FILTER_SHAPE,
        Field("frequency", "frequency", "Range of its frequency to try, lowest and highest; of a Butterworth where it "
              "is 3 dB down.", form="range", low="5 Hz", high="100 Hz"),
    ),
    "chain": CHAIN,
    "cabin": CABIN,
    "bounds": (
        _outside("outer_width", "Outer width"),
        _outside("outer_height", "Outer height"),
        _outside("top_depth", "Outer depth at the top"),
        _outside("bottom_depth", "Outer depth at the bottom"),
        Field("tuning", "frequency", "Tuning of vented boxes and of those with passive radiators, lowest and highest.",
              form="range", low="8 Hz", high="150 Hz"),
    ),
    "search": (Field("evaluations", "count", "Designs to try.", default=400_000, low=500, high=50_000_000),),
}  # fmt: skip

_TABLES: dict[str, tuple[SubTable, ...]] = {
    "": (
        SubTable("air"),
        SubTable("space", required=True),
        SubTable("box"),
        SubTable("driver", many=True, required=True),
        SubTable("amplifier", required=True),
        SubTable("stock", required=True),
        SubTable("filter", many=True),
        SubTable("chain"),
        SubTable("cabin"),
        SubTable("goals"),
        SubTable("bounds"),
        SubTable("search"),
    ),
    "space": (SubTable("measured", many=True), SubTable("clearance"), SubTable("keepout", many=True), SubTable("door")),
    "amplifier": (SubTable("load", many=True, required=True),),
    "stock": (SubTable("terminal_cup"),),
    "goals": (SubTable("limits"),),
}

FIELDS: dict[str, tuple[Field, ...]] = {}
TABLES: dict[str, tuple[SubTable, ...]] = {}


@GOALS.followed
@OPENINGS.followed
def _fill() -> None:
    """What a job may say of its goals and list for its openings, beside the rest."""
    default = [goal.key for goal in GOALS.records if goal.default]
    words = "What to trade against each other; at least two."
    objectives = Field("objectives", "choice", words, form="list", default=default, choices=tuple(GOALS))
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
            inner.insert(place, SubTable(key, many=opening.table.many))
            TABLES[parent] = tuple(inner)
            FIELDS[opening.table.path] = opening.table.fields
