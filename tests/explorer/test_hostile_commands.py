"""Names that try to be more, through every command and into every file: promises to the user, none does anything."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ezdxf.filemanagement
import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from engine.document import parse_document, write_document
from engine.formats.front import read_run, write_run
from engine.formats.scenario import parse_scenario
from engine.judged import JudgedDesign
from engine.report.pictures import drawing_svg
from engine.search.runs import Run
from explorer.cli import main
from explorer.job_file import file_name, packed, unpacked
from explorer.session import rows_of
from tests.explorer.hostile import (
    MARK,
    NAME,
    TEXTS,
    UNFIT,
    hostile_document,
    hostile_job,
    hostile_run,
    named_so,
    numbered,
)
from tests.explorer.test_as_built import files as design_and_sweep
from tests.invented_drivers import invented_drivers
from tests.measured.test_verdict import VENTED

PICK, OTHER = "D0317", "D0001"
FORMULA = "=+-@\t\r"
DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def command(*arguments: object) -> tuple[int, str, str]:
    with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()) as err:
        status = main([str(each) for each in arguments])
    for text in (out.getvalue(), err.getvalue()):
        assert not [sign for sign in text if sign != "\n" and not sign.isprintable() and sign not in "\xa0\u2009\u202f"]
    return status, out.getvalue(), err.getvalue()


def done(*arguments: object) -> str:
    status, out, err = command(*arguments)
    assert status == 0, err
    return out


def told(out: str, number: int) -> bool:
    """Whether a name is there letter by letter, whatever lines it is broken into."""
    return "".join(f"{NAME} {number}".split()) in "".join(out.split())


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a job, ``job.toml``, whose every name is hostile, and in it ``front`` as a search writes it."""
    folder = tmp_path_factory.mktemp("hostile")
    document, run = hostile_run()
    (folder / "job.toml").write_text(write_document(document), encoding="utf-8")
    (folder / "front").mkdir()
    few = run.front[(run.front.index < 20) | (run.front["id"] == PICK)].reset_index(drop=True)
    write_run(Run(few, run.left_out, {**run.record, "designs": len(few)}), folder / "front", document=document)
    pick = few[few["id"] == PICK].iloc[0].to_dict()
    given = JudgedDesign.of(parse_scenario(document, source="job.toml"), pick).file
    (folder / "front" / "given.toml").write_text(given, encoding="utf-8")
    return folder


def check_csv(path: Path) -> None:
    """No cell of a spreadsheet is a formula."""
    for line in csv.reader(path.read_text(encoding="utf-8").splitlines()):
        for cell in line:
            if cell[:1] in FORMULA and cell:
                float(cell)


