"""Charts of a front: those to take along from the picking surface, and those beside it (small, of two groups, of
boxes as built, of what room buys).

Those of designs are drawn from a frame made by :func:`plotted`; a click selects one through the selection named
``pick``.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.kinds import KINDS
from engine.quantities import Units
from engine.report.ink import Ink
from engine.report.wording import better_side, figure_of, heading, high_pass, openings, outside
from explorer.choices import displayed
from explorer.traits import THIRDS, TRAITS, colour_of, mark_of, option_name, trait_name

Floats = NDArray[np.float64]

_SHARE = alt.Scale(domain=[-0.13, 1.2], nice=False)
_MARK_TEXT: dict[str, Any] = {"dx": 13, "dy": -13, "align": "left", "fontWeight": "bold", "fontSize": 13}
_THIRD = "third"  # of the shape's column, in a frame
_COLUMNS = 3  # names side by side in a legend
_NAME_LIMIT = 480  # px, of a group's name in a legend: those of drivers are long
_FAINT: dict[str, Any] = {"clip": True, "opacity": 0.35, "strokeWidth": 1}
LITTLE = "front"  # what small charts draw
NAME_WIDE = 36  # characters of a line in the name of a bar
# The better, the further from the paper, as on the picking surface.
_RAMP_EXTENT = {"light": [0.9, 0.0], "dark": [0.25, 1.0]}


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a front is drawn: the units and money of the user, the ink of the theme."""

    units: Units
    currency: str
    ink: Ink
    dark: bool = False

    def title(self, key: str) -> str:
        return heading(key, self.units, self.currency)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A front ready to draw: ``frame`` from :func:`plotted`, each axis's limits in shown units.

    ``behind`` has columns in shown units of a front that stands faintly behind it.  ``traits`` are the options of what
    colour or shape may tell by a name, in order, of the whole front.
    """

    frame: pd.DataFrame
    spans: Mapping[str, tuple[float, float]]
    look: Look
    behind: pd.DataFrame | None = None
    traits: Mapping[str, Sequence[str]] = field(default_factory=dict)


def plotted(front: pd.DataFrame, keys: Sequence[str], look: Look, marks: Mapping[str, str]) -> pd.DataFrame:
    """The rows of a front as charts want them: values in shown units, words for the tooltip.

    ``marks`` maps ids to the letter of the shortlist or the word "pick".
    """
    rows = [{str(key): value for key, value in row.items()} for row in front.to_dict("records")]
    frame = pd.DataFrame(
        {
            "id": front["id"].to_numpy(),
            "box": [KINDS[row["box_kind"]].label for row in rows],
            "mark": [marks.get(row["id"], "") for row in rows],
            "drivers": [f"{row['driver_count']} × {row['driver']}" for row in rows],
            "outside": [outside(row, look.units) for row in rows],
            "opening": [openings(row, look.units) for row in rows],
            "filter": [high_pass(row, look.units) for row in rows],
        }
    )
    for key in TRAITS:
        frame[_named(key)] = [option_name(key, str(row[key])) for row in rows]
    for key in keys:
        frame[key] = np.asarray(displayed(front[key].to_numpy(dtype=float), COLUMNS[key], look.units))
        frame[f"{key}_text"] = [figure_of(row, key, look.units, look.currency) for row in rows]
    return frame


def faint(front: pd.DataFrame, keys: Sequence[str], units: Units) -> pd.DataFrame:
    """What is drawn of a front that stands behind another, in shown units; nothing where it lacks one of ``keys``."""
    if not set(keys) <= set(front):
        return pd.DataFrame(columns=list(keys))
    return pd.DataFrame({key: displayed(front[key].to_numpy(float), COLUMNS[key], units) for key in keys})


def spans(front: pd.DataFrame, keys: Sequence[str], units: Units) -> dict[str, tuple[float, float]]:
    """The lowest and highest value of each column over the whole front, in shown units."""
    found = {}
    for key in keys:
        values = np.asarray(displayed(front[key].to_numpy(dtype=float), COLUMNS[key], units), dtype=float)
        found[key] = (float(values.min()), float(values.max()))
    return found


def scatter(
    scene: Scene, *, x: str, y: str, colour: str, objectives: Sequence[str], shape: str = "box_kind"
) -> alt.LayerChart:
    """Two columns on the axes, another or a trait as colour and as shape; a click picks the nearest design."""
    scene = _in_thirds(scene, shape)
    look, ink = scene.look, scene.look.ink
    across, up = alt.X(f"{x}:Q", **_axis(scene, x)), alt.Y(f"{y}:Q", **_axis(scene, y))
    base = alt.Chart().encode(x=across, y=up)
    pick = alt.selection_point(name="pick", fields=["id"], nearest=True, empty=False)
    marked = base.transform_filter("datum.mark != ''")
    ring = marked.mark_point(size=260, strokeWidth=2.5, color=ink.text, filled=False, opacity=1.0)
    text = marked.encode(text=alt.Text("mark:N"))
    halo = text.mark_text(stroke=ink.paper, strokeWidth=4, **_MARK_TEXT)
    words = text.mark_text(color=ink.text, **_MARK_TEXT)
    points = (
        base.mark_point(filled=True, size=38, opacity=0.9, stroke=ink.text, strokeWidth=0.4)
        .encode(
            color=_colour(scene, colour, shape),
            shape=_shape(scene, shape),
            tooltip=described(look, objectives),
        )
        .add_params(pick)
    )
    layers = [points, ring.encode(shape=_shape(scene, shape)), halo, words]
    return alt.LayerChart(data=scene.frame, layer=[*_behind(scene, across, up), *layers], height=580)


def small(look: Look, *, x: str, y: str) -> alt.LayerChart:
    """Two columns against each other in little room, to see a front move.

    What moves, the ends of the axes too, is the table of the name ``LITTLE``, see :func:`in_little`: so one chart does
    for all fronts on the same axes.
    """
    ink = look.ink
    style: dict[str, Any] = {"labelColor": ink.text, "titleColor": ink.text, "tickCount": 4}
    style |= {"titleFontSize": 11, "labelFontSize": 10}
    scale = alt.Scale(nice=False, zero=False)
    base = alt.Chart().encode(
        x=alt.X("across:Q", scale=scale, axis=alt.Axis(title=look.title(x), **style)),
        y=alt.Y("up:Q", scale=scale, axis=alt.Axis(title=look.title(y), **style)),
    )

    def those(*parts: str) -> alt.Chart:
        return base.transform_filter(alt.FieldOneOfPredicate(field="part", oneOf=list(parts)))

    layers = [
        those("behind").mark_point(color=ink.text, size=8, aria=False, **_FAINT),
        those("front", "best").mark_point(filled=True, size=16, opacity=0.8, color=ink.series[0]),
        those("best").mark_point(size=140, strokeWidth=2, color=ink.text, aria=False),
        those("end").mark_point(opacity=0.0, aria=False),
    ]
    return alt.LayerChart(data=alt.NamedData(LITTLE), layer=layers, height=230)


def in_little(scene: Scene, *, x: str, y: str) -> pd.DataFrame:
    """What :func:`small` draws of a scene, whose marks are "best" or empty: points, each with what it is a part of."""
    ends = pd.DataFrame({key: _reach(scene, key) for key in (x, y)})
    front = scene.frame.assign(part=np.where(scene.frame["mark"] == "best", "best", "front"))
    behind = [] if scene.behind is None else [scene.behind.assign(part="behind")]
    parts = [front, *behind, ends.assign(part="end")]
    named = {"across": x, "up": y, "part": "part"}
    return pd.DataFrame({name: np.concatenate([part[key] for part in parts]) for name, key in named.items()})


def _behind(scene: Scene, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """The front that stands behind, as open marks without a word."""
    if scene.behind is None or scene.behind.empty:
        return []
    return [alt.Chart(scene.behind).mark_point(color=scene.look.ink.text, size=22, **_FAINT).encode(x=x, y=y)]


def fronts(scene: Scene, *, x: str, y: str, groups: Sequence[str], objectives: Sequence[str]) -> alt.LayerChart:
    """The fronts of two groups in one picture, told apart by colour and by shape; ``frame`` has ``group`` besides."""
    marks = ("circle", "triangle-up")
    legend = _legend(scene, "", orient="top", symbolSize=90, labelLimit=_NAME_LIMIT)
    base = alt.Chart().encode(x=alt.X(f"{x}:Q", **_axis(scene, x)), y=alt.Y(f"{y}:Q", **_axis(scene, y)))
    points = base.mark_point(filled=True, size=44, opacity=0.8).encode(
        color=alt.Color(
            "group:N", scale=alt.Scale(domain=list(groups), range=list(scene.look.ink.series[:2])), legend=legend
        ),
        shape=alt.Shape("group:N", scale=alt.Scale(domain=list(groups), range=list(marks)), legend=legend),
        tooltip=[alt.Tooltip("group:N", title="Group"), *described(scene.look, objectives)],
    )
    return alt.LayerChart(data=scene.frame, layer=[points], height=420)


def whiskers(scene: Scene, *, x: str, y: str, hold: str, shown: Sequence[alt.Tooltip]) -> alt.LayerChart:
    """Designs by what most built boxes reach, each with a line along either axis to what few reach.

    ``frame`` is that of :func:`plotted` with ``x_few``, ``y_few`` (shown units), ``x_drawn``, ``y_drawn`` (as on the
    drawing, faint) and the share in ``hold`` besides, from 0 to 1, which is the colour; ``shown`` when hovered over.
    """
    ink = scene.look.ink
    across, up = alt.X(f"{x}:Q", **_axis(scene, x)), alt.Y(f"{y}:Q", **_axis(scene, y))
    base = alt.Chart().encode(x=across, y=up)
    pick = alt.selection_point(name="pick", fields=["id"], nearest=True, empty=False)
    drawn = alt.Chart().mark_point(filled=True, size=12, opacity=0.35, color=ink.guide)
    line: dict[str, Any] = {"strokeWidth": 1, "opacity": 0.45, "color": ink.guide}
    colours = alt.Scale(
        scheme=alt.SchemeParams(name="viridis", extent=_RAMP_EXTENT["dark" if scene.look.dark else "light"]),
        domain=[0.0, 1.0],
    )
    legend = _legend(
        scene, "Boxes that keep all limits", orient="top", gradientLength=180, format=".0%", values=[0.0, 0.5, 1.0]
    )
    points = base.mark_point(filled=True, size=40, opacity=0.9, stroke=ink.text, strokeWidth=0.4).encode(
        color=alt.Color(f"{hold}:Q", scale=colours, legend=legend), shape=_shape(scene), tooltip=list(shown)
    )
    ring = base.transform_filter("datum.mark != ''").mark_point(
        size=260, strokeWidth=2.5, color=ink.text, filled=False, opacity=1.0
    )
    layers = [
        drawn.encode(x=alt.X("x_drawn:Q", **_axis(scene, x)), y=alt.Y("y_drawn:Q", **_axis(scene, y))),
        base.mark_rule(**line).encode(x2="x_few:Q"), base.mark_rule(**line).encode(y2="y_few:Q"),
        points.add_params(pick), ring.encode(shape=_shape(scene)),
    ]  # fmt: skip
    return alt.LayerChart(data=scene.frame, layer=layers, height=440)


def described(look: Look, keys: Sequence[str]) -> list[alt.Tooltip]:
    """What is told of a design that is hovered over: what it is, and its figures by ``keys``."""
    figures = [alt.Tooltip(f"{key}_text:N", title=COLUMNS[key].label) for key in keys]
    return [
        alt.Tooltip("box:N", title="Box"),
        alt.Tooltip("drivers:N", title="Drivers"),
        alt.Tooltip("outside:N", title="Outside"),
        alt.Tooltip("opening:N", title="Opening"),
        alt.Tooltip("filter:N", title="Filter"),
        *figures,
    ]


def bars(table: pd.DataFrame, key: str, look: Look) -> alt.LayerChart:
    """What each change buys in one goal: a bar for the gain, a line over how sure that is.

    ``table`` has ``change`` (words), ``where`` ("along the front" or "at its best"), ``gain``, ``least`` and ``most``
    in shown units and ``text``.
    """
    ink = look.ink
    style: dict[str, Any] = {"labelColor": ink.text, "titleColor": ink.text}
    # Long names take two lines, so that none is cut.
    table = table.assign(change=["\n".join(textwrap.wrap(name, NAME_WIDE)) for name in table["change"]])
    names = alt.Axis(title=None, labelLimit=0, labelExpr="split(datum.label, '\\n')", **style)
    y = alt.Y("change:N", sort=None, axis=names)
    hover = [alt.Tooltip(f"{name}:N", title=title) for name, title in (("change", "Change"), ("where", "Where"))]
    offset = alt.YOffset("where:N", sort=None)
    base = alt.Chart().encode(y=y, yOffset=offset, tooltip=[*hover, alt.Tooltip("text:N", title="Buys")])
    legend = alt.Legend(title=None, orient="top", labelColor=ink.text)
    colours = alt.Scale(domain=["along the front", "at its best"], range=list(ink.series[:2]))
    axis = alt.Axis(title=f"{look.title(key)}, better by", tickCount=5, **style)
    filled = base.mark_bar(opacity=0.8).encode(
        x=alt.X("gain:Q", axis=axis), color=alt.Color("where:N", scale=colours, legend=legend)
    )
    spread = base.mark_rule(color=ink.text, strokeWidth=2).encode(x="least:Q", x2="most:Q")
    return alt.LayerChart(data=table, layer=[filled, spread], height=alt.Step(16))


def parallel(scene: Scene, objectives: Sequence[str], *, colour: str, shape: str = "box_kind") -> alt.LayerChart:
    """Every objective on an axis of its own, best at the top; a line is a design.

    Colour and marks are those of :func:`scatter`.  Lines are dashed by the kind of box where marks tell that.
    """
    scene = _in_thirds(scene, shape)
    look, ink = scene.look, scene.look.ink
    frame = _folded(scene, objectives)
    names = [COLUMNS[key].label for key in objectives]
    x = alt.X("axis:N", sort=names, scale=alt.Scale(padding=0.35, type="point"), axis=None)
    y = alt.Y("share:Q", scale=_SHARE, axis=None)
    base = alt.Chart(frame).encode(x=x, y=y, detail=alt.Detail("id:N"))
    pick = alt.selection_point(name="pick", fields=["id"], nearest=True, empty=False)
    dashes = {kind.label: list(kind.dash if shape == "box_kind" else (1, 0)) for kind in KINDS.records}
    dash = alt.StrokeDash("box:N", scale=_scale(dashes), legend=None)
    tints = _colour(scene, colour, shape)
    lines = base.mark_line(strokeWidth=1, opacity=0.3).encode(color=tints, strokeDash=dash)
    marked = base.transform_filter("datum.mark != ''")
    bold = marked.mark_line(strokeWidth=3, opacity=1.0, color=ink.text).encode(strokeDash=dash)
    spots = (
        base.mark_point(filled=True, size=30, opacity=0.55)
        .encode(color=tints, shape=_shape(scene, shape), tooltip=described(look, objectives))
        .add_params(pick)
    )
    letter = marked.transform_filter(alt.datum.axis == names[-1]).mark_text(
        align="left", dx=8, fontWeight="bold", fontSize=13, color=ink.text
    )
    layers = [*_uprights(scene, objectives, x), lines, bold, spots, letter.encode(text=alt.Text("mark:N"))]
    return alt.LayerChart(layer=layers, view=alt.ViewConfig(stroke=None), height=360)


def cabin_gain(
    frequency: Floats, gain_db: Floats, *, ink: Ink, points: tuple[Floats, Floats] | None = None
) -> alt.LayerChart:
    """What a vehicle adds, (F,) in dB over ``frequency`` (F,) in Hz; measured ``points`` as dots."""
    style: dict[str, Any] = {"labelColor": ink.text, "titleColor": ink.text}
    span = [float(frequency[0]), float(frequency[-1])]
    axis = alt.Axis(values=[10, 20, 30, 50, 100, 200], title="Frequency (Hz)", format="d", **style)
    x = alt.X("frequency_hz:Q", scale=alt.Scale(type="log", domain=span, nice=False), axis=axis)
    y = alt.Y("gain_db:Q", axis=alt.Axis(title="Gain over the open (dB)", tickCount=6, **style))
    tooltip = [
        alt.Tooltip("frequency_hz:Q", title="Frequency (Hz)", format=".1f"),
        alt.Tooltip("gain_db:Q", title="Gain (dB)", format=".1f"),
    ]
    curve = alt.Chart(pd.DataFrame({"frequency_hz": frequency, "gain_db": gain_db})).encode(x=x, y=y, tooltip=tooltip)
    layers = [curve.mark_line(clip=True, strokeWidth=2, color=ink.series[0])]
    if points is not None:
        dots = alt.Chart(pd.DataFrame({"frequency_hz": points[0], "gain_db": points[1]}))
        marks = dots.mark_point(clip=True, filled=True, size=26, opacity=1.0, color=ink.series[1])
        layers.append(marks.encode(x=x, y=y, tooltip=tooltip))
    return alt.LayerChart(layer=layers, height=240, width="container")


def _axis(scene: Scene, key: str) -> dict[str, Any]:
    return {
        "scale": alt.Scale(domain=_reach(scene, key), nice=False, zero=False),
        "axis": alt.Axis(
            title=f"{scene.look.title(key)} – {better_side(key)}",
            labelColor=scene.look.ink.text,
            titleColor=scene.look.ink.text,
        ),
    }


def _reach(scene: Scene, key: str) -> list[float]:
    """What the axis of a column reaches over."""
    low, high = scene.spans[key]
    room = 0.05 * (high - low or 1.0)
    return [low - room, high + room]


def _colour(scene: Scene, key: str, shape: str) -> alt.Color:
    """Colour by a column with a better side, or by the names of a trait, with its legend."""
    return _tints(scene, key, shape) if key in TRAITS else _ramp(scene, key)


def _tints(scene: Scene, key: str, shape: str) -> alt.Color:
    """The colours of a trait's names; what shape tells too has one legend for both, in the page's order."""
    options = _options(scene, key)
    tints = {option_name(key, option): colour_of(number, scene.look.ink) for number, option in enumerate(options)}
    where: Literal["top", "bottom"] = "bottom" if shape == key else "top"
    return alt.Color(f"{_named(key)}:N", scale=_scale(tints), legend=_names_legend(scene, key, where))


def _ramp(scene: Scene, key: str) -> alt.Color:
    extent = _RAMP_EXTENT["dark" if scene.look.dark else "light"]
    scale = alt.Scale(
        scheme=alt.SchemeParams(name="viridis", extent=extent),
        domain=list(scene.spans[key]),
        reverse=COLUMNS[key].better == "min",
    )
    title = f"{scene.look.title(key)} – {better_side(key)}"
    low, high = scene.spans[key]
    digits = COLUMNS[key].digits if scene.look.units == "metric" else max(1, COLUMNS[key].digits)
    values = [low, 0.5 * (low + high), high]
    style: dict[str, Any] = {"gradientLength": 180, "values": values, "format": f".{digits}f"}
    legend = _legend(scene, title, orient="top", **style)
    return alt.Color(f"{key}:Q", scale=scale, legend=legend)


def _legend(scene: Scene, title: str, *, orient: Literal["top", "bottom"], **settings: Any) -> alt.Legend:
    ink = scene.look.ink.text
    return alt.Legend(
        title=title,
        orient=orient,
        direction="horizontal",
        titleLimit=360,
        labelColor=ink,
        titleColor=ink,
        labelOverlap=False,
        **settings,
    )


def _scale(marks: Mapping[str, Any]) -> alt.Scale:
    """A scale that gives each name its colour, mark or dash."""
    return alt.Scale(domain=list(marks), range=list(marks.values()))


def _named(key: str) -> str:
    """The column of :func:`plotted` that has the names of a trait."""
    return f"{key}_name"


def _options(scene: Scene, key: str) -> Sequence[str]:
    """The options of a trait, in order."""
    present = [kind.name for kind in KINDS.records if (scene.frame["box"] == kind.label).any()]
    return scene.traits.get(key, present)


def _names_legend(scene: Scene, key: str, orient: Literal["top", "bottom"], **style: Any) -> alt.Legend | None:
    """The names of a trait, where there is more than one."""
    if len(_options(scene, key)) < 2:
        return None
    return _legend(scene, trait_name(key), orient=orient, columns=_COLUMNS, labelLimit=_NAME_LIMIT, **style)


def _shape(scene: Scene, key: str = "box_kind") -> alt.Shape:
    """Shape by the names of a trait, or by thirds of a column with a better side; see :func:`_in_thirds`."""
    # Below the chart, because both legends in one line are wider than a narrow window.
    guide = {"symbolFillColor": scene.look.ink.guide}
    if key not in TRAITS:
        legend = _legend(scene, COLUMNS[key].label, orient="bottom", **guide)
        return alt.Shape(f"{_THIRD}:N", scale=_scale({name: mark for mark, name in THIRDS}), legend=legend)
    marks = {
        option_name(key, option): mark_of(key, option, number) for number, option in enumerate(_options(scene, key))
    }
    return alt.Shape(f"{_named(key)}:N", scale=_scale(marks), legend=_names_legend(scene, key, "bottom", **guide))


def _in_thirds(scene: Scene, key: str) -> Scene:
    """A scene whose designs are told apart by the third of a column that they lie in, if that is what shape tells."""
    if key in TRAITS:
        return scene
    places = np.clip(np.floor(3.0 * (1.0 - _share(scene, key))), 0, len(THIRDS) - 1).astype(int)
    return replace(scene, frame=scene.frame.assign(**{_THIRD: [THIRDS[place][1] for place in places]}))


def _share(scene: Scene, key: str) -> Floats:
    """Where each design lies between the worst (0) and the best (1) of a column."""
    low, high = scene.spans[key]
    share = (scene.frame[key].to_numpy(float) - low) / (high - low) if high > low else np.full(len(scene.frame), 0.5)
    return 1.0 - share if COLUMNS[key].better == "min" else share


def _folded(scene: Scene, objectives: Sequence[str]) -> pd.DataFrame:
    """One row for each design and objective; ``share`` runs from 0 (worst on the front) to 1 (best)."""
    parts = [scene.frame.assign(axis=COLUMNS[key].label, share=_share(scene, key)) for key in objectives]
    return pd.concat(parts, ignore_index=True)


def _uprights(scene: Scene, objectives: Sequence[str], x: alt.X) -> list[alt.Chart]:
    """The axes themselves: name on top, best and worst figure at the ends."""
    ink = scene.look.ink
    rows = []
    for key in objectives:
        low, high = scene.spans[key]
        best, worst = (low, high) if COLUMNS[key].better == "min" else (high, low)
        measure = heading(key, scene.look.units, scene.look.currency).removeprefix(COLUMNS[key].label).strip(" ()")
        digits = COLUMNS[key].digits if scene.look.units == "metric" else max(1, COLUMNS[key].digits)
        rows.append(
            {
                "axis": COLUMNS[key].label,
                "best": f"best {best:.{digits}f} {measure}".strip(),
                "worst": f"worst {worst:.{digits}f} {measure}".strip(),
                "floor": 0.0,
                "roof": 1.0,
            }
        )
    base = alt.Chart(pd.DataFrame(rows)).encode(x=x)
    bottom, top = (alt.Y(f"{end}:Q", scale=_SHARE, axis=None) for end in ("floor", "roof"))
    rule = base.mark_rule(color=ink.guide).encode(y=bottom, y2=alt.Y2("roof:Q"))
    name = base.mark_text(dy=-32, fontSize=12, fontWeight="bold", color=ink.text)
    best = base.mark_text(dy=-14, fontSize=11, color=ink.text)
    worst = base.mark_text(dy=16, fontSize=11, color=ink.text)
    return [
        rule,
        name.encode(y=top, text=alt.Text("axis:N")),
        best.encode(y=top, text=alt.Text("best:N")),
        worst.encode(y=bottom, text=alt.Text("worst:N")),
    ]
