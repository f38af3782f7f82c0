"""What the fields of a scenario are called on the page.

What may stand in them, and the hints, come from the engine's registry of fields; only the
short names for labels are here.
"""

from __future__ import annotations

import re

from engine.acoustics.filters import SHAPES
from engine.facings import FACINGS
from engine.field import Field
from engine.formats.fields import FIELDS, limit_field
from engine.goals import GOALS
from engine.kinds import KINDS
from engine.openings import OPENINGS
from engine.tolerances import TOLERANCES
from engine.words.voice import first_up

LABELS: dict[str, str] = {
    "title": "Title",
    "about": "Notes",
    "currency": "Currency",
    "air.temperature": "Temperature",
    "air.altitude": "Altitude",
    "space.width": "Free width",
    "space.margin": "Margin",
    "space.door.width": "Door opening, width",
    "space.door.height": "Door opening, height",
    "space.door.turning_room": "Room to turn the box",
    "space.measured.height": "Height",
    "space.measured.back": "Back",
    "space.measured.depth": "Depth",
    "space.clearance.back": "Clearance behind",
    "space.clearance.front": "Clearance in front",
    "space.clearance.bottom": "Clearance below",
    "space.clearance.top": "Clearance above",
    "space.clearance.left": "Clearance on the left",
    "space.clearance.right": "Clearance on the right",
    "space.openness.front": "Open in front",
    "space.openness.top": "Open above",
    "space.openness.left": "Open on the left",
    "space.openness.right": "Open on the right",
    "space.keepout.name": "What stands there",
    "space.keepout.across": "Place across",
    "space.keepout.forward": "Place forward",
    "space.keepout.up": "Place up",
    "box.kinds": "Boxes to try",
    "box.fillings": "Filling of closed boxes to try",
    "box.facings": "Drivers may face",
    "box.baffles": "Baffles to try",
    "box.pipe_outlets": "Pipes may go out",
    "box.baffle_recess": "Flanges sunk by",
    "box.back_angle": "Lean of the back",
    "box.ql": "Leakage Q (QL)",
    "box.breathing_gap": "Breathing gap",
    "box.carpet": "Carpet",
    "box.round_over": "Round-over of the edges",
    "box.joint_distance": "Screws off joints",
    "box.least_depth": "Least depth inside",
    "driver.name": "Name",
    "driver.counts": "How many to try",
    "driver.fs": "Resonance fs",
    "driver.qes": "Qes",
    "driver.qms": "Qms",
    "driver.qts": "Qts",
    "driver.vas": "Vas",
    "driver.sd": "Cone area Sd",
    "driver.re": "Resistance Re",
    "driver.le": "Inductance Le",
    "driver.l2": "Inductance L2",
    "driver.r2": "Resistance R2",
    "driver.xmax": "Xmax, one way",
    "driver.rated_power": "Rated power",
    "driver.mms": "Moving mass Mms",
    "driver.cms": "Compliance Cms",
    "driver.bl": "Force factor Bl",
    "driver.coils": "Voice coils",
    "driver.coil_impedance": "Impedance of one coil",
    "driver.stated_wiring": "Sheet is for coils in",
    "driver.coil_wirings": "Coils may be joined in",
    "driver.driver_wirings": "Drivers may be joined in",
    "driver.outer_diameter": "Over the flange",
    "driver.cutout_diameter": "Cut-out diameter",
    "driver.magnet_diameter": "Magnet diameter",
    "driver.mounting_depth": "Mounting depth",
    "driver.magnet_depth": "Magnet depth",
    "driver.rear_gap": "Air behind the magnet",
    "driver.terminal_depth": "Depth to the terminals",
    "driver.screw_circle_diameter": "Circle of its screws",
    "driver.screw_count": "Screws",
    "driver.screw_diameter": "Thickness of a screw",
    "driver.screw_angle": "Terminals to the next screw",
    "driver.front_height": "Flange and surround stand out",
    "driver.displacement": "Volume it takes up inside",
    "driver.mass": "Weight",
    "driver.price": "Price",
    "driver.thermal_resistance": "Thermal resistance of the coil",
    "driver.coil_metal": "Coil wound of",
    "driver.bl_at_xmax": "Bl left at Xmax",
    "driver.cms_at_xmax": "Compliance left at Xmax",
    "driver.inductance_exponent": "Exponent of Le",
    "driver.inductance_kr": "Kr, resistance at 1 rad/s",
    "driver.inductance_xr": "Xr, its exponent",
    "driver.inductance_ki": "Ki, reactance at 1 rad/s",
    "driver.inductance_xi": "Xi, its exponent",
    "amplifier.name": "Amplifier",
    "amplifier.lowest_load": "Lowest load allowed",
    "amplifier.crest_factor": "Crest factor of the music",
    "amplifier.wirings": "Wirings to try",
    "amplifier.load.impedance": "Load",
    "amplifier.load.power": "Power",
    "stock.board_thickness": "Board thickness",
    "stock.baffle_layer": "Second layer of a double baffle",
    "stock.board_density": "Board density",
    "stock.board_price": "Board price",
    "stock.brace_span": "Widest panel without a brace",
    "stock.terminal_cup.cutout_diameter": "Cup, cut-out diameter",
    "stock.terminal_cup.flange_diameter": "Cup, over the flange",
    "stock.terminal_cup.depth": "Cup, depth",
    "stock.terminal_cup.room": "Cup, room for the plug",
    "saw.most_bevel": "Saw tilts to",
    "saw.angle_step": "Steps of its tilt",
    "saw.size_step": "Steps of sizes",
    "build.joints": "Joints",
    "build.board_thickness": "Board as measured",
    "build.baffle_layer": "Second layer as measured",
    "build.glue_strip": "Glue strips",
    "build.sheet.name": "Name",
    "build.sheet.length": "Length",
    "build.sheet.width": "Width",
    "build.sheet.thickness": "Thickness",
    "build.sheet.price": "Price",
    "build.sheet.count": "How many there are",
    "build.sheet.grain": "Grain runs along its",
    "build.cutting.kerf": "Kerf",
    "build.cutting.trim": "Trim",
    "build.cutting.allowance": "Allowance",
    "build.cutting.shortest": "Shortest piece to rip",
    "build.cutting.narrowest": "Narrowest at the fence",
    "build.cutting.reach": "Fence reaches",
    "build.cutting.sled": "Sled takes",
    "build.cutting.depth": "Cuts at 45°",
    "build.cutting.flushed": "Cut over-size",
    "build.cutting.flush": "By how much",
    "build.cutting.shared_bevels": "Shared bevels",
    "filter.kind": "Filter",
    "filter.shape": "Shape",
    "filter.order": "Order",
    "filter.q": "Q",
    "filter.frequency": "Frequency",
    "chain.low_pass": "Low-pass crossover",
    "chain.low_pass_order": "Order",
    "chain.low_pass_frequency": "Crossover frequency",
    "chain.band_frequency": "Centre frequency",
    "chain.band_gain": "Gain",
    "chain.band_q": "Q",
    "cabin.largest_dimension": "Largest inside dimension",
    "cabin.leak": "Leaks below",
    "cabin.file": "File of the measurement",
    "cabin.table": "Measured points",
    "cabin.offset": "Add to the measured level",
    "goals.fed_from": "Fed from",
    "goals.levels": "Levels told at",
    "goals.drive": "Designs are judged",
    "goals.music_band": "Music band",
    "goals.vent_speed_limit": "Vent air speed limit",
    "goals.objectives": "What to trade off",
    "bounds.outer_width": "Outer width",
    "bounds.outer_height": "Outer height",
    "bounds.top_depth": "Outer depth at the top",
    "bounds.bottom_depth": "Outer depth at the bottom",
    "bounds.tuning": "Tuning",
    "search.evaluations": "Designs to try",
    "given.kind": "Kind of box",
    "given.driver": "Driver",
    "given.count": "Number of drivers",
    "given.facing": "Drivers sit in",
    "given.baffle": "Baffle",
    "given.inside_volume": "Volume inside, empty",
    "given.load": "Load on the amplifier",
    "given.filling": "Filling",
    "given.tuning": "Tuning",
    "built.name": "Piece",
    "built.panel": "In the panel",
    "built.across": "Across, from and to",
    "built.section": "Corners",
    "built.centres": "Centres of its ends",
    "built.diameters": "Diameters of its ends",
    "built.bend_radius": "Radius of its bend",
    "given.filter.kind": "Filter",
    "given.filter.shape": "Shape",
    "given.filter.order": "Order",
    "given.filter.q": "Q",
    "given.filter.frequency": "Frequency",
}

