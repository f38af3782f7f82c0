"""A vent shape made in this one file goes from the job's file through search, table and reasons, and back.

Square ducts, bought by the side, in the places that pipes take.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from engine.acoustics import turbulence
from engine.column import Column
from engine.columns import columns_at
from engine.document import Reader
from engine.errors import InputFaults
from engine.field import Field
from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.insight.reasons import differences
from engine.judged import JudgedDesign
from engine.openings import added, air, opening_of
from engine.openings.pipe.packing import PACKING as PIPES
from engine.openings.pipe.solids import bodies as pipe_bodies
from engine.openings.record import Fitting, Group, Opening, Shelf, Step, StockTable, Variable, nothing
from engine.packing.placement import BENT, NONE, SIDE, STRAIGHT
from engine.quantities import Units, show
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait
from engine.report.sheet import Wishes, sheet_of
from engine.report.sheet_html import html_of
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import Run, run
from engine.space.bodies import Body
from engine.space.interior import Interior
from explorer.charts import Look, plotted
from explorer.labels import label_of

Floats = NDArray[np.float64]

MOST = 3
WAYS = {NONE: "none", SIDE: "through side", STRAIGHT: "through the drivers' panel", BENT: "through it, bent"}
FIELDS = (
    Field(key="name", kind="text", required=True, help="What the shelf calls it."),
    Field(key="side", kind="length", required=True, low="10 mm", high="300 mm", help="Inside, across the flats."),
    Field(key="wall", kind="length", default="2 mm", low="0.5 mm", high="10 mm", help="Thickness of its wall."),
)


@dataclass(frozen=True, kw_only=True)
class Duct:
    """A size of square duct."""

    name: str
    side: float  # m, inside
    wall: float  # m


def _read(reader: Reader, place: str, table: Mapping[str, Any], board: float) -> tuple[Duct | None, dict[str, Any]]:
    values = reader.values(table, place, FIELDS)
    return (Duct(**values) if len(values) == len(FIELDS) else None), values


def _fittings(scenario: Any) -> Iterator[Fitting]:
    for duct in scenario.stock.listed("duct"):
        yield Fitting(part=duct, count=1, key={"duct": duct.name})


def _contents(group: Group) -> dict[str, Floats]:
    count = group.variable("duct_count").astype(float)
    return {"vent_count": count, "duct_side": group.part("side"), "duct_wall": group.part("wall")}


def _as_pipes(sizes: Mapping[str, Floats]) -> Mapping[str, Floats]:
    """Round pipes of the same area that the ducts lie within."""
    side, wall = sizes["duct_side"], sizes["duct_wall"]
    bare = dict.fromkeys(("elbow_radius", "socket_diameter", "socket_depth"), np.full_like(side, np.nan))
    bare |= dict.fromkeys(("flare_radius", "vent_panels"), np.zeros_like(side))
    round_ones = {"vent_inner": side * np.sqrt(4.0 / np.pi), "vent_outer": np.sqrt(2.0) * (side + 2.0 * wall)}
    return {**sizes, **round_ones, **bare}


def _circuit(group: Group) -> dict[str, Floats]:
    return air.circuit(group, count=group.variable("duct_count"), entries=(0.5, 1.0), bend=turbulence.SWEPT_BEND)


def _settled(rows: pd.DataFrame, shelf: Shelf) -> dict[str, NDArray[Any]]:
    return {"duct_count": rows["vent_count"].to_numpy(float).astype(np.int64)}


def _stated(row: Any, group: Group) -> dict[str, Any]:
    side = float(group.part("side")[0])
    length = float(group.laid("vent_length")[0])
    return {"vent_count": int(row["vent_count"]), "vent_width": side, "vent_height": side, "vent_length": length}


def _steps(group: Group) -> Iterator[Step]:
    most = f"there are no more than {MOST} ducts"
    yield Step(words="one more duct", changes={"duct_count": 1}, within=(1, MOST), beyond=most)


def _said(row: Any, units: Units) -> str:
    side, length = (show(float(row[key]), "length", units) for key in ("duct_side_m", "vent_length_m"))
    return f"{row['vent_count']} square ducts, {side} × {length} long, {row['vent_placement']}"


def _bodies(box: Interior) -> list[Body]:
    """Drawn as the round pipes that the ducts lie within."""
    round_ones = pipe_bodies(box)
    return [
        replace(body, thing=body.thing._replace(kind="duct")) if body.thing.kind == "pipe" else body
        for body in round_ones
    ]


DUCT = Opening(
    name="duct",
    box_kind="vented",
    vent_kind="duct",
    table=StockTable(
        path="stock.duct",
        before="terminal_cup",
        many=True,
        fields=FIELDS,
        labels={"name": "Duct", "side": "Side", "wall": "Wall"},
        title="Ducts",
        heading="**Square duct**",
        item="duct",
        missing="vent_missing",
        read=_read,
    ),
    fittings=_fittings,
    variables=(
        Variable(
            name="duct_count",
            words="the number of ducts",
            choice=True,
            span=lambda scenario: (0.501, MOST + 0.499),
            settled=lambda drawn, scenario: np.rint(drawn).astype(np.int64),
            absent=0,
        ),
    ),
    contents=_contents,
    packing=replace(PIPES, sizes_of=lambda count, sizes, board: PIPES.sizes_of(count, _as_pipes(sizes), board)),
    circuit=_circuit,
    beside=lambda group: np.where(group.laid("vent_placement") == SIDE, group.part("side"), 0.0),
    limits=(air.RESONANCE,),
    weight=nothing,
    cost=nothing,
    key=("duct",),
    own_columns=(
        ("vent_placement", Column("duct", "Duct", "text")),
        ("duct", Column("duct_side_m", "Side of the duct", "length", digits=0)),
    ),
    columns={
        "duct": lambda group: group.fitted("duct"),
        "duct_side_m": lambda group: group.part("side"),
        "vent_count": lambda group: group.variable("duct_count"),
        "vent_length_m": lambda group: group.laid("vent_length"),
        "vent_placement": lambda group: [WAYS[int(code)] for code in group.laid("vent_placement")],
    },
    settled=_settled,
    stated=_stated,
    steps=_steps,
    named=lambda row: f"vented box with ducts {row['duct']}",
    instead="ducts",
    said=_said,
    bodies=_bodies,
    told=lambda ducts, tell: [f"Square ducts: {len(ducts)}."],
    slacks=air.SLACKS,
)


def document(**changes: Any) -> dict[str, Any]:
    """The job of the van with ducts on the shelf beside its pipes."""
    stated = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    stated["box"]["kinds"] = ["vented"]
    stated["stock"]["duct"] = [{"name": "60 mm", "side": "60 mm"}, {"name": "80 mm", "side": "80 mm", "wall": "3 mm"}]
    stated["stock"] |= changes
    return stated


@pytest.fixture(scope="module")
def ducts() -> Iterator[None]:
    with added(DUCT):
        yield


@pytest.fixture(scope="module")
def job(ducts: None) -> Scenario:
    stated = document()
    del stated["stock"]["pipe"]
    return parse_scenario(stated, source="a job with ducts")


@pytest.fixture(scope="module")
def found(job: Scenario) -> Run:
    return run(job, seed=1, evaluations=16_384)


def test_a_job_lists_ducts(job: Scenario) -> None:
    """User's promise: the file has a table for the new vent, read and checked as any other."""
    assert job.stock.listed("duct") == (
        Duct(name="60 mm", side=0.06, wall=0.002),
        Duct(name="80 mm", side=0.08, wall=0.003),
    )
    with pytest.raises(InputFaults, match=r"stock.duct\[0\].side"):
        parse_scenario(document(duct=[{"name": "60 mm", "side": "6 m"}]), source="a job with ducts")
    with pytest.raises(InputFaults, match=r"stock.duct\[1\].name"):
        parse_scenario(document(duct=[{"name": "a", "side": "60 mm"}] * 2), source="a job with ducts")


