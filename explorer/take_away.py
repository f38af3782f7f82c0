"""Charts, drawings and their figures to take along: SVG, PNG and CSV, from the page where they stand."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import altair as alt
import pandas as pd
import streamlit as st
import vl_convert
from streamlit.dataframe_util import convert_arrow_bytes_to_pandas_df

from engine.formats.cells import csv_text
from engine.quantities import Units
from engine.report.curves import charts_of, title_of
from engine.report.ink import LIGHT, Ink
from engine.report.pictures import CHART_WIDTH, SHARPNESS, chart_png, chart_svg, drawing_png, drawing_svg
from engine.report.portrait import Portrait, curves_table, lay_over
from engine.report.sheet import file_name
from explorer import frame
from explorer.specs import Spec


@dataclass(frozen=True)
class Item:
    """One thing to take along: what it is called on the page, and how each kind of file of it is made."""

    label: str
    svg: Callable[[], str]
    png: Callable[[], bytes]
    table: Callable[[], pd.DataFrame] | None = None  # none of a drawing


def take_away(items: Sequence[Item], *, key: str) -> None:
    """A button that opens a choice of the items and their files; nothing is made before it is asked for."""
    job = frame.present_job()
    with st.popover("Take away", icon=":material/download:"):
        labels = [item.label for item in items]
        chosen = st.selectbox("Which", labels, key=f"take:{key}", label_visibility="collapsed")
        item = items[labels.index(chosen)]
        kinds: list[tuple[str, str, Callable[[], str | bytes]]] = [
            ("svg", "image/svg+xml", item.svg),
            ("png", "image/png", item.png),
        ]
        if item.table is not None:
            kinds.append(("csv", "text/csv", partial(_csv, item.table)))
        with st.container(horizontal=True):
            for ending, mime, make in kinds:
                st.download_button(
                    ending.upper(),
                    make,
                    file_name=file_name(job.title, item.label, ending),
                    mime=mime,
                    key=f"take:{key}:{ending}",
                    on_click="ignore",
                )
        if item.table is not None:
            st.caption("CSV: the figures behind it.")


def of_curves(portraits: Sequence[Portrait], units: Units) -> list[Item]:
    """The curves of one design, or of several over each other."""
    drawing = lay_over(portraits, units=units, ink=LIGHT, hover=False)
    return [
        of_chart(title_of(name, drawing), partial(make, drawing), partial(curves_table, portraits))
        for name, (_, make) in charts_of(drawing).items()
    ]


def of_spec(label: str, spec: Spec, ink: Ink) -> Item:
    """A chart as it stands on the page, with the figures that it draws, in the units it draws them in."""
    return Item(
        label,
        lambda: str(vl_convert.vegalite_to_svg(_whole(spec, ink))),
        lambda: bytes(vl_convert.vegalite_to_png(_whole(spec, ink), scale=SHARPNESS)),
        lambda: max(_tables(spec).values(), key=len),
    )


def of_chart(label: str, make: Callable[[], alt.LayerChart], table: Callable[[], pd.DataFrame]) -> Item:
    """A chart, made when it is asked for."""
    return Item(label, lambda: chart_svg(make()), lambda: chart_png(make()), table)


def of_drawing(label: str, drawing: Callable[[], str]) -> Item:
    """A drawing to scale."""
    return Item(label, lambda: drawing_svg(drawing()), lambda: drawing_png(drawing()))


def _tables(spec: Spec) -> dict[str, pd.DataFrame]:
    """The tables of a chart, which it takes over to the browser in Arrow's form."""
    return {name: convert_arrow_bytes_to_pandas_df(data) for name, data in spec["datasets"].items()}


def _whole(spec: Spec, ink: Ink) -> Spec:
    """A chart that needs no page round it: its tables in it, a width of its own, the colours of the page."""
    words = {"labelColor": ink.text, "titleColor": ink.text}
    tables = {name: json.loads(table.to_json(orient="records")) for name, table in _tables(spec).items()}
    look = {
        "font": "sans-serif",
        "background": ink.paper,
        "axis": words,
        "legend": words,
        "view": {"stroke": ink.guide},
    }
    return spec | {"datasets": tables, "width": CHART_WIDTH, "config": look}


def _csv(table: Callable[[], pd.DataFrame]) -> str:
    return csv_text(table())
