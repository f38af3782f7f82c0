"""What a scenario file may say: every table, its fields, their plausible ranges and what they mean.

The reader checks files against these and the explorer builds its forms from them, so a key is described here and
nowhere else.  Ranges are wide: they catch a slipped unit or digit, not a daring design.
"""

from __future__ import annotations

from dataclasses import replace

from engine.acoustics.filling import FILLINGS
from engine.datasheet import CROSS_CHECKED, FULL_POWER, SCREWS, THIELE_SMALL
from engine.facings import FACINGS
from engine.field import Field, SubTable
from engine.formats.listening import AIR, CABIN, CHAIN, CREST_FACTOR, FILTER, FILTER_SHAPE, SOUND_GOALS
from engine.goals import GOALS, Goal, default_objectives
from engine.kinds import KINDS
from engine.openings import OPENINGS
from engine.openings.pipe import OUTLETS
from engine.parts import FLUSHED, GRAINS
from engine.scenario import BAFFLES, DRIVES, JOINT_ORDERS
from engine.tolerances import TOLERANCES
from engine.wiring import COIL_JOINS, DRIVER_JOINS

DRIVER = (
    Field("name", "text", "What you call it.", required=True),
    Field("counts", "count", "How many to try in one box, such as 1, 2.", 1, 8, form="list", default=[1]),
    *THIELE_SMALL,
    *CROSS_CHECKED,
    Field("coils", "count", "Voice coils on one driver.", 1, 4, default=1),
    Field("coil_impedance", "resistance", "Nominal impedance of one coil.", "0.25 ohm", "64 ohm", required=True),
    Field("stated_wiring", "choice", "How the coils were joined for the sheet's Re and Le.", default="parallel",
          choices=("series", "parallel")),
    Field("coil_wirings", "choice", "How the coils of one driver may be joined.", form="list",
          default=list(COIL_JOINS), choices=COIL_JOINS),
    Field("driver_wirings", "choice", "How several may be joined; mixed is strings in parallel of drivers in series.",
          form="list", default=list(DRIVER_JOINS), choices=DRIVER_JOINS),
    Field("outer_diameter", "length", "Over the flange.", "80 mm", "700 mm", required=True),
    Field("cutout_diameter", "length", "Hole in the baffle.", "60 mm", "690 mm", required=True),
    Field("magnet_diameter", "length", "Over the magnet and its boot.", "30 mm", "600 mm", required=True),
    Field("mounting_depth", "length", "From the flange's seat to the rearmost point of the magnet.", "20 mm", "500 mm",
          required=True),
    Field("magnet_depth", "length", "How far the magnet with its boot reaches forward from the rearmost point; without "
          "it the basket is taken to narrow all the way down.", "5 mm", "300 mm"),
    Field("rear_gap", "length",
          "Air that a vent in the pole needs behind the magnet; without it the box's breathing gap.", "0 mm", "150 mm"),
    Field("terminal_depth", "length", "From the flange's seat to the far end of the terminals, if they stand out "
          "beside the basket.", "5 mm", "500 mm"),
    Field("front_height", "length", "How far flange and surround stand out before the panel while the cone rests.",
          "0 mm", "80 mm", default="12 mm"),
    Field("displacement", "volume", "Volume one driver takes inside the box.", "0 L", "30 L", default="0 L"),
    Field("mass", "mass", "Weight of one driver; needed if weight is an objective.", "0.1 kg", "60 kg"),
    Field("price", "price", "Price of one driver; needed if cost is an objective.", 0, 100_000),
    *SCREWS,
    Field("screw_angle", "angle", "From the terminals round to the next screw, seen from the front; without it the "
          "terminals lie midway between two.", "0 deg", "120 deg"),
    *FULL_POWER,
)  # fmt: skip


def _stretch(key: str, words: str, *, required: bool = False) -> Field:
    return Field(key, "length", words, form="range", required=required, low="-5000 mm", high="5000 mm")


def _outside(key: str, what: str) -> Field:
    return Field(key, "length", f"{what} of the box, lowest and highest.", form="range", low="20 mm", high="4000 mm")


def _size(key: str, words: str, kind: str = "length", low: str = "10 mm", high: str = "5000 mm") -> Field:
    return Field(key, kind, words, low=low, high=high)


