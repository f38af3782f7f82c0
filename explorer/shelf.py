"""Jobs kept on disk as things to take away, put back and copy: deleted ones lie aside until others push them out."""

from __future__ import annotations

import contextlib
import shutil
from dataclasses import dataclass
from pathlib import Path

from explorer import generations
from explorer.generations import MANIFEST, UNREADABLE, NewerJobError
from explorer.session import Job, JobStore, new_id

DELETED = ".deleted"  # the folder within the store's
DELETED_KEPT = 20  # jobs that can still be put back


@dataclass(frozen=True)
class Deleted:
    """A job that was deleted and can be put back."""

    id: str
    title: str
    deleted: float  # s since 1970, UTC


def delete(store: JobStore, job_id: str) -> None:
    """Put a stored job aside; the one deleted longest ago goes for good where there are too many.

    Raises OSError where the disk refuses.
    """
    place, aside = store.place_of(job_id), store.folder / DELETED / job_id
    if place is None:
        return
    with store.writing():
        aside.parent.mkdir(exist_ok=True)
        if aside.exists():
            shutil.rmtree(aside)
        shutil.move(place, aside)
        aside.touch()  # its folder's time is when it was deleted
        store.forget(job_id)
        for old in _newest_first(store)[DELETED_KEPT:]:
            shutil.rmtree(old, ignore_errors=True)


def deleted(store: JobStore) -> list[Deleted]:
    """Jobs that can be put back, the last deleted first."""
    found = []
    for place in _newest_first(store):
        with contextlib.suppress(OSError, NewerJobError, *UNREADABLE):
            stored = generations.read(place, front=False).state
            title = Job(id=place.name, source=str(stored["source"]), document=dict(stored["document"])).title
            found.append(Deleted(place.name, title, place.stat().st_mtime))
    return found


def restore(store: JobStore, job_id: str) -> str | None:
    """Put a deleted job back; its id, or another where that is taken again, or None where it is gone for good."""
    aside = next((place for place in _newest_first(store) if place.name == job_id), None)
    if aside is None:
        return None
    with store.writing():
        back = job_id if not (store.folder / job_id).exists() else new_id()
        shutil.move(aside, store.folder / back)
    return back


def copy_of(job: Job, title: str) -> Job:
    """Another job that says and has found the same, called otherwise."""
    copy = Job(**{**vars(job), "id": new_id(), "document": {**job.document, "title": title}})
    copy.shortlist, copy.axes = list(job.shortlist), dict(job.axes)
    copy.filters = {key: list(value) for key, value in job.filters.items()}
    copy.revision, copy.origin, copy.lost, copy.damage = 0, "", (), ()
    return copy


def _newest_first(store: JobStore) -> list[Path]:
    """The folders of deleted jobs, the last deleted first."""
    there = [path for path in (store.folder / DELETED).glob("*") if (path / MANIFEST).is_file()]
    return sorted(there, key=lambda path: path.stat().st_mtime, reverse=True)
