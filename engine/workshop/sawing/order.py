"""The order at the saw: from sheets to boards, each setting once.

Sheets are broken down first, then come square rips by fence setting, then tilts of the blade with every piece that has
them, narrow strips with the blade upright again, and crosscuts; what is cut to marks comes last.  A cut is made once
the edges that it needs are there.

At the table saw the fence stands on the side that the blade leans away from, so that what lies between fence and blade
is kept, its long point up and at the blade, and nothing is caught under the blade.  Its distance is told to the long
point.  Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from typing import Any, Literal, NamedTuple

from engine.parts import Cutting
from engine.workshop.sawing.blanks import Blank, Slot, narrow
from engine.workshop.sawing.pieces import ANGLES, Line, Rim, tilts_of
from engine.workshop.sawing.sheets import Placed, SheetPlan, Sheets

Phase = Literal["rip", "tilt", "narrow", "square", "length", "marks"]
PHASES: tuple[Phase, ...] = ("rip", "tilt", "narrow", "square", "length", "marks")
Guide = Literal["fence", "strip stop", "sled", "track"]
Against = Literal["low", "high", "start", "end"]
Point = Literal["", "up", "down"]  # of the edge at the fence: square, or where its long point is
Turn = Literal["", "over its length", "round flat", "end over end"]
TURNS: dict[tuple[bool, bool], Turn] = {  # by whether its faces change places, and whether it is turned half round
    (False, False): "",
    (True, False): "over its length",
    (False, True): "round flat",
    (True, True): "end over end",
}
SAME = 1e-7  # m
NEAR = 5  # decimals of m, that one setting is told from another by


class Spot(NamedTuple):
    """A board in a part, and the name of one of its edges; "" where it has none there."""

    board: str
    edge: str


NOWHERE = Spot("", "")


@dataclass(frozen=True, kw_only=True)
class Rough:
    """What is broken out of a sheet: its least x and y and its size on that, m, its length along x where ``along``."""

    part: str
    sheet: int
    level: int  # of the sheet, from 0
    x: float
    y: float
    size: tuple[float, float]
    along: bool
    placed: tuple[Placed, ...]  # in order across, the one that is ripped off first at its low edge

    @property
    def length(self) -> float:
        return self.size[0] if self.along else self.size[1]

    @property
    def width(self) -> float:
        return self.size[1] if self.along else self.size[0]


@dataclass(frozen=True, kw_only=True)
class SawCut:
    """One cut: of a ``part``, whose edge ``against`` lies at fence or stop, with the face ``up`` that was up on the
    sheet, or the other one.

    What lies between is ``keeps``, the rest ``leaves``, "" where it is waste.  A tilted blade leans away from the
    fence, so that the long point of what is kept is up.  ``distance`` in m is from there to that long point; to marks
    it is nan, and ``line`` runs on the outside of the board, the board on its left.
    """

    part: str
    keeps: str
    leaves: str
    against: Against
    up: bool  # as on the sheet
    distance: float
    tilt: float = 0.0
    line: Line | None = None
    guide: Guide = "fence"
    phase: Phase = "rip"
    boards: tuple[str, ...]  # that what is cut is for
    face: str = ""  # of the first of them that is up: "outside" or "inside"; "" where it may be either
    at_fence: Spot = NOWHERE
    made: Spot = NOWHERE  # the edge that is cut
    fresh: Spot = NOWHERE  # the edge that the same cut makes on what it leaves
    fresh_long: str = ""  # the face on which that has its long point
    point: Point = ""
    short: bool = False  # cut from a strip that is longer than what is in it, since that alone is too short

    @property
    def round(self) -> bool:
        """Whether it is turned half round as it lies, seen from how it lay on the sheet with the face ``up`` up."""
        return (self.against == "low") != self.up


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One setting of the saw with all that is cut at it."""

    phase: Phase
    guide: Guide
    tilt: float  # rad
    distance: float  # m, to the long point; nan where nothing is set
    cuts: tuple[SawCut, ...]

    def at_table(self, thickness: float) -> float:
        """From the fence to the blade at the table, where the short point is, m."""
        return self.distance - thickness * math.tan(self.tilt)


