"""One stated design, for ``wedgefront evaluate``: the file read and validated, or written.

[driver]   fs qes qms vas sd re le xmax rated_power  (+ name, count, l2, r2, and qts mms cms bl to check)
[drive]    voltage            RMS at each driver's terminals
[box]      kind volume        (+ ql, qa, qp, filling)
[vent]     count diameter, and length or tuning  (+ ends)
[filter]   kind order frequency      optional
[sweep]    start stop points         optional
[air]      temperature altitude      optional
[goals]    music_band vent_speed_limit  optional
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from engine.air import (
    GAS_CONSTANT,
    REFERENCE_AIR,
    REFERENCE_SPEED,
    REFERENCE_TEMPERATURE,
    SEA_LEVEL_PRESSURE,
    Air,
    air_at,
)
from engine.datasheet import CROSS_CHECKED, THIELE_SMALL, read_driver
from engine.document import Document, Field, Reader, SubTable, read_document, write_document
from engine.parts import Driver
from engine.quantities import write

BoxKind = Literal["closed", "vented"]
EndKind = Literal["flush", "free"]

# Shared with scenario files.
AIR = (
    Field(
        key="temperature",
        kind="temperature",
        default="20 degC",
        low="-40 degC",
        high="60 degC",
        help="Air temperature in the vehicle.",
    ),
    Field(
        key="altitude",
        kind="length",
        default="0 m",
        low="-400 m",
        high="5000 m",
        help="Height above the sea.",
    ),
)

SOUND_GOALS = (
    Field(
        key="music_band",
        kind="frequency",
        form="range",
        default=["25 Hz", "80 Hz"],
        low="10 Hz",
        high="200 Hz",
        help="Band over which maximum output is averaged, lowest and highest.",
    ),
    Field(
        key="vent_speed_limit",
        kind="speed",
        default="17 m/s",
        low="3 m/s",
        high="60 m/s",
        help="Peak air speed at which a vent starts to chuff; 17 m/s is common practice.",
    ),
)


def _widened(field: Field) -> Field:
    """A stated design may be an ideal one, such as a textbook's without losses: Q has no upper end."""
    wide = {
        "qes": (0.01, 1e9),
        "qms": (0.01, 1e9),
        "rated_power": ("0.001 W", "1000000 W"),
        "vas": ("0.01 L", "100000 L"),
    }
    low, high = wide.get(field.key, (field.low, field.high))
    return replace(field, low=low, high=high)


DRIVER = (
    Field(key="name", kind="text", default="driver", help="What you call it."),
    Field(key="count", kind="count", default=1, low=1, high=64, help="How many share the box."),
    *(_widened(field) for field in THIELE_SMALL),
    *CROSS_CHECKED,
)
DRIVE = (
    Field(
        key="voltage",
        kind="voltage",
        required=True,
        low="0.001 V",
        high="1000 V",
        help="RMS at each driver's terminals, before the filter.",
    ),
)
_Q_OF_LOSS = "Q of the box's losses by {}; inf for none."
BOX = (
    Field(key="kind", kind="choice", required=True, choices=("vented", "closed"), help="Kind of box."),
    Field(key="volume", kind="volume", required=True, low="0.1 L", high="10000 L", help="Net volume."),
    Field(key="ql", kind="ratio", low=0.5, high=math.inf, help=_Q_OF_LOSS.format("leakage")),
    Field(key="qa", kind="ratio", default=math.inf, low=0.5, high=math.inf, help=_Q_OF_LOSS.format("absorption")),
    Field(key="qp", kind="ratio", default=math.inf, low=0.5, high=math.inf, help=_Q_OF_LOSS.format("the vent")),
    Field(key="filling", kind="ratio", default=1.0, low=1.0, high=1.4, help="Factor of compliance."),
)
VENT = (
    Field(key="count", kind="count", default=1, low=1, high=64, help="Number of equal vents."),
    Field(key="diameter", kind="length", required=True, low="5 mm", high="1000 mm", help="Bore of one."),
    Field(key="length", kind="length", low="1 mm", high="10000 mm", help="Length of one."),
    Field(key="tuning", kind="frequency", low="2 Hz", high="500 Hz", help="Tuning of the box."),
    Field(
        key="ends",
        kind="choice",
        form="pair",
        default=["flush", "free"],
        choices=("flush", "free"),
        help="Each end flush in a panel or free in the air.",
    ),
)
FILTER = (
    Field(key="kind", kind="choice", required=True, choices=("highpass",), help="Butterworth high-pass."),
    Field(key="order", kind="count", required=True, low=1, high=8, help="Order of the filter."),
    Field(
        key="frequency",
        kind="frequency",
        required=True,
        low="1 Hz",
        high="500 Hz",
        help="Its -3 dB frequency.",
    ),
)
SWEEP = (
    Field(
        key="start",
        kind="frequency",
        default="10 Hz",
        low="0.1 Hz",
        high="20000 Hz",
        help="Lowest frequency.",
    ),
    Field(
        key="stop",
        kind="frequency",
        default="200 Hz",
        low="0.1 Hz",
        high="20000 Hz",
        help="Highest frequency.",
    ),
    Field(key="points", kind="count", default=200, low=2, high=100_000, help="Frequencies, log spaced."),
)
TABLES = (
    SubTable(key="driver", required=True),
    SubTable(key="drive", required=True),
    SubTable(key="box", required=True),
    *(SubTable(key=key) for key in ("vent", "filter", "sweep", "air", "goals")),
)


