"""The jobs open in this process: one object each, whichever tab or window asks for it.

Two tabs on one job therefore edit the same job, and neither overwrites what the other did.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, fields

from explorer import shelf
from explorer.generations import NewerJobError
from explorer.history import History, revived
from explorer.session import ChangedElsewhereError, DamagedJobError, Document, Earlier, Job, JobStore, dump


@dataclass(frozen=True)
class TakenOver:
    """A job was brought up to what another process wrote of it; what was changed here meanwhile became ``mine``.

    What a later version wrote is not open here any more.
    """

    mine: Job | None
    by_later_version: bool = False


class OpenJobs:
    """Open jobs over a store, with the steps of each; every call may come from any thread."""

    def __init__(self, store: JobStore) -> None:
        self.store = store
        self._open: dict[str, Job] = {}
        self._histories: dict[str, History] = {}
        self._kept: dict[str, int] = {}  # the changes of each history when it was last written or read
        self._lock = threading.RLock()

    def tidy(self) -> None:
        """Clear what processes left that were stopped while they wrote."""
        self.store.tidy()

    def put(self, job: Job) -> Job:
        """Open a new job."""
        with self._lock:
            return self._open.setdefault(job.id, job)

    def take(self, job_id: str) -> Job | None:
        """The job of that id: as it is open here, or from the store; None where there is none.

        Raises DamagedJobError, NewerJobError or OSError where it cannot be read from the store and is not open.
        """
        with self._lock:
            job = self._open.get(job_id)
            if job is not None:
                if not self.store.is_unsaved(job):
                    self.refresh(job)
                return job
            job = self.store.load(job_id)
            if job is None:
                return None
            self._read_steps(job_id)
            return self.put(job)

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
        """Save a job and close it, if it is open; False where the disk refuses, and it stays open.

        Where another process has written it meanwhile, what was changed here is kept as a job of its own.
        """
        with self._lock:
            job = self._open.get(job_id)
            if job is None:
                return True
            try:
                try:
                    self.save(job)
                except (ChangedElsewhereError, NewerJobError):
                    self.refresh(job)
            except OSError:
                return False
            self.close(job)
            return True

    def history(self, job: Job) -> History:
        """The steps of a job."""
        with self._lock:
            history = self._histories.setdefault(job.id, History())
            self._kept.setdefault(job.id, history.changes)
            return history

    def save(self, job: Job) -> None:
        """Write what changed since the last save, its steps with it.

        Raises OSError where the disk refuses, and ChangedElsewhereError or NewerJobError where another process has
        written it meanwhile; :meth:`refresh` then tells what becomes of it.
        """
        with self._lock:
            if not self.holds(job):
                return  # deleted meanwhile, in another tab
            history = self.history(job)
            changes = history.changes
            self.store.save(job, history.dump() if changes != self._kept[job.id] else None)
            self._kept[job.id] = changes

    def refresh(self, job: Job) -> TakenOver | None:
        """Bring a job up to what another process wrote of it; None where there is no such thing.

        The object stays the same, since pages and tabs hold on to it.  What was changed here since it was last saved
        is kept as a job of its own, with the steps to it.  Raises OSError where the disk refuses that copy: the job is
        then as it was.
        """
        with self._lock:
            if not self.store.changed_elsewhere(job.id):
                return None
            unsaved = self.store.is_unsaved(job)
            try:
                newer = self.store.load(job.id)
            except NewerJobError:
                mine = self._kept_as_copy(job) if unsaved else None
                self.close(job)
                return TakenOver(mine, by_later_version=True)
            except (DamagedJobError, OSError):
                newer = None
            if newer is None:
                return None  # the state at hand is whole and is written again
            mine = self._kept_as_copy(job) if unsaved and dump(newer) != dump(job) else None
            newer.revision = job.revision + 1
            for part in fields(Job):
                setattr(job, part.name, getattr(newer, part.name))
            self._read_steps(job.id)
            return TakenOver(mine)

    def _read_steps(self, job_id: str) -> None:
        """Take the steps of a job as they lay beside it when it was loaded."""
        self._histories[job_id] = read = revived(self.store.steps_of(job_id))
        self._kept[job_id] = read.changes

    def _kept_as_copy(self, job: Job) -> Job:
        """A job as it is open here, kept beside the one that another process wrote."""
        mine = self.put(shelf.copy_of(job, f"{job.title}, as changed here"))
        self._histories[mine.id], self._kept[mine.id] = self.history(job), -1
        try:
            self.save(mine)
        except OSError:
            self.close(mine)
            self.store.forget(job.id)  # so that the job is not written over
            raise
        return mine

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
            copy = self.put(shelf.copy_of(job, f"Copy of {job.title}"))
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