# Sizes of a box as somebody states them, see engine.space.sizes.
SIZES = (
    _size("outer_width", "Width over the boards."),
    _size("inside_width", "Width between the boards."),
    _size("outer_height", "Height over the boards."),
    _size("inside_height", "Height between the boards."),
    _size("top_depth", "Depth over the boards at the top, measured level."),
    _size("inside_top_depth", "Depth between the boards at the top, measured level."),
    _size("bottom_depth", "Depth over the boards at the bottom, measured level."),
    _size("inside_bottom_depth", "Depth between the boards at the bottom, measured level."),
    _size("baffle_angle", "Lean of the baffle from upright, positive where it leans back going up; in place of a "
          "depth.", "angle", "-80 deg", "80 deg"),
)  # fmt: skip
GIVEN = (
    Field("kind", "choice", "Kind of box.", required=True, choices=KINDS),
    Field("driver", "text", "Name of its driver among those listed."),
    Field("count", "count", "Drivers in the box.", default=1, low=1, high=8),
    Field("facing", "choice", "Where the drivers sit.", default="front", choices=FACINGS),
    Field("baffle", "choice", "One layer of board or two.", default="single", choices=BAFFLES),
    *SIZES,
    _size("inside_volume", "Volume between the boards with nothing in it, in place of one of the sizes, which is then "
          "worked out.", "volume", "0.5 L", "5000 L"),
    Field("load", "resistance", "Load on the amplifier, by which the wiring is known; without it that of most power.",
          "0.25 ohm", "64 ohm"),
    Field("filling", "choice", "What fills a closed box.", default="none", choices=tuple(FILLINGS)),
    Field("tuning", "frequency", "Tuning of a vented box or one with passive radiators; or what is built for "
          "it.", "5 Hz", "200 Hz"),
)  # fmt: skip

_UP = Field("up", "length", "Height of a corner or centre.", "-5000 mm", "5000 mm")
# What is built for a given box, piece by piece, in its axes: across from the left outer face as seen facing the baffle,
# forward and up from the lower rear edge.
BUILT = (
    Field("name", "text", "What the piece is called.", required=True),
    Field("panel", "text", "The panel that it is in or goes through."),
    Field("across", "length", "From where to where across the width it reaches.", "-5000 mm", "5000 mm", form="pair",
          required=True),
    Field("section", "length", "Corners of a board or an opening, forward and up.", "-5000 mm", "5000 mm",
          form="points", against=_UP),
    Field("centres", "length", "Centres of both ends of what is round, forward and up.", "-5000 mm", "5000 mm",
          form="points", against=_UP),
    Field("diameters", "length", "Diameters at both ends of what is round.", "0 mm", "1000 mm", form="pair"),
    Field("bend_radius", "length", "Of a bend along its centre line.", "0 mm", "2000 mm"),
)  # fmt: skip
GIVEN_TABLE, BUILT_TABLE = "given", "built"
SHEET, CUTTING = "build.sheet", "build.cutting"


def limit_field(goal: Goal) -> Field:
    """What may stand where a job limits a goal."""
    side = "Lowest" if goal.better == "max" else "Highest"
    kind = "price" if goal.kind == "money" else goal.kind
    low, high = goal.plausible
    return Field(goal.key, kind, f"{side} accepted: {goal.label}.{goal.caution}", low=low, high=high)


