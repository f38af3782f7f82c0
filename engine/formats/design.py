"""One stated design, for ``wedgefront evaluate``: the file read and validated, or written.

[driver]   fs qes qms vas sd re le xmax rated_power  (+ name, count, l2, r2, qts mms cms bl to check, and what it does
           at full power)
[drive]    voltage            RMS at each driver's terminals
[box]      kind volume        (+ ql, qa, qp, filling, largest_dimension, and of a thin box's air air_mass, inertance,
           first_mode)
[vent]     count, diameter or width and height, and length or tuning  (+ ends, loss)
[radiator] fs qms vas sd xmax, and added_mass or tuning  (+ name, count)
[filter]   kind order frequency (+ shape, q)  optional
[chain]    crossover and one band    optional
[cabin]    of the vehicle            optional
[sweep]    start stop points         optional
[air]      temperature altitude      optional
[goals]    music_band vent_speed_limit  optional
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields, replace
from pathlib import Path
from typing import Any

from engine.acoustics.filters import NO_CHAIN, SHAPES
from engine.air import (
    GAS_CONSTANT,
    REFERENCE_AIR,
    REFERENCE_SPEED,
    REFERENCE_TEMPERATURE,
    SEA_LEVEL_PRESSURE,
    Air,
    air_at,
)
from engine.datasheet import CROSS_CHECKED, FULL_POWER, PASSIVE_RADIATOR, THIELE_SMALL, read_driver, read_radiator
from engine.document import Document, Reader, read_document, write_document
from engine.field import Field, SubTable
from engine.formats.listening import FILTER_SHAPE, read_chain, read_filter, read_vehicle, write_chain, write_vehicle
from engine.kinds import KINDS, with_opening
from engine.kinds.record import Kind
from engine.parts import Driver, PassiveRadiator
from engine.quantities import write
from engine.stated_design import StatedDesign
from engine.words.voice import Key, Keys

# Shared with scenario files.
AIR = (
    Field(
        "temperature",
        "temperature",
        "Air temperature in the vehicle.",
        default="20 degC",
        low="-40 degC",
        high="60 degC",
    ),
    Field("altitude", "length", "Height above the sea.", default="0 m", low="-400 m", high="5000 m"),
)

SOUND_GOALS = (
    Field(
        "music_band",
        "frequency",
        "Band over which maximum output is averaged, lowest and highest.",
        form="range",
        default=["25 Hz", "80 Hz"],
        low="10 Hz",
        high="200 Hz",
    ),
    Field(
        "vent_speed_limit",
        "speed",
        "Peak air speed at which a vent starts to chuff; 17 m/s is common practice.",
        default="17 m/s",
        low="3 m/s",
        high="60 m/s",
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
    Field("name", "text", "What you call it.", default="driver"),
    Field("count", "count", "How many share the box.", default=1, low=1, high=64),
    *(_widened(field) for field in THIELE_SMALL),
    *CROSS_CHECKED,
    *FULL_POWER,
)
DRIVE = (
    Field(
        "voltage",
        "voltage",
        "RMS at each driver's terminals, before the filter.",
        required=True,
        low="0.001 V",
        high="1000 V",
    ),
)
_Q_OF_LOSS = "Q of the box's losses by {}; inf for none."
BOX = (
    Field("kind", "choice", "Kind of box.", required=True, choices=KINDS),
    Field("volume", "volume", "Net volume.", required=True, low="0.1 L", high="10000 L"),
    Field("ql", "ratio", _Q_OF_LOSS.format("leakage"), low=0.5, high=math.inf),
    Field("qa", "ratio", _Q_OF_LOSS.format("absorption"), default=math.inf, low=0.5, high=math.inf),
    Field("qp", "ratio", _Q_OF_LOSS.format("the vent"), default=math.inf, low=0.5, high=math.inf),
    Field("filling", "ratio", "Factor of compliance.", default=1.0, low=1.0, high=1.4),
    Field(
        "largest_dimension",
        "length",
        "Largest inside width, height or depth, which says up to where the box is small against a wave.",
        low="20 mm",
        high="10000 mm",
    ),
    Field(
        "first_mode",
        "frequency",
        "First standing wave in the box, where the inertia of its air is stated too.",
        low="20 Hz",
        high="20000 Hz",
    ),
    Field(
        "air_mass",
        "mass",
        "What the air in a thin box adds to each cone beyond the usual air load.",
        default="0 kg",
        low="-2 kg",
        high="2 kg",
    ),
    Field(
        "inertance",
        "ratio",
        "Acoustic mass in kg/m^4 of the air in a thin box that driver and opening share; the tuning stated is "
        "then the true one.",
        default=0.0,
        low=-1000,
        high=1000,
    ),
)
VENT = (
    Field("count", "count", "Number of equal vents.", default=1, low=1, high=64),
    Field("diameter", "length", "Bore of one.", low="5 mm", high="1000 mm"),
    Field("width", "length", "Clear width of one slot; goes with height.", low="5 mm", high="5000 mm"),
    Field("height", "length", "Clear height of one slot.", low="5 mm", high="1000 mm"),
    Field("length", "length", "Length of one.", low="1 mm", high="10000 mm"),
    Field("tuning", "frequency", "Tuning of the box.", low="2 Hz", high="500 Hz"),
    Field(
        "ends",
        "choice",
        "Each end flush in a panel or free in the air.",
        form="pair",
        default=["flush", "free"],
        choices=("flush", "free"),
    ),
    Field(
        "loss",
        "ratio",
        "Loss K of one vent in ½ρw², which grows its resistance with air speed; empty: estimated from its ends "
        "and length, 0: none.",
        low=0,
        high=20,
    ),
)
RADIATOR = (
    Field("name", "text", "What you call it.", default="radiator"),
    Field("count", "count", "How many share the box.", default=1, low=1, high=64),
    *(_widened(field) for field in PASSIVE_RADIATOR),
    Field("added_mass", "mass", "Mass screwed onto each cone.", low="0 g", high="20 kg"),
    Field("tuning", "frequency", "Tuning of the box.", low="2 Hz", high="500 Hz"),
)
FILTER = (
    Field("kind", "choice", "High-pass.", required=True, choices=("highpass",)),
    *FILTER_SHAPE,
    Field(
        "frequency",
        "frequency",
        "Its frequency; of a Butterworth where it is 3 dB down.",
        required=True,
        low="1 Hz",
        high="500 Hz",
    ),
)
SWEEP = (
    Field("start", "frequency", "Lowest frequency.", default="10 Hz", low="0.1 Hz", high="20000 Hz"),
    Field("stop", "frequency", "Highest frequency.", default="200 Hz", low="0.1 Hz", high="20000 Hz"),
    Field("points", "count", "Frequencies, log spaced.", default=200, low=2, high=100_000),
)
# What a driver's optional figures are where none is stated.
PLAIN_DRIVER = {item.name: item.default for item in fields(Driver) if item.default is not MISSING}

TABLES = (
    SubTable(key="driver", required=True),
    SubTable(key="drive", required=True),
    SubTable(key="box", required=True),
    *(SubTable(key=key) for key in ("vent", "radiator", "filter", "chain", "cabin", "sweep", "air", "goals")),
)


def read_design(path: Path) -> StatedDesign:
    """The design a file states.  Raises InputFaults with every fault in it."""
    return parse_design(read_document(path), source=str(path), folder=path.parent)


def parse_design(document: Document, *, source: str, folder: Path | None = None) -> StatedDesign:
    """The design a document states; a file it names is looked for in ``folder``.

    Raises InputFaults with every fault in it.
    """
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
    vent = _vent(reader, document, box)
    radiator = _radiator(reader, document, box)
    filter_ = _filter(reader, document)
    chain = NO_CHAIN
    if (table := reader.table(document, "", "chain")) is not None:
        chain = read_chain(reader, table)
    sweep = reader.values(reader.table(document, "", "sweep") or {}, "sweep", SWEEP)
    if "start" in sweep and "stop" in sweep and sweep["start"] >= sweep["stop"]:
        reader.fault("sweep.stop", "sweep_backwards", document["sweep"].get("stop"))
    goals = reader.values(reader.table(document, "", "goals") or {}, "goals", SOUND_GOALS)
    air = REFERENCE_AIR
    if (table := reader.table(document, "", "air")) is not None:
        stated = reader.values(table, "air", AIR)
        if len(stated) == len(AIR):
            air = air_at(temperature_k=stated["temperature"], altitude_m=stated["altitude"])
    cabin = None
    if (table := reader.table(document, "", "cabin")) is not None:
        cabin = read_vehicle(reader, table, folder=folder, air=air)
    reader.finish(document)

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
        largest_dimension=box.get("largest_dimension", math.nan),
        first_mode=box.get("first_mode", math.nan),
        air_mass=box["air_mass"],
        inertance=box["inertance"],
        **vent,
        **radiator,
        **filter_,
        chain=chain,
        cabin=cabin,
        sweep=(sweep["start"], sweep["stop"], sweep["points"]),
        air=air,
        **goals,
    )


def write_design(stated: StatedDesign) -> str:
    """A stated design as the text of a design file; :func:`parse_design` gives back the same figures."""
    driver = stated.driver
    document: Document = {
        "driver": {"name": driver.name, "count": stated.count}
        | _stated(driver, tuple(field for field in THIELE_SMALL if field.required))
        | _stated(driver, tuple(field for field in (*THIELE_SMALL, *FULL_POWER) if not field.required), PLAIN_DRIVER),
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
    if math.isfinite(stated.largest_dimension):
        document["box"]["largest_dimension"] = write(stated.largest_dimension, "length")
    if math.isfinite(stated.first_mode):
        document["box"]["first_mode"] = write(stated.first_mode, "frequency")
    if stated.has_own_air:
        document["box"] |= {"air_mass": write(stated.air_mass, "mass"), "inertance": stated.inertance}
    if KINDS[stated.box_kind].opening == "vent":
        document["vent"] = _vent_table(stated)
    if stated.radiator is not None:
        document["radiator"] = _radiator_table(stated, stated.radiator)
    if stated.filter_order:
        document["filter"] = {
            "kind": "highpass",
            "shape": stated.filter_shape,
            "order": stated.filter_order,
            "frequency": write(stated.filter_hz, "frequency"),
        } | ({"q": stated.filter_q} if SHAPES[stated.filter_shape].own_q else {})
    if stated.chain != NO_CHAIN:
        document["chain"] = write_chain(stated.chain)
    if stated.cabin is not None:
        document["cabin"] = write_vehicle(stated.cabin)
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
    box = reader.values(table, "box", BOX)
    kind = _kind(box)
    if kind is None:
        return box
    if kind.opening == "none" and math.isfinite(box.get("qp", math.inf)):
        reader.fault("box.qp", "vent_loss_of_none", table["qp"], noun=kind.noun)
    if kind.opening == "radiator" and math.isfinite(box.get("qp", math.inf)):
        reader.fault("box.qp", "vent_loss_of_radiator", table["qp"])
    if kind.opening == "none" and box.get("inertance"):
        reader.fault("box.inertance", "inertance_of_none", table["inertance"], noun=kind.noun)
    return {"ql": kind.usual_ql} | box


def _kind(box: Mapping[str, Any]) -> Kind | None:
    return KINDS[box["kind"]] if "kind" in box else None


def _has_own_air(box: Mapping[str, Any]) -> bool:
    return any(box.get(key, 0.0) != 0.0 for key in ("air_mass", "inertance"))


def _vent(reader: Reader, document: Document, box: Mapping[str, Any]) -> dict[str, Any]:
    """The vent of a vented box, by the names of a stated design; any other box must have none."""
    table, kind = reader.table(document, "", "vent"), _kind(box)
    if table is None:
        if kind is not None and kind.opening == "vent" and document.get("vent") is None:
            reader.fault("vent", "vent_table_missing", noun=kind.noun)
        return {}
    vent = reader.values(table, "vent", VENT)
    if kind is not None and kind.opening != "vent":
        reader.fault("vent", "vent_of_other", noun=kind.noun, kind=with_opening("vent").name)
    bore = [key for key in ("diameter", "width", "height") if table.get(key) is not None]
    known = [field.key for field in VENT]
    none = reader.missing(table, "vent", ("diameter", "width", "height"), known, "no_bore")
    if not none and bore not in (["diameter"], ["width", "height"]):
        reader.fault("vent", "bore_twice", stated=Keys(bore))
    _check_one(reader, table, "vent", "length", box)
    named = ("count", "diameter", "width", "height", "length", "loss")
    found_ = {f"vent_{key}": vent[key] for key in named if key in vent}
    return found_ | {key: vent[key] for key in ("tuning", "ends") if key in vent}


def _radiator(reader: Reader, document: Document, box: Mapping[str, Any]) -> dict[str, Any]:
    """The passive radiators, by the names of a stated design; a box of another kind must have none."""
    table, kind = reader.table(document, "", "radiator"), _kind(box)
    if table is None:
        if kind is not None and kind.opening == "radiator" and document.get("radiator") is None:
            reader.fault("radiator", "radiator_table_missing", noun=kind.noun)
        return {}
    radiator, values = read_radiator(reader, table, "radiator", RADIATOR)
    if kind is not None and kind.opening != "radiator":
        reader.fault("radiator", "radiator_of_other", noun=kind.noun, kind=with_opening("radiator").name)
    _check_one(reader, table, "radiator", "added_mass", box)
    found = {key: values[key] for key in ("added_mass", "tuning") if key in values}
    return found | {"radiator": radiator, "radiator_count": values.get("count", 1)}


def _check_one(reader: Reader, table: Mapping[str, Any], place: str, built: str, box: Mapping[str, Any]) -> None:
    """Tuning or what is built for it, not both; but where a thin box's air is stated only the tuning tells."""
    stated = [key for key in (built, "tuning") if table.get(key) is not None]
    if _has_own_air(box):
        if "tuning" not in stated:
            reader.fault(f"{place}.tuning", "tuning_of_own_air", built=Key(built))
    elif len(stated) != 1:
        reader.fault(place, "tuned_twice" if stated else "untuned", built=Key(built))


