"""Processes that judge designs for the searches of this one: as many as there are cores, shared by all of them.

What is asked for waits in one queue, in which whoever asks has a row of their own: a job in the explorer, whichever of
its browsers and tasks it is.  The rows take turns, piece by piece, so that somebody who asks for much is no slower
served than before, but keeps nobody else waiting.  A process that nobody needs for a while is let go, and started
again when there is work.

Each process is held by a thread that hands it one piece of work after the other through its pipes; it ends when they
close, with this process, however that ends.  One that is lost is told as such, and the next piece of work starts
another.  A piece of work may take so much memory and so long; what goes beyond is ended, and told.

They are not those of ``concurrent.futures``, which run the program's main script again, and here that may be a page.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import cache, partial
from pathlib import Path
from typing import Any

MOST = 8  # processes
COURTESY = 10  # of a process's niceness: pages and browsers are answered first
WORTH_IT = 50_000  # designs to try: fewer are tried before a process has started
IDLE = 90.0  # s without work, after which a process is let go
LONGEST = 600.0  # s that a piece of work may take; a usual one takes less than one
MEMORY = 3 * 2**30  # bytes that a process may take, where the system can be told so

TURNS = 2  # threads that search at a time, apart from what helpers do for them

_turn = threading.local()
_on_behalf: ContextVar[str | None] = ContextVar("on_behalf", default=None)


class TookTooLong(RuntimeError):
    """A piece of work was ended because it took too long."""


class _Turns:
    """So many may have a turn at a time; who waits longest is next."""

    def __init__(self, count: int) -> None:
        self._free = count
        self._waiting: deque[threading.Event] = deque()
        self._lock = threading.Lock()

    def take(self) -> None:
        with self._lock:
            if self._free and not self._waiting:
                self._free -= 1
                return
            mine = threading.Event()
            self._waiting.append(mine)
        mine.wait()

    def give(self) -> None:
        """Hand one's turn to who is next."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._free += 1

    @property
    def waited_for(self) -> bool:
        return bool(self._waiting)


_TURNS = _Turns(TURNS)


@contextmanager
def on_behalf_of(owner: str) -> Iterator[None]:
    """What is asked of helpers in here, in this thread, stands in the row of ``owner``.

    Only ``TURNS`` threads at a time do in here what is not the helpers' work, so that however many search, this process
    answers and takes no more memory; while one waits for helpers, or is :func:`resting`, another has its turn, and
    between two steps that take a while one gives :func:`way` to who waits.
    """
    token = _on_behalf.set(owner)
    try:
        _TURNS.take()
        _turn.mine = True
        try:
            yield
        finally:
            _turn.mine = False
            _TURNS.give()
    finally:
        _on_behalf.reset(token)


def way() -> None:
    """Let who waits for a turn have this thread's, and wait for the next."""
    if _TURNS.waited_for:
        with resting():
            pass


@contextmanager
def resting() -> Iterator[None]:
    """Let another thread have its turn while this one waits in here."""
    if not getattr(_turn, "mine", False):
        yield
        return
    _turn.mine = False
    _TURNS.give()
    try:
        yield
    finally:
        _TURNS.take()
        _turn.mine = True


def helpers_for(designs: int) -> Executor | None:
    """Who judges the designs of a search that tries so many; None where this process does it alone.

    On behalf of somebody, as in the explorer, there are always some, so that this process is free to answer.
    """
    owner, cores = _on_behalf.get(), min(os.cpu_count() or 1, MOST)
    if owner is None:
        return _helpers(cores).row("") if designs >= WORTH_IT and cores > 1 else None
    helpers = _helpers(cores)
    return helpers.row(owner) if designs >= WORTH_IT or helpers.running else None


@cache
def _helpers(count: int) -> Helpers:
    return Helpers(count)


class _Coming(Future[Any]):
    """What a piece of work will have come to; whoever waits for it rests."""

    def result(self, timeout: float | None = None) -> Any:
        if self.done():
            return super().result(timeout)
        with resting():
            return super().result(timeout)


class _Piece:
    """A piece of work, and what it will have come to."""

    def __init__(self, *asked: Any) -> None:
        self.asked = asked
        self.coming = _Coming()


class _Queue:
    """Pieces of work, a row for each who asked for them; the rows take turns."""

    def __init__(self) -> None:
        self._rows: OrderedDict[str, deque[_Piece]] = OrderedDict()
        self._changed = threading.Condition()
        self._closed = False

    def put(self, owner: str, piece: _Piece) -> None:
        with self._changed:
            if self._closed:
                raise RuntimeError("no work is taken any more")
            self._rows.setdefault(owner, deque()).append(piece)
            self._changed.notify()

    def take(self, seconds: float | None) -> _Piece | None:
        """The next piece, once there is one; None after so long without any, or once it is closed and empty."""
        with self._changed:
            while self._changed.wait_for(lambda: self._rows or self._closed, seconds) and self._rows:
                owner, row = self._rows.popitem(last=False)
                while row and row[0].coming.cancelled():
                    row.popleft()
                if not row:
                    continue
                piece = row.popleft()
                if row:
                    self._rows[owner] = row  # behind all others
                return piece
            return None

    @property
    def closed(self) -> bool:
        return self._closed

    def close(self, *, drop: bool) -> None:
        with self._changed:
            self._closed = True
            if drop:
                for row in self._rows.values():
                    for piece in row:
                        piece.coming.cancel()
                self._rows.clear()
            self._changed.notify_all()