@dataclass(frozen=True)
class SawOrder:
    """All cuts from sheets to boards, and how often the saw is set."""

    roughs: tuple[Rough, ...]
    settings: tuple[Setting, ...]
    one_by_one: int  # how often they are where the same cuts are made blank by blank

    @property
    def turns(self) -> dict[str, Turn]:
        """How what a tilted cut leaves is turned for its next one at the fence, by the name of that part."""
        cuts = {cut.part: cut for each in self.settings if each.phase in ("tilt", "narrow") for cut in each.cuts}
        pairs = [(cut, cuts[cut.leaves]) for cut in cuts.values() if cut.leaves in cuts]
        return {cut.leaves: TURNS[cut.up != after.up, cut.round != after.round] for cut, after in pairs}

    @property
    def set_up(self) -> int:
        """How often fence, stop or tilt are set."""
        return _changes(cut for setting in self.settings for cut in setting.cuts)

    @property
    def tilts(self) -> int:
        """How often the blade is tilted."""
        leans = [each.tilt for each in self.settings if each.phase in ("rip", "tilt", "narrow")]
        return sum(tilt != before for before, tilt in zip([0.0, *leans], leans, strict=False))


def saw_order(sheets: Sheets) -> SawOrder:
    """The order in which sheets become boards."""
    roughs = [rough for plan in sheets.plans for rough in _broken_down(plan, sheets.cutting)]
    jobs: list[_Job] = []
    numbers, tilts = count(1), tilts_of(sheets.pieces)
    for rough in roughs:
        jobs += _Cutter(sheets.cutting, tilts, numbers, len(jobs)).cut_up(rough)
    return SawOrder(tuple(roughs), tuple(_scheduled(jobs, tilts)), _changes(job.cut for job in jobs))


def _broken_down(plan: SheetPlan, cutting: Cutting) -> Iterator[Rough]:
    """What the first cuts make of a sheet: of each level what is ripped in one, the other blanks each by itself."""
    lengthwise = plan.across == "length"
    for number, (start, end) in enumerate(plan.levels):
        inside = [each for each in plan.placed if each.level == number]
        ripped = [each for each in inside if each.ripped]
        groups = [ripped] if ripped else []
        groups += [[each] for each in inside if not each.ripped]
        for at, group in enumerate(groups, start=1):
            first, last = group[0], group[-1]
            part = f"{plan.number}{letter(number)}{at if len(groups) > 1 else ''}"
            if ripped and group is ripped:
                low = first.y if lengthwise else first.x
                high = (last.y if lengthwise else last.x) + last.size[1 if lengthwise else 0]
                long = high - low + (0.0 if _as_it_is(group, cutting) else cutting.allowance)
                long += _beside(last.blank, cutting)
                size = (end - start, long) if lengthwise else (long, end - start)
            else:
                wide = first.blank.width + (0.0 if _as_it_is(group, cutting) else cutting.allowance)
                wide += _beside(first.blank, cutting)
                size = (first.blank.length, wide) if first.along else (wide, first.blank.length)
            yield Rough(
                part=part, sheet=plan.number, level=number, x=first.x, y=first.y, size=size, along=first.along,
                placed=tuple(group),
            )  # fmt: skip


def _as_it_is(group: Sequence[Placed], cutting: Cutting) -> bool:
    """Whether a blank needs no square rip: by itself, and bevelled from the straight edge it is broken out with."""
    piece = group[0].blank.slots[0].piece
    return len(group) == 1 and piece.bevelled and not narrow(piece, cutting)


def _beside(blank: Blank, cutting: Cutting) -> float:
    piece = blank.slots[0].piece
    return cutting.kerf + cutting.narrowest if narrow(piece, cutting) and not piece.bevelled else 0.0


