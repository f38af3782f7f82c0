"""Charts as the browser takes them: Vega-Lite, its tables in Arrow's form."""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256
from typing import Any

import altair as alt
import pandas as pd
from altair.utils import schemapi
from streamlit.dataframe_util import convert_anything_to_arrow_bytes

from engine.quantities import Units
from engine.report.curves import charts_of
from engine.report.ink import Ink
from engine.report.portrait import Portrait, lay_over
from engine.report.tracks import charts_in_words
from explorer.charts import LITTLE, Look, Scene, in_little, small

Spec = dict[str, Any]

SMALL_KEPT = 64  # by their axes, units and ink
CURVES_KEPT = 16  # drawings, each of all curves of one design or of a shortlist

# Altair holds each part of a chart against Vega-Lite's schema whenever it is made or copied, which takes longer than
# all else on a page.  Tests hold whole charts against it.
schemapi.disable_debug_mode()


def spec_of(chart: alt.LayerChart) -> Spec:
    """What Streamlit's ``vega_lite_chart`` takes for a chart, whose tables go over into it; named ones come later."""
    tables: dict[str, bytes] = {}
    for part in (chart, *chart.layer):
        if isinstance(part.data, pd.DataFrame):
            table = convert_anything_to_arrow_bytes(part.data)
            name = sha256(table).hexdigest()[:16]
            tables[name] = table
            part.data = alt.NamedData(name)
    spec: Spec = chart.to_dict(validate=False)
    del spec["config"]  # Altair's theme: the page has its own
    return spec | {"datasets": tables}


@lru_cache(maxsize=SMALL_KEPT)
def _small(look: Look, x: str, y: str) -> Spec:
    return spec_of(small(look, x=x, y=y))


def small_spec(scene: Scene, *, x: str, y: str) -> Spec:
    """The same for :func:`explorer.charts.small` of a scene."""
    return _small(scene.look, x, y) | {
        "datasets": {LITTLE: convert_anything_to_arrow_bytes(in_little(scene, x=x, y=y))}
    }


@lru_cache(maxsize=CURVES_KEPT)
def curves(portraits: tuple[Portrait, ...], units: Units, ink: Ink) -> dict[str, tuple[Spec, str]]:
    """The curves of a design, or of several laid over each other, by name, each with what it tells in words.

    They are kept, since they cost most of a page.
    """
    drawing, told = lay_over(portraits, units=units, ink=ink, hover=True), charts_in_words(portraits, units)
    return {name: (spec_of(make(drawing)), told[name]) for name, (_, make) in charts_of(drawing).items()}
