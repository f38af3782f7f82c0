"""One stated design, for ``wedgefront evaluate``: the file read and validated.

Its tables are those of ``TABLES``; driver, drive and box are required, and the vent or the radiator that the box has.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from engine.datasheet import CROSS_CHECKED, FULL_POWER, PASSIVE_RADIATOR, THIELE_SMALL, read_driver, read_radiator
from engine.document import Document, Reader
from engine.field import Field, SubTable
from engine.formats import listening
from engine.formats.listening import CREST_FACTOR, FILTER, SOUND_GOALS
from engine.kinds import KINDS, with_opening
from engine.kinds.record import Opening
from engine.stated_design import StatedDesign
from engine.words.voice import Key, Keys


def _widened(field: Field) -> Field:
    """A stated design may be an ideal one, such as a textbook's without losses: Q has no upper end."""
    wide: dict[str, tuple[Any, Any]] = {"rated_power": ("0.001 W", "1000000 W"), "vas": ("0.01 L", "100000 L")}
    wide |= dict.fromkeys(("qes", "qms"), (0.01, 1e9))
    low, high = wide.get(field.key, (field.low, field.high))
    return dataclasses.replace(field, low=low, high=high)


DRIVER = (
    Field("name", "text", "What you call it.", default="driver"),
    Field("count", "count", "How many share the box.", default=1, low=1, high=64),
    *(_widened(field) for field in THIELE_SMALL),
    *CROSS_CHECKED,
    *FULL_POWER,
)
DRIVE = (
    Field("voltage", "voltage", "RMS at each driver's terminals, before the filter.", "0.001 V", "1000 V",
          required=True),
    dataclasses.replace(CREST_FACTOR, default="3 dB"),
)  # fmt: skip
_Q_OF_LOSS = "Q of the box's losses by {}; inf for none."
BOX = (
    Field("kind", "choice", "Kind of box.", required=True, choices=KINDS),
    Field("volume", "volume", "Net volume.", "0.1 L", "10000 L", required=True),
    Field("ql", "ratio", _Q_OF_LOSS.format("leakage"), 0.5, math.inf),
    Field("qa", "ratio", _Q_OF_LOSS.format("absorption"), 0.5, math.inf, default=math.inf),
    Field("qp", "ratio", _Q_OF_LOSS.format("the vent"), 0.5, math.inf, default=math.inf),
    Field("filling", "ratio", "Factor of compliance.", 1.0, 1.4, default=1.0),
    Field("largest_dimension", "length", "Largest inside width, height or depth, which says up to where the box is "
          "small against a wave.", "20 mm", "10000 mm"),
    Field("first_mode", "frequency", "First standing wave in the box, where the inertia of its air is stated too.",
          "20 Hz", "20000 Hz"),
    Field("air_mass", "moving_mass", "What the air in a thin box adds to each cone beyond the usual air load.",
          "-2 kg", "2 kg", default="0 kg"),
    Field("inertance", "ratio", "Acoustic mass in kg/m^4 of the air in a thin box that driver and opening share; the "
          "tuning stated is then the true one.", -1000, 1000, default=0.0),
)  # fmt: skip
VENT = (
    Field("count", "count", "Number of equal vents.", 1, 64, default=1),
    Field("diameter", "length", "Bore of one.", "5 mm", "1000 mm"),
    Field("width", "length", "Clear width of one slot; goes with height.", "5 mm", "5000 mm"),
    Field("height", "length", "Clear height of one slot.", "5 mm", "1000 mm"),
    Field("length", "length", "Length of one.", "1 mm", "10000 mm"),
    Field("tuning", "frequency", "Tuning of the box.", "2 Hz", "500 Hz"),
    Field("ends", "choice", "Each end flush in a panel or free in the air.", form="pair", default=["flush", "free"],
          choices=("flush", "free")),
    Field("loss", "ratio", "Loss K of one vent in ½ρw², which grows its resistance with air speed; empty: estimated "
          "from its ends and length, 0: none.", 0, 20),
)  # fmt: skip
RADIATOR = (
    Field("name", "text", "What you call it.", default="radiator"),
    Field("count", "count", "How many share the box.", default=1, low=1, high=64),
    *(_widened(field) for field in PASSIVE_RADIATOR),
    Field("added_mass", "added_mass", "Mass screwed onto each cone.", low="0 g", high="20 kg"),
    Field("tuning", "frequency", "Tuning of the box.", low="2 Hz", high="500 Hz"),
)
SWEEP = (
    Field("start", "frequency", "Lowest frequency.", default="10 Hz", low="0.1 Hz", high="20000 Hz"),
    Field("stop", "frequency", "Highest frequency.", default="200 Hz", low="0.1 Hz", high="20000 Hz"),
    Field("points", "count", "Frequencies, log spaced.", default=200, low=2, high=100_000),
)

TABLES = (
    *(SubTable(key, required=True) for key in ("driver", "drive", "box")),
    *(SubTable(key) for key in ("vent", "radiator", "filter", "chain", "cabin", "sweep", "air", "goals")),
)