def letter(level: int) -> str:
    """What a level of a sheet is called."""
    return chr(ord("A") + level % 26) * (1 + level // 26)


@dataclass(frozen=True)
class _Job:
    cut: SawCut
    after: tuple[int, ...]  # numbers of jobs that come first
    number: int

    @property
    def label(self) -> tuple[object, ...]:
        cut = self.cut
        distance = "" if math.isnan(cut.distance) else round(cut.distance, NEAR)
        return cut.phase, cut.guide, round(cut.tilt, NEAR), distance


@dataclass
class _Cutter:
    """The cuts that make boards of one rough part, each with those that have to come before."""

    cutting: Cutting
    tilts: tuple[float, ...]  # in the order in which they come
    numbers: Iterator[int]
    first: int
    jobs: list[_Job] = field(default_factory=list)

    def cut_up(self, rough: Rough) -> list[_Job]:
        before: tuple[int, ...] = ()
        if _as_it_is(rough.placed, self.cutting):
            self.blank(rough.part, rough.placed[0].blank, rough.length, ())
            return self.jobs
        for at, placed in enumerate(rough.placed):
            left = rough.part if at < len(rough.placed) - 1 else ""
            blank = placed.blank
            part, long = self.part(), rough.length
            piece = blank.slots[0].piece
            strip = narrow(piece, self.cutting) and not piece.bevelled
            guide: Guide = "strip stop" if strip else self.guide(blank.width, long)
            rims = blank.slots[0].rims[0], blank.slots[-1].rims[1]
            before = (
                self.add(
                    before, part=rough.part, keeps=part, leaves=left, against="low", up=True, distance=blank.width,
                    guide=guide, phase="rip", boards=blank.names, face="",
                    at_fence=Spot(blank.slots[0].piece.name, rims[0].name),
                    made=Spot(blank.slots[-1].piece.name, rims[1].name), short=_is_short(blank, self.cutting),
                ),
            )  # fmt: skip
            self.blank(part, blank, long, before)
        return self.jobs

    def part(self) -> str:
        return f"p{next(self.numbers)}"

    def add(self, after: tuple[int, ...], **cut: Any) -> int:
        number = self.first + len(self.jobs)
        self.jobs.append(_Job(SawCut(**cut), after, number))
        return number

    def guide(self, distance: float, long: float) -> Guide:
        """Along the fence where the edge at it is longer than what is kept is wide, and the fence reaches so far."""
        if distance > self.cutting.reach:
            return "track"
        return "fence" if long >= distance else "sled" if long <= self.cutting.sled else "track"

    def blank(self, part: str, blank: Blank, long: float, after: tuple[int, ...]) -> None:
        """The tilted cuts of a blank that is ripped, then its crosscuts."""
        edges = {"low": (0.0, 0.0), "high": (blank.width, blank.width)}
        if not blank.chained:
            self.lane(part, blank.slots, edges, long, after)
            return
        slots = blank.slots
        # From both outer edges towards the middle; what is left there is cut to its width last.
        first, last = slots[0], slots[-1]
        kerf = self.cutting.kerf / math.cos(first.rims[1].bevel)
        one, rest = self.part(), self.part()
        job = self.tilted(part, first, "low", edges, long, after, keeps=one, leaves=rest, beside=slots[1])
        self.lane(one, (first,), {"low": edges["low"], "high": first.rims[1][:2]}, long, (job,))
        left = {"low": (first.rims[1][0] + kerf, first.rims[1][1] + kerf), "high": edges["high"]}
        if len(slots) == 2:
            self.lane(rest, (last,), left, long, (job,))
            return
        two, middle = self.part(), self.part()
        job = self.tilted(rest, last, "high", left, long, (job,), keeps=two, leaves=middle, beside=slots[1])
        self.lane(two, (last,), {"low": last.rims[0][:2], "high": left["high"]}, long, (job,))
        left["high"] = (last.rims[0][0] - kerf, last.rims[0][1] - kerf)
        self.lane(middle, (slots[1],), left, long, (job,))

    def tilted(
        self, part: str, slot: Slot, against: Literal["low", "high"], edges: Mapping[str, Sequence[float]], long: float,
        after: tuple[int, ...], *, keeps: str, leaves: str = "", beside: Slot | None = None,
        upright: bool = False,
    ) -> int:  # fmt: skip
        """The edge of a board opposite the one at the fence is cut; edges are places across on both faces, m."""
        low, high = slot.rims
        made, fence = (high, edges["low"]) if against == "low" else (low, edges["high"])
        sign = 1.0 if against == "low" else -1.0
        long_point = max(sign * made.outside, sign * made.inside)
        distance = long_point - min(sign * fence[0], sign * fence[1])
        up = sign * made.outside >= sign * made.inside
        here, under = (fence[0], fence[1]) if up else (fence[1], fence[0])
        lean = sign * (under - here)
        point: Point = "" if abs(lean) < 1e-6 else "up" if lean > 0.0 else "down"
        fresh, fresh_long = NOWHERE, ""
        if beside is not None:
            rim = beside.rims[0 if against == "low" else 1]
            fresh = Spot(beside.piece.name, rim.name)
            fresh_long = beside.up if sign * (rim.inside - rim.outside) > 0.0 else beside.down
        return self.add(
            after, part=part, keeps=keeps, leaves=leaves, against=against, up=up, distance=distance,
            tilt=abs(made.bevel), guide="strip stop" if upright else self.guide(distance, long),
            phase="narrow" if upright else "tilt", boards=(slot.piece.name,),
            face=slot.up if up else slot.down,
            at_fence=Spot(slot.piece.name, (low if against == "low" else high).name),
            made=Spot(slot.piece.name, made.name), point=point, fresh=fresh, fresh_long=fresh_long,
        )  # fmt: skip

    def lane(
        self, part: str, row: Sequence[Slot], edges: dict[str, tuple[float, float]], long: float, after: tuple[int, ...]
    ) -> None:
        """A strip of boards one behind the other: the tilted cuts that it still needs, then its crosscuts."""
        slot = row[0]
        low, high = slot.rims
        wanted = {"low": low, "high": high}
        opposite: dict[str, Literal["low", "high"]] = {"low": "high", "high": "low"}
        strip = narrow(slot.piece, self.cutting) and slot.piece.bevelled

        def open_edges() -> list[str]:
            """Those that are not where they belong, in the order of tilts."""
            off: list[str] = [
                name for name in ("high", "low") if _off(edges[name], wanted[name]) > SAME and wanted[name].bevel
            ]
            return sorted(off, key=lambda name: self.tilts.index(round(abs(wanted[name].bevel), ANGLES)))

        while open_ := open_edges():
            # An edge that is cut already but has an allowance is cut again, from the other one.
            name = open_[0]
            cut = self.part()
            after = (self.tilted(part, slot, opposite[name], edges, long, after, keeps=cut),)
            edges, part = edges | {name: (wanted[name].outside, wanted[name].inside)}, cut
        if strip:
            off = [name for name in wanted if _off(edges[name], wanted[name]) > SAME]
            for name in off:
                cut = self.part()
                after = (self.tilted(part, slot, opposite[name], edges, long, after, keeps=cut, upright=True),)
                part = cut
        self.crosscuts(part, row, after)

    def crosscuts(self, part: str, row: Sequence[Slot], after: tuple[int, ...]) -> None:
        short = any(slot.piece.length < self.cutting.shortest for slot in row)
        piece = row[0].piece
        guide: Guide = "sled" if piece.width <= self.cutting.sled else "track"
        end: Against = "end" if len(row) == 1 and piece.square == (False, True) else "start"
        shared = {"up": True, "tilt": 0.0, "guide": guide, "short": short}
        squared = self.part()
        names = tuple(slot.piece.name for slot in row)
        after = (
            self.add(after, part=part, keeps=squared, leaves="", against=end, distance=math.nan, phase="square",
                     boards=names, made=Spot(piece.name, _end(row[0], end)), **shared),
        )  # fmt: skip
        rest = squared
        for at, slot in enumerate(row):
            piece, last = slot.piece, at == len(row) - 1
            if len(row) == 1 and piece.lines and not all(piece.square):
                self.marks(squared, slot, end, after)
                return
            board, rest, whole = self.part(), self.part() if not last else "", rest
            after = (
                self.add(after, part=whole, keeps=board, leaves=rest, against="start", distance=piece.length,
                         phase="length", boards=(piece.name,), at_fence=Spot(piece.name, _end(slot, "start")),
                         made=Spot(piece.name, _end(slot, "end")), **shared),
            )  # fmt: skip
            self.marks(board, slot, "start", after)

    def marks(self, part: str, slot: Slot, end: Against, after: tuple[int, ...]) -> None:
        """What is cut to marks, which are measured from a squared end and along both edges."""
        for line in slot.piece.lines:
            cut = self.part()
            after = (
                self.add(after, part=part, keeps=cut, leaves="", against=end, up=True,
                         distance=math.nan, tilt=abs(line.bevel), line=line, guide="track", phase="marks",
                         boards=(slot.piece.name,), face="outside", made=Spot(slot.piece.name, line.name),
                         short=slot.piece.length < self.cutting.shortest),
            )  # fmt: skip
            part = cut


def _off(edge: tuple[float, float], wanted: Rim) -> float:
    return max(abs(edge[0] - wanted.outside), abs(edge[1] - wanted.inside))


def _end(slot: Slot, which: Against) -> str:
    return slot.piece.ends[(which == "end") != slot.turned]


def _is_short(blank: Blank, cutting: Cutting) -> bool:
    return any(slot.piece.length < cutting.shortest for slot in blank.slots)


def _scheduled(jobs: Sequence[_Job], tilts: Sequence[float]) -> Iterator[Setting]:
    """Settings in order: the phases as they stand, in each the setting whose cuts are all ready, wide ones first."""
    left, done = list(jobs), set[int]()
    while left:
        labels = {job.label: [other for other in left if other.label == job.label] for job in left}
        choices = []
        for same in labels.values():
            ready = _ready(same, done)
            if ready:
                first = same[0].cut
                wide = 0.0 if math.isnan(first.distance) else first.distance
                waits = len(ready) < len(same)
                rank = PHASES.index(first.phase)
                lean = tilts.index(round(first.tilt, ANGLES)) if first.phase == "tilt" else 0
                choices.append(((rank, lean, waits, -wide, same[0].number), ready))
        _, ready = min(choices, key=lambda choice: choice[0])
        cuts = tuple(job.cut for job in ready)
        yield Setting(phase=cuts[0].phase, guide=cuts[0].guide, tilt=cuts[0].tilt, distance=cuts[0].distance, cuts=cuts)
        done |= {job.number for job in ready}
        left = [job for job in left if job.number not in done]


def _ready(same: Sequence[_Job], done: set[int]) -> list[_Job]:
    """Those of one setting that can be cut one after the other."""
    ready: list[_Job] = []
    known = set(done)
    for job in same:
        if all(number in known for number in job.after):
            ready.append(job)
            known.add(job.number)
    return ready


def _changes(cuts: Iterable[SawCut]) -> int:
    """How often fence, stop or tilt are set where cuts are made in this order."""
    fence: dict[str, float] = {}
    tilt, changes = 0.0, 0
    for cut in cuts:
        if cut.phase != "marks" and cut.tilt != tilt:
            tilt, changes = cut.tilt, changes + 1
        if not math.isnan(cut.distance):
            distance, kind = round(cut.distance, NEAR), "fence" if cut.phase in ("rip", "tilt", "narrow") else "stop"
            changes += fence.get(kind) != distance
            fence[kind] = distance
    return changes
