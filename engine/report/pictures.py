"""Charts and drawings as pictures by themselves: SVG text and PNG."""

from __future__ import annotations

import re
from typing import Any

import altair as alt
import vl_convert

from engine.markup import in_tags
from engine.report.ink import LIGHT, Ink

CHART_WIDTH, CHART_HEIGHT = 640, 330  # px, of a chart that is taken away
SHARPNESS = 2.0  # pixels of a PNG for each of the picture's own

_VARIABLE = re.compile(r"var\(--drawing-(\w+), *\w+\)")
_HALO = re.compile(r"paint-order:stroke;stroke:var\(--drawing-paper, transparent\);stroke-width:4")


def chart_svg(chart: alt.LayerChart, *, width: int = CHART_WIDTH, height: int = CHART_HEIGHT) -> str:
    """A chart as SVG text, its lines as wide and high as asked."""
    return str(vl_convert.vegalite_to_svg(_still(chart, width, height)))


def chart_png(chart: alt.LayerChart, *, width: int = CHART_WIDTH, height: int = CHART_HEIGHT) -> bytes:
    """The same as PNG, on white."""
    spec = _still(chart, width, height)
    spec["config"]["background"] = LIGHT.paper
    return bytes(vl_convert.vegalite_to_png(spec, scale=SHARPNESS))


def drawing_svg(drawing: str, *, ink: Ink = LIGHT, halo: bool = True) -> str:
    """A drawing of the workshop that needs no page round it: its colours as they are.

    Without ``halo`` words have no paper round them, for what draws letter by letter.
    """
    inks = {"ink": ink.text, "note": ink.text, "paper": ink.paper}
    bare = drawing if halo else in_tags(drawing, lambda tag: _HALO.sub("", tag))

    def inked(tag: str) -> str:
        return _VARIABLE.sub(lambda found: inks[found[1]], tag).replace("currentColor", ink.text)

    return in_tags(bare, inked)


def drawing_png(drawing: str) -> bytes:
    """A drawing of the workshop as PNG, on white."""
    return bytes(vl_convert.svg_to_png(_on_paper(drawing_svg(drawing)), scale=SHARPNESS))


def own_ids(svg: str, prefix: str) -> str:
    """An SVG with its ids numbered under a prefix of its own, so that several can share one page.

    The renderer counts its ids on from one drawing to the next; here they start anew, so
    the same shortlist gives the same page.
    """
    names = {name: f"{prefix}{number}" for number, name in enumerate(re.findall(r'\bid="([^"]+)"', svg))}

    def renamed(match: re.Match[str]) -> str:
        return match[1] + " ".join(names.get(name, name) for name in match[2].split()) + match[3]

    def all_renamed(tag: str) -> str:
        for before, after in (('\\bid="', '"'), ("url\\(#", "\\)"), ('href="#', '"'), ('aria-\\w+by="', '"')):
            tag = re.sub(f'({before})([^")]+)({after})', renamed, tag)
        return tag

    return in_tags(svg, all_renamed)


def _still(chart: alt.LayerChart, width: int, height: int) -> dict[str, Any]:
    sized = chart.properties(width=width, height=height)
    spec: dict[str, Any] = sized.configure(font="sans-serif", background="transparent", aria=False).to_dict(
        validate=False
    )
    return spec


def _on_paper(svg: str) -> str:
    """White behind a drawing."""
    sheet = f'<rect width="100%" height="100%" fill="{LIGHT.paper}"/>'
    return re.sub(r"(<svg\b[^>]*>)", lambda found: found[1] + sheet, svg, count=1)
