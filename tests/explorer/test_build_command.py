"""``wedgefront build`` as its user meets it: from each kind of pick to a whole folder, and what is refused."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import tomli
import tomli_w

from engine import together
from engine.errors import InputFaults
from engine.formats.front import read_run, write_run
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.report import folder as build_folder
from engine.seal import digest_of
from explorer.build_command import write_build
from explorer.demo_fronts import folder_of, stored_front
from explorer.job_file import packed
from explorer.options import options_of
from explorer.session import Chosen, Job, SearchResult, new_id, rows_of
from tests.explorer.test_cli import DESIGN, wedgefront
from tests.workshop.put_together import PutTogether

DEMO, PICK = "van-bench", "D0001"


def built(*arguments: object, out: Path) -> Any:
    done = wedgefront("build", *arguments, "--out", out)
    assert done.returncode == 0, done.stderr
    return json.loads((out / "box.json").read_text(encoding="utf-8"))


def refused(*arguments: object, out: Path) -> str:
    """The one line that says what is wrong; nothing is written."""
    before = sorted(out.rglob("*")) if out.exists() else None
    done = wedgefront("build", *arguments, "--out", out)
    assert done.returncode == 2
    assert (sorted(out.rglob("*")) if out.exists() else None) == before
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def test_a_pick_of_a_front_becomes_a_folder(tmp_path: Path) -> None:
    """Promise to the user: of a demo, of a folder that a search wrote, of a saved job and of a file the same box."""
    found = built(DEMO, PICK, out=tmp_path / "demo")
    assert found["design"]["id"] == PICK
    assert {board["role"] for board in found["boards"]} == {"shell", "brace", "block"}
    again = PutTogether.read(tmp_path / "demo" / "box.json")
    assert again.inside_volume == pytest.approx(found["chambers"][0]["inside_volume_m3"], rel=1e-4)
    assert again.overlaps() == []

    scenario = read_scenario(demo_scenarios()[DEMO])
    searched = tmp_path / "searched"
    searched.mkdir()
    write_run(stored_front(DEMO), searched, document=dict(scenario.document))
    assert built(searched, PICK, out=tmp_path / "of folder") == found
    assert built(folder_of(DEMO), PICK, out=tmp_path / "of stored") == found

    front = stored_front(DEMO).front
    row = {str(key): value for key, value in front[front["id"] == PICK].iloc[0].items()}
    design = JudgedDesign.of(scenario, row)
    (tmp_path / "box.toml").write_text(design.file, encoding="utf-8")
    given = built(tmp_path / "box.toml", out=tmp_path / "of file")
    assert [board["outside"] for board in given["boards"]] == [
        [[pytest.approx(each, abs=2e-4) for each in corner] for corner in board["outside"]] for board in found["boards"]
    ]


def test_a_saved_job_is_built_by_its_pick(tmp_path: Path) -> None:
    """Promise to the user: of a job saved as a file the pick is built, or another design that is named."""
    run, document = stored_front(DEMO), tomli.loads(demo_scenarios()[DEMO].read_text(encoding="utf-8"))
    front = run.front
    (row,) = rows_of(front[front["id"] == PICK])
    job = Job(id=new_id(), source="van.toml", document=document)
    job.found = SearchResult(document=document, front=front, record=run.record)
    job.pick = Chosen(row, document)
    (tmp_path / "job.wedgefront").write_bytes(packed(job))
    assert built(tmp_path / "job.wedgefront", out=tmp_path / "out")["design"]["id"] == PICK
    assert built(tmp_path / "job.wedgefront", "D0001", out=tmp_path / "other")["design"]["id"] == "D0001"


@pytest.mark.parametrize("typed", [(DEMO, "D9999"), (DEMO,), (DEMO, PICK, "--board-thickness", "2 mm")])
def test_what_is_typed_wrong_is_refused_before_anything_is_made_ready(tmp_path: Path, typed: tuple[str, ...]) -> None:
    """Promise to the user: nobody waits for the compiler to hear of a wrong id, none, or an impossible size."""
    made: list[str] = []
    with pytest.raises(InputFaults):
        write_build(options_of(["build", *typed, "--out", str(tmp_path / "out")]), lambda: made.append("ready"))
    assert made == []


def test_board_as_measured_and_joints_change_the_boards_and_not_the_outside(tmp_path: Path) -> None:
    """Promise to the user: thicker board leaves less inside, the outside and the tuning it was chosen by stay."""
    vented = stored_front(DEMO).front.query("box_kind == 'vented'")
    pick = vented.loc[vented["outer_height_m"].idxmax(), "id"]  # its baffle has room round the driver to spare
    plain = built(DEMO, pick, out=tmp_path / "a")
    thick = built(DEMO, pick, "--board-thickness", "15.7 mm", out=tmp_path / "b")
    over = built(DEMO, pick, "--joints", "baffle over all", "--glue-strip", "20 mm", out=tmp_path / "c")
    sizes = ("outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "tuning_lumped_hz")
    assert [thick["design"][key] for key in sizes] == [plain["design"][key] for key in sizes]
    assert {board["thickness_m"] for board in thick["boards"]} == {0.0157}
    assert thick["design"]["net_volume_m3"] < plain["design"]["net_volume_m3"]
    both = [PutTogether(each) for each in (plain, over)]
    assert both[0].over_all[0] == pytest.approx(both[1].over_all[0], abs=1e-8)
    assert both[0].over_all[1] == pytest.approx(both[1].over_all[1], abs=1e-8)
    strips = sum(float(both[1].boards[name].volume()) for name in both[1].role("strip"))
    inside = [each["chambers"][0]["inside_volume_m3"] for each in (plain, over)]
    assert inside[0] - inside[1] == pytest.approx(strips, rel=1e-3)
    wide = [max(corner[0] for corner in _board(each, "baffle")["outside"]) for each in (plain, over)]
    assert wide[1] - wide[0] == pytest.approx(0.015)


def _board(document: Any, name: str) -> Any:
    return next(board for board in document["boards"] if board["name"] == name)


def test_what_the_job_says_of_its_build_holds_and_the_command_overrides_it(tmp_path: Path) -> None:
    """File contract: a table [build] belongs to the job, and is none of what its search went by."""
    document = tomli.loads(demo_scenarios()[DEMO].read_text(encoding="utf-8"))
    document["build"] = {"joints": "baffle over all", "board_thickness": "14.8 mm"}
    (tmp_path / "job.toml").write_text(tomli_w.dumps(document), encoding="utf-8")
    of = (folder_of(DEMO), PICK, "--job", tmp_path / "job.toml")
    found = built(*of, out=tmp_path / "a")
    assert (found["joints"], found["board_thickness_m"]) == ("baffle over all", 0.0148)
    found = built(*of, "--joints", "sides over all", out=tmp_path / "b")
    assert (found["joints"], found["board_thickness_m"]) == ("sides over all", 0.0148)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((DEMO,), "say which design: the id of one of its"),
        ((DEMO, "D9999"), "D9999: the front has no such design"),
        (("no-such-demo", PICK), "no-such-demo"),
        ((DEMO, PICK, "--joints", "dovetails"), "joints = dovetails"),
        ((DEMO, PICK, "--board-thickness", "15"), "board_thickness = 15"),
        ((DEMO, PICK, "--board-thickness", "3 mm"), "board_thickness = 3 mm"),
        ((demo_scenarios()[DEMO],), "has no front to build of"),
    ],
)
def test_what_cannot_be_built_is_refused_in_one_line(arguments: tuple[object, ...], said: str, tmp_path: Path) -> None:
    """User's promise: exit status 2, one line that says what is wrong, nothing written."""
    assert said in refused(*arguments, out=tmp_path / "out")


