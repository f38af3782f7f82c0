"""One box as its steps ask for it: boards and parts by what they are, and how pipes get in."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from engine.quantities import Units, show_set_out
from engine.report.pipework import cut_pieces, straight_pieces
from engine.scenario import Scenario
from engine.space.bodies import across
from engine.workshop.board import SAME, Board, Box, Part, Role


class Told:
    """A box being told, in the user's units."""

    def __init__(self, box: Box, scenario: Scenario, units: Units) -> None:
        self.box, self.scenario, self.units = box, scenario, units
        self.braces, self.slots, self.blocks = (self.boards(role) for role in ("brace", "slot", "block"))
        self.feet, self.layers, self.strips = (self.boards(role) for role in ("foot", "layer", "strip"))
        self.pipes, self.dowels, self.drivers, self.radiators, self.cups = (
            [part for part in box.parts if part.role == role] for role in ("pipe", "dowel", "driver", "radiator", "cup")
        )
        self.bent = [pipe for pipe in self.pipes if len(cut_pieces(pipe)) > 1]

    def boards(self, role: Role) -> list[Board]:
        return [board for board in self.box.boards if board.role == role]

    def size(self, value: float) -> str:
        return show_set_out(value, self.units).replace(" ", "\N{NO-BREAK SPACE}")

    def about(self, metric: str, us: str) -> str:
        """A round figure of common practice in the user's units."""
        return (metric if self.units == "metric" else us).replace(" ", "\N{NO-BREAK SPACE}")

    @property
    def added_mass(self) -> float:
        """On each passive radiator, kg."""
        return float(self.box.row.get("radiator_added_mass_kg", 0.0)) if self.radiators else 0.0

    @property
    def low_slot(self) -> bool:
        """Whether the slot runs along the bottom."""
        return bool(self.slots[0].outside[:, 2].mean() < self.box.outer.section[:, 1].mean())

    @property
    def slot_height(self) -> float:
        """Between the slot's board and the panel that it runs along, m."""
        level = float(self.slots[0].outside[:, 2].mean())
        return (level if self.low_slot else float(self.box.outer.section[:, 1].max()) - level) - self.box.board

    def goes_through(self, pipe: Part) -> str:
        """The panel in which a pipe's outer end is."""
        return next(
            board.name for board in self.box.boards if board.role == "shell"
            for cut in board.cuts if cut.passes == pipe.name
        )  # fmt: skip

    def threaded(self, pipe: Part) -> bool:
        """Whether the leg of a pipe with an elbow lies where braces stand, so that it goes in after them, endwise."""
        if pipe not in self.bent:
            return False
        low, high = across(straight_pieces(pipe)[-1])
        stands = [np.concatenate([brace.outside, brace.inside])[:, 0] for brace in self.braces]
        stands += [np.array(across(solid)) for dowel in self.dowels for solid in dowel.solids]
        return any(low < float(stand.max()) and float(stand.min()) < high for stand in stands)

    def from_the_front(self, pipe: Part) -> bool:
        """Whether a pipe comes with the baffle, from the front, so that it never drops into a hollow from above."""
        return pipe in self.bent and not self.threaded(pipe) and self.goes_through(pipe) == "baffle"

    @cached_property
    def carried(self) -> list[Board]:
        """Blocks that go in on pipes which come with the baffle."""
        return [block for pipe in self.pipes if self.from_the_front(pipe) for block in self.under(pipe)]

    @cached_property
    def standing(self) -> list[Board]:
        """Blocks that stand on a panel, to which they are glued before their pipes come."""
        return [block for block in self.blocks if any(edge.meets for edge in block.edges) and block not in self.carried]

    @cached_property
    def between(self) -> list[Board]:
        """Blocks that lie between pipes and touch no board, the lowest first."""
        loose = [block for block in self.blocks if block not in (*self.standing, *self.carried)]
        return sorted(loose, key=lambda block: float(block.outside[:, 2].min()))

    def under(self, pipe: Part) -> list[Board]:
        """Blocks in whose hollow a pipe lies."""
        return [block for block in self.blocks if any(cut.passes == pipe.name for cut in block.cuts)]

    def meets_last(self, boards: list[Board]) -> bool:
        """Whether an edge of one of these lies against the panel that closes the box."""
        return any(edge.meets == self.box.last for board in boards for edge in board.edges)

    def covers(self, far: float) -> bool:
        """Whether the far end of the box is further than ``far`` m from the side that is open last."""
        return self.box.last == "right side" and self.box.outer.x[1] > far + SAME