def _filter(reader: Reader, document: Document) -> dict[str, Any]:
    table = reader.table(document, "", "filter")
    if table is None:
        return {}
    values = reader.values(table, "filter", FILTER)
    read = read_filter(reader, table, "filter", values)
    if read is None or "frequency" not in values:
        return {}
    shape, order, q = read
    return {"filter_shape": shape, "filter_order": order, "filter_q": q, "filter_hz": values["frequency"]}


def _vent_table(stated: StatedDesign) -> dict[str, Any]:
    bore = {"diameter": stated.vent_diameter, "width": stated.vent_width, "height": stated.vent_height}
    table: dict[str, Any] = {"count": stated.vent_count}
    table |= {key: write(size, "length") for key, size in bore.items() if size is not None}
    if set(table) not in ({"count", "diameter"}, {"count", "width", "height"}) or not _is_tuned(stated, "vent_length"):
        raise ValueError("a vented design needs a bore and exactly one of tuning and vent_length")
    if stated.tuning is not None:
        table["tuning"] = write(stated.tuning, "frequency")
    if stated.vent_length is not None:
        table["length"] = write(stated.vent_length, "length")
    return table | {"ends": list(stated.ends)} | ({} if stated.vent_loss is None else {"loss": stated.vent_loss})


def _radiator_table(stated: StatedDesign, radiator: PassiveRadiator) -> dict[str, Any]:
    if not _is_tuned(stated, "added_mass"):
        raise ValueError("a design with passive radiators needs exactly one of tuning and added_mass")
    table = {"name": radiator.name, "count": stated.radiator_count} | _stated(radiator, PASSIVE_RADIATOR)
    if stated.tuning is not None:
        table["tuning"] = write(stated.tuning, "frequency")
    if stated.added_mass is not None:
        table["added_mass"] = write(stated.added_mass, "mass")
    return table