class Row(Executor):
    """Helpers as one who asks sees them."""

    def __init__(self, put: Callable[[_Piece], None]) -> None:
        self._put = put

    def submit(self, work: Callable[..., Any], /, *arguments: Any, **named: Any) -> Future[Any]:
        piece = _Piece(work, arguments, named)
        self._put(piece)
        return piece.coming


class Helpers(Row):
    """So many processes, each started when it is first needed; work and what it takes and gives are pickled."""

    def __init__(self, count: int, *, idle: float = IDLE, longest: float = LONGEST, memory: int = MEMORY) -> None:
        self._queue = _Queue()
        super().__init__(partial(self._queue.put, ""))
        self._idle, self._longest, self._memory = idle, longest, memory
        self._running: set[subprocess.Popen[bytes]] = set()
        names = [f"wedgefront-helper-{number}" for number in range(count)]
        self._threads = [threading.Thread(target=self._work, name=name, daemon=True) for name in names]
        for thread in self._threads:
            thread.start()

    def row(self, owner: str) -> Row:
        """The same for somebody who asks, with a row of their own in the queue."""
        return Row(partial(self._queue.put, owner))

    @property
    def running(self) -> int:
        """How many processes there are just now."""
        return len(self._running)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let go of the processes, once what they work at is done."""
        self._queue.close(drop=cancel_futures)
        if wait:
            for thread in self._threads:
                thread.join()

    def _work(self) -> None:
        """One thread: do what comes with a process of its own, which is let go where nothing comes for a while."""
        process: subprocess.Popen[bytes] | None = None
        while True:
            piece = self._queue.take(None if process is None else self._idle)
            if piece is None:
                if process is not None:
                    self._let_go(process)
                    process = None
                if self._queue.closed:
                    return
            elif piece.coming.set_running_or_notify_cancel():
                process = self._done(piece, process)

    def _done(self, piece: _Piece, process: subprocess.Popen[bytes] | None) -> subprocess.Popen[bytes] | None:
        """Have a piece done; the process that did it, None where that was lost."""
        late = threading.Event()
        try:
            if process is None:
                process = _started(self._memory)
                self._running.add(process)
            right, found = self._asked(piece, process, late)
        except (OSError, EOFError, pickle.UnpicklingError) as error:
            if process is not None:
                process.kill()
                self._let_go(process)
            lost = TookTooLong(f"after {self._longest:g} s") if late.is_set() else BrokenExecutor("a helper was lost")
            lost.__cause__ = error
            piece.coming.set_exception(lost)
            return None
        except Exception as error:  # what was asked cannot be handed over
            piece.coming.set_exception(error)
            return process
        if right:
            piece.coming.set_result(found)
        else:
            piece.coming.set_exception(found)
        return process

    def _asked(self, piece: _Piece, process: subprocess.Popen[bytes], late: threading.Event) -> tuple[bool, Any]:
        assert process.stdin is not None
        assert process.stdout is not None
        content = pickle.dumps(piece.asked)

        def end() -> None:
            late.set()
            process.kill()

        watch = threading.Timer(self._longest, end)
        watch.daemon = True
        watch.start()
        try:
            process.stdin.write(content)
            process.stdin.flush()
            answer: tuple[bool, Any] = pickle.load(process.stdout)  # of this program's own making
        finally:
            watch.cancel()
        return answer

    def _let_go(self, process: subprocess.Popen[bytes]) -> None:
        with suppress(OSError):
            process.communicate()
        self._running.discard(process)


def _started(memory: int) -> subprocess.Popen[bytes]:
    path = os.pathsep.join(filter(None, [str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH")]))
    own = {"PYTHONPATH": path, "WEDGEFRONT_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    # In a session of its own: Ctrl-C is for whoever waits.
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "explorer.helpers", str(memory)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env=os.environ | own, start_new_session=True,
    )  # fmt: skip


def _bound(memory: int) -> None:
    """Take no more memory than that, where the system can be told so; what would is a MemoryError."""
    with suppress(ImportError, ValueError, OSError):
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_DATA)
        limit = memory if most == resource.RLIM_INFINITY else min(memory, most)
        resource.setrlimit(resource.RLIMIT_DATA, (limit, most))


def main() -> None:
    """Do what comes in, one after the other, until the pipe closes."""
    if hasattr(os, "nice"):
        os.nice(COURTESY)
    _bound(int(sys.argv[1]))
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed is no answer
    while True:
        try:
            work, arguments, named = pickle.load(sys.stdin.buffer)  # of this program's own making
        except (EOFError, pickle.UnpicklingError):  # it closed, between two pieces of work or within one
            return
        try:
            answer = True, work(*arguments, **named)
        except Exception as error:
            answer = False, error
        try:
            pickle.dump(answer, answers)
            answers.flush()
        except BrokenPipeError:
            os._exit(0)  # nobody is left to answer; an orderly end would try to send the rest, and complain


if __name__ == "__main__":
    main()
