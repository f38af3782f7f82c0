"""The job store: all a user has put in or found, kept on disk so that a reload loses nothing.

A job has a folder of its own: ``job.json`` with what changes often, one ``front-….csv`` that is written only when a
search ends (where that is gone the front is searched again), and beside them what others keep of it, such as its steps.
Files are written whole or not at all; a damaged one is put aside under another name and never stops the program, and
one of a later version is left as it is.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import pandas as pd
from platformdirs import user_state_path

from engine.columns import COLUMNS
from engine.constraints import CONSTRAINTS
from engine.errors import InputFaults
from engine.files import write_whole
from engine.formats.front import csv_text, read_front
from engine.formats.scenario import searched_by
from engine.kinds import KINDS
from engine.measured.names import PRIORS
from engine.quantities import Units

Document = dict[str, Any]
Row = dict[str, Any]

SHORTLIST_MOST = 5
FRONTS_KEPT = 10
STATE_VARIABLE = "WEDGEFRONT_STATE"
DRIVERS = "drivers"  # a filter by driver and how many of it: "2 × compact 8"; no column of its own
_ID = re.compile(r"[A-Za-z0-9_-]{6,40}")
STATE_VERSION = 4  # raised when an earlier version would lose something; a new part has a default in revive
_EARLIEST = 2  # that is still read
# What reading a job's state raises where the text is none: no JSON, nested or a number without end, parts missing or of
# another kind.
NO_STATE = (ValueError, RecursionError, OverflowError, KeyError, TypeError, AttributeError)
SWEEPS = ("box", "free", "loaded", "closed")  # what sweeps may be of, see engine.measured.verdict.Sweeps
SWEEP_KEYS = ("name", "amount", "text")
_RECORDED = {"evaluations", "seconds", "stopped_by", "objectives"}  # what a page asks of a search's record


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

    @property
    def component_id(self) -> str:
        """Its id as it may stand in a component's key: Streamlit refuses two underscores in a row there."""
        return self.id.replace("_", ".")

    @property
    def title(self) -> str:
        title = self.document.get("title")
        return title if isinstance(title, str) and title.strip() else self.source

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


class NewerJobError(Exception):
    """A job was written by a later version of wedgefront; it lies where it did, untouched."""

    def __init__(self, written_by: int) -> None:
        self.written_by = written_by
        super().__init__(f"the job was written by a later version (its state has version {written_by})")


def new_id() -> str:
    return secrets.token_urlsafe(8)


class JobStore:
    """Jobs under one folder, by default the user's state folder."""

    def __init__(self, folder: Path | None = None) -> None:
        stated = os.environ.get(STATE_VARIABLE)
        self.folder = folder or (Path(stated) if stated else user_state_path("wedgefront"))
        self._written: dict[str, str] = {}
        self._stamps: dict[str, tuple[int, int]] = {}
        self._fronts: dict[str, str | None] = {}

    def save(self, job: Job) -> None:
        """Write what changed since the last save.  Raises OSError where the disk refuses."""
        text, front = dump(job)
        if self._written.get(job.id) == text:
            return
        place = self.folder / job.id
        place.mkdir(parents=True, exist_ok=True)
        texts = {place / "job.json": text}
        if front is not None and not (place / front).exists():
            assert job.found is not None
            texts = {place / front: csv_text(job.found.front), **texts}
        write_whole(texts)
        superseded = self._fronts.get(job.id)
        self._remember(job.id, text, front)
        if superseded is not None and superseded != front:
            (place / superseded).unlink(missing_ok=True)
        if len(texts) > 1:
            self._drop_old_fronts()

    def changed_elsewhere(self, job_id: str) -> bool:
        """Whether another process has written a job since this one wrote or read it."""
        stamp = _stamp(self.folder / job_id / "job.json")
        return stamp is not None and stamp != self._stamps.get(job_id)

    def load(self, job_id: str) -> Job | None:
        """The stored job, or None where there is none.

        Raises DamagedJobError or NewerJobError, and OSError where the disk does not let it be read, as it may later.
        """
        place = self.place_of(job_id)
        if place is None:
            return None
        try:
            text = (place / "job.json").read_text(encoding="utf-8")
            job, front = revive(job_id, json.loads(text), place)
        except NO_STATE:
            self._written.pop(job_id, None)
            raise DamagedJobError(self._put_aside(place)) from None
        self._remember(job_id, text, front)
        return job

    def place_of(self, job_id: str) -> Path | None:
        """The folder of a stored job; None where there is none."""
        place = self.folder / job_id
        return place if _ID.fullmatch(job_id) and (place / "job.json").is_file() else None

    def forget(self, job_id: str) -> None:
        """Let go of what this process remembers of a job that is no longer there."""
        for remembered in (self._written, self._stamps, self._fronts):
            remembered.pop(job_id, None)

    def recent(self, most: int = 12) -> list[Earlier]:
        """Stored jobs, the last worked on first; those that cannot be read are left out."""
        found: list[Earlier] = []
        for place in self._newest_first():
            try:
                written = (place / "job.json").stat().st_mtime
                stored = json.loads((place / "job.json").read_text(encoding="utf-8"))
                job = Job(id=place.name, source=stored["source"], document=stored["document"])
                record = stored["found"]["record"] if stored["found"] else {}
                pick = stored["pick"]["row"] if stored["pick"] else None
                more = {"guide": str(stored.get("guide", "")), "origin": str(stored.get("origin", ""))}
                designs = int(record.get("designs", 0))
                earlier = Earlier(job.id, job.title, written, designs, job.document, pick, **more)
            except (OSError, *NO_STATE):
                continue
            found.append(earlier)
            if len(found) == most:
                break
        return found

    def _remember(self, job_id: str, text: str, front: str | None) -> None:
        """Keep in mind what this process last wrote or read of a job."""
        self._written[job_id] = text
        self._fronts[job_id] = front
        stamp = _stamp(self.folder / job_id / "job.json")
        if stamp is not None:
            self._stamps[job_id] = stamp

    def _newest_first(self) -> list[Path]:
        """The folders of all jobs, the last worked on first."""
        dated = [(path.stat().st_mtime, path.parent) for path in self.folder.glob("*/job.json")]
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


