"""Colours and dashes of the charts, told apart without colour and by colour-blind eyes.

The five line colours go back to the palette of Okabe and Ito, "Color Universal Design"
(2002), lightened for dark paper; every line also has a dash of its own and a letter.
"""

from __future__ import annotations

from dataclasses import dataclass

LETTERS = "ABCDE"
DASHES: tuple[list[int], ...] = ([1, 0], [7, 3], [2, 2], [9, 3, 2, 3], [14, 4])


@dataclass(frozen=True)
class Ink:
    """What a chart is drawn with on one kind of paper."""

    series: tuple[str, ...]
    text: str
    guide: str
    paper: str


LIGHT = Ink(
    series=("#0072B2", "#C44E00", "#00805D", "#A8508A", "#2B2B2B"),
    text="#262626", guide="#6B6B6B", paper="#FFFFFF",
)  # fmt: skip
DARK = Ink(
    series=("#56B4E9", "#F0A030", "#35C79A", "#E8A0CC", "#F2F2F2"),
    text="#EDEDED", guide="#A6A6A6", paper="#171614",
)  # fmt: skip