# Of a box that is given.
_SIZES = {
    "outer_width": "Width outside",
    "inside_width": "Width inside",
    "outer_height": "Height outside",
    "inside_height": "Height inside",
    "top_depth": "Depth outside at the top",
    "inside_top_depth": "Depth inside at the top",
    "bottom_depth": "Depth outside at the bottom",
    "inside_bottom_depth": "Depth inside at the bottom",
    "baffle_angle": "Lean of the baffle",
}
LABELS |= {f"{table}.{key}": label for table in ("given", "held") for key, label in _SIZES.items()}
LABELS |= {f"tolerance.{each.key}": each.label for each in TOLERANCES.records}

PARTS: dict[str, str] = {
    "space": "Space",
    "space.section": "Cross-section",
    "space.measured": "Measurements",
    "space.clearance": "Clearances",
    "space.keepout": "Keep-outs",
    "space.keepout.section": "Cross-section",
    "space.door": "Door opening",
    "driver": "Drivers",
    "amplifier": "Amplifier",
    "amplifier.load": "Loads",
    "stock": "Stock",
    "stock.terminal_cup": "Terminal cup",
    "box": "Box",
    "saw": "Saw",
    "build": "Build",
    "build.sheet": "Sheets",
    "build.cutting": "Cutting",
    "filter": "Filters",
    "chain": "Crossover and band",
    "cabin": "Vehicle",
    "goals": "Goals",
    "goals.limits": "No worse than",
    "bounds": "Within",
    "tolerance": "Tolerances",
    "search": "Search",
    "air": "Air",
    "held": "Sizes held",
    "given": "A given box",
    "built": "What is built of it",
    "given.filter": "High-pass",
}