@dataclass(frozen=True, kw_only=True)
class StatedDesign:
    """One box with its driver and drive, SI.

    A vented box has exactly one of ``vent_length`` and ``tuning``; a closed one neither,
    with ``vent_count`` 0.  ``voltage`` is RMS at each driver's terminals before the filter;
    ``volume`` is net; losses that are inf are none.  ``filter_order`` 0 is no filter.
    """

    driver: Driver
    count: int = 1
    voltage: float
    box_kind: BoxKind
    volume: float
    ql: float
    qa: float = math.inf
    qp: float = math.inf
    filling: float = 1.0
    vent_count: int = 0
    vent_diameter: float | None = None
    vent_length: float | None = None
    tuning: float | None = None
    ends: tuple[EndKind, EndKind] = ("flush", "free")
    filter_order: int = 0
    filter_hz: float = 0.0
    sweep: tuple[float, float, int] = (10.0, 200.0, 200)
    air: Air = REFERENCE_AIR
    vent_speed_limit: float = 17.0
    music_band: tuple[float, float] = (25.0, 80.0)


def read_design(path: Path) -> StatedDesign:
    """The design a file states.  Raises InputFaults with every fault in it."""
    return parse_design(read_document(path), source=str(path))


def parse_design(document: Document, *, source: str) -> StatedDesign:
    """The design a document states.  Raises InputFaults with every fault in it."""
    reader = Reader(source)
    reader.values(document, "", (), TABLES)
    driver, drive = None, {}
    count = 1
    if (table := reader.table(document, "", "driver")) is not None:
        driver, values = read_driver(reader, table, "driver", DRIVER)
        count = values.get("count", 1)
    if (table := reader.table(document, "", "drive")) is not None:
        drive = reader.values(table, "drive", DRIVE)
    box = _box(reader, document)
    vent = _vent(reader, document, box.get("kind"))
    filter_ = {}
    if (table := reader.table(document, "", "filter")) is not None:
        filter_ = reader.values(table, "filter", FILTER)
    sweep = reader.values(reader.table(document, "", "sweep") or {}, "sweep", SWEEP)
    if "start" in sweep and "stop" in sweep and sweep["start"] >= sweep["stop"]:
        reader.fault("sweep.stop", "expected more than sweep.start", document["sweep"].get("stop"))
    goals = reader.values(reader.table(document, "", "goals") or {}, "goals", SOUND_GOALS)
    air = REFERENCE_AIR
    if (table := reader.table(document, "", "air")) is not None:
        stated = reader.values(table, "air", AIR)
        if len(stated) == len(AIR):
            air = air_at(temperature_k=stated["temperature"], altitude_m=stated["altitude"])
    reader.finish()

    assert driver is not None
    return StatedDesign(
        driver=driver,
        count=count,
        voltage=drive["voltage"],
        box_kind=box["kind"],
        volume=box["volume"],
        ql=box["ql"],
        qa=box["qa"],
        qp=box["qp"],
        filling=box["filling"],
        vent_count=vent.get("count", 0),
        vent_diameter=vent.get("diameter"),
        vent_length=vent.get("length"),
        tuning=vent.get("tuning"),
        ends=vent.get("ends", ("flush", "free")),
        filter_order=filter_.get("order", 0),
        filter_hz=filter_.get("frequency", 0.0),
        sweep=(sweep["start"], sweep["stop"], sweep["points"]),
        air=air,
        **goals,
    )


