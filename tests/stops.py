"""Writers stopped at every file operation, and refused at every one, and what then lies on the disk.

``python -m tests.stops WRITER`` forks a process for each operation of one writer that changes the disk; that one ends
there at once, as by ``kill -9`` or a power cut, for writes also with half of it written.  After each it is looked what
a fresh process finds, whether the next start goes on from it and whether anything is left lying about.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from engine.document import Document
from engine.formats.front import csv_text, read_run, write_run
from engine.formats.kept import kept_tasks
from engine.formats.scenario import demo_scenarios, read_document
from engine.report.folder import write_folder
from engine.seal import digest_of
from engine.search.catalogue import Found
from engine.search.runs import Run
from engine.together import settle
from explorer.demo_fronts import stored_front
from explorer.open_jobs import OpenJobs
from explorer.places import check_places, put
from explorer.session import Job, JobStore, SearchResult, as_document, choose, dump
from tests.explorer.stored import as_before_generations

DEMO = "roadster"
OPERATIONS = (
    "open", "write", "fsync", "replace", "rename", "unlink", "remove", "mkdir", "rmdir", "link", "truncate", "chmod",
    "utime",
)  # fmt: skip
ENDED = 77  # the status of a process that was stopped
REFUSALS = (errno.ENOSPC, errno.EIO, errno.EACCES)


@dataclass
class Watch:
    """Counts file operations, and stops or refuses one of them."""

    at: int = -1
    refused: int = 0  # the system's number of the error; 0 stops the process
    half: bool = False  # of what is to be written is written before
    log: list[str] = field(default_factory=list)

    @contextlib.contextmanager
    def on(self) -> Iterator[Watch]:
        true = {name: getattr(os, name) for name in OPERATIONS}
        for name, operation in true.items():
            setattr(os, name, self._watched(name, operation))
        try:
            yield self
        finally:
            for name, operation in true.items():
                setattr(os, name, operation)

    def _watched(self, name: str, operation: Callable[..., Any]) -> Callable[..., Any]:
        def watched(*given: Any, **named: Any) -> Any:
            self.log.append(name)
            if len(self.log) - 1 == self.at:
                if self.half and name == "write":
                    operation(given[0], bytes(given[1])[: len(given[1]) // 2])
                if self.refused:
                    raise OSError(self.refused, os.strerror(self.refused))
                os._exit(ENDED)
            return operation(*given, **named)

        return watched


@dataclass(frozen=True)
class Writer:
    """Something that writes: what lies there before, what is done, and what is found afterwards."""

    prepare: Callable[[Path], None]
    act: Callable[[Path], None]
    look: Callable[[Path], str]  # what a fresh process finds, as a text that is the same for the same
    left: Callable[[Path], list[str]]  # what lies about after the next start


@cache
def _demo() -> tuple[Run, Document]:
    return stored_front(DEMO), read_document(demo_scenarios()[DEMO])


def run_of(designs: int, seed: int) -> Run:
    found, _ = _demo()
    return Run(found.front.head(designs), found.left_out, {**found.record, "designs": designs, "seed": seed})


# A job ------------------------------------------------------------------------------------------------------------
def job_of() -> Job:
    document = as_document(_demo()[1])
    run = run_of(6, 1)
    job = Job(id="a-job-of-tests", source="x.toml", document=document)
    job.found = SearchResult(run.front, run.record, document)
    job.pick = choose(job.found, str(run.front["id"].iloc[2]))
    job.notes = "ring back on Friday"
    return job


def saved(folder: Path) -> None:
    """A job with a front, a pick, notes and a step to undo."""
    jobs = OpenJobs(JobStore(folder))
    job = jobs.put(job_of())
    jobs.history(job).note(job)
    job.document = {**job.document, "title": "Before"}
    jobs.history(job).note(job)
    jobs.save(job)


def saved_twice(folder: Path) -> None:
    saved(folder)
    edited(folder, "Between")


def saved_earlier(folder: Path) -> None:
    saved(folder)
    as_before_generations(folder / "a-job-of-tests")


def edited(folder: Path, title: str = "After") -> None:
    jobs = OpenJobs(JobStore(folder))
    jobs.tidy()
    job = jobs.take("a-job-of-tests")
    assert job is not None
    jobs.history(job).note(job)
    job.document = {**job.document, "title": title}
    jobs.history(job).note(job)
    jobs.save(job)


def searched_again(folder: Path) -> None:
    jobs = OpenJobs(JobStore(folder))
    jobs.tidy()
    job = jobs.take("a-job-of-tests")
    assert job is not None
    assert job.found is not None
    run = run_of(9, 2)
    job.found = SearchResult(run.front, run.record, job.document)
    jobs.save(job)


def deleted(folder: Path) -> None:
    OpenJobs(JobStore(folder)).delete("a-job-of-tests")


def put_back(folder: Path) -> None:
    OpenJobs(JobStore(folder)).restore("a-job-of-tests")


def job_on_disk(folder: Path) -> str:
    jobs = OpenJobs(JobStore(folder))
    job = jobs.take("a-job-of-tests")
    if job is None:
        return "none"
    assert (job.damage, job.lost) == ((), ())
    table = "" if job.found is None else digest_of(csv_text(job.found.front))
    return digest_of(f"{dump(job)}{table}{jobs.history(job).dump()}")


def job_litter(folder: Path) -> list[str]:
    JobStore(folder).tidy()
    known = {"job.json", "job.before.json"}
    manifests = [path for path in folder.rglob("job*.json") if path.name in known]
    for path in manifests:
        stated = json.loads(path.read_text(encoding="utf-8"))
        known |= set(stated["parts"].values()) if "parts" in stated else {stated["found"]["front"], "steps.json"}
    return [str(path) for path in folder.rglob("*") if path.is_file() and path.name not in known]


# A search, a build and a catalogue -----------------------------------------------------------------------------------
def searched(folder: Path) -> None:
    _search(folder, run_of(6, 1))


def searched_once_more(folder: Path) -> None:
    _search(folder, run_of(9, 2))


def _search(folder: Path, found: Run) -> None:
    """What the command does once it has searched."""
    write_run(found, folder / "out", document=_demo()[1])


def nothing(_: Path) -> None:
    pass


def run_on_disk(folder: Path) -> str:
    try:
        found = read_run(folder / "out")
    except FileNotFoundError:
        assert not [path for path in folder.rglob("out/*") if path.is_file() and not path.name.startswith(".")]
        return "none"
    # What lies there for others is what was read.
    for name, table in (("front.csv", found.front), ("left_out.csv", found.left_out)):
        assert (folder / "out" / name).read_text(encoding="utf-8") == csv_text(table)
    return digest_of(json.dumps({**found.record, "designs": len(found.front)}, sort_keys=True))


def run_litter(folder: Path) -> list[str]:
    known = {"front.csv", "left_out.csv", "run.json"}
    there = [path.relative_to(folder / "out") for path in (folder / "out").rglob("*") if path.is_file()]
    before = Path(".wedgefront", "previous")
    return [str(path) for path in there if path.name not in known or path.parent not in (Path(), before)]


def build_of(number: int) -> dict[str, str | bytes]:
    names = ["sheet.pdf", "dxf/back.dxf", f"dxf/only-{number}.dxf", f"only-{number}/templates.pdf"]
    files: dict[str, str | bytes] = {name: f"{name} of {number}" * 100 for name in names}
    return {"box.json": json.dumps({"files": {name: digest_of(text) for name, text in files.items()}}), **files}


def built(folder: Path) -> None:
    write_folder(build_of(1), folder / "out")
    (folder / "out" / "notes.txt").write_text("mine", encoding="utf-8")


def built_again(folder: Path) -> None:
    write_folder(build_of(2), folder / "out")


def build_on_disk(folder: Path) -> str:
    """What a build is whose next one has begun: whoever looks in between finds no box.json, or all of one build."""
    out = folder / "out"
    if (out / "box.json").exists():
        _of_one_build(out)
    settle(out)
    if not (out / "box.json").exists():
        assert not [path for path in out.rglob("*") if path.is_file()]
        return "none"
    return _of_one_build(out)


def _of_one_build(out: Path) -> str:
    stated = json.loads((out / "box.json").read_text(encoding="utf-8"))["files"]
    for name, digest in stated.items():
        assert digest_of((out / name).read_bytes()) == digest, name
    return digest_of(json.dumps(stated))


def build_litter(folder: Path) -> list[str]:
    out = folder / "out"
    stated = json.loads((out / "box.json").read_text(encoding="utf-8"))["files"]
    there = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    return [*(there - {"box.json", "notes.txt", *stated}), *(path.name for path in out.glob(".*"))]


# A customer's sheet and sounds ----------------------------------------------------------------------------------------
def put_there(version: str, *names: str) -> Callable[[Path], None]:
    """What the commands do once they have made files of these names."""

    def act(folder: Path) -> None:
        places = [folder / "out" / name for name in names]
        check_places(places, replace=True)
        put(folder / "out", {name: f"{version}: {name}" * 100 for name in names})

    return act


def put_on_disk(folder: Path) -> str:
    """Of which version all files are; whoever looks before the next start finds that or misses the first of them."""
    out = folder / "out"
    if out.is_dir() and any((out / name).exists() for name in ("a.pdf", "a.wav")):
        _of_one_version(out)
    settle(out)
    return _of_one_version(out)


def _of_one_version(out: Path) -> str:
    files = {path.name: path.read_text() for path in out.glob("[!.]*")}
    (version,) = {text.partition(":")[0] for text in files.values()} or {"none"}
    assert all(text == f"{version}: {name}" * 100 for name, text in files.items())
    assert len(files) in (0, 2, 3)
    return version


def put_litter(folder: Path) -> list[str]:
    return [path.name for path in (folder / "out").glob(".*")]


SHEET, SOUNDS = ("a.pdf", "a.html"), ("a.wav", "b.wav", "c.wav")

INPUTS = {"job": "x", "seed": 1}


def catalogue_begun(folder: Path) -> None:
    with kept_tasks(folder / "out", INPUTS) as kept:
        kept.put("00-0000", _task(1))


def task_kept(folder: Path) -> None:
    with kept_tasks(folder / "out", INPUTS) as kept:
        kept.put("00-0001", _task(2))


def _task(seed: int) -> Found:
    found = run_of(6, seed)
    return Found(found.front, found.left_out, {"closed": seed}, np.ones((2, 3)), 100)


def tasks_on_disk(folder: Path) -> str:
    if not (folder / "out").exists():
        return "none"
    with kept_tasks(folder / "out", INPUTS) as kept:
        names = [name for name in ("00-0000", "00-0001") if name in kept]
        return ", ".join(f"{name} {len(kept.get(name).rows)}" for name in names) or "none"


def catalogue_litter(folder: Path) -> list[str]:
    with kept_tasks(folder / "out", INPUTS):
        pass
    known = {"catalogue.json", "00-0000.json", "00-0001.json"}
    return [str(path) for path in folder.rglob("*") if path.is_file() and path.name not in known]


WRITERS = {
    "a new job": Writer(nothing, saved, job_on_disk, job_litter),
    "an edit": Writer(saved_twice, edited, job_on_disk, job_litter),
    "a search of a job": Writer(saved_twice, searched_again, job_on_disk, job_litter),
    "a job carried over": Writer(saved_earlier, edited, job_on_disk, job_litter),
    "a job deleted": Writer(saved, deleted, job_on_disk, job_litter),
    "search into a new folder": Writer(nothing, searched_once_more, run_on_disk, run_litter),
    "search over a search": Writer(searched, searched_once_more, run_on_disk, run_litter),
    "build into a new folder": Writer(nothing, built_again, build_on_disk, build_litter),
    "build over a build": Writer(built, built_again, build_on_disk, build_litter),
    "a sheet into a new folder": Writer(nothing, put_there("new", *SHEET), put_on_disk, put_litter),
    "a sheet over a sheet": Writer(put_there("old", *SHEET), put_there("new", *SHEET), put_on_disk, put_litter),
    "sounds over sounds": Writer(put_there("old", *SOUNDS), put_there("new", *SOUNDS), put_on_disk, put_litter),
    "a catalogue begun": Writer(nothing, catalogue_begun, tasks_on_disk, catalogue_litter),
    "a task kept": Writer(catalogue_begun, task_kept, tasks_on_disk, catalogue_litter),
}


def tried(writer: Writer) -> dict[str, Any]:
    """What came of stopping a writer at each of its operations, and of refusing each.

    Raises AssertionError where anything else than all of the old or all of the new was found, where the next start did
    not come to the new, or something was left lying about then.
    """
    memory = Path("/dev/shm")  # where there is one: what is written is looked at, not how long a disk takes for it
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as above:
        start = Path(above, "start")
        start.mkdir()
        writer.prepare(start)
        old = writer.look(_copy(start, "old"))
        whole = _copy(start, "new")
        with Watch().on() as watch:
            writer.act(whole)
        new = writer.look(whole)
        assert old != new
        found: Counter[str] = Counter()
        for number, operation in enumerate(watch.log):
            for half in (False, True) if operation == "write" else (False,):
                place = _copy(start, "tried")
                _stopped(writer, place, Watch(number, half=half))
                what = f"stopped at {number}: {operation}"
                name = _name(writer.look(place), old, new, what)
                found[name] += 1
                _goes_on(writer, place, name == "new", new, what)
            refused = REFUSALS[number % len(REFUSALS)]
            place = _copy(start, "tried")
            told = _refused(writer, place, Watch(number, refused))
            what = f"{operation} {number} refused with {errno.errorcode[refused]}"
            name = _name(writer.look(place), old, new, what)
            assert told or name == "new", f"{what}: nothing was said, and {name} is there"
            found[f"{name}, refused"] += 1
            _goes_on(writer, place, name == "new", new, what)
        return {"operations": len(watch.log), "log": watch.log, **found}


def _copy(start: Path, name: str) -> Path:
    place = start.with_name(name)
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(start, place)
    return place


def _stopped(writer: Writer, place: Path, watch: Watch) -> None:
    child = os.fork()
    if child == 0:
        with watch.on():
            writer.act(place)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == ENDED


def _refused(writer: Writer, place: Path, watch: Watch) -> bool:
    """Whether a writer that was refused something said so."""
    try:
        with watch.on():
            writer.act(place)
    except OSError:
        return True
    return False


def _name(found: str, old: str, new: str, when: str) -> str:
    assert found in (old, new), f"{when}: neither the old nor the new is there, but {found}"
    return "new" if found == new else "old"


def _goes_on(writer: Writer, place: Path, done: bool, new: str, when: str) -> None:
    """The next start does what was not done, and nothing is left lying about."""
    if not done:
        writer.act(place)
        assert writer.look(place) == new, when
    assert writer.left(place) == [], when


if __name__ == "__main__":
    print(json.dumps(tried(WRITERS[sys.argv[1]])))
