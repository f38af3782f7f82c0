"""The jobs open in this process: one object each, whichever tab or window asks for it.

Two tabs on one job therefore edit the same job, and neither overwrites what the other did.
"""

from __future__ import annotations

import threading
from dataclasses import fields
from typing import Final

from engine.files import write_whole
from explorer import shelf
from explorer.history import History, revived
from explorer.session import DamagedJobError, Document, Earlier, Job, JobStore, NewerJobError

CHANGED_ELSEWHERE = (
    "This job was changed by another running wedgefront. What it wrote is open here now; "
    "look whether your last change here is in it."
)
STEPS: Final = "steps.json"  # of a job's folder


class OpenJobs:
    """Open jobs over a store, with the steps of each; every call may come from any thread."""

    def __init__(self, store: JobStore) -> None:
        self.store = store
        self._open: dict[str, Job] = {}
        self._histories: dict[str, History] = {}
        self._kept: dict[str, int] = {}  # the changes of each history when it was last written or read
        self._lock = threading.RLock()

    def put(self, job: Job) -> Job:
        """Open a new job."""
        with self._lock:
            return self._open.setdefault(job.id, job)

    def take(self, job_id: str) -> Job | None:
        """The job of that id: as it is open here, or from the store; None where there is none.

        Raises DamagedJobError, NewerJobError or OSError where it cannot be read from the store and is not open.
        """
        with self._lock:
            if job_id in self._open:
                return self._open[job_id]
            job = self.store.load(job_id)
            return None if job is None else self.put(job)

    def holds(self, job: Job) -> bool:
        """Whether a job is open; one that was deleted is not."""
        with self._lock:
            return self._open.get(job.id) is job

    def close(self, job: Job) -> None:
        """Let go of a job as it is open here; what lies in the store stays."""
        with self._lock:
            for kept in (self._open, self._histories, self._kept):
                kept.pop(job.id, None)

    def let_go(self, job_id: str) -> bool:
        """Save a job and close it, if it is open; False where the disk refuses, and it stays open."""
        with self._lock:
            job = self._open.get(job_id)
            if job is None:
                return True
            try:
                self.save(job)
            except OSError:
                return False
            self.close(job)
            return True

    def history(self, job: Job) -> History:
        """The steps of a job."""
        with self._lock:
            if job.id not in self._histories:
                try:
                    read = revived((self.store.folder / job.id / STEPS).read_text(encoding="utf-8"))
                except (OSError, ValueError):
                    read = History()
                self._histories[job.id], self._kept[job.id] = read, read.changes
            return self._histories[job.id]

    def save(self, job: Job) -> None:
        """Write what changed since the last save.  Raises OSError where the disk refuses."""
        with self._lock:
            if not self.holds(job):
                return  # deleted meanwhile, in another tab
            self.store.save(job)
            history = self._histories.get(job.id)
            if history is not None and history.changes != self._kept[job.id]:
                write_whole({self.store.folder / job.id / STEPS: history.dump()})
                self._kept[job.id] = history.changes

    def refresh(self, job: Job) -> bool:
        """Bring a job up to what another process wrote of it; True where there was such a thing.

        The object stays the same, since pages and tabs hold on to it.  Its steps are let go.  Raises NewerJobError
        where a later version wrote it.
        """
        with self._lock:
            if not self.store.changed_elsewhere(job.id):
                return False
            try:
                newer = self.store.load(job.id)
            except (DamagedJobError, OSError):
                return False  # the state at hand is whole and is written again
            if newer is None:
                return False
            newer.revision = job.revision + 1
            for part in fields(Job):
                setattr(job, part.name, getattr(newer, part.name))
            self._histories[job.id] = History(changes=1)
            self._kept[job.id] = 0
            return True

    def delete(self, job_id: str) -> None:
        """Take a job away, to be put back with :meth:`restore`.  Raises OSError where the disk refuses."""
        with self._lock:
            shelf.delete(self.store, job_id)
            if job_id in self._open:
                self.close(self._open[job_id])

    def restore(self, job_id: str) -> str | None:
        """Put a deleted job back; the id it has, None where it is gone.  Raises OSError where the disk refuses."""
        with self._lock:
            return shelf.restore(self.store, job_id)

    def duplicate(self, job_id: str) -> Job | None:
        """A copy of a job, kept like it; None where there is none.  Raises as :meth:`take` and :meth:`save` do."""
        with self._lock:
            job = self.take(job_id)
            if job is None:
                return None
            copy = self.put(shelf.copy_of(job))
            self.save(copy)
            return copy

    def unchanged(self, document: Document) -> Job | None:
        """The last job worked on that still says just what ``document`` says."""
        return self._first_of([earlier for earlier in self.store.recent() if earlier.document == document])

    def opened_from(self, origin: str) -> Job | None:
        """The last job worked on that was opened from the file of this digest."""
        return self._first_of([earlier for earlier in self.store.recent(most=1000) if earlier.origin == origin])

    def _first_of(self, those: list[Earlier]) -> Job | None:
        for earlier in those:
            try:
                return self.take(earlier.id)
            except (DamagedJobError, NewerJobError, OSError):
                continue
        return None