class _Parts(HTMLParser):
    """What a page is made of: tags, and attributes with their values."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.values: list[tuple[str, str]] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.values += [(name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        self.words += data


def check_markup(text: str) -> _Parts:
    """Nothing runs, nothing is loaded, and no name is a tag."""
    parts = _Parts()
    parts.feed(text)
    assert not parts.tags & {"script", "b", "iframe", "object", "a", "link", "foreignObject"}
    assert not [name for name, _ in parts.values if name.startswith("on")]
    for name, value in parts.values:
        if name in ("src", "href", "xlink:href", "srcset"):
            assert value.startswith(("data:image/png", "#")), (name, value)
    return parts


def check_pdf(data: bytes, *, words: Sequence[str] = ()) -> None:
    """Nothing in it leads anywhere, and names are there as they are."""
    document = pypdfium2.PdfDocument(data)
    said = ""
    for page in document:
        assert pdfium.FPDFPage_GetAnnotCount(page) == 0
        said += page.get_textpage().get_text_bounded()
    for each in words:
        assert "".join(each.split()) in "".join(said.split())


def check_name(path: Path) -> None:
    """A name that any disk takes, and nothing but a name."""
    name = path.name
    assert len(name.encode()) <= 255
    assert re.fullmatch(r"[\w.-]+", name), name
    assert not DEVICES.fullmatch(name)
    assert name[0] not in ".-"
    assert not name.endswith((".", " "))


def test_search_writes_and_tells_them(found: Path, tmp_path: Path) -> None:
    out = done("search", found / "job.toml", "--out", tmp_path / "new", "--evaluations", 1_000)
    assert told(out, 1)
    for name in ("front.csv", "left_out.csv"):
        check_csv(tmp_path / "new" / name)
    assert json.loads((tmp_path / "new" / "run.json").read_text())["job"].startswith("title")
    read = read_run(tmp_path / "new")
    names = set(read.front["driver"]) | set(read.left_out["driver"])
    assert names == {f"{NAME} 4"}
    assert "\n'=Zq7" not in (tmp_path / "new" / "front.csv").read_text()


def test_what_reads_a_front_tells_them(found: Path, tmp_path: Path) -> None:
    job, front = found / "job.toml", found / "front"
    done("wish", front, "--more", "level_40_hz")
    assert told(done("price", job, "--evaluations", 512), 1)
    assert told(done("sure", job, front, "--out", tmp_path / "sure.csv"), 1)
    check_csv(tmp_path / "sure.csv")
    done("listen", job, front, PICK, OTHER, "--out", tmp_path / "heard")
    assert sorted(path.name for path in (tmp_path / "heard").iterdir()) == [f"{OTHER}.wav", f"{PICK}.wav"]


def test_groups_of_such_drivers_are_compared(tmp_path: Path) -> None:
    document, run = hostile_run("roadster")
    write_run(run, tmp_path, document=document)
    first, second = dict.fromkeys(run.front["driver"])
    out = done("compare", tmp_path, "--by", "driver", "--a", first, "--b", second)
    assert told(out, int(first.rpartition(" ")[2]))
    status, _, err = command("compare", tmp_path, "--by", "driver", "--a", "\x1b[31m" + NAME, "--b", second)
    assert (status, len(err.splitlines())) == (2, 1)


def test_the_customer_s_sheet_has_them_as_they_are(found: Path, tmp_path: Path) -> None:
    logo = tmp_path / "logo.svg"
    logo.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10" onload="top.hit=1"><script>top.hit=1</script>'
        '<image href="http://evil.invalid/x.png"/><a href="javascript:top.hit=1"><rect width="5" height="5"/></a>'
        '<rect width="9" height="9" style="fill:url(http://evil.invalid/)"/><text x="1" y="5">&lt;b&gt;Zq7</text></svg>'
    )
    said = {"shop": NAME[:80], "customer": NAME[-80:], "note": NAME}
    done(
        "sheet", found / "job.toml", found / "front", PICK, OTHER, "--out", tmp_path / "sheet", "--logo", logo,
        "--price", f"{PICK}={NAME[:40]}", *(part for key, text in said.items() for part in (f"--{key}={text}",)),
    )  # fmt: skip
    pdf, html = sorted((tmp_path / "sheet").iterdir(), key=lambda path: path.suffix, reverse=True)
    check_name(pdf)
    check_name(html)
    text = html.read_text(encoding="utf-8")
    parts = check_markup(text)
    for each in (*said.values(), NAME[:40], f"{NAME} 1"):
        assert each in parts.words or " ".join(each.split()) in " ".join(parts.words.split())
    check_pdf(pdf.read_bytes(), words=(said["shop"], said["note"]))


@pytest.fixture(scope="module")
def build(found: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("build") / "out"
    assert told(done("build", found / "front", PICK, "--out", folder), 1)
    return folder


def test_a_build_has_them_as_they_are(build: Path) -> None:
    files = [path for path in build.rglob("*") if path.is_file()]
    assert {path.suffix for path in files} >= {".json", ".pdf", ".dxf"}
    for path in files:
        check_name(path)
        if path.suffix == ".csv":
            check_csv(path)
        elif path.suffix == ".pdf":
            check_pdf(path.read_bytes(), words=(f"{NAME} 1",) if "sheet" in path.name else ())
        elif path.suffix == ".svg":
            check_markup(path.read_text(encoding="utf-8"))
        elif path.suffix == ".json":
            assert f"{NAME} 4" in str(json.loads(path.read_text(encoding="utf-8")))


def test_outlines_pass_an_audit_and_their_words_are_words(build: Path) -> None:
    for path in build.rglob("*.dxf"):
        drawing = ezdxf.filemanagement.readfile(path)
        assert not drawing.audit().has_errors
        texts = [entity.dxf.text for entity in drawing.modelspace().query("TEXT")]
        assert any(MARK in text for text in texts)
        assert not [text for text in texts if re.search(r"%%|\\|\^|[\x00-\x1f]", text)]


def test_a_box_by_its_sizes_is_told_and_comes_back(found: Path, tmp_path: Path) -> None:
    document, run = hostile_run()
    (row,) = [row for row in rows_of(run.front) if row["id"] == PICK]
    design = JudgedDesign.of(parse_scenario(document, source="job.toml"), row)
    file = tmp_path / "box.toml"
    file.write_text(design.file, encoding="utf-8")
    assert told(done("evaluate", file), 4)
    json.loads(done("evaluate", file, "--json"))
    for view in ("isometric", "section", "front", "plan"):
        text = drawing_svg(design.drawing(view, "metric"))
        ElementTree.fromstring(text)
        check_markup(text)


def test_a_finished_box_and_a_sweep_of_such_names(tmp_path: Path) -> None:
    design, sweep = design_and_sweep(tmp_path)
    stated: dict[str, Any] = {**VENTED, "driver": {**VENTED["driver"], "name": NAME}}
    design.write_text(write_document(stated), encoding="utf-8")
    named = sweep.rename(tmp_path / "=Zq7 [red]x <b> $(touch y).csv")
    done("check", design, named)
    json.loads(done("check", design, named, "--json"))


def test_a_catalogue_of_such_drivers(found: Path, tmp_path: Path) -> None:
    drivers = tmp_path / "drivers.csv"
    names = [TEXTS[kind] for kind in ("formula", "plus", "at", "rich", "device", "entities")]
    rows = [{**row, "name": name} for row, name in zip(invented_drivers(len(names)), names, strict=True)]
    with drivers.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(
            file, [*(key for key in rows[0] if key not in ("name", "price")), "name"], extrasaction="ignore"
        )
        writer.writeheader()
        writer.writerows(rows)
    status, _, err = command(
        "catalogue", found / "job.toml", "--drivers", drivers, "--out", tmp_path / "out", "--evaluations", 1_000,
        "--workers", 1,
    )  # fmt: skip
    assert status == 0, err
    table = tmp_path / "out" / "drivers.csv"
    check_csv(table)
    with table.open(encoding="utf-8") as file:
        assert len(list(csv.reader(file))) == len(names) + 1


def test_pieces_of_a_given_box_are_told_as_they_are_called(found: Path, tmp_path: Path) -> None:
    """Every piece is another than what is worked out here, so every one is told, and so is each that is missing."""
    document = parse_document((found / "front" / "given.toml").read_text(encoding="utf-8"), source="given")
    own = [piece["name"] for piece in document["built"]]
    for number, piece in enumerate(document["built"]):
        piece["name"], piece["panel"] = numbered(100 + number), numbered(200 + number)
    path = tmp_path / "given.toml"
    path.write_text(write_document(document), encoding="utf-8")
    out = done("evaluate", path)
    assert all(told(out, 100 + number) for number in range(len(own)))
    assert not told(out, 200)
    assert all("".join(name.split()) in "".join(out.split()) for name in own)
    result = json.loads(done("evaluate", path, "--json"))
    assert set(result["built_otherwise"]) >= {*own, *(numbered(100 + number) for number in range(len(own)))}


@pytest.mark.parametrize("kind", TEXTS)
def test_a_measured_cabin_s_file_is_but_a_name(kind: str, found: Path, tmp_path: Path) -> None:
    """Where there is none of it, that is one line, with the name as it is; where there is, it is read."""
    document = parse_document((found / "job.toml").read_text(encoding="utf-8"), source="job")
    document["cabin"] = {"file": TEXTS[kind]}
    job = tmp_path / "deep" / "er" / "job.toml"
    job.parent.mkdir(parents=True)
    job.write_text(write_document(document), encoding="utf-8")
    status, out, err = command("search", job, "--out", tmp_path / "out", "--evaluations", 1_000)
    assert (status, out, len(err.splitlines())) == (2, "", 1)
    assert str(job.parent / TEXTS[kind]) in err
    assert "is no file" in err or "there is no such file" in err
    measured = job.parent / TEXTS[kind]
    if not measured.exists() and measured.parent.is_dir():
        measured.write_text("hz,db\n10,14\n20,12\n40,8\n80,3\n160,0\n", encoding="utf-8")
        done("search", job, "--out", tmp_path / "out", "--evaluations", 1_000)


def test_a_job_s_file_brings_them_back(tmp_path: Path) -> None:
    job = hostile_job()
    again = unpacked(packed(job), "a file")
    assert (again.document, again.shop, again.note, again.title) == (job.document, job.shop, job.note, job.title)
    check_name(Path(file_name(job.title)))


@pytest.mark.parametrize("kind", UNFIT)
def test_what_nobody_can_read_is_refused_in_every_field_at_once(kind: str, tmp_path: Path) -> None:
    """Promise: each place is named, nothing of it reaches the terminal, nothing is written."""
    document, _ = hostile_document()
    document["cabin"] = {"file": "cabin.csv"}
    places: list[str] = []

    def unfit(place: str) -> str:
        places.append(place)
        return f"{UNFIT[kind]} {len(places)}"

    named_so(document, unfit)
    text = write_document(document) if kind != "half a pair" else 'title = "Zq7 \\ud800"\n'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    status, out, err = command("search", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert (status, out) == (2, "")
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]
    if kind == "half a pair":  # no TOML
        assert "job.toml: is not valid TOML" in err
        return
    for place in places:
        wrong = (kind, place) != ("lines", "about")  # that may have several
        assert any(f"job.toml: {place} = " in line for line in err.splitlines()) is wrong, place


@pytest.mark.parametrize("kind", [kind for kind in UNFIT if kind != "half a pair"])  # that is no TOML
def test_what_nobody_can_read_is_refused_of_a_piece_of_a_given_box(kind: str, found: Path, tmp_path: Path) -> None:
    document = parse_document((found / "front" / "given.toml").read_text(encoding="utf-8"), source="given")
    document["built"][1] |= {"name": UNFIT[kind], "panel": UNFIT[kind]}
    (tmp_path / "given.toml").write_text(write_document(document), encoding="utf-8")
    status, out, err = command("evaluate", tmp_path / "given.toml")
    assert (status, out, len(err.splitlines())) == (2, "", 2)
    assert all(f"given.toml: built[1].{key} = " in err for key in ("name", "panel"))


@pytest.mark.parametrize("option", ["--shop", "--customer", "--note", "--price"])
@pytest.mark.parametrize("kind", UNFIT)
def test_what_nobody_can_read_is_refused_on_a_sheet(kind: str, option: str, found: Path, tmp_path: Path) -> None:
    if (kind, option) == ("lines", "--note"):
        return
    text = f"{PICK}={UNFIT[kind]}" if option == "--price" else UNFIT[kind]
    status, _, err = command("sheet", found / "job.toml", found / "front", PICK, "--out", tmp_path / "s", option, text)
    assert (status, len(err.splitlines())) == (2, 1)
    assert option in err
    assert not (tmp_path / "s").exists()


def test_what_nobody_can_read_is_left_out_of_a_job_s_file() -> None:
    """Promise: somebody else's job opens, and what is unfit in it is gone, from rows and steps too."""
    job = hostile_job()
    for field in ("shop", "customer", "note", "notes", "source"):
        setattr(job, field, UNFIT["escape codes"] + UNFIT["right to left"] + UNFIT["nothing"])
    job.document["title"] = UNFIT["right to left"]
    again = unpacked(packed(job), "a file")
    for text in (again.shop, again.customer, again.note, again.notes, again.source, again.title):
        assert MARK in text
        assert text.isprintable()


def test_file_names_are_shown_as_letters(tmp_path: Path) -> None:
    """Promise: a file that cannot be read is named without effect on the terminal."""
    for name in ("\x1b[31mred\x07.toml", "two\nlines.toml", "\u202egpj.toml"):
        status, _, err = command("evaluate", tmp_path / name)
        assert (status, len(err.splitlines())) == (2, 1)
        (tmp_path / name).write_text("x = [")
        assert command("evaluate", tmp_path / name)[0] == 2
        assert command("search", tmp_path / name, "--out", tmp_path / "o")[0] == 2
        assert command("check", tmp_path / name, tmp_path / name)[0] == 2
        assert command("sheet", "van-bench", tmp_path / name, "D0001", "--out", tmp_path / "o")[0] == 2
    status, _, err = command("search", "a", "\x1b[31m", "--out", "o")
    assert status == 2
    assert "unrecognized arguments" in err