CHOICES: dict[str, str] = {
    "series": "series",
    "parallel": "parallel",
    "mixed": "series and parallel",
    "best": "The one of most power",
    "each": "Each",
    "none": "None",
    "highpass": "High-pass",
    "lined": "Walls lined",
    "half": "Half filled",
    "full": "Filled",
    "single": "one layer of board",
    "double": "two layers of board",
    "usual": "left side or drivers' panel",
    "top": "top panel",
    "held": "turned down to hold their limits",
    "full power": "at the amplifier's full power",
    "copper": "copper",
    "aluminium": "aluminium",
    "length": "length",
    "width": "width",
    "sides": "sides",
    "layers": "second layer of the baffle",
    "both": "both",
    "yes": "yes",
    "no": "no",
}


CHOICES |= {facing.name: facing.choice for facing in FACINGS.records}
CHOICES |= {shape.name: shape.choice for shape in SHAPES.records}

# What one item of a list is called where its key does not say it.
ITEMS: dict[str, str] = {"measured": "row", "keepout": "keep-out"}

_TABLES = (LABELS, CHOICES, PARTS, ITEMS)
_WITHOUT_RECORDS = tuple(dict(table) for table in _TABLES)


@KINDS.followed
@GOALS.followed
@OPENINGS.followed
def _fill() -> None:
    """What kinds of box and goals are called, as a choice and as a limit, and how what a job lists for its openings."""
    for table, stated in zip(_TABLES, _WITHOUT_RECORDS, strict=True):
        table.clear()
        table.update(stated)
    CHOICES.update((kind.name, kind.choice) for kind in KINDS.records)
    CHOICES.update((goal.key, goal.label) for goal in GOALS.records)
    LABELS.update((f"goals.limits.{goal.key}", goal.label) for goal in GOALS.records)
    for opening in OPENINGS.records:
        LABELS.update((f"bounds.{field.key}", label) for field, label in opening.bounds)
        LABELS.update((f"given.{field.key}", label) for field, label in opening.given)
        if opening.table is not None:
            LABELS.update((f"{opening.table.path}.{key}", label) for key, label in opening.table.labels.items())
            PARTS[opening.table.path] = opening.table.title
            ITEMS[opening.table.key] = opening.table.item


def field_of(table: str, key: str) -> Field:
    """A field of the engine's registry."""
    declared = next((field for field in FIELDS[table] if field.key == key), None)
    return declared or limit_field(GOALS[key])


def label_of(table: str, key: str) -> str:
    place = f"{table}.{key}" if table else key
    return LABELS.get(place) or GOALS[key].label


def choice_label(choice: str) -> str:
    """What one of the choices of a field is called."""
    return GOALS[choice].label if choice in GOALS else CHOICES.get(choice, choice)


def name_in_words(key: str) -> str:
    """A place as faults write it, by its label on the page: "Resonance fs of driver 2".

    What is no field of a job goes by the name it has in the file.
    """
    corner = re.fullmatch(r"space\.(?:keepout\[(\d+)\]\.)?section\[(\d+)\](?:\[([01])\])?", key)
    if corner:
        side = {"0": ", forward", "1": ", up", None: ""}[corner[3]]
        owner = f" of keep-out {int(corner[1]) + 1}" if corner[1] else ""
        return f"Corner {int(corner[2]) + 1}{side}{owner}"
    bare = re.sub(r"\[\d+\]", "", key)
    item = re.fullmatch(r"(?:\w+\.)?(\w+)\[(\d+)\]", key)
    if item and bare in FIELDS:
        return f"{item_in_words(item[1]).capitalize()} {int(item[2]) + 1}"
    last = bare.rpartition(".")[2]
    label = LABELS.get(bare) or PARTS.get(bare) or (GOALS[last].label if last in GOALS else f"“{last}”")
    owned = re.match(r"(?:\w+\.)?(\w+)\[(\d+)\]\.", key)
    return f"{label} of {item_in_words(owned[1])} {int(owned[2]) + 1}" if owned else label


def item_in_words(key: str) -> str:
    """What one item of the list at a key is called: "pipe", "keep-out"."""
    return ITEMS.get(key, key)


def sentence(text: str) -> str:
    """A message as a sentence of the page: with a capital and a full stop."""
    text = first_up(text.strip())
    return text + ("" if text.endswith((".", "?", "!")) else ".")


def thousands(count: int) -> str:
    """A whole number with gaps between its thousands."""
    return f"{count:,}".replace(",", "\N{NO-BREAK SPACE}")
