"""Blocks of the workshop's pages on the screen, as paper has them."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from engine.report.blocks import Beside, Block, Caution, Picture, Steps, Table, Words
from engine.report.sheet import unbroken
from explorer import panels
from explorer.markdown import plain, text_table


def show(blocks: Sequence[Block]) -> None:
    """All of them, one below the other."""
    for block in blocks:
        _one(block)


def _one(block: Block) -> None:
    match block:
        case Picture():
            panels.show_svg(block.svg, block.alt)
        case Words(kind="title"):
            st.markdown(f"**{plain(block.words)}**")
        case Words(kind="note"):
            st.caption(plain(block.words))
        case Words(kind="warning"):
            panels.caution(plain(block.words))
        case Words():
            st.markdown(plain(block.words))
        case Caution():
            for words in block.words:
                panels.caution(plain(words))
        case Table():
            table = pd.DataFrame(block.rows, columns=_told_apart(block.headings))
            text_table(table.map(unbroken), border="horizontal", hide_index=True)
        case Steps():
            for number, step in enumerate(block.steps, start=block.first):
                st.markdown(f"**{number}. {plain(step.title)}**")
                for words in step.cautions:
                    panels.caution(plain(words))
                st.markdown("  \n".join(map(plain, step.words)))
        case Beside():
            left, right = st.columns([block.share, 1.0 - block.share], gap="large")
            with left:
                show(block.left)
            with right:
                show(block.right)


def _told_apart(headings: Sequence[str]) -> list[str]:
    """Headings of columns, empty ones as spaces of different lengths."""
    return [heading or " " * (number + 1) for number, heading in enumerate(headings)]