_FIELDS: dict[str, tuple[Field, ...]] = {
    "": (
        Field("title", "text", "Name of the job.", required=True),
        Field("about", "text", "A sentence or two on the vehicle and the wish.", prose=True),
        Field("currency", "text", "Three capital letters, such as EUR; needed if anything has a price."),
    ),
    "air": AIR,
    "space": (
        Field("section", "length", "Corners of the free cross-section seen from the side, in order: forward, up. "
              "Forward is the way the baffle faces, from the rearmost point of the space; up is from its floor.",
              "-5000 mm", "5000 mm", form="corners"),
        Field("width", "length", "Free width across the vehicle.", "100 mm", "4000 mm", required=True),
        Field("margin", "length", "Kept free all round, of walls and of keep-outs.", "0 mm", "200 mm", default="0 mm"),
    ),
    "space.measured": (
        Field("height", "length", "Height above the floor; rows go upwards, and two of one height are a level ledge.",
              "0 mm", "5000 mm", required=True),
        Field("back", "length", "How far the back wall stands forward of its rearmost point at that height.",
              "0 mm", "5000 mm", default="0 mm"),
        Field("depth", "length", "From the back wall to what bounds the space in front, at that height.",
              "0 mm", "5000 mm", required=True),
    ),
    "space.clearance": tuple(
        Field(side, "length", f"Room kept {where} the box beyond the margin{why}.", "0 mm", "1000 mm", default="0 mm")
        for side, where, why in (
            ("back", "behind", ""),
            ("front", "in front of", ", such as a seat's travel"),
            ("bottom", "below", ", such as for a battery's terminals"),
            ("top", "above", ", such as for a lid or a hand"),
            ("left", "on the left of", ", seen facing the baffle"),
            ("right", "on the right of", ", seen facing the baffle"),
        )
    ),
    "space.openness": tuple(
        Field(side, "ratio", f"Share of {what} that lets air through into the cabin: gaps, grilles, thin cloth; 0 is "
              "shut, 1 nothing there.", default=share, low=0, high=1)
        for side, what, share in (
            ("front", "what bounds the space in front", 0),
            ("top", "what is above the space", 1),
            ("left", "its left end", 0),
            ("right", "its right end", 0),
        )
    ),
    "space.keepout": (
        Field("name", "text", "What stands there, such as a wheel arch.", required=True),
        _stretch("across", "From where to where across the width it stands, from the left end of the space, seen "
                 "facing the baffle.", required=True),
        _stretch("forward", "From where to where it stands forward of the rearmost point of the space."),
        _stretch("up", "From where to where it stands above the floor."),
        Field("section", "length", "Corners of its cross-section seen from the side, in order: forward, up. In place "
              "of forward and up.", "-5000 mm", "5000 mm", form="corners"),
    ),
    "space.door": (
        Field("width", "length", "Width of the opening the box must go through.", "100 mm", "4000 mm", required=True),
        Field("height", "length", "Height of the opening the box must go through.", "100 mm", "4000 mm", required=True),
        Field("turning_room", "length", "Widest circle behind the opening in which the box can be turned; without it "
              "there is room enough.", "100 mm", "10000 mm"),
    ),
    "box": (
        Field("kinds", "choice", "Kinds of box to try; passive radiators have to be listed.", form="list",
              default=["closed", "vented"], choices=KINDS),
        Field("fillings", "choice", "Fillings to try in closed boxes: none, walls lined, half filled or filled loosely "
              "with fibres.", form="list", default=["none"],
              choices=tuple(FILLINGS)),
        Field("facings", "choice", "Where the drivers may sit: in the baffle, in the bottom panel, in the right side "
              "panel or in the top panel.", form="list", default=["front"], choices=FACINGS),
        Field("baffles", "choice", "Baffles to try: one layer of board, or two glued together where drivers sit in the "
              "baffle.", form="list", default=["single"], choices=BAFFLES),
        Field("pipe_outlets", "choice", "Where pipes may go out: through the left side or the drivers' panel, or "
              "through the top, which needs a bore of free height above the box.", form="list",
              default=[OUTLETS[0]], choices=OUTLETS),
        Field("baffle_recess", "length", "How deep the flanges of drivers and passive radiators are sunk into their "
              "panel.", "0 mm", "40 mm", default="0 mm"),
        Field("back_angle", "angle", "Lean of the box's back from upright; positive leans towards the baffle's side "
              "going up.", "-60 deg", "60 deg", default="0 deg"),
        Field("ql", "ratio", "Leakage Q of boxes that are not closed; 7 is usual, 5 for a leaky box, 15 for a very "
              "tight one.", 1, 200, default=7),
        Field("breathing_gap", "length", "Air kept free around basket, magnet and vents.", "0 mm", "100 mm",
              default="10 mm"),
        Field("carpet", "length", "Thickness of what covers the box outside; it takes up space all round.",
              "0 mm", "30 mm", default="0 mm"),
        Field("round_over", "length", "Radius of the rounded outer edges, at most the board's thickness; flanges stay "
              "off them.", "0 mm", "40 mm", default="0 mm"),
        Field("joint_distance", "length", "Least wood between the screws of a flange and a joint or a brace; flanges "
              "then keep off joints too. 0: they may lie over them.", "0 mm", "50 mm", default="10 mm"),
        Field("least_depth", "length", "Least depth inside, from back to baffle, at the box's thin end.",
              "1 mm", "500 mm", default="40 mm"),
    ),
    "saw": (
        Field("most_bevel", "angle", "How far the saw's blade tilts: no panel slants further from upright.",
              "0 deg", "60 deg", default="45 deg"),
        Field("angle_step", "angle", "In what steps its tilt is set; slants are whole steps.",
              "0.05 deg", "15 deg", default="0.5 deg"),
        Field("size_step", "length", "In what steps boards are cut; outside sizes are whole steps.", "0.7 mm", "1 in"),
    ),
    "build": (
        Field("joints", "choice", "Which panels cover the edges of which: the sides those of all others, or the baffle "
              "those of sides, bottom and top. The outside stays the same.",
              default=JOINT_ORDERS[0], choices=JOINT_ORDERS),
        Field("board_thickness", "length", "Thickness of the board that was bought, as measured; all sizes follow, "
              "those over the boards stay. Without it the stock's.", "6 mm", "40 mm"),
        Field("baffle_layer", "length", "Thickness of the second layer of a double baffle that was bought, as "
              "measured. Without it the stock's.", "3 mm", "40 mm"),
        Field("glue_strip", "length", "Side of the square strips glued into the inner corners wherever nothing is in "
              "their way; they take up room. 0: none.", "0 mm", "60 mm", default="0 mm"),
    ),
    SHEET: (
        Field("name", "text", "What you call it.", default="sheet"),
        Field("length", "length", "Its longer side.", "100 mm", "6000 mm", default="2440 mm"),
        Field("width", "length", "Its shorter side.", "50 mm", "3000 mm", default="1220 mm"),
        Field("thickness", "length", "By its name; empty: that of the box's board.", "3 mm", "40 mm"),
        Field("price", "price", "Of one; nothing for an offcut. Whole sheets count in what a build costs, while a "
              "search counts board by its area.", 0, 100_000),
        Field("count", "count", "How many there are; 0: as many as it takes.", 0, 50, default=0),
        Field("grain", "choice", "Which way its grain runs; none for MDF. It then runs level round the box: across "
              "the baffle, forward in the sides. Boards inside may lie as they come.", default=GRAINS[0],
              choices=GRAINS),
    ),
    CUTTING: (
        Field("kerf", "length", "Width of the saw's cut.", "0.5 mm", "8 mm", default="3.2 mm", default_us="1/8 in"),
        Field("trim", "length", "Cut off each edge of a sheet first, since edges arrive knocked and not straight.",
              "0 mm", "50 mm", default="5 mm", default_us="1/4 in"),
        Field("allowance", "length", "How much larger a blank is wherever it is cut again.", "1 mm", "20 mm",
              default="3 mm", default_us="1/8 in"),
        Field("shortest", "length", "Shortest piece that is ripped by itself; shorter ones are cut from a longer strip "
              "and parted last. See the saw's manual.", "150 mm", "1000 mm", default="300 mm", default_us="12 in"),
        Field("narrowest", "length", "Narrowest piece between fence and blade; narrower ones fall off on the free "
              "side. See the saw's manual.", "20 mm", "200 mm", default="50 mm", default_us="2 in"),
        Field("reach", "length", "How far the fence goes from the blade.", "200 mm", "2000 mm",
              default="760 mm", default_us="30 in"),
        Field("sled", "length", "Widest piece that the crosscut sled takes.", "200 mm", "1500 mm",
              default="600 mm", default_us="24 in"),
        Field("depth", "length", "Thickest board that the blade cuts through while it is tilted to 45°.", "10 mm",
              "150 mm", default="50 mm", default_us="2 in"),
        Field("flushed", "choice", "What is cut over-size and trimmed flush with a router once it is glued on; only "
              "boards with square edges.", default=FLUSHED[0], choices=FLUSHED),
        Field("flush", "length", "By how much it is then larger, all round.", "0.5 mm", "20 mm",
              default="3 mm", default_us="1/8 in"),
        Field("shared_bevels", "choice", "Whether boards may lie bevel to bevel in one strip, so that one cut "
              "makes both slopes.", default="yes", choices=("yes", "no")),
    ),
    "driver": DRIVER,
    "amplifier": (
        Field("name", "text", "What you call it.", required=True),
        Field("lowest_load", "resistance", "Lowest load its maker allows. A lower one can burn it.",
              "0.25 ohm", "32 ohm", required=True),
        replace(CREST_FACTOR, default="6 dB"),
        Field("wirings", "choice", "Of the wirings allowed, try the one of most power that amplifier and drivers are "
              "rated for, or each.", default="best", choices=("best", "each")),
    ),
    "amplifier.load": (
        Field("impedance", "resistance", "Load on the channel you use.", "0.25 ohm", "32 ohm", required=True),
        Field("power", "power", "Continuous (RMS) power into that load.", "1 W", "20000 W", required=True),
    ),
    "stock": (
        Field("board_thickness", "length", "Thickness as measured, not as named.", "6 mm", "40 mm", required=True),
        Field("baffle_layer", "length", "Thickness of the second layer of a double baffle; without it the board's.",
              "3 mm", "40 mm"),
        Field("board_density", "density", "MDF is about 740 kg/m³ (46 lb/ft³), birch plywood about 680 kg/m³ (42 "
              "lb/ft³).", "200 kg/m^3", "1500 kg/m^3", default="740 kg/m^3"),
        Field("board_price", "price_per_area", "Price of the board by area; needed if cost is an objective.",
              0, 10_000),
        Field("brace_span", "length", "Widest panel left without a brace; empty: follows from the board's thickness.",
              "100 mm", "2000 mm"),
    ),
    "stock.terminal_cup": (
        Field("cutout_diameter", "length", "Hole for the cup that takes the cable through a panel.", "15 mm", "250 mm",
              required=True),
        Field("flange_diameter", "length", "Over the cup's flange; over its corners if it is square.",
              "20 mm", "300 mm", required=True),
        Field("depth", "length", "From the panel's outer face to the rearmost point of cup and terminals.",
              "5 mm", "200 mm", required=True),
        Field("room", "length", "Room for plug and cable before it, outside; margin and clearance on the right of the "
              "box count towards it. Without it 40 mm (1 9/16 in).", "0 mm", "300 mm"),
    ),
    "filter": (
        Field("kind", "choice", "Infrasonic high-pass, or none.", required=True, choices=("none", "highpass")),
        *FILTER_SHAPE,
        Field("frequency", "frequency", "Range of its frequency to try, lowest and highest; of a Butterworth where it "
              "is 3 dB down.", "5 Hz", "100 Hz", form="range"),
    ),
    "chain": CHAIN,
    "cabin": CABIN,
    "bounds": (
        _outside("outer_width", "Outer width"),
        _outside("outer_height", "Outer height"),
        _outside("top_depth", "Outer depth at the top"),
        _outside("bottom_depth", "Outer depth at the bottom"),
        Field("tuning", "frequency", "Tuning of vented boxes and of those with passive radiators, lowest and highest.",
              "8 Hz", "150 Hz", form="range"),
    ),
    "held": SIZES,
    "given.filter": FILTER,
    BUILT_TABLE: BUILT,
    "tolerance": tuple(each.field for each in TOLERANCES.records),
    "search": (Field("evaluations", "count", "Designs to try.", default=200_000, low=500, high=50_000_000),),
}  # fmt: skip

