"""What lies between the source and the ear beside the box: filters and the vehicle's cabin, as it is read.

Both file formats state them in the same tables.  A cabin is an estimate (``largest_dimension``, ``leak``) or a
measurement in a CSV ``file`` beside the document or as a ``table`` of its points (``offset``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from engine.acoustics.cabin import Cabin, EstimatedCabin, MeasuredCabin
from engine.acoustics.filters import NAMED, NO_CHAIN, SHAPES, Chain, section_qs
from engine.air import REFERENCE_AIR, Air, air_at
from engine.document import Document, Reader, stated_at
from engine.errors import InputFaults
from engine.field import Field
from engine.formats.measurement import FEWEST_POINTS, FREQUENCIES, LEVELS, read_cabin
from engine.goals import USUAL_LEVELS
from engine.quantities import write
from engine.words.voice import Key, Keys, Names, Quantity, Quoted

Filter = tuple[str, int, float]  # shape, order, Q of one's own or nan
MOST_LEVELS = 3
CREST_FACTOR = Field(
    "crest_factor", "level", "How far the peaks of what is played lie above its mean power, which is what heats the "
    "coil: 6 dB is the noise that stands for music in tests, 3 dB a long tone, 10 dB and more hardly compressed music.",
    "3 dB", "20 dB",
)  # fmt: skip

AIR = (
    Field("temperature", "temperature", "Air temperature in the vehicle.", "-40 degC", "60 degC", default="20 degC"),
    Field("altitude", "length", "Height above the sea.", "-400 m", "5000 m", default="0 m"),
)  # fmt: skip

SOUND_GOALS = (
    Field("fed_from", "frequency", "Lowest frequency that the box is fed. Down to there it is turned down, by one "
          "setting of the gain, until cone, passive radiator, vent air and coil hold their limits.",
          "10 Hz", "60 Hz", default="20 Hz"),
    Field("levels", "frequency", "One to three frequencies, rising, in whole Hz, at which the level is told.",
          "10 Hz", "200 Hz", form="list", default=["30 Hz", "40 Hz", "50 Hz"]),
    Field("music_band", "frequency", "Band over which maximum output is averaged, lowest and highest.",
          "10 Hz", "200 Hz", form="range", default=["25 Hz", "80 Hz"]),
    Field("vent_speed_limit", "speed", "Peak air speed at which a vent starts to chuff; 17 m/s (56 ft/s) is common "
          "practice.", "3 m/s", "60 m/s", default="17 m/s"),
)  # fmt: skip
FILTER_SHAPE = (
    Field("shape", "choice", "Butterworth is 3 dB down at its frequency, Linkwitz-Riley 6 dB; own has the Q you state, "
          "and above 0.7 raises the sound near its frequency.", default="butterworth", choices=SHAPES),
    Field("order", "count", "1 is 6 dB per octave, 2 is 12, 4 is 24; a filter of your own Q has 2.", 1, 4),
    Field("q", "ratio", "Q of a filter of shape own; the others have theirs by order.", 0.3, 4),
)  # fmt: skip
FILTER = (
    Field("kind", "choice", "High-pass.", required=True, choices=("highpass",)),
    *FILTER_SHAPE,
    Field("frequency", "frequency", "Its frequency; of a Butterworth where it is 3 dB down.", "1 Hz", "500 Hz",
          required=True),
)  # fmt: skip
CHAIN = (
    Field("low_pass", "choice", "Crossover above which the box plays no more, or none.", default="none",
          choices=("none", *NAMED)),
    Field("low_pass_order", "count", "1 is 6 dB per octave, 2 is 12, 4 is 24.", 1, 4),
    Field("low_pass_frequency", "frequency", "Of a Butterworth where it is 3 dB down, of a Linkwitz-Riley 6 dB.",
          "30 Hz", "300 Hz"),
    Field("band_frequency", "frequency", "Middle of one parametric band of the equaliser; goes with band_gain.",
          "10 Hz", "200 Hz"),
    Field("band_gain", "level", "Gain in the middle of the band. What it raises takes the amplifier's full voltage "
          "sooner, so it adds no output.", "-15 dB", "15 dB"),
    Field("band_q", "ratio", "Q of the band; higher is narrower.", 0.3, 10, default=1),
)  # fmt: skip
CABIN = (
    Field("largest_dimension", "length", "Largest inside length of the cabin the box plays into, an open boot "
          "included. What follows is an estimate: measured cars differ from it by several dB. Loud sound in a closed "
          "cabin harms hearing in minutes.", "0.8 m", "12 m"),
    Field("leak", "frequency", "Below it the cabin's pressure escapes through its leaks; 0 Hz is sealed. Only for the "
          "estimate.", "0 Hz", "40 Hz", default="10 Hz"),
    Field("file", "text", "CSV file beside this one: frequency in Hz, then what the cabin adds in dB over the same box "
          "outdoors. Measure at low level: loud sound in a closed cabin harms hearing in minutes."),
    Field("table", "frequency", "The measured points themselves in place of a file, frequency first and rising.",
          f"{FREQUENCIES[0]:g} Hz", f"{FREQUENCIES[1]:g} Hz", form="points",
          against=Field("level", "level", "What the cabin adds.", low=f"{LEVELS[0]:g} dB", high=f"{LEVELS[1]:g} dB")),
    Field("offset", "level", "Added to every measured level, such as to bring a microphone's reading to dB over the "
          "box outdoors.", "-60 dB", "60 dB", default="0 dB"),
)  # fmt: skip


def read_levels(reader: Reader, document: Document, goals: Mapping[str, Any]) -> tuple[float, ...]:
    """The frequencies in Hz at which levels are told, of the values of [goals]; what is at fault is in the reader."""
    levels: tuple[float, ...] = goals.get("levels", USUAL_LEVELS)
    rising = all(low < high for low, high in pairwise(levels))
    if len(levels) > MOST_LEVELS or not rising or any(hz != round(hz) for hz in levels):
        reader.fault("goals.levels", "no_levels", stated_at(document, "goals.levels"), most=MOST_LEVELS)
        return USUAL_LEVELS
    if levels[0] < (fed_from := goals.get("fed_from", 0.0)):
        least = Quantity(fed_from, "frequency")
        reader.fault("goals.levels", "level_not_fed", stated_at(document, "goals.levels"), least=least)
    return levels


def levels_stated(document: Document) -> tuple[float, ...]:
    """The same of a document that may be at fault elsewhere, or here: the usual ones then."""
    reader = Reader("")
    (field,) = (each for each in SOUND_GOALS if each.key == "levels")
    stated = reader.value(stated_at(document, "goals.levels"), "goals.levels", field)
    return read_levels(reader, document, {} if stated is None else {"levels": stated})


def read_air(reader: Reader, document: Document) -> Air:
    """The air that [air] states; that of reference without the table, or where it is at fault."""
    values = reader.once(document, "air", AIR)
    if document.get("air") is None or len(values) < len(AIR):
        return REFERENCE_AIR
    return air_at(temperature_k=values["temperature"], altitude_m=values["altitude"])


def read_filter(reader: Reader, table: Mapping[str, Any], place: str, values: Mapping[str, Any]) -> Filter | None:
    """Shape, order and Q of a high-pass from its table and what of it reads well; None if it is at fault."""
    before, shape = len(reader.faults), values.get("shape")
    order, q = values.get("order"), values.get("q", math.nan)
    if shape is not None and SHAPES[shape].own_q:
        if order is not None and order != 2:
            reader.fault(f"{place}.order", "own_filter_of_order_2", order)
        reader.missing(table, f"{place}.q", ("q",), FILTER_SHAPE, "own_filter_without_q")
        order = 2
    elif shape is not None:
        if table.get("q") is not None:
            reader.fault(f"{place}.q", "q_follows", q, shape=SHAPES[shape].label)
        no_order = reader.missing(table, f"{place}.order", ("order",), FILTER_SHAPE, "high_pass_incomplete")
        if not no_order and order is not None:
            _check_order(reader, f"{place}.order", shape, order)
    stated = all(table.get(key) is None or key in values for key in ("shape", "order", "q"))
    if not stated or shape is None or order is None or "frequency" not in values or len(reader.faults) > before:
        return None
    return shape, order, q


def read_chain(reader: Reader, document: Document) -> Chain:
    """Crossover and band from the table [chain]; what is at fault is in the reader, and then left out."""
    chain, table = NO_CHAIN, reader.table(document, "chain")
    if table is None:
        return chain
    values = reader.values(table, "chain", CHAIN)
    shape, order, cutoff = (values.get(key) for key in ("low_pass", "low_pass_order", "low_pass_frequency"))
    for key in ("low_pass_order", "low_pass_frequency"):
        if shape == "none" and table.get(key) is not None:
            reader.fault(f"chain.{key}", "no_crossover", table[key], shapes=Quoted(NAMED))
        elif shape in NAMED:
            reader.missing(table, f"chain.{key}", (key,), CHAIN, "crossover_incomplete")
    if shape in NAMED and order is not None:
        _check_order(reader, "chain.low_pass_order", shape, order)
        if cutoff is not None:
            q, q2 = _qs(shape, order)
            chain = replace(chain, low_pass_order=order, low_pass_hz=cutoff, low_pass_q=q, low_pass_q2=q2)
    band = Keys(("band_frequency", "band_gain"))
    for key, other in (band, band[::-1], ("band_gain", "band_q")):
        if table.get(other) is not None:
            reader.missing(table, f"chain.{key}", (key,), CHAIN, "band_incomplete", stated=Key(other), band=band)
    if {*band, "band_q"} <= values.keys():
        chain = replace(chain, band_hz=values["band_frequency"], band_db=values["band_gain"], band_q=values["band_q"])
    return chain


def read_vehicle(reader: Reader, document: Document, *, folder: Path | None, air: Air) -> Cabin | None:
    """The cabin from the table [cabin]; None without one or if it is at fault, and the reader has the faults.

    ``folder`` is where a measurement's file is looked for; without one it cannot be stated.
    """
    before, table = len(reader.faults), reader.table(document, "cabin")
    if table is None:
        return None
    values = reader.values(table, "cabin", CABIN)
    either = ("largest_dimension", "file", "table")
    if reader.missing(table, "cabin", either, CABIN, "no_cabin"):
        return None
    way, *others = (key for key in either if table.get(key) is not None)
    if others:
        reader.fault("cabin", "cabin_twice", stated=Keys((way, *others)))
        return None
    estimated = way == "largest_dimension"
    strange, code = ("offset", "offset_of_estimate") if estimated else ("leak", "leak_of_measurement")
    if table.get(strange) is not None:
        reader.fault(f"cabin.{strange}", code, table[strange])
    if way not in values:
        return None
    if estimated:
        if len(reader.faults) > before:
            return None
        return EstimatedCabin(largest_dimension=values[way], leak_hz=values["leak"], air=air)
    measured = _from_file(reader, values[way], folder) if way == "file" else _from_table(reader, values[way])
    if measured is None or len(reader.faults) > before:
        return None
    return replace(measured, level_db=measured.level_db + values["offset"])


def with_points(document: Document, *, folder: Path) -> Document:
    """The document with a measurement's points in place of its file, so that it stands by itself.

    The one given stays as it is; without a file it comes back unchanged.  Raises InputFaults with the file's faults.
    """
    table = document.get("cabin")
    if not isinstance(table, dict) or not isinstance(name := table.get("file"), str) or not name.strip():
        return document
    points = table_of(read_cabin(folder / name.strip()))
    return document | {"cabin": {key: value for key, value in table.items() if key != "file"} | {"table": points}}


def table_of(measured: MeasuredCabin) -> list[list[str]]:
    """A measurement's points as a document states them."""
    points = zip(measured.frequency, measured.level_db, strict=True)
    return [[write(float(frequency), "frequency"), write(float(level), "level")] for frequency, level in points]