def write_design(stated: StatedDesign) -> str:
    """A stated design as the text of a design file; :func:`parse_design` gives back the same figures."""
    driver = stated.driver
    document: Document = {
        "driver": {"name": driver.name, "count": stated.count}
        | {
            field.key: _written(getattr(driver, field.key), field)
            for field in THIELE_SMALL
            if field.required or getattr(driver, field.key) > 0.0
        },
        "drive": {"voltage": write(stated.voltage, "voltage")},
        "box": {
            "kind": stated.box_kind,
            "volume": write(stated.volume, "volume"),
            "ql": stated.ql,
            "qa": stated.qa,
            "qp": stated.qp,
            "filling": stated.filling,
        },
    }
    if stated.box_kind == "vented":
        document["vent"] = _vent_table(stated)
    if stated.filter_order:
        document["filter"] = {
            "kind": "highpass",
            "order": stated.filter_order,
            "frequency": write(stated.filter_hz, "frequency"),
        }
    start, stop, points = stated.sweep
    document["sweep"] = {
        "start": write(start, "frequency"),
        "stop": write(stop, "frequency"),
        "points": points,
    }
    if stated.air != REFERENCE_AIR:
        document["air"] = _air_table(stated.air)
    document["goals"] = {
        "music_band": [write(end, "frequency") for end in stated.music_band],
        "vent_speed_limit": write(stated.vent_speed_limit, "speed"),
    }
    return write_document(document)


def _box(reader: Reader, document: Document) -> dict[str, Any]:
    table = reader.table(document, "", "box")
    if table is None:
        return {}
    if table.get("kind") == "radiator":
        reader.fault("box.kind", 'passive radiators cannot be worked out yet: expected "vented" or "closed"')
        return reader.values({**table, "kind": "vented"}, "box", BOX) | {"kind": "radiator"}
    box = reader.values(table, "box", BOX)
    if box.get("kind") == "closed" and math.isfinite(box.get("qp", math.inf)):
        reader.fault("box.qp", "is the loss of a vent, and a closed box has none", table["qp"])
    return {"ql": 7.0 if box.get("kind") == "vented" else math.inf} | box


def _vent(reader: Reader, document: Document, box_kind: str | None) -> dict[str, Any]:
    """The vent of a vented box; a closed one must have none."""
    table = reader.table(document, "", "vent")
    if table is None:
        if box_kind == "vented" and document.get("vent") is None:
            reader.fault("vent", "is missing: a vented box needs a table [vent] with diameter and tuning or length")
        return {}
    vent = reader.values(table, "vent", VENT)
    if box_kind == "closed":
        reader.fault("vent", 'a closed box has no vent: take [vent] out, or set box.kind = "vented"')
    stated = [key for key in ("length", "tuning") if table.get(key) is not None]
    if len(stated) != 1:
        found = "both are stated" if stated else "neither is stated"
        reader.fault("vent", f"expected either length or tuning, the other is worked out; {found}")
    return vent


def _vent_table(stated: StatedDesign) -> dict[str, Any]:
    if stated.vent_diameter is None or (stated.tuning is None) == (stated.vent_length is None):
        raise ValueError("a vented design needs vent_diameter and exactly one of tuning and vent_length")
    table: dict[str, Any] = {"count": stated.vent_count, "diameter": write(stated.vent_diameter, "length")}
    if stated.tuning is not None:
        table["tuning"] = write(stated.tuning, "frequency")
    else:
        assert stated.vent_length is not None
        table["length"] = write(stated.vent_length, "length")
    return table | {"ends": list(stated.ends)}


def _written(value: float, field: Field) -> float | str:
    return write(value, field.kind) if field.is_quantity else value


def _air_table(air: Air) -> dict[str, str]:
    """The temperature and altitude at which :func:`engine.air.air_at` gives this air."""
    temperature = REFERENCE_TEMPERATURE * (air.c / REFERENCE_SPEED) ** 2
    pressure = air.rho * GAS_CONSTANT * temperature
    altitude = 288.15 / 0.0065 * (1.0 - (pressure / SEA_LEVEL_PRESSURE) ** (1.0 / 5.25588))
    return {"temperature": write(temperature, "temperature"), "altitude": write(altitude, "length")}