_TABLES: dict[str, tuple[SubTable, ...]] = {
    "": (
        SubTable("air"), SubTable("space", required=True), SubTable("box"),
        SubTable("driver", many=True, required=True), SubTable("amplifier", required=True),
        SubTable("stock", required=True), SubTable("saw"), SubTable("build"), SubTable("filter", many=True),
        *(SubTable(key) for key in ("chain", "cabin", "goals", "bounds", "held", "tolerance", "search", GIVEN_TABLE)),
        SubTable(BUILT_TABLE, many=True),
    ),
    GIVEN_TABLE: (SubTable("filter"),),
    "space": (
        SubTable("measured", many=True),
        SubTable("clearance"),
        SubTable("openness"),
        SubTable("keepout", many=True),
        SubTable("door"),
    ),
    "amplifier": (SubTable("load", many=True, required=True),),
    "stock": (SubTable("terminal_cup"),),
    "build": (SubTable("sheet", many=True), SubTable("cutting")),
    "goals": (SubTable("limits"),),
}  # fmt: skip

_DRIVE = Field(
    "drive", "choice", "Held: each design is turned down, one setting of the gain, until it holds its limits wherever "
    "it is fed. Full power: it is judged at all that the amplifier gives, whatever that breaks.",
    default="held", choices=DRIVES,
)  # fmt: skip

