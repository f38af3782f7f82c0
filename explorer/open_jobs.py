"""The jobs open in this process: one object each, whichever tab or window asks for it.

Two tabs on one job therefore edit the same job, and neither overwrites what the other did.
"""

from __future__ import annotations

import threading
from dataclasses import fields

from explorer.session import DamagedJobError, Document, Job, JobStore

CHANGED_ELSEWHERE = (
    "This job was changed by another running wedgefront. What it wrote is open here now; "
    "look whether your last change here is in it."
)


class OpenJobs:
    """Open jobs over a store; every call may come from any thread."""

    def __init__(self, store: JobStore) -> None:
        self.store = store
        self._open: dict[str, Job] = {}
        self._lock = threading.RLock()

    def put(self, job: Job) -> Job:
        """Open a new job."""
        with self._lock:
            return self._open.setdefault(job.id, job)

    def take(self, job_id: str) -> Job | None:
        """The job of that id: as it is open here, or from the store; None where there is none.

        Raises DamagedJobError where it lies damaged in the store and is not open.
        """
        with self._lock:
            if job_id in self._open:
                return self._open[job_id]
            job = self.store.load(job_id)
            return None if job is None else self.put(job)

    def save(self, job: Job) -> None:
        """Write what changed since the last save.  Raises OSError where the disk refuses."""
        with self._lock:
            self.store.save(job)

    def refresh(self, job: Job) -> bool:
        """Bring a job up to what another process wrote of it; True where there was such a thing.

        The object stays the same, since pages and tabs hold on to it.
        """
        with self._lock:
            if not self.store.changed_elsewhere(job.id):
                return False
            try:
                newer = self.store.load(job.id)
            except DamagedJobError:
                return False  # the state at hand is whole and is written again
            if newer is None:
                return False
            newer.revision = job.revision + 1
            for part in fields(Job):
                setattr(job, part.name, getattr(newer, part.name))
            return True

    def unchanged(self, document: Document) -> Job | None:
        """The last job worked on that still says just what ``document`` says."""
        for earlier in self.store.recent():
            if earlier.document == document:
                try:
                    return self.take(earlier.id)
                except DamagedJobError:
                    continue
        return None