def _is_tuned(stated: StatedDesign, built: str) -> bool:
    """Whether :func:`_check_one` would let it by."""
    has_tuning, has_built = stated.tuning is not None, getattr(stated, built) is not None
    return has_tuning if stated.has_own_air else has_tuning != has_built


def _stated(part: Driver | PassiveRadiator, fields: Sequence[Field], but: Mapping[str, Any] | None = None) -> Document:
    """A part's figures as text; ``but`` for those that say nothing because they are as here."""
    found: Document = {}
    for field in fields:
        value = getattr(part, field.key)
        is_nothing = but is not None and (value == but[field.key] or value != value)
        if not is_nothing:
            found[field.key] = _written(value, field)
    return found


def _written(value: float | str, field: Field) -> float | str:
    return write(float(value), field.kind) if field.is_quantity else value


def _air_table(air: Air) -> dict[str, str]:
    """The temperature and altitude at which :func:`engine.air.air_at` gives this air."""
    temperature = REFERENCE_TEMPERATURE * (air.c / REFERENCE_SPEED) ** 2
    pressure = air.rho * GAS_CONSTANT * temperature
    altitude = 288.15 / 0.0065 * (1.0 - (pressure / SEA_LEVEL_PRESSURE) ** (1.0 / 5.25588))
    return {"temperature": write(temperature, "temperature"), "altitude": write(altitude, "length")}
