"""The job store: all a user has put in or found, kept on disk so that a reload loses nothing.

A job has a folder of its own: ``job.json`` with what changes often, and one
``front-….csv`` that is written only when a search ends; where that is gone the front is
searched again.  Files are written whole or not at all; a damaged one is put aside under
another name and never stops the program.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import pandas as pd
from platformdirs import user_state_path

from engine.files import write_whole
from engine.quantities import Units
from engine.search.front import csv_text, read_front

Document = dict[str, Any]
Row = dict[str, Any]

SHORTLIST_MOST = 5
FRONTS_KEPT = 10
STATE_VARIABLE = "WEDGEFRONT_STATE"
_ID = re.compile(r"[A-Za-z0-9_-]{6,40}")
_STATE_VERSION = 1


@dataclass(eq=False)
class Chosen:
    """One design taken from a front, with the scenario it was found for: ids may go, this stays."""

    row: Row
    document: Document

    def __eq__(self, other: object) -> bool:
        """Same design, figure for figure; empty figures (nan) count as equal."""
        return isinstance(other, Chosen) and self._text == other._text

    def __hash__(self) -> int:
        return hash(self._text)

    @property
    def _text(self) -> str:
        return json.dumps([self.row, self.document], sort_keys=True)


@dataclass
class Found:
    """What a search came to, with the scenario it was made for."""

    front: pd.DataFrame
    record: dict[str, Any]
    document: Document


@dataclass
class Job:
    """One job as the user left it.  ``document`` is the scenario as text, faults and all."""

    id: str
    source: str
    document: Document
    units: Units = "metric"
    found: Found | None = None
    pick: Chosen | None = None
    shortlist: list[Chosen] = field(default_factory=list)
    axes: dict[str, str] = field(default_factory=dict)
    filters: dict[str, list[Any]] = field(default_factory=dict)
    shop: str = ""
    customer: str = ""
    revision: int = 0  # counts the times widgets must forget what they hold; not stored

    @property
    def title(self) -> str:
        title = self.document.get("title")
        return title if isinstance(title, str) and title.strip() else self.source

    @property
    def changed_since_search(self) -> bool:
        return self.found is not None and self.found.document != self.document


class DamagedJobError(Exception):
    """A stored job cannot be read; ``kept_as`` is where its folder was put aside."""

    def __init__(self, kept_as: Path) -> None:
        self.kept_as = kept_as
        super().__init__(f"the stored job could not be read; its files were put aside in {kept_as}")


def new_id() -> str:
    return secrets.token_urlsafe(8)


class JobStore:
    """Jobs under one folder, by default the user's state folder."""

    def __init__(self, folder: Path | None = None) -> None:
        stated = os.environ.get(STATE_VARIABLE)
        self.folder = folder or (Path(stated) if stated else user_state_path("wedgefront"))
        self._written: dict[str, str] = {}

    def save(self, job: Job) -> None:
        """Write what changed since the last save.  Raises OSError where the disk refuses."""
        text, front = _dump(job)
        if self._written.get(job.id) == text:
            return
        place = self.folder / job.id
        place.mkdir(parents=True, exist_ok=True)
        texts = {place / "job.json": text}
        if front is not None and not (place / front).exists():
            assert job.found is not None
            texts = {place / front: csv_text(job.found.front), **texts}
        write_whole(texts)
        self._written[job.id] = text
        if len(texts) > 1:
            for old in place.glob("front-*.csv"):
                if old.name != front:
                    old.unlink(missing_ok=True)
            self._drop_old_fronts()

    def load(self, job_id: str) -> Job | None:
        """The stored job, or None where there is none.  Raises DamagedJobError."""
        if not _ID.fullmatch(job_id):
            return None
        place = self.folder / job_id
        if not (place / "job.json").is_file():
            return None
        try:
            text = (place / "job.json").read_text(encoding="utf-8")
            job = _revive(job_id, json.loads(text), place)
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            raise DamagedJobError(self._put_aside(place)) from None
        self._written[job_id] = text
        return job

    def recent(self, most: int = 12) -> list[tuple[str, str]]:
        """(id, title) of stored jobs, the last worked on first; those that cannot be read are left out."""
        found: list[tuple[str, str]] = []
        for place in self._newest_first():
            try:
                stored = json.loads((place / "job.json").read_text(encoding="utf-8"))
                title = Job(id="", source=stored["source"], document=stored["document"]).title
            except (OSError, ValueError, KeyError, TypeError, AttributeError):
                continue
            found.append((place.name, title))
            if len(found) == most:
                break
        return found

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


def _dump(job: Job) -> tuple[str, str | None]:
    """The text of job.json and the name of its front's file."""
    front = None
    state: dict[str, Any] = {
        "version": _STATE_VERSION,
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
    }
    if job.found is not None:
        made_of = json.dumps([job.found.record, job.found.document], sort_keys=True)
        front = f"front-{sha256(made_of.encode()).hexdigest()[:16]}.csv"
        state["found"] = {"front": front, "record": job.found.record, "document": job.found.document}
    return json.dumps(state, ensure_ascii=False, indent=1), front


def _revive(job_id: str, state: dict[str, Any], place: Path) -> Job:
    if state["version"] != _STATE_VERSION:
        raise ValueError("written by another version")
    found = None
    stored = state["found"]
    if stored is not None and (place / Path(stored["front"]).name).is_file():
        front = read_front(place / Path(stored["front"]).name)
        found = Found(front, dict(stored["record"]), dict(stored["document"]))
    return Job(
        id=job_id,
        source=str(state["source"]),
        document=dict(state["document"]),
        units="us" if state["units"] == "us" else "metric",
        found=found,
        pick=_chosen(state["pick"]) if state["pick"] else None,
        shortlist=[_chosen(stored) for stored in state["shortlist"][:SHORTLIST_MOST]],
        axes={str(key): str(value) for key, value in state["axes"].items()},
        filters={str(key): list(value) for key, value in state["filters"].items()},
        shop=str(state["shop"]),
        customer=str(state["customer"]),
    )


def _chosen(stored: dict[str, Any]) -> Chosen:
    return Chosen(row=dict(stored["row"]), document=dict(stored["document"]))


def choose(found: Found, design: str) -> Chosen | None:
    """A design of a front by its id, if it is there."""
    positions = (found.front["id"] == design).to_numpy().nonzero()[0]
    return Chosen(row_of(found.front, int(positions[0])), found.document) if len(positions) else None


def as_document(tables: dict[str, Any]) -> Document:
    """Tables of a TOML file as the document that is edited and stored: what JSON lacks becomes text."""
    document: Document = json.loads(json.dumps(tables, default=str))
    return document


def row_of(front: pd.DataFrame, position: int) -> Row:
    """One row of a front as plain Python values."""
    values = front.iloc[position].to_dict()
    return {str(key): value.item() if hasattr(value, "item") else value for key, value in values.items()}