def dump(job: Job) -> tuple[str, str | None]:
    """The text of job.json and the name of its front's file."""
    front = None
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
        made_of = json.dumps([job.found.record, job.found.document], sort_keys=True)
        front = f"front-{sha256(made_of.encode()).hexdigest()[:16]}.csv"
        state["found"] = {
            "front": front,
            "record": job.found.record,
            "document": job.found.document,
            "left_out": job.found.left_out,
            "came_with_demo": job.found.came_with_demo,
        }
    return json.dumps(state, ensure_ascii=False, indent=1), front


def _stamp(path: Path) -> tuple[int, int] | None:
    """What tells one writing of a file from the next; files are replaced whole, so their number changes too."""
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_mtime_ns, about.st_ino


def revive(job_id: str, state: dict[str, Any], place: Path) -> tuple[Job, str | None]:
    """A stored job and its front's file.  What does not fit is left out and named in ``lost``.

    Raises NewerJobError, and those of NO_STATE where it is none.
    """
    if int(state["version"]) > STATE_VERSION:
        raise NewerJobError(int(state["version"]))
    if int(state["version"]) < _EARLIEST:
        raise ValueError("written by a version whose jobs are no longer read")
    lost: list[str] = []
    found, front = _found(state["found"], place, lost), None
    if found is not None:
        front = Path(state["found"]["front"]).name
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
        held=[name for name in state.get("held", []) if name in PRIORS],
    )
    job.lost = tuple(lost)
    return job, front


def _found(stored: Any, place: Path, lost: list[str]) -> SearchResult | None:
    """The stored outcome of a search; None where there is none or its front is gone."""
    if stored is None or not (place / Path(stored["front"]).name).is_file():
        return None
    record, document = dict(stored["record"]), dict(stored["document"])
    try:
        front = read_front(place / Path(stored["front"]).name)
    except InputFaults:  # columns are missing: an earlier version's front
        front = pd.DataFrame()
    if not set(record) >= _RECORDED or front.empty:
        lost.append("the designs of the last search")
        return None
    misfits = [chosen_from({"row": row, "document": document}) for row in stored.get("left_out", [])]
    known = [misfit.row for misfit in misfits if misfit is not None and misfit.row["short_of"] in CONSTRAINTS]
    return SearchResult(front, record, document, known, came_with_demo=bool(stored.get("came_with_demo")))


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


def as_document(tables: dict[str, Any]) -> Document:
    """Tables of a TOML file as the document that is edited and stored: what JSON lacks becomes text."""
    document: Document = json.loads(json.dumps(tables, default=str))
    return document


def row_of(front: pd.DataFrame, position: int) -> Row:
    """One row of a front as plain Python values."""
    values = front.iloc[position].to_dict()
    return {str(key): value.item() if hasattr(value, "item") else value for key, value in values.items()}
