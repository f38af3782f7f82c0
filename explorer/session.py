"""The job store: all a user has put in or found, kept on disk so that a reload loses nothing.

A job has a folder of its own, written generation by generation (:mod:`explorer.generations`).  What is damaged is said
and takes nothing else along; it never stops the program.  A job of a later version is left as it is.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Literal

import pandas as pd
from platformdirs import user_state_path

from engine.columns import COLUMNS
from engine.constraints import CONSTRAINTS
from engine.document import check_bounds
from engine.formats.front import csv_text, front_of
from engine.formats.scenario import searched_by
from engine.goals import GOALS
from engine.kinds import KINDS
from engine.lock import locked
from engine.measured.names import PRIORS
from engine.plain_text import all_cleaned, cleaned
from engine.quantities import Units
from engine.seal import digest_of
from engine.untrusted import mended, parsed
from explorer import generations
from explorer.generations import MANIFEST, UNREADABLE, NewerJobError, Part

Document = dict[str, Any]
Row = dict[str, Any]

SHORTLIST_MOST = 5
FRONTS_KEPT = 40
STATE_VARIABLE = "WEDGEFRONT_STATE"
DRIVERS = "drivers"  # a filter by driver and how many of it: "2 × compact 8"; no column of its own
_ID = re.compile(r"[A-Za-z0-9_-]{6,40}")
STATE_VERSION = 4  # raised when an earlier version would lose something; a new part has a default in revive
_EARLIEST = 2  # that is still read
LOCK = ".lock"  # of the store, while something is written
SWEEPS = ("box", "free", "loaded", "closed")  # what sweeps may be of, see engine.measured.verdict.Sweeps
SWEEP_KEYS = ("name", "amount", "text")
_RECORDED = {"evaluations", "seconds", "stopped_by", "objectives"}  # what a page asks of a search's record


Damage = Literal["last", "front", "front_before", "front_gone", "steps"]  # what of a stored job was damaged


@dataclass(eq=False)
class Chosen:
    """One design taken from a front, with the scenario it was found for: ids may go, this stays.

    What a shop asks for it and whether it recommends it stand beside it and make no other design of it.
    """

    row: Row
    document: Document
    price: str = ""
    recommended: bool = False

    def __eq__(self, other: object) -> bool:
        """Same design, figure for figure; empty figures (nan) count as equal."""
        return isinstance(other, Chosen) and self._text == other._text

    def __hash__(self) -> int:
        return hash(self._text)

    @property
    def _text(self) -> str:
        return json.dumps([self.row, self.document], sort_keys=True)


@dataclass
class SearchResult:
    """What a search came to, with the scenario it was made for."""

    front: pd.DataFrame
    record: dict[str, Any]
    document: Document
    left_out: list[Row] = field(default_factory=list)  # the nearest of what cannot be built, row by row
    came_with_demo: bool = False  # from a short search stored beside a demo job, until the full one has ended
    _digest: str = field(default="", init=False, repr=False, compare=False)

    @property
    def digest(self) -> str:
        """The SHA-256 of its front as a file; a front never changes in place."""
        self._digest = self._digest or digest_of(csv_text(self.front))
        return self._digest

    def kept_as(self, digest: str) -> SearchResult:
        """Itself, its front being read from a file of that digest."""
        self._digest = digest
        return self


@dataclass
class Job:
    """One job as the user left it.  ``document`` is the scenario as text, faults and all."""

    id: str
    source: str
    document: Document
    units: Units = "metric"
    found: SearchResult | None = None
    pick: Chosen | None = None
    shortlist: list[Chosen] = field(default_factory=list)
    axes: dict[str, str] = field(default_factory=dict)
    filters: dict[str, list[Any]] = field(default_factory=dict)
    shop: str = ""
    customer: str = ""
    note: str = ""  # what the shop adds to the customer's sheet
    logo: str = ""  # the shop's, a PNG in base64
    notes: str = ""
    guide: str = ""  # the step of the guided new job that it stands at; empty once that is done
    origin: str = ""  # digest of the file that it was opened from
    # Sweeps of the finished box and of its driver, by what they are of: their file's name, what is known beside them
    # (a mass, a volume) and their text.
    sweeps: dict[str, dict[str, str]] = field(default_factory=dict)
    held: list[str] = field(default_factory=list)  # figures that no sweep is asked for
    revision: int = 0  # counts the times widgets must forget what they hold; not stored
    previous: SearchResult | None = None  # the front that the one found goes on from; not stored
    lost: tuple[str, ...] = ()  # what did not fit when it was read from disk; not stored
    damage: tuple[Damage, ...] = ()  # what was found damaged then; not stored

    @property
    def component_id(self) -> str:
        """Its id as it may stand in a component's key: Streamlit refuses two underscores in a row there."""
        return self.id.replace("_", ".")

    @property
    def title(self) -> str:
        title = self.document.get("title")
        named = cleaned(title) if isinstance(title, str) else ""
        return named or cleaned(self.source)

    @property
    def changed_since_search(self) -> bool:
        return self.found is not None and searched(self.found.document) != searched(self.document)


