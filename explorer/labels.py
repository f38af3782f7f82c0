"""What the fields of a scenario are called on the page.

What may stand in them, and the hints, come from the engine's registry of fields; only the
short names for labels are here.
"""

from __future__ import annotations

import re

from engine.columns import COLUMNS
from engine.document import Field
from engine.fields import FIELDS

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
    "box.kinds": "Boxes to try",
    "box.back_angle": "Lean of the back",
    "box.ql": "Leakage Q (QL)",
    "box.breathing_gap": "Breathing gap",
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
    "driver.outer_diameter": "Over the flange",
    "driver.cutout_diameter": "Cut-out diameter",
    "driver.magnet_diameter": "Magnet diameter",
    "driver.mounting_depth": "Mounting depth",
    "driver.displacement": "Volume it takes up inside",
    "driver.mass": "Weight",
    "driver.price": "Price",
    "amplifier.name": "Amplifier",
    "amplifier.lowest_load": "Lowest load allowed",
    "amplifier.load.impedance": "Load",
    "amplifier.load.power": "Power",
    "stock.board_thickness": "Board thickness",
    "stock.board_density": "Board density",
    "stock.board_price": "Board price",
    "stock.brace_span": "Widest panel without a brace",
    "stock.pipe.name": "Pipe",
    "stock.pipe.inner_diameter": "Bore",
    "stock.pipe.outer_diameter": "Outside",
    "stock.pipe.price": "Price",
    "filter.kind": "Filter",
    "filter.order": "Order",
    "filter.frequency": "Frequency",
    "goals.music_band": "Music band",
    "goals.vent_speed_limit": "Vent air speed limit",
    "goals.objectives": "What to trade off",
    "bounds.outer_width": "Outer width",
    "bounds.outer_height": "Outer height",
    "bounds.top_depth": "Outer depth at the top",
    "bounds.bottom_depth": "Outer depth at the bottom",
    "bounds.tuning": "Tuning",
    "bounds.vent_count": "Vents",
    "search.evaluations": "Designs to try",
} | {f"goals.limits.{field.key}": COLUMNS[field.key].label for field in FIELDS["goals.limits"]}

PARTS: dict[str, str] = {
    "space": "Space",
    "space.section": "Cross-section",
    "space.door": "Door opening",
    "driver": "Drivers",
    "amplifier": "Amplifier",
    "amplifier.load": "Loads",
    "stock": "Stock",
    "stock.pipe": "Pipes",
    "box": "Box",
    "filter": "Filters",
    "goals": "Goals",
    "goals.limits": "No worse than",
    "bounds": "Within",
    "search": "Search",
    "air": "Air",
}

CHOICES: dict[str, str] = {
    "closed": "Closed",
    "vented": "Vented",
    "series": "series",
    "parallel": "parallel",
    "none": "No filter",
    "highpass": "High-pass (Butterworth)",
} | {key: column.label for key, column in COLUMNS.items()}


def field_of(table: str, key: str) -> Field:
    """A field of the engine's registry."""
    return next(field for field in FIELDS[table] if field.key == key)


def label_of(table: str, key: str) -> str:
    return LABELS[f"{table}.{key}" if table else key]


def name_in_words(key: str) -> str:
    """A place as faults write it, by its label on the page: "Resonance fs of driver 2".

    What is no field of a job goes by the name it has in the file.
    """
    corner = re.fullmatch(r"space\.section\[(\d+)\](?:\[([01])\])?", key)
    if corner:
        side = {"0": ", forward", "1": ", up", None: ""}[corner[2]]
        return f"Corner {int(corner[1]) + 1}{side}"
    bare = re.sub(r"\[\d+\]", "", key)
    item = re.fullmatch(r"(?:\w+\.)?(\w+)\[(\d+)\]", key)
    if item and bare in FIELDS:
        return f"{item[1].capitalize()} {int(item[2]) + 1}"
    label = LABELS.get(bare) or PARTS.get(bare) or f"“{bare.rpartition('.')[2]}”"
    owner = re.match(r"(?:\w+\.)?(\w+)\[(\d+)\]\.", key)
    return f"{label} of {owner[1]} {int(owner[2]) + 1}" if owner else label


def sentence(text: str) -> str:
    """A message as a sentence of the page: with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


def plain(text: str) -> str:
    """User text without effect as Markdown."""
    return "".join(f"\\{char}" if char in r"\`*_{}[]<>()#+-.!|$~:" else char for char in text)


def thousands(count: int) -> str:
    """A whole number with gaps between its thousands."""
    return f"{count:,}".replace(",", "\N{NO-BREAK SPACE}")