def test_a_given_box_whose_parts_do_not_go_in_is_refused(tmp_path: Path) -> None:
    """User's promise: no boards of a box that cannot be put together; it is said what is in the way of what."""
    (row,) = rows_of(stored_front(DEMO).front.query("id == @PICK"))
    document = tomli.loads(JudgedDesign.of(read_scenario(demo_scenarios()[DEMO]), row).file)
    document["given"]["outer_height"] = f"{1e3 * row['outer_height_m'] - 50.0:.0f} mm"
    (tmp_path / "low.toml").write_text(tomli_w.dumps(document), encoding="utf-8")
    said = refused(tmp_path / "low.toml", out=tmp_path / "out")
    assert "cannot be built: the air before vent 1 sticks out of the inside of the box" in said


def test_a_saved_job_is_built_as_it_says_now(tmp_path: Path) -> None:
    """User's promise: what a search does not go by, such as joints, may change after it; of another job it does not."""
    document = tomli.loads(demo_scenarios()[DEMO].read_text(encoding="utf-8"))
    run = stored_front(DEMO)
    (row,) = rows_of(run.front[run.front["id"] == PICK])
    now = {**document, "build": {"joints": "baffle over all"}}
    job = Job(id=new_id(), source="van.toml", document=now)
    job.found = SearchResult(document=document, front=run.front, record=run.record)
    job.pick = Chosen(row, document)
    (tmp_path / "job.wedgefront").write_bytes(packed(job))
    assert built(tmp_path / "job.wedgefront", out=tmp_path / "a")["joints"] == "baffle over all"
    job.document = {**now, "space": {**document["space"], "width": "1190 mm"}}
    (tmp_path / "job.wedgefront").write_bytes(packed(job))
    assert built(tmp_path / "job.wedgefront", out=tmp_path / "b")["joints"] == "sides over all"