def parse_design(document: Document, *, source: str, folder: Path | None = None) -> StatedDesign:
    """The design a document states, files of it in ``folder``.  Raises InputFaults with every fault in it."""
    reader = Reader(source)
    reader.values(document, "", (), TABLES)
    driver, count = None, 1
    if (table := reader.table(document, "driver")) is not None:
        driver, values = read_driver(reader, table, "driver", DRIVER)
        count = values.get("count", 1)
    drive = reader.once(document, "drive", DRIVE)
    box = _box(reader, document)
    opening = _vent(reader, document, box) | _radiator(reader, document, box)
    filter_ = _filter(reader, document)
    chain = listening.read_chain(reader, document)
    sweep = reader.once(document, "sweep", SWEEP)
    if "start" in sweep and "stop" in sweep and sweep["start"] >= sweep["stop"]:
        reader.fault("sweep.stop", "sweep_backwards", document["sweep"].get("stop"))
    goals = reader.once(document, "goals", SOUND_GOALS)
    goals["levels"] = listening.read_levels(reader, document, goals)
    air = listening.read_air(reader, document)
    cabin = listening.read_vehicle(reader, document, folder=folder, air=air)
    reader.finish(document)

    assert driver is not None
    parts = drive | {"box_kind": box.pop("kind")} | box | opening | filter_ | goals
    swept = (sweep["start"], sweep["stop"], sweep["points"])
    return StatedDesign(driver=driver, count=count, chain=chain, cabin=cabin, air=air, sweep=swept, **parts)


def _box(reader: Reader, document: Document) -> dict[str, Any]:
    box = reader.once(document, "box", BOX)
    if "kind" not in box:
        return box
    kind = KINDS[box["kind"]]
    if kind.opening != "vent" and math.isfinite(box.get("qp", math.inf)):
        reader.fault("box.qp", f"vent_loss_of_{kind.opening}", document["box"]["qp"], noun=kind.noun)
    if kind.opening == "none" and box.get("inertance"):
        reader.fault("box.inertance", "inertance_of_none", document["box"]["inertance"], noun=kind.noun)
    return {"ql": kind.usual_ql} | box


def _opening(reader: Reader, document: Document, box: Mapping[str, Any], name: Opening) -> dict[str, Any] | None:
    """The table of what stands in a box; a box without it must have none."""
    table = reader.table(document, name)
    if "kind" in box:
        kind = KINDS[box["kind"]]
        if kind.opening == name and document.get(name) is None:
            reader.fault(name, f"{name}_table_missing", noun=kind.noun)
        if kind.opening != name and table is not None:
            reader.fault(name, f"{name}_of_other", noun=kind.noun, kind=with_opening(name).name)
    return table


def _vent(reader: Reader, document: Document, box: Mapping[str, Any]) -> dict[str, Any]:
    """The vent of a vented box, by the names of a stated design."""
    table = _opening(reader, document, box, "vent")
    if table is None:
        return {}
    vent = reader.values(table, "vent", VENT)
    bore = [key for key in ("diameter", "width", "height") if table.get(key) is not None]
    none = reader.missing(table, "vent", ("diameter", "width", "height"), VENT, "no_bore")
    if not none and bore not in (["diameter"], ["width", "height"]):
        reader.fault("vent", "bore_twice", stated=Keys(bore))
    _check_one(reader, table, "vent", "length", box)
    return {key if key in ("tuning", "ends") else f"vent_{key}": value for key, value in vent.items()}


def _radiator(reader: Reader, document: Document, box: Mapping[str, Any]) -> dict[str, Any]:
    """The passive radiators, by the names of a stated design."""
    table = _opening(reader, document, box, "radiator")
    if table is None:
        return {}
    radiator, values = read_radiator(reader, table, "radiator", RADIATOR)
    _check_one(reader, table, "radiator", "added_mass", box)
    found = {key: values[key] for key in ("added_mass", "tuning") if key in values}
    return found | {"radiator": radiator, "radiator_count": values.get("count", 1)}


def _check_one(reader: Reader, table: Mapping[str, Any], place: str, built: str, box: Mapping[str, Any]) -> None:
    """Tuning or what is built for it, not both; but where a thin box's air is stated only the tuning tells."""
    stated = [key for key in (built, "tuning") if table.get(key) is not None]
    if any(box.get(key, 0.0) != 0.0 for key in ("air_mass", "inertance")):
        if "tuning" not in stated:
            reader.fault(f"{place}.tuning", "tuning_of_own_air", built=Key(built))
    elif len(stated) != 1:
        reader.fault(place, "tuned_twice" if stated else "untuned", built=Key(built))


def _filter(reader: Reader, document: Document) -> dict[str, Any]:
    if (table := reader.table(document, "filter")) is None:
        return {}
    values = reader.values(table, "filter", FILTER)
    if (read := listening.read_filter(reader, table, "filter", values)) is None:
        return {}
    return dict(zip(("filter_shape", "filter_order", "filter_q"), read, strict=True), filter_hz=values["frequency"])