def test_ducts_are_searched_and_told(job: Scenario, found: Run) -> None:
    """User's promise: the front has the new vent in columns of its own, with the figures of its air."""
    front = found.front
    assert len(front)
    assert set(front["vent_kind"]) == {"duct"}
    assert set(front["duct"]) <= {"60 mm", "80 mm"}
    assert list(front.columns) == columns_at(job.goals.levels)
    assert front["vent_count"].between(1, MOST).all()
    np.testing.assert_allclose(front["duct_side_m"], front["duct"].map({"60 mm": 0.06, "80 mm": 0.08}))
    assert set(front["vent_placement"]) <= set(WAYS.values())
    assert front["vent_diameter_m"].isna().all()
    layout = Evaluator(job).judge(designs_of(Evaluator(job), front)).layout
    np.testing.assert_allclose(layout.vent_area, front["duct_side_m"] ** 2)


def test_rows_with_ducts_lead_back_to_their_designs(job: Scenario, found: Run) -> None:
    """Independent path: judged again from its row alone, a design has the figures of the row."""
    evaluator = Evaluator(job)
    designs = designs_of(evaluator, found.front)
    judgement = evaluator.judge(designs, exact=True)
    assert judgement.feasible.all()
    np.testing.assert_allclose(judgement.layout.vent_length, found.front["vent_length_m"], atol=1e-6)


def test_ducts_are_among_the_reasons_and_the_differences(job: Scenario, found: Run) -> None:
    """User's promise: what more ducts would do is tried, and that two designs differ by them is said."""
    row = found.front.iloc[0]
    tried = DUCT.steps(Evaluator(job).groups(designs_of(Evaluator(job), row.to_frame().T))[0])
    assert [step.words for step in tried] == ["one more duct"]
    assert JudgedDesign.of(job, dict(row)).why("metric")
    other = row.copy()
    other["vent_kind"] = "pipe"
    told = differences(row, other, units="metric")
    assert any("has pipes instead of ducts" in phrases for phrases in told.values())


def test_a_chart_tells_ducts_on_the_points(found: Run) -> None:
    """User's promise: whoever points at a design reads what it breathes through."""
    objectives = ("f3_hz", "output_db")
    told = plotted(found.front, objectives, Look(units="metric", currency="", ink=LIGHT), {})
    assert told["opening"].str.contains("square ducts").all()


def test_drawings_and_the_customers_page_have_the_ducts(job: Scenario, found: Run) -> None:
    """User's promise: the box is drawn with them, checks out as solids, and the page says what they are."""
    designs = JudgedDesign.batch(Evaluator(job), found.front.head(2).to_dict("records"))
    for design in designs:
        ducts = {body.thing.number for body in design.bodies.bodies if body.thing.kind == "duct"}
        assert len(ducts) == design.row["vent_count"]
        assert not [body for body in design.bodies.bodies if body.thing.kind == "pipe"]
        assert design.inspection.ok
        assert "Square ducts" in design.drawing("front", "metric")
        assert design.stated.vent_width == design.row["duct_side_m"]
    portraits = [Portrait(design, letter) for design, letter in zip(designs, "AB", strict=False)]
    page = html_of(sheet_of(portraits, title="", wishes=Wishes(), units="metric", written=date(2026, 1, 1)))
    assert opening_of(designs[0].row).instead in page


def test_the_form_asks_for_ducts(ducts: None) -> None:
    """User's promise: the new vent's fields have labels in the form of the stock."""
    assert label_of("stock.duct", "side") == "Side"