def test_a_box_stated_by_its_volume_has_no_boards(tmp_path: Path) -> None:
    """User's promise: it is said what to state instead."""
    (tmp_path / "volume.toml").write_text(DESIGN)
    assert "expected a table [given]" in refused(tmp_path / "volume.toml", out=tmp_path / "out")


def test_a_folder_of_another_job_is_refused(tmp_path: Path) -> None:
    """User's promise: a front is built with the job it was found for."""
    searched = shutil.copytree(folder_of(DEMO), tmp_path / "searched")
    assert "was found with another job" in refused(searched, PICK, "--job", "roadster", out=tmp_path / "out")
    run = read_run(searched)
    write_run(replace(run, record={**run.record, "scenario_sha256": "0"}), searched, keep=False)  # as another version's
    assert "name that with --job" in refused(searched, PICK, out=tmp_path / "out")
    assert read_run(searched).record["scenario_sha256"] == "0"


def test_nothing_foreign_is_replaced_and_the_folder_is_whole_or_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """User's promise: a second build takes the first one's place; what somebody put there or changed stays."""
    out = tmp_path / "out"
    first = {"box.json": json.dumps({"files": {"a/old.dxf": digest_of("1")}}), "a/old.dxf": "1"}
    build_folder.write_folder(first, out)
    (out / "notes.txt").write_text("mine")
    second = {"box.json": json.dumps({"files": {"new.dxf": digest_of("2")}}), "new.dxf": "2"}
    build_folder.write_folder(second, out)
    assert sorted(path.name for path in out.rglob("*") if path.is_file()) == ["box.json", "new.dxf", "notes.txt"]

    (out / "new.dxf").write_text("changed by hand")
    assert "new.dxf in it is none that a build wrote" in _in_the_way(second, out)
    build_folder.write_folder(second, out, replace=True)
    assert (out / "new.dxf").read_text() == "2"

    def full(path: Path, content: str | bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(together, "write_through", full)
    with pytest.raises(OSError, match="No space"):
        build_folder.write_folder(second, tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out"]


def _in_the_way(files: Any, out: Path) -> str:
    with pytest.raises(Exception, match="none that a build wrote") as caught:
        build_folder.write_folder(files, out)
    return str(caught.value)


def test_a_job_in_inches_is_built_in_inches_without_being_asked(tmp_path: Path) -> None:
    """Promise to the user: papers in the units that the job is written in, on the paper that goes with them."""
    pick = str(stored_front("roadster").front["id"].iloc[0])
    done = wedgefront("build", "roadster", pick, "--out", tmp_path / "own")
    assert done.returncode == 0, done.stderr
    assert "5/8 in" in done.stdout
    sheet = pypdfium2.PdfDocument(tmp_path / "own" / "build-sheet.pdf")
    assert [round(each / 72.0, 2) for each in sheet[0].get_size()] == [8.5, 11.0]
    told = (tmp_path / "own" / "saw.txt").read_text(encoding="utf-8")
    assert "Cut 1/4 in off each edge." in told.replace("\N{NO-BREAK SPACE}", " ")
    done = wedgefront("build", "roadster", pick, "--units", "metric", "--out", tmp_path / "asked")
    assert "15.9 mm" in done.stdout
    assert "Cut 5 mm off each edge." in (tmp_path / "asked" / "saw.txt").read_text(encoding="utf-8").replace(
        "\N{NO-BREAK SPACE}", " "
    )
