"""Scenario files: one job as a document states it, read and validated as a whole."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from engine import document, outline, polygon
from engine.acoustics.filters import SHAPES, section_qs
from engine.datasheet import SCREWS, read_driver
from engine.document import MOST_ITEMS, Document, Known, Reader, Tables, stated_at, written_in
from engine.formats import listening
from engine.formats.fields import BUILT_TABLE, CUTTING, FIELDS, GIVEN_TABLE, SHEET, TABLES, limit_field
from engine.formats.held import check_held
from engine.formats.listening import with_points
from engine.goals import GOALS, default_objectives, level_key, levels_among, needing
from engine.openings import OPENINGS, making
from engine.outline import Measured
from engine.packing.contents import SCREW_HOLD
from engine.parts import (
    USUAL_CREST,
    Amplifier,
    Clearances,
    Cutting,
    Door,
    KeepOut,
    Openness,
    Saw,
    SheetStock,
    Space,
    Stock,
    TerminalCup,
)
from engine.quantities import Units
from engine.scenario import USUAL_FILTERS, BoxChoices, Build, Candidate, FilterChoice, Goals, Scenario
from engine.space.sizes import ALIKE, twice
from engine.standing_room import has_room, keeps_out, widest_bar
from engine.words.voice import Key, Keys, Mixed, Quantity, Quoted, TableName, Where, as_measured

MOST_KEEPOUTS = 12  # more cut the space into so many parts that a search would take minutes
SMALLEST_EXTENT = 0.05  # m; a space less deep or high than this was measured in another unit
SAME = 1e-9  # m; lengths no further apart are taken for the same
SIZE_STEPS: dict[Units, float] = {"metric": 1e-3, "us": 0.0254 / 16}  # m, of sizes where a job states none
# Tables and keys that a search does not go by: a box that is given, what built boxes are off by, how a pick is built.
_SCREWS = tuple(f"{part}.{field.key}" for part in ("driver", "radiator") for field in SCREWS)
UNSEARCHED = frozenset((GIVEN_TABLE, BUILT_TABLE, "tolerance", "build", *_SCREWS, "driver.screw_angle"))
SAME_Q = 1e-3  # filters whose Q are no further apart are the same


def read_scenario(path: Path) -> Scenario:
    """The job a scenario file describes.  Raises InputFaults with every fault in it and in the files it names.

    >>> read_scenario(demo_scenarios()["van-bench"]).candidates[0].driver.fs
    32.0
    """
    return parse_scenario(document.read_document(path), source=str(path), folder=path.parent)


def read_document(path: Path) -> Document:
    """A scenario file as a document that stands by itself: a measured cabin's points are in it.

    Raises InputFaults with what keeps it from being read: see :func:`engine.document.read_document` and
    :func:`engine.formats.measurement.read_cabin`.
    """
    return with_points(document.read_document(path), folder=path.parent)


def demo_scenarios() -> dict[str, Path]:
    """The demo jobs that come along: name -> file."""
    folder = Path(str(files("scenarios")))
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def parse_scenario(
    stated: Document, *, source: str, folder: Path | None = None, most_drivers: int = MOST_ITEMS
) -> Scenario:
    """The job that a document describes, keys as in a scenario file.

    ``source`` names the document in messages; a file it names is looked for in ``folder``.  Raises InputFaults
    with every fault in it, each with the exact place, such as ``driver[0].fs`` or ``space.section[2][1]``; more than
    ``most_drivers`` are one.
    """
    return _Parser(stated, source, folder, most_drivers).scenario()


def searched_by(stated: Document) -> Document:
    """What of a document a search goes by; what it is called too."""

    def kept(value: Any, path: str) -> Any:
        if isinstance(value, dict):
            places = ((key, f"{path}.{key}" if path else key) for key in value)
            return {key: kept(value[key], place) for key, place in places if place not in UNSEARCHED}
        return [kept(each, path) for each in value] if isinstance(value, list) else value

    found: Document = kept(stated, "")
    return found


def digest_of(stated: Document) -> str:
    """A fingerprint of what a document says of a job that a search goes by, whatever the order of its keys."""
    job = searched_by(stated)
    canonical = json.dumps(job, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)
    return hashlib.sha256(canonical.encode()).hexdigest()


class _Parser:
    """Reads one document table by table; what is at fault comes back as None and is in the reader."""

    def __init__(self, stated: Document, source: str, folder: Path | None, most_drivers: int) -> None:
        self.document, self.folder, self.most_drivers = stated, folder, most_drivers
        self.reader = Reader(source)

    def scenario(self) -> Scenario:
        reader = self.reader
        top = reader.values(self.document, "", FIELDS[""], TABLES[""])
        if currency := top.get("currency"):
            reader.currency = currency if re.fullmatch(r"[A-Z]{3}", currency) else None
            if reader.currency is None:
                reader.fault("currency", "no_currency", currency)
        space, clearance, door = self._one("space"), self._one("space.clearance"), self._one("space.door")
        openness = self._one("space.openness")
        self._outline(space)
        keepouts = self._keepouts()
        stock, cup, saw = self._one("stock"), self._one("stock.terminal_cup"), self._one("saw")
        driver_tables = reader.tables(self.document, "driver", most=self.most_drivers)
        box, (goals, limits) = self._one("box"), self._goals()
        # Of board behind what is mounted: that of the thickest baffle, less what flanges are sunk.
        behind = self._check_baffles(box, stock)
        candidates = self._candidates(driver_tables, behind)
        listed, opening_tables = self._listed(behind)
        amplifier, filters = self._amplifier(), self._filters()
        chain, air = listening.read_chain(reader, self.document), listening.read_air(reader, self.document)
        bounds, search, held = self._one("bounds"), self._one("search"), self._one("held")
        tolerance, build = self._one("tolerance"), self._one("build")
        sheets, cutting = self._sheets()
        self._check_held(held, bounds)
        cabin = listening.read_vehicle(reader, self.document, folder=self.folder, air=air)
        self._check_space(space, clearance, keepouts, stock)
        board = stock.get("board_thickness")
        if board is not None and box.get("round_over", 0.0) > board + SAME:
            stated = self._at("box")["round_over"]
            reader.fault("box.round_over", "rounder_than_board", stated, board=as_measured(board))
        most_bevel, lean = saw.get("most_bevel"), box.get("back_angle", 0.0)
        if most_bevel is not None and abs(lean) > most_bevel + SAME:
            most = Quantity(most_bevel, "angle", figures=3)
            reader.fault(
                "box.back_angle",
                "steeper_than_saw",
                self._at("box")["back_angle"],
                most=most,
                saw=Key("saw.most_bevel"),
            )
        bevels = limits.get("bevel_angles")
        if bevels is not None and bevels < 1 and abs(lean) > SAME:
            stated = self._at("goals.limits")["bevel_angles"]
            reader.fault("goals.limits.bevel_angles", "back_is_bevelled", stated, back=Key("box.back_angle"))
        self._check_cup(cup, board)
        kinds = box.get("kinds", ())
        self._check_openings(kinds)
        objectives = goals.get("objectives", ())
        if len(objectives) == 1:
            reader.fault("goals.objectives", "one_goal", list(objectives))
        if len(set(goals.get("music_band", (0.0, 1.0)))) == 1:
            reader.fault("goals.music_band", "no_band")
        # Of what no box is built with nothing more is asked.
        built = [opening.name for opening in OPENINGS.records if opening.box_kind in kinds]
        bought = driver_tables + [each for name in built for each in opening_tables.get(name, ())]
        self._check_needs(top, {*objectives, *limits}, bought)
        reader.finish(self.document)

        assert amplifier is not None
        whole = self.document if self.folder is None else with_points(self.document, folder=self.folder)
        goals["limits"] = limits
        space |= {"clearance": Clearances(**clearance), "openness": Openness(**openness)}
        space |= {"keepouts": tuple(keepouts.values())}
        stock |= {"openings": {name: parts for name, parts in listed.items() if parts}}
        saw.setdefault("size_step", SIZE_STEPS[written_in(self.document)])
        scenario = Scenario(
            **top,
            space=Space(**space, door=Door(**door) if door else None),
            box=BoxChoices(**box),
            candidates=tuple(candidates),
            amplifier=amplifier,
            stock=Stock(**stock, terminal_cup=TerminalCup(**cup) if cup else None),
            saw=Saw(**saw),
            build=Build(**build, sheets=sheets, cutting=cutting),
            filters=filters,
            chain=chain,
            cabin=cabin,
            goals=Goals(**goals),
            bounds={name: (float(low), float(high)) for name, (low, high) in bounds.items()},
            held={name: float(size) for name, size in held.items()},
            air=air,
            tolerance=tolerance,
            **search,
            document=whole,
            digest=digest_of(whole),
        )
        check_held(reader, scenario, self._at("held"))
        reader.finish(self.document)
        return scenario

    def _one(self, path: str) -> dict[str, Any]:
        return self.reader.once(self.document, path, FIELDS[path], TABLES.get(path, ()))

    def _goals(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """What is asked of designs and the limits on it, those on levels at the frequencies that are named included."""
        goals = self._one("goals")
        goals["levels"] = listening.read_levels(self.reader, self.document, goals)
        if stated_at(self.document, "goals.objectives") is None:
            goals["objectives"] = default_objectives(goals["levels"])
        named = [level_key(hz, cabin=cabin) for hz in goals["levels"] for cabin in (False, True)]
        asked = levels_among(self._at("goals.limits"))
        fields = [*FIELDS["goals.limits"], *(limit_field(GOALS[key]) for key in dict.fromkeys([*named, *asked]))]
        limits = self.reader.once(self.document, "goals.limits", fields)
        for number, key in enumerate(goals.get("objectives", ())):
            self._check_named(f"goals.objectives[{number}]", key, named)
        for key in asked:
            self._check_named(f"goals.limits.{key}", key, named)
        return goals, limits

    def _check_named(self, place: str, key: str, named: Sequence[str]) -> None:
        """A level is told at the frequencies that the job names, and nowhere else."""
        if levels_among([key]) and key not in named:
            self.reader.fault(place, "level_not_named", key, levels=Quoted(named[::2]))

    def _at(self, path: str) -> Mapping[str, Any]:
        """The table at a place as it stands in the document; empty where there is none."""
        here = stated_at(self.document, path)
        return here if isinstance(here, dict) else {}

    def _outline(self, space: dict[str, Any]) -> None:
        """Puts the corners that a table of measurements stands for where stated corners would be."""
        reader, stated = self.reader, self._at("space")
        tables = reader.tables(self.document, "space.measured")
        ways = [way for way in ("section", "measured") if stated.get(way) is not None]
        if len(ways) == 2:
            reader.fault("space.section", "outline_twice")
        elif not ways and isinstance(self.document.get("space"), dict):
            self._miss("space", "section", ("section", "measured"), "outline_missing")
        fields = FIELDS["space.measured"]
        read = [reader.values(table, place, fields) for place, table in tables]
        rows = [Measured(**values) if len(values) == len(fields) else None for values in read]
        wrong = outline.faults_of(rows) if tables else []
        for row, key, (code, parameters) in wrong:
            if row is None:
                reader.fault("space.measured", code, **parameters)
            else:
                place, table = tables[row]
                reader.fault(f"{place}.{key}", code, table.get(key), **parameters)
        whole = [row for row in rows if row is not None]
        if whole and len(whole) == len(rows) and not wrong and ways == ["measured"]:
            space["section"] = outline.corners_of(whole)

    def _keepouts(self) -> dict[str, KeepOut]:
        """Each keep-out that reads well, by its place."""
        reader, named, found = self.reader, [], {}
        for place, table in reader.tables(self.document, "space.keepout"):
            before = len(reader.faults)
            values = reader.values(table, place, FIELDS["space.keepout"])
            named.append(values)
            for key in ("across", "forward", "up"):
                low, high = values.get(key, (0.0, 1.0))
                if low == high:
                    reader.fault(f"{place}.{key}", "keepout_without_extent", table[key])
            stated = [key for key in ("forward", "up", "section") if table.get(key) is not None]
            if "section" not in stated:
                for key in ("forward", "up"):
                    self._miss(place, key, (key, "section"), "keepout_unplaced")
            elif len(stated) > 1:
                reader.fault(f"{place}.section", "keepout_placed_twice", stated=Keys(stated))
            for code, parameters in polygon.faults_of(values["section"]) if "section" in values else ():
                reader.fault(f"{place}.section", code, **parameters)
            if len(reader.faults) == before:
                if (section := values.get("section")) is None:
                    (rear, front), (low, high) = values["forward"], values["up"]
                    section = ((rear, low), (front, low), (front, high), (rear, high))
                found[place] = KeepOut(name=values["name"], across=values["across"], section=section)
        self._check_names("space.keepout", named)
        if len(named) > MOST_KEEPOUTS:
            reader.fault("space.keepout", "too_many_keepouts", f"{len(named)} keep-outs", most=MOST_KEEPOUTS)
            return {}
        return found

    def _miss(self, path: str, key: str, instead: Sequence[str], code: str) -> None:
        """A fault for a key that stands nowhere, nor what may stand instead of it."""
        known: Known = [*FIELDS[_bare(path)], *TABLES.get(_bare(path), ())]
        self.reader.missing(self._at(path), f"{path}.{key}", instead, known, code)

    def _sheets(self) -> tuple[tuple[SheetStock, ...], Cutting]:
        """Sheets to cut from, and how they are cut."""
        tables = self.reader.tables(self.document, SHEET)
        sheets = [self.reader.values(table, place, FIELDS[SHEET]) for place, table in tables]
        cutting = self._one(CUTTING)
        shared = cutting.pop("shared_bevels", "yes") == "yes"
        stated = frozenset(self._at(CUTTING))
        return tuple(SheetStock(**each) for each in sheets), Cutting(**cutting, shared=shared, stated=stated)

    def _listed(self, board: float) -> tuple[dict[str, tuple[Any, ...]], dict[str, Tables]]:
        """What is listed for each opening, by its name: the parts that read well, and the tables as they stand."""
        parts, tables = {}, {}
        for opening in OPENINGS.records:
            if (listed := opening.table) is None:
                continue
            if listed.many:
                tables[opening.name] = self.reader.tables(self.document, listed.path)
            else:
                table = self.reader.table(self.document, listed.path)
                tables[opening.name] = [] if table is None else [(listed.path, table)]
            read = [listed.read(self.reader, place, table, board) for place, table in tables[opening.name]]
            self._check_names(listed.path, [values for _, values in read])
            parts[opening.name] = tuple(part for part, _ in read if part is not None)
        return parts, tables

    def _candidates(self, tables: Tables, board: float) -> list[Candidate]:
        reader, found, stated = self.reader, [], []
        for place, table in tables:
            driver, values = read_driver(reader, table, place, FIELDS["driver"])
            stated.append(values)
            self._check_depths(place, table, values, board)
            if driver is not None:
                joins = {key: values[key] for key in ("coil_wirings", "driver_wirings") if key in values}
                found.append(Candidate(driver=driver, counts=tuple(sorted(values["counts"])), **joins))
        self._check_names("driver", stated)
        return found

    def _check_baffles(self, box: Mapping[str, Any], stock: Mapping[str, Any]) -> float:
        """Double ones carry drivers that face the front; a recess leaves what screws need.  Gives what is left, m."""
        board, baffles, stated = stock.get("board_thickness", 0.0), box.get("baffles", ()), self._at("box")
        recess = box.get("baffle_recess", 0.0)
        if "double" in baffles and set(box.get("facings", ())) - {"front"}:
            self.reader.fault("box.baffles", "double_not_in_front", stated["baffles"], facings=Key("box.facings"))
        layers = [stock.get("baffle_layer", board) if baffle == "double" else 0.0 for baffle in baffles]
        thinnest, thickest = (board + each(layers, default=0.0) for each in (min, max))
        most = max(thinnest - SCREW_HOLD, 0.0)
        if board and recess > most + SAME:
            said = {"most": as_measured(most), "hold": as_measured(SCREW_HOLD)}
            self.reader.fault("box.baffle_recess", "recess_too_deep", stated["baffle_recess"], **said)
        return float(max(thickest - recess, 0.0))

    def _check_depths(self, place: str, table: Mapping[str, Any], values: Mapping[str, Any], board: float) -> None:
        """A driver reaches through its panel, and its magnet and terminals lie within its depth."""
        mounting, magnet, terminals = (values.get(f"{part}_depth") for part in ("mounting", "magnet", "terminal"))
        if mounting is None:
            return
        wrong = {}
        if mounting <= board:
            wrong["mounting_depth"] = "within_board"
        elif magnet is not None and magnet >= mounting - board - SAME:
            wrong["magnet_depth"] = "magnet_too_deep_less_board" if board else "magnet_too_deep"
        if terminals is not None and terminals > mounting + SAME:
            wrong["terminal_depth"] = "terminals_too_deep"
        said: dict[str, Any] = {"board": as_measured(board), "most": Quantity(mounting - board, "length")}
        said |= {"mounting": Key("mounting_depth"), "depth": as_measured(mounting)}
        for key, code in wrong.items():
            self.reader.fault(f"{place}.{key}", code, table[key], **said)

    def _check_names(self, path: str, tables: Sequence[Mapping[str, Any]]) -> None:
        """Designs name their parts, so no two may be called the same."""
        first: dict[str, int] = {}
        for number, name in enumerate(table.get("name", "") for table in tables):
            before = first.setdefault(name.casefold(), number)
            if name and before != number:
                self.reader.fault(f"{path}[{number}].name", "name_twice", name, other=Where(f"{path}[{before}]"))

    def _amplifier(self) -> Amplifier | None:
        reader, values = self.reader, self._one("amplifier")
        loads: dict[float, float] = {}
        whole = True
        for place, table in reader.tables(self.document, "amplifier.load"):
            load = reader.values(table, place, FIELDS["amplifier.load"])
            if len(load) < 2:
                whole = False
            elif any(math.isclose(load["impedance"], other, rel_tol=0.01) for other in loads):
                reader.fault(f"{place}.impedance", "load_twice", table["impedance"])
            else:
                loads[load["impedance"]] = load["power"]
        lowest = values.get("lowest_load")
        if whole and loads and lowest and max(loads) < lowest:
            most = Quantity(max(loads), "resistance", figures=4, what="at most")
            least = Quantity(lowest, "resistance", figures=4)
            reader.fault("amplifier.load", "loads_too_low", most, lowest=least, which=Key("lowest_load"))
        if lowest is None or "name" not in values:
            return None
        loaded = {"loads": tuple(sorted(loads.items())), "lowest_load": lowest}
        loaded |= {"each_wiring": values.get("wirings") == "each"}
        return Amplifier(name=values["name"], **loaded, crest_factor=values.get("crest_factor", USUAL_CREST))

    def _filters(self) -> tuple[FilterChoice, ...]:
        reader = self.reader
        found: list[FilterChoice] = []
        for place, table in reader.tables(self.document, "filter"):
            choice = self._filter(place, table, reader.values(table, place, FIELDS["filter"]))
            if choice is None:
                continue
            if any(_alike(choice, other) for other in found):
                shape = SHAPES[choice.shape]
                code = "no_filter_twice" if not choice.order else "own_filter_twice" if shape.own_q else "filter_twice"
                reader.fault(place, code, order=choice.order, shape=shape.label, q=choice.q)
            found.append(choice)
        return tuple(found) or USUAL_FILTERS

    def _filter(self, place: str, table: Mapping[str, Any], values: Mapping[str, Any]) -> FilterChoice | None:
        """One high-pass, or none of it; None where it is at fault."""
        reader, kind = self.reader, values.get("kind")
        if kind == "none":
            for key in ("shape", "order", "q", "frequency"):
                if key in table:
                    reader.fault(f"{place}.{key}", "no_filter_has_none", table[key])
            return FilterChoice()
        if kind is None:
            return None
        if table.get("frequency") is None:
            reader.fault(f"{place}.frequency", "high_pass_incomplete")
        if (read := listening.read_filter(reader, table, place, values)) is None:
            return None
        shape, order, q = read
        return FilterChoice(order=order, frequency=values["frequency"], shape=shape, q=q)

    def _check_space(
        self, space: dict[str, Any], clearance: dict[str, Any], keepouts: dict[str, KeepOut], stock: dict[str, Any]
    ) -> None:
        """The outline must be one, and hold something once margin, board, clearances and keep-outs are off."""
        if not self._is_outline(space) or len(space) < len(("section", "width", "margin")):
            return
        reader, stated = self.reader, self._at("space")
        bare, board = Space(**space), stock.get("board_thickness")
        if not has_room(bare, board=0.0):
            reader.fault("space.margin", "margin_leaves_nothing", stated["margin"])
            return
        if board is not None and not has_room(bare, board=board):
            if has_room(replace(bare, margin=0.0), board=board):
                reader.fault("space.margin", "margin_leaves_no_box", stated["margin"], board=as_measured(board))
            else:
                thick, bar = self._at("stock")["board_thickness"], Quantity(widest_bar(bare), "length")
                reader.fault("stock.board_thickness", "board_leaves_no_room", thick, bar=bar)
            return
        for place, keepout in keepouts.items():
            self._check_position(place, keepout, bare)
        self._check_rest(bare, clearance, keepouts, board or 0.0)

    def _is_outline(self, space: dict[str, Any]) -> bool:
        reader, section = self.reader, space.get("section")
        if section is None:
            return False
        place = "space.measured" if self._at("space").get("section") is None else "space.section"
        for code, parameters in (wrong := polygon.faults_of(section)):
            reader.fault(place, code, **parameters)
        if wrong:
            return False
        for side, name in enumerate(("deep", "high")):
            extent = max(corner[side] for corner in section) - min(corner[side] for corner in section)
            if extent < SMALLEST_EXTENT:
                found, least = (Quantity(each, "length", what=name) for each in (extent, SMALLEST_EXTENT))
                reader.fault(place, "space_too_thin", found, least=least, mixed=Mixed(inches=True))
                return False
        return True

    def _check_position(self, place: str, keepout: KeepOut, space: Space) -> None:
        """A keep-out that lies elsewhere was measured from somewhere else."""
        table = self._at(place)
        over_the_width, in_section = keeps_out(keepout, space)
        if over_the_width and in_section:
            return
        key = "across" if not over_the_width else "forward" if table.get("section") is None else "section"
        block = "forward {} to {}, up {} to {}".format
        value = block(*table["forward"], *table["up"]) if key == "forward" else table[key]
        self.reader.fault(f"{place}.{key}", "keepout_outside" if over_the_width else "keepout_beside", value)

    def _check_rest(self, bare: Space, clearance: dict[str, float], keepouts: dict[str, KeepOut], board: float) -> None:
        """Clearances, then keep-outs, must leave room for a box; what takes it all by itself is named."""
        reader, table = self.reader, self._at("space.clearance")

        def alone(**changes: Any) -> bool:
            return not has_room(replace(bare, **changes), board=board)

        if alone(clearance=Clearances(**clearance)):
            sides = [side for side, room in clearance.items() if alone(clearance=Clearances(**{side: room}))]
            for side in sides:
                reader.fault(f"space.clearance.{side}", "clearance_leaves_nothing", table[side])
            if not sides:
                reader.fault("space.clearance", "clearances_leave_nothing")
            return
        every = tuple(keepouts.values())
        if not alone(clearance=Clearances(**clearance), keepouts=every):
            return
        places = [place for place, keepout in keepouts.items() if alone(keepouts=(keepout,))]
        for place in places:
            reader.fault(place, "keepout_leaves_nothing", keepouts[place].name)
        if not places:
            both = "" if alone(keepouts=every) else "_and_clearances"
            reader.fault("space.keepout", f"keepouts{both}_leave_nothing")

    def _check_cup(self, cup: dict[str, Any], board: float | None) -> None:
        cutout, flange, depth = (cup.get(key) for key in ("cutout_diameter", "flange_diameter", "depth"))
        place, table = "stock.terminal_cup", self._at("stock.terminal_cup")
        if depth and board is not None and depth <= board:
            self.reader.fault(f"{place}.depth", "cup_within_board", table["depth"], board=as_measured(board))
        if cutout and flange and flange <= cutout:
            through = {"cutout": Key("cutout_diameter"), "size": as_measured(cutout)}
            self.reader.fault(f"{place}.flange_diameter", "cup_falls_through", table["flange_diameter"], **through)

    def _check_openings(self, kinds: Sequence[str]) -> None:
        """What makes a box other than a closed one must be at hand."""
        for kind in kinds:
            listed = {opening.name: opening.table for opening in making(kind) if opening.table is not None}
            if listed and all(self._lacks(table.path) for table in listed.values()):
                first, *others = listed
                parts = {name: TableName(listed[name].path) for name in others}
                self.reader.fault(listed[first].path, listed[first].missing, **parts)

    def _check_held(self, held: Mapping[str, float], bounds: Mapping[str, Any]) -> None:
        """Sizes held agree among themselves, and with no bound on the same size."""
        for key, code, sizes in twice(held):
            self.reader.fault(f"held.{key}", code, self._at("held")[key], stated=Keys(sizes))
        for ways in ALIKE:
            for key in (key for key in ways if key in held and ways[0] in bounds):
                self.reader.fault(f"bounds.{ways[0]}", "bound_of_held", held=Key(f"held.{key}"))

    def _lacks(self, path: str) -> bool:
        """Whether nothing stands at a path, although what it would stand in is there."""
        above, _, key = path.rpartition(".")
        parent = stated_at(self.document, above)
        return isinstance(parent, dict) and parent.get(key) is None

    def _check_needs(self, top: dict[str, Any], asked: set[str], bought: Tables) -> None:
        """Weight needs every mass, cost every price, any price the currency, and what is heard inside the cabin."""
        for goal in needing("mass", asked):
            self._need(bought, "mass", goal)
        stock, costly = self.document.get("stock"), needing("price", asked)
        board = stock.get("board_price") if isinstance(stock, dict) else None
        for goal in costly:
            self._need(bought, "price", goal)
            if isinstance(stock, dict) and board is None:
                self.reader.fault("stock.board_price", "needed_by_goals", goals=Quoted((goal,)))
        priced = board is not None or any("price" in table for _, table in bought)
        if (costly or priced) and "currency" not in top:
            self.reader.fault("currency", "currency_missing")
        heard_inside = needing("cabin", asked)
        if heard_inside and self.document.get("cabin") is None:
            self.reader.fault("cabin", "needed_by_goals", goals=Quoted(heard_inside))

    def _need(self, tables: Tables, key: str, goal: str) -> None:
        """Tables that may state a key must, because a goal needs it."""
        for place, table in tables:
            if table.get(key) is None and any(field.key == key for field in FIELDS[_bare(place)]):
                self.reader.fault(f"{place}.{key}", "needed_by_goals", goals=Quoted((goal,)))


def _alike(one: FilterChoice, other: FilterChoice) -> bool:
    """Whether two filters are the same but for their range, whatever they are called."""
    pairs = (section_qs(shape=each.shape, order=each.order, own_q=each.q) for each in (one, other))
    return one.order == other.order and all(abs(a - b) <= SAME_Q for a, b in zip(*pairs, strict=True))


def _bare(place: str) -> str:
    return re.sub(r"\[\d+\]", "", place)