@dataclass(frozen=True)
class Earlier:
    """A stored job as a list of them shows it."""

    id: str
    title: str
    written: float  # s since 1970, UTC
    designs: int  # on its front
    document: Document
    pick: Row | None = None
    guide: str = ""
    origin: str = ""


class DamagedJobError(Exception):
    """A stored job cannot be read; ``kept_as`` is where its folder was put aside."""

    def __init__(self, kept_as: Path) -> None:
        self.kept_as = kept_as
        super().__init__(f"the stored job could not be read; its files were put aside in {kept_as}")


class ChangedElsewhereError(Exception):
    """A job was not written: another process has written it since this one wrote or read it."""


def new_id() -> str:
    return secrets.token_urlsafe(8)


class JobStore:
    """Jobs under one folder, by default the user's state folder."""

    def __init__(self, folder: Path | None = None) -> None:
        stated = os.environ.get(STATE_VARIABLE)
        self.folder = folder or (Path(stated) if stated else user_state_path("wedgefront"))
        self._written: dict[str, str] = {}  # the state of each job as this process last wrote or read it
        self._manifests: dict[str, str] = {}  # and its manifest
        self._stamps: dict[str, tuple[int, int]] = {}
        self._files: dict[str, dict[Part, str]] = {}
        self._steps: dict[str, str] = {}

    def save(self, job: Job, steps: str | None = None) -> None:
        """Write what changed since the last save, the job's ``steps`` with it where they are given: all or nothing.

        Raises OSError where the disk refuses, and ChangedElsewhereError or NewerJobError where another process has
        written the job meanwhile.
        """
        text = dump(job)
        if self._written.get(job.id) == text and steps is None:
            return
        place = self.folder / job.id
        with self.writing():
            place.mkdir(exist_ok=True)
            before = self._before(job.id)
            new: dict[Part, str] = {"state": text}
            same: dict[Part, str] = {}
            if job.found is not None:
                same["front"] = generations.name_of("front", job.found.digest)
                if not (place / same["front"]).exists():
                    new["front"] = csv_text(job.found.front)
            if steps is not None:
                new["steps"] = steps
            elif (name := self._files.get(job.id, {}).get("steps", "")) and (place / name).exists():
                if generations.digest_in(name):
                    same["steps"] = name
                else:
                    new["steps"] = (place / name).read_text(encoding="utf-8")
            manifest, files = generations.write(place, new, same, before)
            self._remember(job.id, text, manifest, files)
            if "front" in new:
                self._drop_old_fronts()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Keep other processes from writing meanwhile.  Raises OSError, as where another one is at it for long."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with locked(self.folder / LOCK):
            yield

    def tidy(self) -> None:
        """Clear what processes left that were stopped while they wrote; for the start, and as far as it goes."""
        if not self.folder.is_dir():
            return
        with contextlib.suppress(OSError), self.writing():
            for place in self.folder.iterdir():
                if place.is_dir() and _ID.fullmatch(place.name):
                    generations.tidy(place)

    def is_unsaved(self, job: Job) -> bool:
        """Whether a job has changed since this process last wrote or read it."""
        return self._written.get(job.id) != dump(job)

    def changed_elsewhere(self, job_id: str) -> bool:
        """Whether another process has written a job since this one wrote or read it."""
        place = self.folder / job_id
        stamp = _stamp(place / MANIFEST)
        if stamp is None or stamp == self._stamps.get(job_id):
            return False
        try:
            manifest = generations.manifest_of(place)
            # One that is damaged nobody has written: the state at hand is whole.
            return (
                manifest != self._manifests.get(job_id) and manifest is not None and generations.is_manifest(manifest)
            )
        except NewerJobError:
            return True
        except ValueError:  # larger than any
            return False

    def load(self, job_id: str) -> Job | None:
        """The stored job, or None where there is none; what of it is damaged is named in its ``damage``.

        Raises DamagedJobError or NewerJobError, and OSError where the disk does not let it be read, as it may later.
        """
        place = self.place_of(job_id)
        if place is None:
            return None
        try:
            stored = generations.read(place)
            digest = generations.digest_in(stored.files.get("front", ""))
            job = revive(job_id, stored.state, stored.front, digest)
        except UNREADABLE:
            self.forget(job_id)
            raise DamagedJobError(self._put_aside(place)) from None
        job.damage = _damage_of(stored, job)
        generations.put_aside(place, stored.broken)
        self._remember(job_id, dump(job), stored.manifest, dict(stored.files))
        if job.damage:
            del self._written[job_id]  # so that the next save makes it whole again
        self._steps[job_id] = stored.steps or ""
        return job

    def steps_of(self, job_id: str) -> str:
        """The steps of a job that was loaded, as they lay beside it; once."""
        return self._steps.pop(job_id, "")

    def place_of(self, job_id: str) -> Path | None:
        """The folder of a stored job; None where there is none."""
        place = self.folder / job_id
        return place if _ID.fullmatch(job_id) and (place / MANIFEST).is_file() else None

    def forget(self, job_id: str) -> None:
        """Let go of what this process remembers of a job that is no longer there."""
        for remembered in (self._written, self._manifests, self._stamps, self._files, self._steps):
            remembered.pop(job_id, None)

    def recent(self, most: int = 12) -> list[Earlier]:
        """Stored jobs, the last worked on first; those that cannot be read are left out."""
        return self.survey(most)[0]

    def survey(self, most: int) -> tuple[list[Earlier], list[Path]]:
        """Stored jobs, the last worked on first, and the folders among them of which nothing can be read.

        Those of a later version are neither.
        """
        found: list[Earlier] = []
        damaged: list[Path] = []
        for place in self._newest_first():
            try:
                found.append(_earlier(place))
            except (OSError, NewerJobError):
                continue
            except UNREADABLE:
                damaged.append(place)
            if len(found) == most:
                break
        return found, damaged

    def _before(self, job_id: str) -> str | None:
        """The manifest that a save replaces, None where there is none that is whole.

        Raises ChangedElsewhereError where it is not the one that this process knows, or NewerJobError.
        """
        try:
            manifest = generations.manifest_of(self.folder / job_id)
        except ValueError:  # larger than any
            return None
        if manifest is None or not generations.is_manifest(manifest):
            return None
        if manifest != self._manifests.get(job_id):
            raise ChangedElsewhereError
        return manifest

    def _remember(self, job_id: str, text: str, manifest: str, files: dict[Part, str]) -> None:
        """Keep in mind what this process last wrote or read of a job."""
        self._written[job_id], self._manifests[job_id], self._files[job_id] = text, manifest, files
        stamp = _stamp(self.folder / job_id / MANIFEST)
        if stamp is not None:
            self._stamps[job_id] = stamp

    def _newest_first(self) -> list[Path]:
        """The folders of all jobs, the last worked on first."""
        dated = [(stamp[0], path.parent) for path in self.folder.glob(f"*/{MANIFEST}") if (stamp := _stamp(path))]
        return [place for _, place in sorted(dated, reverse=True) if _ID.fullmatch(place.name)]

    def _drop_old_fronts(self) -> None:
        """Fronts are large and can be searched again: only the last few jobs keep theirs."""
        for place in self._newest_first()[FRONTS_KEPT:]:
            for front in place.glob("front-*.csv"):
                front.unlink(missing_ok=True)

    def _put_aside(self, place: Path) -> Path:
        aside = place.with_name(f"{place.name}.damaged-{secrets.token_hex(3)}")
        shutil.move(place, aside)
        return aside


