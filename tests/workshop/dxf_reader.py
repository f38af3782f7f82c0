"""A reader of DXF that knows nothing of what wrote it: pairs of codes and values, entities, closed outlines."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise


@dataclass
class Entity:
    """One entity: its type, its layer, all pairs of it in order."""

    kind: str
    pairs: list[tuple[int, str]] = field(default_factory=list)

    def every(self, code: int) -> list[float]:
        return [float(value) for number, value in self.pairs if number == code]

    def text(self, code: int) -> str:
        return next(value for number, value in self.pairs if number == code)

    @property
    def layer(self) -> str:
        return self.text(8)

    @property
    def closed(self) -> bool:
        return self.kind == "CIRCLE" or (self.kind == "LWPOLYLINE" and int(self.text(70)) & 1 == 1)

    @property
    def corners(self) -> list[tuple[float, float, float]]:
        """x, y and bulge of each; a bulge follows its corner, and is left out where it is 0."""
        found: list[tuple[float, float, float]] = []
        for code, value in self.pairs:
            if code == 10:
                found.append((float(value), math.nan, 0.0))
            elif code == 20 and found:
                found[-1] = (found[-1][0], float(value), 0.0)
            elif code == 42 and found:
                found[-1] = (*found[-1][:2], float(value))
        return found

    @property
    def area(self) -> float:
        """What it encloses: polygon of its corners and a segment of a circle for each bulge."""
        if self.kind == "CIRCLE":
            return math.pi * self.every(40)[0] ** 2
        corners = self.corners
        total = 0.0
        for (x, y, bulge), (x2, y2, _) in pairwise([*corners, corners[0]]):
            total += 0.5 * (x * y2 - x2 * y)
            if bulge:
                angle = 4.0 * math.atan(bulge)
                radius = math.hypot(x2 - x, y2 - y) / (2.0 * math.sin(abs(angle) / 2.0))
                total += 0.5 * radius**2 * (angle - math.sin(angle))
        return abs(total)

    @property
    def span(self) -> tuple[float, float]:
        """Width and height over its corners."""
        x, y, _ = zip(*self.corners, strict=True)
        return max(x) - min(x), max(y) - min(y)


@dataclass
class DXFFile:
    """A file: its header's values, its layers' names, what is drawn."""

    header: dict[str, str]
    layers: set[str]
    entities: list[Entity]


def read_dxf(data: bytes) -> DXFFile:
    lines = data.decode("cp1252").splitlines()
    assert len(lines) % 2 == 0
    pairs = [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    assert pairs[-1] == (0, "EOF")
    header: dict[str, str] = {}
    layers: set[str] = set()
    entities: list[Entity] = []
    section, name, table = "", "", ""
    for (code, value), (_, after) in pairwise([*pairs, (0, "")]):
        if (code, value) == (0, "SECTION"):
            section = after
        elif (code, value) == (0, "ENDSEC"):
            section = ""
        elif section == "HEADER" and code == 9:
            name = value
        elif section == "HEADER" and name and name not in header:
            header[name] = value
        elif section == "TABLES" and code == 0:
            table = value
        elif section == "TABLES" and table == "LAYER" and code == 2:
            layers.add(value)
        elif section == "ENTITIES" and code == 0:
            entities.append(Entity(value))
        elif section == "ENTITIES" and entities:
            entities[-1].pairs.append((code, value))
    return DXFFile(header, layers, entities)
