"""What pages of the workshop are made of, as data: a form sets them on paper, a page on the screen.

Words are plain text everywhere: nothing in them is markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from engine.report.pictures import drawing_svg


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A drawing of the workshop as SVG text, inked by what shows it.

    ``width`` mm wide on paper, at most as wide as its place; ``alt`` says what it shows.
    """

    svg: str
    alt: str
    width: float


@dataclass(frozen=True)
class Words:
    """A paragraph; ``kind`` "note" is set small, "warning" bold after a sign."""

    words: str
    kind: Literal["plain", "title", "note", "warning"] = "plain"


@dataclass(frozen=True)
class Caution:
    """What may hurt or spoil, beside where it may."""

    words: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of text under headings.

    ``figures`` are columns set to the right, ``wide`` those that take what room is left.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: tuple[int, ...] = ()
    wide: tuple[int, ...] = (0,)


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step to tick off: what it is, what to do, what may go wrong."""

    title: str
    words: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Steps:
    """Steps in order, numbered from ``first``."""

    steps: tuple[Step, ...]
    first: int = 1


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Two columns that stay together on a page; ``share`` of the width is the left one's."""

    left: tuple[Any, ...]
    right: tuple[Any, ...]
    share: float = 0.5


Block = Picture | Words | Caution | Table | Steps | Beside


@dataclass(frozen=True, kw_only=True)
class Section:
    """Blocks under a title; ``face`` is what its pages show, in their foot."""

    title: str
    blocks: tuple[Block, ...]
    on_new_page: bool = True
    face: str = ""


@dataclass(frozen=True, kw_only=True)
class Named:
    """What stands in the foot of everything printed of a build."""

    job: str
    design: str
    written: date

    @property
    def day(self) -> str:
        return f"{self.written.day} {self.written:%B %Y}"

    @property
    def named(self) -> str:
        """Job, design and date in one line, for every page."""
        return f"{self.job} – design {self.design} – {self.day}"


@dataclass
class Gathered:
    """Blocks as plain values for a form, their pictures as files."""

    pictures: dict[str, str] = field(default_factory=dict)

    def told(self, blocks: Sequence[Block]) -> list[dict[str, Any]]:
        return [self._one(block) for block in blocks]

    def _one(self, block: Block) -> dict[str, Any]:
        match block:
            case Picture():
                name = f"picture-{len(self.pictures)}.svg"
                self.pictures[name] = drawing_svg(block.svg, halo=False)
                return {"is": "picture", "file": name, "alt": block.alt, "width": block.width}
            case Words():
                return {"is": "words", "words": block.words, "kind": block.kind}
            case Caution():
                return {"is": "caution", "words": block.words}
            case Table():
                return {
                    "is": "table", "headings": block.headings, "rows": block.rows, "figures": block.figures,
                    "wide": block.wide,
                }  # fmt: skip
            case Steps():
                steps = [{"title": each.title, "words": each.words, "cautions": each.cautions} for each in block.steps]
                return {"is": "steps", "first": block.first, "steps": steps}
            case Beside():
                return {
                    "is": "beside", "left": self.told(block.left), "right": self.told(block.right),
                    "share": block.share,
                }  # fmt: skip