def _earlier(place: Path) -> Earlier:
    """A stored job as a list shows it.  Raises NewerJobError, those of UNREADABLE, and OSError."""
    written = (place / MANIFEST).stat().st_mtime
    stored = generations.read(place, front=False).state
    job = Job(id=place.name, source=stored["source"], document=dict(stored["document"]))
    record = stored["found"]["record"] if stored["found"] else {}
    pick = stored["pick"]["row"] if stored["pick"] else None
    more = {"guide": str(stored.get("guide", "")), "origin": str(stored.get("origin", ""))}
    return Earlier(job.id, job.title, written, int(record.get("designs", 0)), job.document, pick, **more)


def _damage_of(stored: generations.Stored, job: Job) -> tuple[Damage, ...]:
    """What of a stored job was damaged, once what could be read of it is."""
    found: list[Damage] = []
    if stored.last_lost:
        found.append("last")
    if stored.front_lost or stored.front_gone:
        missing: Damage = "front" if stored.front_lost else "front_gone"
        found.append(missing if job.found is None else "front_before")
    if stored.steps_lost:
        found.append("steps")
    return tuple(found)


def dump(job: Job) -> str:
    """A job's state as JSON; its front is in it by its digest alone."""
    state: dict[str, Any] = {
        "version": STATE_VERSION,
        "source": job.source,
        "document": job.document,
        "units": job.units,
        "found": None,
        "pick": asdict(job.pick) if job.pick else None,
        "shortlist": [asdict(chosen) for chosen in job.shortlist],
        "axes": job.axes,
        "filters": job.filters,
        "shop": job.shop,
        "customer": job.customer,
        "note": job.note,
        "logo": job.logo,
        "notes": job.notes,
        "guide": job.guide,
        "origin": job.origin,
        "sweeps": job.sweeps,
        "held": job.held,
    }
    if job.found is not None:
        state["found"] = {
            "front": f"front-{job.found.digest[:16]}.csv",  # what versions before generations call it
            "sha256": job.found.digest,
            "record": job.found.record,
            "document": job.found.document,
            "left_out": job.found.left_out,
            "came_with_demo": job.found.came_with_demo,
        }
    return mended(json.dumps(state, ensure_ascii=False, indent=1))


