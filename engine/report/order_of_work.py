"""The order in which one box is made, step by step, with what may hurt at the step where it may.

Steps follow from the boards and parts of this box: what is not there has no step.  What is general is common practice,
no source; machines' manuals, local rules and licensed trades come first, and the steps say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from engine.quantities import Units, show, show_drill, show_set_out, show_size
from engine.report.blocks import Step
from engine.report.cutting import AT_THE_SAW, SHEETS
from engine.report.pipework import cut_pieces
from engine.report.set_up import TITLE as SET_UP
from engine.report.to_buy import joint_screw
from engine.report.wording import FILLINGS
from engine.scenario import Scenario
from engine.words.voice import listed
from engine.workshop.alike import in_few
from engine.workshop.board import SAME, SQUARE, Board, Box, Cut, Part
from engine.workshop.joints import JOINTS

HEAVY = 15.0  # kg, above which two people carry; common practice, no source
SHEET = 2.44 * 1.22  # m², of a whole sheet of board
SLIDES: dict[Units, str] = {"metric": "0.5 mm", "us": "1/64 in"}  # that a hole is wider than its pipe; common practice
_FIRST = ("left side", "bottom", "back")  # of the shell, before what stands inside
_THEN = ("top", "baffle", "right side")

SAW = (
    (
        "Table and track saws: riving knife and guard on, blade just above the wood, push stick within a hand's "
        "length of the blade, stand out of the line of the cut, nothing freehand. The saw's own manual comes first."
    ),
)
DUST = (
    "Dust of MDF and plywood harms the lungs: extraction at the machine, a P2/N95 mask or better, goggles, ear muffs."
)
OFF_CUTS = (
    "A tilted blade traps the off-cut under it and throws it: have the off-cut fall free, on the side away from the "
    "fence, and never reach for it while the blade turns."
)
ROUTER = (
    "Router: several shallow passes, against the cutter's turn, both hands on it, work clamped; unplug to change bits."
)
JIGSAW = "Jigsaw: clamp the board, keep what falls out supported, cable behind you, fingers away from under the cut."
_VAPOURS = (
    "outdoors or with a strong draught, no flame, spark or pilot light, gloves, an organic-vapour mask; let it flash "
    "off as its label says."
)
CEMENT = f"Solvent cement: {_VAPOURS}"
ADHESIVE = f"Contact and spray adhesive: {_VAPOURS}"
VEHICLE = (
    (
        "Loose, the box is a missile in a crash: bolt it through structure, not trim, with large washers, and pull "
        "hard on it before driving."
    ),
    (
        "Before anything is drilled or screwed: airbags and their wiring, belt anchors, fuel and brake lines, "
        "high-voltage cables lie behind panels and under floors. Look from both sides; the vehicle's manual and a "
        "licensed workshop know."
    ),
)


def order_of_work(box: Box, scenario: Scenario, units: Units) -> tuple[Step, ...]:
    """The steps from board to box; wiring and set-up have pages of their own."""
    return tuple(_Work(box, scenario, units).steps())


class _Work:
    """One box being told."""

    def __init__(self, box: Box, scenario: Scenario, units: Units) -> None:
        self.box, self.scenario, self.units = box, scenario, units
        self.braces, self.slots, self.blocks, self.feet, self.layers, self.strips = (
            [board for board in box.boards if board.role == role]
            for role in ("brace", "slot", "block", "foot", "layer", "strip")
        )
        self.pipes, self.dowels, self.drivers, self.radiators, self.cups = (
            [part for part in box.parts if part.role == role] for role in ("pipe", "dowel", "driver", "radiator", "cup")
        )
        self.bent = [pipe for pipe in self.pipes if len(cut_pieces(pipe)) > 1]

    def size(self, value: float) -> str:
        return show_set_out(value, self.units).replace(" ", "\N{NO-BREAK SPACE}")

    def about(self, metric: str, us: str) -> str:
        """A round figure of common practice in the user's units."""
        return (metric if self.units == "metric" else us).replace(" ", "\N{NO-BREAK SPACE}")

    def steps(self) -> Iterator[Step]:
        yield self._measure()
        yield self._mark()
        yield self._saw()
        if self.layers:
            yield self._layers()
        yield from self._cut_outs()
        yield from self._pipes()
        yield self._dry_fit()
        yield from self._glue()
        yield from self._seal_pipes()
        yield self._before_closing()
        yield self._close()
        yield self._finish()
        if self.feet:
            yield self._feet()
        if self._added_mass > 0.0:
            yield self._load_radiators()
        yield self._fit()
        yield self._leak_test()
        yield self._wire()
        yield self._into_the_vehicle()

    def _measure(self) -> Step:
        box = self.box
        layer = f" and {show_size(box.layer, self.units)} for the baffle's second layer" if box.layer else ""
        return Step(
            title="Measure the board you bought",
            words=(
                (
                    f"Everything here holds for board that measures {show_size(box.board, self.units)}{layer}, with a "
                    "calliper in four places. Board is often off what it is sold as. If yours differs by more than "
                    f"{self.about('0.2 mm', '0.008 in')}, enter it as measured and print again."
                ),
                f"Joints: {JOINTS[self.box.joints].words}.",
            ),
        )

    def _saw(self) -> Step:
        weight = SHEET * self.box.board * self.scenario.stock.board_density
        bevels = sorted({round(math.degrees(abs(edge.bevel)), 2) for board in self.box.boards for edge in board.edges})
        tilts = [f"{each:g}°" for each in bevels if each > 0.02]
        words = [
            (
                f"Saw the boards in the order of “{AT_THE_SAW}”, from the sheets under “{SHEETS}”; the cutting list "
                "has them all. Sizes are finished ones, to the long point where an edge is bevelled."
            ),
        ]
        cautions = [
            (
                f"A whole sheet weighs about {show(weight, 'mass', self.units)}: two people, gloves, lift with "
                "straight backs; break sheets down on a floor with battens before they go to the saw."
            ),
            *SAW,
            DUST,
        ]
        if tilts:
            words.append(
                f"Bevels: {listed(tilts)} from square. Prove each on scrap with the gauge of the templates before the "
                "first good piece."
            )
            cautions.append(OFF_CUTS)
        words.append(
            "Check: boards of one name lie on each other without a step; both diagonals of every rectangle agree "
            f"within {self.about('1 mm', '1/32 in')}. Every board now has its name, its outside and an arrow up."
        )
        return Step(title="Saw the boards", words=tuple(words), cautions=tuple(cautions))

    def _mark(self) -> Step:
        return Step(
            title="Mark the blanks as they come off the sheet",
            words=(
                (
                    "Before the blade is tilted or a slanted edge is cut, write on each blank its name, which face is "
                    f"outside, and its edges as its page has them (front, rear, upper, lower): “{AT_THE_SAW}” goes by "
                    "them. What is sawn off takes its mark along: write it anew."
                ),
            ),
        )

    def _layers(self) -> Step:
        (layer,) = self.layers
        return Step(
            title="Glue the baffle's two layers together",
            words=(
                (
                    f"Glue the {layer.name} ({show_size(layer.thickness, self.units)}) on the outside of the baffle, "
                    "face to face, edges as the section template shows them, in bands of glue no more than a hand "
                    "apart. Weights or clamps all over, overnight on a flat bench. From here on they are one board."
                ),
            ),
        )

    def _cut_outs(self) -> Iterator[Step]:
        holes = [(board, cut) for board in self.box.boards for cut in board.cuts if cut.operation in ("hole", "notch")]
        if holes:
            lines = [
                f"{_first_up(listed(in_few([board.name for board, _ in same])))}: {said}."
                for same, said in self._by_board(holes)
            ]
            leaning = [cut for _, cut in holes if abs(cut.lean) > SQUARE]
            lean = [
                f"{_first_up(cut.name)}: the walls lean {show(abs(cut.lean), 'angle', self.units)} from square to the "
                "face, as the section shows: tilt the jigsaw's sole, or file to it afterwards."
                for cut in leaning
            ]
            yield Step(
                title="Saw the openings",
                words=(
                    "Set out from the panel pages or stick the templates down; cut on the waste side.",
                    *lines,
                    *lean,
                    *((hole_for_pipe(self.units),) if self.pipes else ()),
                ),
                cautions=(JIGSAW, ROUTER, DUST),
            )
        recesses = [(board, cut) for board in self.box.boards for cut in board.cuts if cut.operation == "recess"]
        if recesses:
            deep = listed(list(dict.fromkeys(self.size(cut.depth) for _, cut in recesses)))
            names = listed(in_few([cut.passes for _, cut in recesses]))
            yield Step(
                title="Rout the recesses for flanges",
                words=(
                    (
                        f"For {names}, {deep} deep, before the opening inside is sawn if the router runs on a centre "
                        "pin. Try the flange itself: it should drop in with the thickness of a sheet of paper all "
                        "round."
                    ),
                ),
                cautions=(ROUTER,),
            )
        drilled = [(board, cut) for board in self.box.boards for cut in board.cuts if cut.operation == "drill"]
        if drilled:
            lines = [
                f"{_first_up(cut.name)} in the {board.name}: {len(cut.places)} × ⌀ "
                f"{show_drill(cut.diameter, self.units)}, "
                + ("through." if cut.through else f"{self.size(cut.depth)} deep, no further.")
                for board, cut in drilled
            ]
            yield Step(
                title="Drill the screw holes",
                words=(
                    *dict.fromkeys(lines),
                    (
                        "Hold the real flange to the template first: makers change bolt circles. Tape on the bit "
                        "marks the depth."
                    ),
                ),
            )

    def _by_board(self, holes: Sequence[tuple[Board, Cut]]) -> list[tuple[list[tuple[Board, Cut]], str]]:
        found: dict[str, list[tuple[Board, Cut]]] = {}
        by_name: dict[str, list[tuple[Board, Cut]]] = {}
        for board, cut in holes:
            by_name.setdefault(board.name, []).append((board, cut))
        for same in by_name.values():
            said = listed(in_few([cut.name for _, cut in same]))
            found.setdefault(said, []).append(same[0])
        return [(same, said) for said, same in found.items()]

    def _pipes(self) -> Iterator[Step]:
        if not self.pipes:
            return
        said = "Cut the pipes square to the lengths under “Pipes”, deburr inside and out."
        glued = (
            "Push pieces and elbows together dry to the bottom of each socket, mark across the joint, measure the "
            "whole along its middle line, then cement with the marks in line: it sets in seconds."
        )
        yield Step(
            title="Cut the pipes",
            words=(said, *((glued,) if self.bent else ())),
            cautions=(CEMENT,) if self.bent else (),
        )

    def _dry_fit(self) -> Step:
        inside = in_few(board.name for board in (*self.braces, *self.slots, *self.blocks))
        kinds = (("driver", True), ("passive radiator", self.radiators), ("pipe", self.pipes), ("cup", self.cups))
        tried = [f"every {kind}" if kind != "cup" else "the cup" for kind, there in kinds if there]
        words = [
            "Put the whole box together without glue, with clamps or tape, on the full-size section: "
            + (f"{listed(inside)} among it." if inside else "no board may rock."),
            (
                f"No joint may show more than {self.about('0.5 mm', '1/64 in')} of light; mend bevels now. Mark where "
                "every board lands."
            ),
            (
                f"Try {listed(tried)} where they go; magnets and baskets keep "
                f"{self.size(self.scenario.box.breathing_gap)} of air to all boards."
            ),
        ]
        if self.bent:
            words.append("Pipes with an elbow do not go through their hole once the box is closed: try them in place.")
        return Step(title="Dry fit", words=tuple(words))

    # ---- gluing: the shell round what stands inside it

    def _glue(self) -> Iterator[Step]:
        last = self.box.last
        shell = [board.name for board in self.box.boards if board.role == "shell" and board.name != last]
        first = [name for name in _FIRST if name in shell]
        then = [name for name in _THEN if name in shell]
        yield Step(
            title=f"Glue up: {listed(first)}",
            words=(
                (
                    f"Lay the {first[0]} on a flat bench, outside down. Glue and clamp the {listed(first[1:])} to it "
                    "where the dry fit was marked, square by a try square or the section template."
                ),
                *self._held(),
                "Wipe squeezed-out glue with a damp cloth; where a flange or brace lands nothing may stand proud.",
            ),
        )
        inside = list(self._inside())
        if inside:
            yield Step(title="Glue in what stands inside", words=tuple(inside))
        high_slot = bool(self.slots) and not self._low_slot()
        yield Step(
            title=f"Glue on: {listed(then)}",
            words=(
                *self._panel_words(then, with_slot=high_slot),
                "Compare diagonals while the glue is wet, then leave it clamped as long as its label says.",
            ),
        )

    def _held(self) -> tuple[str, ...]:
        long = joint_screw(self.box.board, self.units)
        return (
            (
                f"Where clamps do not reach, screws of about {long} every {self.about('150 mm', '6 in')}, "
                f"{self.about('50 mm', '2 in')} off corners, pilot holes first: board splits along its edge."
            ),
        )

    def _low_slot(self) -> bool:
        lying = self.slots[0]
        return bool(lying.outside[:, 2].mean() < self.box.outer.section[:, 1].mean())

    def _inside(self) -> Iterator[str]:
        if self.slots and self._low_slot():
            yield self._slot_words()
        if self.braces:
            names = listed(in_few([board.name for board in self.braces]))
            yield (
                f"{_first_up(names)}: {self._faces(self.braces)}, turned as drawn; glue wherever they touch. "
                + self._passes()
            )
        if self.blocks:
            names = listed(in_few([board.name for board in self.blocks]))
            yield (
                f"{_first_up(names)} under the pipes: {self._faces(self.blocks)}, the rest as their pages say. Lay "
                "each pipe in its place dry while their glue sets, then draw it out again."
            )
        if self.strips:
            names = listed(in_few([board.name for board in self.strips]))
            yield (
                f"{_first_up(names)} into the corners as their pages say, each once both its panels are up; those "
                f"of the {self.box.last} on it or beside it, by the marks of the dry fit."
            )

    def _faces(self, boards: Sequence[Board]) -> str:
        """Where left faces are, from the box's left end and from what one measures from while the box is open."""
        places = sorted({round(float(min(board.outside[:, 0].min(), board.inside[:, 0].min())), 6) for board in boards})
        said = listed([f"{self.size(x)} ({self.size(x - self.box.board)})" for x in places])
        faces = "left face" if len(places) == 1 else "left faces"
        return f"{faces} {said} from the outside (the inside) of the left side"

    def _passes(self) -> str:
        """Whether braces could still go in once the box is closed: edge on, through its widest round opening."""
        round_ = [cut.ring.round for board in self.box.boards if board.role == "shell" for cut in board.cuts
                  if cut.operation == "hole" and cut.ring is not None]  # fmt: skip
        widest = max((2.0 * each.radius for each in round_ if each is not None), default=0.0)
        across = max(math.hypot(min(board.blank), board.thickness) for board in self.braces)
        if across < widest:
            return (
                f"Edge on {'it' if len(self.braces) == 1 else 'they'} would still pass the widest opening with the "
                f"{self.box.last} on, but not be glued on every edge any more."
            )
        return f"It is now or never: with the {self.box.last} on, nothing this large passes an opening."

    def _goes_through(self, pipe: Part) -> str:
        """The panel in which a pipe's outer end is."""
        return next(
            board.name for board in self.box.boards if board.role == "shell"
            for cut in board.cuts if cut.passes == pipe.name
        )  # fmt: skip

    def _seal_pipes(self) -> Iterator[Step]:
        """The one moment when pipes are fixed for good, those through the panel that goes on last excepted."""
        now = [pipe for pipe in self.pipes if self._goes_through(pipe) != self.box.last]
        if now:
            yield Step(title="Seal the pipes in for good", words=tuple(self._sealed(now)))

    def _sealed(self, pipes: Sequence[Part]) -> Iterator[str]:
        names = listed(in_few([pipe.name for pipe in pipes]))
        panel = listed(list(dict.fromkeys(self._goes_through(pipe) for pipe in pipes)))
        blocks = " and on its block" if self.blocks else ""
        elbows = ", from inside, elbow and all" if all(pipe in self.bent for pipe in pipes) else ""
        yield (
            f"{_first_up(names)}, through the {panel}{elbows}: push each home dry once more, its outer end flush with "
            f"the outside. Draw it back by a hand's breadth, lay a bead of sealant round the hole{blocks}, and push it "
            "home with a turn."
        )
        yield (
            "When that has set, a fillet of sealant inside, all round where the pipe leaves the panel. From then on it "
            "is not moved."
        )

    def _slot_words(self) -> str:
        names = listed(in_few([board.name for board in self.slots]))
        high = float(self.box.row["slot_height_m"])
        panel = "over the bottom" if self._low_slot() else "under the top"
        return (
            f"{_first_up(names)}: on spacers {self.size(high)} high, cut from scrap, {panel}, so that the slot is as "
            "high all along; glue to back and baffle and against the side it touches. Take the spacers out before "
            "the glue grips. Sand and seal the slot's walls first: nobody gets there again."
        )

    def _panel_words(self, names: Sequence[str], *, with_slot: bool) -> Iterator[str]:
        yield f"Glue and clamp the {listed(names)}, in this order, onto all edges that they meet, braces among them."
        if with_slot:
            yield "Once the top is on: " + self._slot_words()
        if self.dowels:
            names = in_few([part.name for part in self.dowels])
            yield (
                f"Dowels ({listed(names)}): cut to the lean of back and baffle, glue on both ends, one screw through "
                "each panel into the end grain, pilot hole first."
            )

    def _before_closing(self) -> Step:
        leaves = "from the terminal cup's opening" if self.cups else "through a hole drilled for it and sealed,"
        words = [
            "Run a fillet of sealant along every joint that can be reached. Let it skin over.",
            f"Pull the cable {leaves} to the drivers' openings, with enough to take them out again.",
        ]
        if filling := FILLINGS.get(str(self.box.row.get("filling", "none")), ""):
            words.append(
                f"The box is {filling}: staple it to the walls now, clear of vents, radiators and the drivers' magnets."
            )
        words.append("Photograph the inside with a rule in the picture: it tells later where the braces are.")
        return Step(title="Before the last panel", words=tuple(words))

    def _close(self) -> Step:
        late = [pipe for pipe in self.pipes if self._goes_through(pipe) == self.box.last]
        turned = [pipe for pipe in late if pipe in self.bent]
        straight = [pipe for pipe in late if pipe not in self.bent]
        words = [
            (
                f"The {self.box.last} goes on last. Glue on every edge that it meets, braces too, clamps all round, "
                "diagonals once more."
            ),
            "Through the drivers' openings, seal its joints from inside as the others.",
        ]
        if turned:
            words = ["Before it goes on: " + " ".join(self._sealed(turned)), *words]
        if straight:
            words.append("Now from outside, the only time: " + " ".join(self._sealed(straight)))
        return Step(title=f"Close the box: {self.box.last}", words=tuple(words))

    def _finish(self) -> Step:
        words = ["When the glue is hard, plane or flush-trim what stands over, fill screw heads and dents, sand."]
        cautions = [DUST]
        if self.scenario.box.round_over > 0.0:
            words.append(
                f"Round over the outer edges with a router bit of {self.size(self.scenario.box.round_over)} radius: "
                "first take out every joint screw that the bit would reach, and plug its hole."
            )
            cautions.insert(0, ROUTER)
        if self.scenario.box.carpet > 0.0:
            words.append(
                "Cover with carpet: widest faces first, seams underneath, none under flanges or where the box lies on "
                "something. Cut openings free from their middle outwards."
            )
            cautions.append(ADHESIVE)
        else:
            words.append("Two coats of primer and paint or oil, sawn edges three: raw board swells in damp air.")
        return Step(title="Flush, round over, cover", words=tuple(words), cautions=tuple(cautions))

    def _feet(self) -> Step:
        (height,) = {round(float(foot.outside[:, 2].max() - foot.outside[:, 2].min()), 6) for foot in self.feet}
        return Step(
            title="Feet",
            words=(
                (
                    f"{len(self.feet)} feet {self.size(height)} high, glued and screwed under the corners as their "
                    "pages show: the air before the drivers that face down needs this height."
                ),
            ),
        )

    @property
    def _added_mass(self) -> float:
        """On each passive radiator, kg."""
        return float(self.box.row.get("radiator_added_mass_kg", 0.0)) if self.radiators else 0.0

    def _load_radiators(self) -> Step:
        return Step(
            title="Load the passive radiators",
            words=(
                (
                    f"{show(self._added_mass, 'added_mass', self.units)} on each, weighed on a kitchen scale with all "
                    "that fixes it: bolt, nut and washers are part of it. Build it up out of washers until it agrees."
                ),
                (
                    "Fix it centred on its mount, behind the cone, with thread lock, before the radiator is fitted: "
                    "off centre the cone rocks, loose it rattles. Push the cone by hand: nothing may touch."
                ),
            ),
        )

    def _fit(self) -> Step:
        words = []
        if self.cups:
            words.append("Terminal cup: gasket, solder or crimp the cable, + to +, screws by hand.")
        if self.radiators:
            loaded = ", loaded as above" if self._added_mass > 0.0 else ""
            words.append(f"Passive radiators{loaded}: gasket, no cable; cones must travel freely both ways.")
        words.append(
            f"Driver{'s' if len(self.drivers) > 1 else ''}: gasket tape, ends butted; connect as “Wiring” says; "
            "terminals pointing as “Views” says. Start all screws, then tighten crosswise, hand-tight: a bent basket "
            "rubs."
        )
        heavy = float(self.box.row.get("driver_mass_kg", math.nan))
        cautions = ["Magnets pull tools and screws onto the cone: one hand over the surround while driving screws."]
        if heavy > HEAVY:
            cautions.append(f"A driver weighs {show(heavy, 'mass', self.units)}: two people.")
        return Step(title="Fit what is bought", words=tuple(words), cautions=tuple(cautions))

    def _leak_test(self) -> Step:
        cone = "the driver's cone" if len(self.drivers) == 1 else "one driver's cone"
        stopped = "Hold every vent shut with board and foam. " if self.pipes or self.slots else ""
        if self.radiators:
            holds = "the passive radiators move out with it and stay out. If they creep back, air leaks."
        elif len(self.drivers) > 1:
            holds = "the other cones move out and stay out. If they creep back, air leaks."
        else:
            holds = "it pushes back as much at the end as at the beginning. If that fades, air leaks."
        return Step(
            title="Leak test",
            words=(
                (
                    f"{stopped}Press {cone} in evenly by {self.about('5 mm', '1/4 in')}, fingers flat, and "
                    f"hold it for ten seconds: {holds}"
                ),
            ),
        )

    def _wire(self) -> Step:
        opened = ", vents open again" if self.pipes or self.slots else ""
        return Step(
            title="Wire, set up, listen for leaks",
            words=(
                (
                    f"With the box beside its place, where joints can be reached{opened}: go through “{SET_UP}” from "
                    "its first line until the gain is set."
                ),
                (
                    "Only then, and turned far down, a tone of 20 to 30 Hz: go along joints, flanges and cup with a "
                    "wet finger. A hiss or a draught is sealed and tried again."
                ),
            ),
            cautions=("Start quietly: a subwoofer in a closed car harms hearing for good.",),
        )

    def _into_the_vehicle(self) -> Step:
        box = self.box
        weight = float(box.row.get("weight_kg", math.nan))
        across, forward, up = (self.size(float(each)) for each in box.place)
        words = [
            (
                f"The box stands {across} from the left end of the measured space, {forward} forward of its rearmost "
                f"plane and {up} above its lowest point: see section and plan under “Views”."
            ),
        ]
        gaps = [
            f"{self.size(gap)} {where}"
            for gap, where in ((float(box.place[2]), "under"), (float(box.place[1]), "behind"))
            if gap > SAME
        ]
        if gaps:
            words.append(
                f"What holds it so far off, {listed(gaps)}, are battens, feet or brackets that you make to that size; "
                "bolts go through them into structure."
            )
        cautions = list(VEHICLE)
        if weight > HEAVY:
            cautions.insert(
                0,
                f"It weighs about {show(weight, 'mass', self.units)}: two people, or a hoist, and no lifting by a "
                "vent.",
            )
        cautions.append(
            "Supply, fuse and cable by the amplifier's instructions and local codes; where a licence is asked for, by "
            "somebody who has it."
        )
        return Step(title="Into the vehicle", words=tuple(words), cautions=tuple(cautions))


def hole_for_pipe(units: Units) -> str:
    """What a hole for a pipe is sawn to."""
    return (
        "Holes for pipes are drawn as wide as the pipe's outside. Measure the pipe you bought: saw them "
        f"{SLIDES[units]} wider than that, so that it slides.".replace(" mm", "\N{NO-BREAK SPACE}mm")
    )


def _first_up(words: str) -> str:
    return words[:1].upper() + words[1:]