def _qs(shape: str, order: int) -> tuple[float, float]:
    q, q2 = section_qs(shape=shape, order=order)
    return float(q), float(q2)


def _check_order(reader: Reader, place: str, shape: str, order: int) -> None:
    if order not in SHAPES[shape].orders:
        orders = Names(map(str, SHAPES[shape].orders))
        reader.fault(place, "no_such_order", order, shape=SHAPES[shape].label, order=order, orders=orders)


def _from_file(reader: Reader, name: str, folder: Path | None) -> MeasuredCabin | None:
    try:
        if folder is not None:
            return read_cabin(folder / name)
        reader.fault("cabin.file", "file_from_nowhere", name)
    except InputFaults as error:
        reader.faults += error.faults
    return None


def _from_table(reader: Reader, points: tuple[tuple[float, float], ...]) -> MeasuredCabin | None:
    before = len(reader.faults)
    if len(points) < FEWEST_POINTS:
        reader.fault("cabin.table", "few_points", f"{len(points)} points", least=FEWEST_POINTS)
    for number, (last, here) in enumerate(pairwise(points), start=1):
        if here[0] <= last[0]:
            reader.fault(f"cabin.table[{number}][0]", "point_not_rising", f"{here[0]:g} Hz", before=last[0])
    if len(reader.faults) > before:
        return None
    frequency, level = np.array(points, dtype=float).T
    return MeasuredCabin(frequency=frequency, level_db=level, source="table")