def _stamp(path: Path) -> tuple[int, int] | None:
    """What tells one writing of a file from the next; files are replaced whole, so their number changes too."""
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_mtime_ns, about.st_ino


def revive(job_id: str, state: dict[str, Any], front: str | None, digest: str = "") -> Job:
    """A stored job, its front as CSV, which is that of a file of that ``digest`` where it is known.

    What does not fit is left out and named in ``lost``.  Raises NewerJobError, and those of UNREADABLE where the state
    is none.
    """
    if int(state["version"]) > STATE_VERSION:
        raise NewerJobError(int(state["version"]))
    if int(state["version"]) < _EARLIEST:
        raise ValueError("written by a version whose jobs are no longer read")
    state = all_cleaned(state)
    lost: list[str] = []
    found = None if front is None else _found(state["found"], front, lost)
    if found is not None and digest:
        found.kept_as(digest)
    picks = [chosen_from(stored) for stored in ([state["pick"]] if state["pick"] else [])]
    shortlist = [chosen_from(stored) for stored in list(state["shortlist"])[:SHORTLIST_MOST]]
    if None in picks:
        lost.append("the pick")
    if None in shortlist:
        lost.append("a design on the shortlist")
    job = Job(
        id=job_id,
        source=str(state["source"]),
        document=dict(state["document"]),
        units="us" if state["units"] == "us" else "metric",
        found=found,
        pick=next(iter(picks), None),
        shortlist=[chosen for chosen in shortlist if chosen is not None],
        axes=_fitting(state["axes"], lambda axis, key: key in COLUMNS, "an axis", lost),
        filters=_fitting(state["filters"], is_filter, "a filter", lost),
        shop=str(state["shop"]),
        customer=str(state["customer"]),
        note=str(state.get("note", "")),
        logo=str(state.get("logo", "")),
        notes=str(state.get("notes", "")),
        guide=str(state.get("guide", "")),
        origin=str(state.get("origin", "")),
        sweeps=sweeps_from(state.get("sweeps", {}), lost),
        held=held_from(state.get("held", [])),
    )
    job.lost = tuple(lost)
    return job


def _found(stored: Any, table: str, lost: list[str]) -> SearchResult | None:
    """The stored outcome of a search; None where there is none or it does not fit together."""
    if stored is None:
        return None
    try:
        record, document = dict(stored["record"]), dict(stored["document"])
        front = front_of(table.encode("utf-8"), "front.csv")
        # An earlier version states no digest.
        if stored.get("sha256", "") not in ("", digest_of(table)) or not _fits(front, record, document):
            raise ValueError("not what the search came to")
        misfits = [chosen_from({"row": row, "document": document}) for row in stored.get("left_out", [])]
    except UNREADABLE:  # damaged, or columns are missing: an earlier version's
        lost.append("the designs of the last search (search again to have designs again)")
        return None
    known = [misfit.row for misfit in misfits if misfit is not None and misfit.row["short_of"] in CONSTRAINTS]
    return SearchResult(front, record, document, known, came_with_demo=bool(stored.get("came_with_demo")))


def _fits(front: pd.DataFrame, record: dict[str, Any], document: Document) -> bool:
    """Whether a front is what its search came to, as far as that can be told: all rows, with all figures judged by."""
    if not set(record) >= _RECORDED or front.empty or record.get("designs", len(front)) != len(front):
        return False
    figures = [str(key) for key in record["objectives"]]
    if not figures or not all(key in GOALS and key in front and front[key].notna().all() for key in figures):
        return False
    drivers, kinds = _names(document, "driver"), set(front["box_kind"])
    return front["id"].is_unique and kinds <= set(KINDS) and all(each in drivers for each in front["driver"].unique())