FIELDS: dict[str, tuple[Field, ...]] = {}
TABLES: dict[str, tuple[SubTable, ...]] = {}


@GOALS.followed
@OPENINGS.followed
def _fill() -> None:
    """What a job may say of its goals and list for its openings, beside the rest."""
    words = "What to trade against each other; at least two."
    objectives = Field("objectives", "choice", words, form="list", default=[*default_objectives()], choices=GOALS)
    FIELDS.clear()
    FIELDS.update(_FIELDS)
    TABLES.clear()
    TABLES.update(_TABLES)
    FIELDS["goals"] = (*SOUND_GOALS, _DRIVE, objectives)
    FIELDS["goals.limits"] = tuple(map(limit_field, GOALS.records))
    own = {field.key: field for opening in OPENINGS.records for field, _ in opening.given}
    FIELDS[GIVEN_TABLE] = (*GIVEN, *own.values())
    for opening in OPENINGS.records:
        FIELDS["bounds"] += tuple(field for field, _ in opening.bounds)
        if opening.table is not None:
            parent, _, key = opening.table.path.rpartition(".")
            inner = TABLES[parent]
            place = [each.key for each in inner].index(opening.table.before)
            TABLES[parent] = (*inner[:place], SubTable(key, many=opening.table.many), *inner[place:])
            FIELDS[opening.table.path] = opening.table.fields
