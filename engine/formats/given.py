"""A box that is given: a job whose table ``given`` states one box, by its sizes and what goes into it.

Such a file may do without a space, which is then taken to be no matter.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from engine.document import Document, Reader, stated_at, write_document, written_in
from engine.errors import Fault, InputFaults
from engine.field import Field
from engine.formats import listening
from engine.formats.fields import BUILT, BUILT_TABLE, FIELDS, GIVEN_TABLE, SIZES, TABLES
from engine.formats.scenario import parse_scenario
from engine.kinds import KINDS
from engine.openings import OPENINGS, making
from engine.openings.record import Opening
from engine.parts import Openness, Space
from engine.quantities import Units, show_size, write, write_size
from engine.scenario import FilterChoice, Scenario
from engine.space.pieces import Piece
from engine.space.sizes import BOTTOM, LEAN, OUTER, TOP, VOLUME, missing, outer_sizes, size_for, twice
from engine.space.wedge import Wedges
from engine.wiring import allowed, different, wirings
from engine.words.voice import Key, Keys, Names, as_measured

TABLE = GIVEN_TABLE
# Free before a box whose space is not stated: more than a driver or a vent in any panel needs.
ROOM = 1.0  # m
_ANYWHERE: Document = {"width": "4000 mm", "section": [
    ["0 mm", "0 mm"], ["4000 mm", "0 mm"], ["4000 mm", "4000 mm"], ["0 mm", "4000 mm"]]}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Given:
    """One box as somebody states it.

    ``scenario`` is the job with nothing to choose: its kind of box, driver, count, facing and filter are those of the
    box.  ``row`` has what a row of a front has for it and needs no working out.  Of a tuned box ``aim`` is the column
    of a front, and its figure, that the lumped tuning has to come to; None of others.  The true tuning goes before what
    is built for it.
    """

    scenario: Scenario
    opening: Opening
    row: Mapping[str, Any]
    aim: tuple[str, float] | None
    cut: tuple[str, float] | None  # the same of what is built for the tuning, where that is stated
    built: tuple[Piece, ...]  # as the file has what is built of it; nothing where it says nothing


def is_given(document: Document) -> bool:
    """Whether a document states one box by its sizes."""
    return document.get(TABLE) is not None


def parse_given(document: Document, *, source: str, folder: Path | None = None) -> Given:
    """The box that a document gives, a file it names in ``folder``.  Raises InputFaults with every fault in it."""
    reader = Reader(source)
    faults: tuple[Fault, ...] = ()
    table = reader.table(document, TABLE) or {}
    reader.finish(document)  # of what is no table nothing more is asked
    values = reader.values(table, TABLE, FIELDS[TABLE], TABLES[TABLE])
    job = {"title": "A box that is given", "space": _ANYWHERE, **document}
    job = {key: value for key, value in job.items() if key not in (TABLE, BUILT_TABLE)}
    box = job.get("box", {})
    apart = values.get("baffle") == "double" and values.get("facing") != "front"
    if "kind" in values and isinstance(box, dict):
        ways = {"kinds": "kind", "facings": "facing", "pipe_outlets": "pipe_outlet"}
        ways |= {} if apart else {"baffles": "baffle"}
        job["box"] = {**box, **{key: [values[way]] for key, way in ways.items() if way in values}}
    try:
        scenario = parse_scenario(job, source=source, folder=folder)
    except InputFaults as wrong:
        faults = wrong.faults
    if apart:
        reader.fault(f"{TABLE}.baffle", "double_not_in_front", table["baffle"], facings=Key(f"{TABLE}.facing"))
    _check_sizes(reader, table)
    driver = _named(reader, "driver", values, _names(document, "driver"))
    opening = _opening(reader, document, table, values)
    filter_ = _filter(reader, document)
    built = _built(reader, document)
    if faults or reader.faults:
        raise InputFaults([*faults, *reader.faults], written_in(document))
    assert opening is not None
    candidate = next(each for each in scenario.candidates if each.driver.name == driver)
    parts, columns = opening.chosen(values, scenario.stock.listed(opening.name))
    scenario = replace(
        scenario,
        box=replace(scenario.box, fillings=(values["filling"],)),
        candidates=(replace(candidate, counts=(values["count"],), load=values.get("load", math.nan)),),
        amplifier=replace(scenario.amplifier, each_wiring=False),
        stock=replace(scenario.stock, openings={opening.name: tuple(parts)} if parts else {}),
        filters=(filter_,),
        bounds={},
        document=document,
    )
    _check_load(reader, table, scenario, values)
    sizes = _outer(reader, document, scenario, values)
    reader.finish(document)
    if document.get("space") is None:
        scenario = replace(scenario, space=_room_for(sizes, scenario.box.back_angle))
    aim, cut = None, None
    if KINDS[opening.box_kind].tuned:
        field, column = opening.built
        cut = (column, values[field]) if field in values else None
        aim = ("tuning_hz", values["tuning"]) if "tuning" in values else cut
    row: dict[str, Any] = {**{f"{name}_m": size for name, size in sizes.items()}, **columns}
    row |= {"filter_hz": filter_.frequency[0] if filter_.order else math.nan}
    return Given(scenario=scenario, opening=opening, row=row, aim=aim, cut=cut, built=built)


def _check_sizes(reader: Reader, table: Mapping[str, Any]) -> None:
    """Each size once, and of the section two; a volume in place of one of them.

    Of ``table`` as it is written: a size that cannot be read is wrong, and not missing besides.
    """
    stated = [field.key for field in SIZES if field.key in table]
    for key, code, sizes in twice(stated):
        reader.fault(f"{TABLE}.{key}", code, stated=Keys(sizes))
    lacking = missing(stated)
    if VOLUME in table and not lacking:
        reader.fault(f"{TABLE}.{VOLUME}", "volume_besides")
    for ways in lacking[1:] if VOLUME in table else lacking:
        instead = (LEAN,) if ways in (BOTTOM, TOP) and LEAN not in stated else ()
        reader.fault(f"{TABLE}.{ways[0]}", "size_missing", sizes=Keys((*ways, *instead)))


def _check_load(reader: Reader, table: Mapping[str, Any], scenario: Scenario, values: Mapping[str, Any]) -> None:
    """The load tells a wiring from the others: one of its drivers must come to it."""
    (candidate,) = scenario.candidates
    joins: dict[str, Any] = {"coils": candidate.coil_wirings, "drivers": candidate.driver_wirings}
    ways = allowed(wirings(candidate.driver, values["count"], scenario.amplifier), **joins)
    if "load" in values and ways and not allowed(ways, **joins, load=values["load"]):
        loads = Names([f"{each.load:.4g} ohm" for each in different(ways)])
        reader.fault(f"{TABLE}.load", "no_such_load", table["load"], loads=loads)


def _outer(reader: Reader, document: Document, scenario: Scenario, values: Mapping[str, Any]) -> dict[str, float]:
    """The outer sizes that the stated ones come to; nothing where they enclose nothing."""
    stock, board = scenario.stock, scenario.stock.board_thickness
    shape: dict[str, Any] = {"board": board, "back_angle": scenario.box.back_angle}
    shape["layer"] = stock.layer_of(values["baffle"])
    stated = {field.key: float(values[field.key]) for field in SIZES if field.key in values}
    if VOLUME in values:
        whole = size_for({**stated, VOLUME: values[VOLUME]}, **shape)
        if whole is None:
            reader.fault(f"{TABLE}.{VOLUME}", "volume_of_no_size", document[TABLE][VOLUME])
            return {}
        stated = whole
    outer = outer_sizes(stated, **shape)
    if not Wedges(**{**outer, **shape}).violation[0] < 0.0:
        reader.fault(TABLE, "walls_meet", board=as_measured(board))
    return {name: float(size[0]) for name, size in outer.items()}


def _opening(reader: Reader, document: Document, table: Mapping[str, Any], values: dict[str, Any]) -> Opening | None:
    """What the box breathes through, by which of its fields are stated; a part's name is filled in where one will do.

    None where that is at fault.
    """
    if "kind" not in values:
        return None
    kind, among = KINDS[values["kind"]], making(values["kind"])
    among = [opening for opening in among if opening.given] or among
    tuning = {"tuning"} if kind.tuned else set()
    own = {key for opening in among for key in _keys(opening)} | tuning
    for key in dict.fromkeys([*(key for each in OPENINGS.records for key in _keys(each)), "tuning"]):
        if key in table and key not in own:
            reader.fault(f"{TABLE}.{key}", "not_of_this_kind", table[key], noun=kind.noun)
    chosen = [opening for opening in among if not opening.given or _keys(opening)[0] in table]
    if not chosen:
        # Of what is listed once nobody has to say the name.
        chosen = [each for each in among if each.table is not None and len(_names(document, each.table.path)) == 1]
    if len(chosen) != 1:
        keys = Keys([_keys(opening)[0] for opening in chosen or among])
        reader.fault(f"{TABLE}.{keys[-1]}", "opening_twice" if chosen else "opening_missing", ways=keys)
        return None
    (opening,) = chosen
    if kind.tuned and values.get("filling", "none") != "none":
        reader.fault(f"{TABLE}.filling", "not_of_this_kind", table["filling"], noun=kind.noun)
    if opening.table is not None and opening.given[0][0].kind == "text":
        _named(reader, _keys(opening)[0], values, _names(document, opening.table.path))
    if kind.tuned:
        ways = Keys(("tuning", opening.built[0]))
        if not any(key in table for key in ways):
            reader.fault(f"{TABLE}.tuning", "given_untuned", ways=ways)
    return opening


def _keys(opening: Opening) -> list[str]:
    """The fields of a given box that an opening brings."""
    return [field.key for field, _ in opening.given]


def _named(reader: Reader, key: str, values: dict[str, Any], names: Sequence[str]) -> str | None:
    """The part that a key names, or the only one there is; None where there is no such part."""
    name = values.setdefault(key, names[0]) if len(names) == 1 else values.get(key)
    if name in names or not names:  # that nothing is listed is told of where it should be
        return name
    reader.fault(f"{TABLE}.{key}", "no_such_part" if name else "part_unnamed", name, known=Names(names))
    return None


def _names(document: Document, path: str) -> list[str]:
    """What the items of a repeated table are called, as far as they are."""
    items = stated_at(document, path)
    named = [item.get("name") for item in items if isinstance(item, dict)] if isinstance(items, list) else []
    return [name.strip() for name in named if isinstance(name, str)]


def _filter(reader: Reader, document: Document) -> FilterChoice:
    place = f"{TABLE}.filter"
    if (table := reader.table(document, place)) is None:
        return FilterChoice()
    values = reader.values(table, place, FIELDS[place])
    if (read := listening.read_filter(reader, table, place, values)) is None or "frequency" not in values:
        return FilterChoice()
    shape, order, q = read
    return FilterChoice(order=order, frequency=(values["frequency"],) * 2, shape=shape, q=q)


def _built(reader: Reader, document: Document) -> tuple[Piece, ...]:
    """The pieces that a file has of what is built."""
    found = []
    for place, table in reader.tables(document, BUILT_TABLE):
        values = reader.values(table, place, BUILT)
        shapes = [key for key in ("section", "centres") if key in values]
        if len(shapes) != 1:
            reader.fault(place, "piece_without_shape", stated=Keys(("section", "centres")))
        elif {"name", "across"} <= values.keys():
            found.append(Piece(**values))
    return tuple(found)


def write_given(
    scenario: Scenario, values: Mapping[str, Any], *, filter_: Mapping[str, Any] | None, pieces: Sequence[Piece]
) -> str:
    """One box of a job as the text of a file that gives it, with all that it is made of; :func:`parse_given` reads it.

    ``values`` are SI, by the fields of ``given``, and so is ``filter_``, None where there is none; ``pieces`` are what
    is built.  Of the job nothing is left out that the box has to do with.
    """
    units = written_in(dict(scenario.document))
    left_out = ("filter", "bounds", "search", TABLE, BUILT_TABLE)
    document: Document = {key: copy.deepcopy(value) for key, value in scenario.document.items() if key not in left_out}
    ways = {
        "kinds": values["kind"],
        "facings": values["facing"],
        "baffles": values["baffle"],
        "fillings": values["filling"],
    }
    ways |= {"pipe_outlets": values["pipe_outlet"]} if "pipe_outlet" in values else {}
    document["box"] = {**document.get("box", {}), **{key: [way] for key, way in ways.items()}}
    document["driver"] = [
        {**each, "counts": [values["count"]]} for each in document["driver"] if each["name"] == values["driver"]
    ]
    for opening in OPENINGS.records:
        if opening.table is not None:
            _keep_only(document, opening, values)
    document[TABLE] = _as_text(values, FIELDS[TABLE], units)
    if filter_ is not None:
        document[TABLE]["filter"] = _as_text(filter_, FIELDS[f"{TABLE}.filter"], units)
    document[BUILT_TABLE] = [
        _as_text({key: size for key, size in vars(piece).items() if size}, BUILT, units, show_size) for piece in pieces
    ]
    return write_document(document)


def _keep_only(document: Document, opening: Opening, values: Mapping[str, Any]) -> None:
    """Of what is listed for an opening leave what the box has."""
    assert opening.table is not None, "the caller sees to it"
    above, _, key = opening.table.path.rpartition(".")
    parent = stated_at(document, above) if above else document
    listed, wanted = parent.pop(key, None), values.get(opening.given[0][0].key) if opening.given else None
    if listed is not None and wanted is not None:
        parent[key] = [each for each in listed if each["name"] == wanted] if opening.table.many else listed


def _as_text(
    values: Mapping[str, Any],
    fields: Sequence[Field],
    units: Units,
    lengths: Callable[[float, Units], str] = write_size,
) -> Document:
    """SI values by the keys of their fields, in a user's units, lengths as ``lengths`` writes them."""

    def text(value: Any, field: Field) -> Any:
        if isinstance(value, tuple):
            return [text(each, field) for each in value]
        if field.kind == "length":
            return lengths(value, units)
        return write(value, field.kind, units) if field.is_quantity else value

    known = {field.key: field for field in fields}
    return {key: text(value, known[key]) for key, value in values.items()}


def _room_for(sizes: Mapping[str, float], back_angle: float) -> Space:
    """A space that is no matter to a box of these outer sizes, and open all round."""
    width, height, bottom, top = (sizes[name] for name in OUTER)
    rise = height * math.tan(back_angle)
    rear, front = min(rise, 0.0) - ROOM, max(bottom, rise + top) + ROOM
    section = ((0.0, 0.0), (front - rear, 0.0), (front - rear, height + ROOM), (0.0, height + ROOM))
    return Space(section=section, width=width + 2.0 * ROOM, openness=Openness(front=1.0, top=1.0, left=1.0, right=1.0))