def chosen_from(stored: Any) -> Chosen | None:
    """A stored design; None where it lacks a figure or its scenario the driver or passive radiator."""
    if not isinstance(stored, dict):
        return None
    row, document = stored.get("row"), stored.get("document")
    if not isinstance(row, dict) or not isinstance(document, dict):
        return None
    whole = all(_is_figure(row.get(key), column.kind) for key, column in COLUMNS.items())
    if not whole or row["box_kind"] not in KINDS or row["driver"] not in _names(document, "driver"):
        return None
    if row["radiator_count"] and row["radiator"] not in _names(document, "radiator"):
        return None
    price = stored.get("price", "")
    return Chosen(
        row=row,
        document=document,
        price=price if isinstance(price, str) else "",
        recommended=stored.get("recommended") is True,
    )


def _names(document: Document, table: str) -> list[Any]:
    """What the items of a repeated table are called."""
    items = document.get(table)
    return [item.get("name") for item in items if isinstance(item, dict)] if isinstance(items, list) else []


def _is_figure(value: Any, kind: str) -> bool:
    if kind == "text":
        return isinstance(value, str)
    return isinstance(value, int | float) and not isinstance(value, bool)


def is_filter(key: str, wanted: Any) -> bool:
    """Whether a stored filter is one: names of a text column, or the two ends of a range."""
    if not isinstance(wanted, list) or key not in (*COLUMNS, DRIVERS):
        return False
    if key == DRIVERS or COLUMNS[key].kind == "text":
        return all(isinstance(value, str) for value in wanted)
    return len(wanted) == 2 and all(value is None or _is_figure(value, "number") for value in wanted)


def _fitting(stored: Any, fits: Callable[[str, Any], bool], what: str, lost: list[str]) -> dict[str, Any]:
    """The entries of a stored table that fit; where one does not, ``what`` is lost."""
    table = stored if isinstance(stored, dict) else {"": stored}
    whole = {key: value for key, value in table.items() if isinstance(value, str | list) and fits(key, value)}
    if len(whole) < len(table):
        lost.append(what)
    return whole


def sweeps_from(stored: Any, lost: list[str]) -> dict[str, dict[str, str]]:
    """The stored sweeps that are whole; where one is not, a sweep is lost."""
    found = {
        of: {key: str(sweep[key]) for key in SWEEP_KEYS}
        for of, sweep in (stored.items() if isinstance(stored, dict) else ())
        if of in SWEEPS and isinstance(sweep, dict) and all(isinstance(sweep.get(key), str) for key in SWEEP_KEYS)
    }
    if not isinstance(stored, dict) or len(found) < len(stored):
        lost.append("a sweep")
    return found


def held_from(stored: Any) -> list[str]:
    """The stored names of figures that are held known, as far as there are such figures."""
    return [name for name in stored if name in PRIORS]


def searched(document: Document) -> Document:
    """What of a document a search goes by, less what the job is called."""
    return {key: value for key, value in searched_by(document).items() if key not in ("title", "about")}


def rows_of(front: pd.DataFrame) -> list[Row]:
    """All rows of a small table as plain Python values."""
    return [row_of(front, position) for position in range(len(front))]


def choose(found: SearchResult, design: str) -> Chosen | None:
    """A design of a front by its id, if it is there."""
    positions = (found.front["id"] == design).to_numpy().nonzero()[0]
    return Chosen(row_of(found.front, int(positions[0])), found.document) if len(positions) else None


def pick(job: Job, design: str) -> None:
    """Make a design of the front the pick."""
    assert job.found is not None
    job.pick = choose(job.found, design) or job.pick


def shortlist(job: Job, design: str) -> None:
    """Put a design of the front on the shortlist, once."""
    assert job.found is not None
    chosen = choose(job.found, design)
    if chosen is not None and chosen not in job.shortlist and len(job.shortlist) < SHORTLIST_MOST:
        job.shortlist.append(chosen)


def as_document(tables: dict[str, Any], source: str = "") -> Document:
    """Tables of a TOML file as the document that is edited and stored: what JSON lacks becomes text.

    Raises InputFaults, naming ``source``, where no stored job could hold it.
    """
    check_bounds(tables, source)
    document: Document = parsed(json.dumps(tables, default=str))
    return document


def row_of(front: pd.DataFrame, position: int) -> Row:
    """One row of a front as plain Python values."""
    values = front.iloc[position].to_dict()
    return {str(key): value.item() if hasattr(value, "item") else value for key, value in values.items()}
