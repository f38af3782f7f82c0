"""What the command line shows while it works: where results and progress go, bars, lines, and the first Ctrl-C."""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import TYPE_CHECKING, Any, Self

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from engine.plain_text import shown
from explorer.stopping import stop

if TYPE_CHECKING:
    from engine.search.runs import Progress as SearchProgress

NARROWEST = 20  # columns; what says less, as COLUMNS=0 does, says nothing
STANDARD_ERROR = 2  # its place among a process's files
USUAL_WIDTH = 120  # columns of what goes into a file or a pipe


class PlainConsole(Console):
    """A terminal, a file or a pipe: names are neither its markup nor codes that it would obey."""

    def __init__(self, **how: Any) -> None:
        super().__init__(markup=False, emoji=False, highlight=False, **how)

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """What is printed, piece by piece, with nothing in it but letters; codes of our own stand apart from text."""
        for text, style, control in super().render(renderable, options):
            yield Segment(text if control else "\n".join(map(shown_whole, text.split("\n"))), style, control)

    def print(self, *objects: Any, **how: Any) -> None:
        """Print as ever.  Raises OutputFailed where it cannot be written, by which it is no file's fault."""
        with _written():
            super().print(*objects, **how)

    def on_broken_pipe(self) -> None:
        """Leave it to the command what comes of it."""
        raise BrokenPipeError(errno.EPIPE, os.strerror(errno.EPIPE))


def shown_whole(text: str) -> str:
    """Text as a terminal may have it, however long."""
    return shown(text, most=len(text) + 1)


class OutputFailed(Exception):
    """What is told cannot be written; the reason is its cause."""


@contextmanager
def _written() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputFailed from error


def tell_data(text: str) -> None:
    """A text for programs, such as JSON, and nothing else.  Raises OutputFailed."""
    with _written():
        print(text, flush=True)


def say(text: str, *, before: str = "wedgefront: ") -> None:
    """A line of the program's own beside the output, or a line each; where nobody takes it, the status says it."""
    with suppress(OSError):
        for line in text.split("\n"):
            print(f"{before}{shown_whole(line)}", file=sys.stderr, flush=True)


def hold_standard_places() -> None:
    """See to it that no file is opened in the place of a closed input, output or terminal, and taken for it."""
    while (place := os.open(os.devnull, os.O_RDWR)) <= STANDARD_ERROR:
        if place == STANDARD_ERROR and sys.stderr is None:
            sys.stderr = os.fdopen(os.dup(place), "w", encoding="utf-8")
    os.close(place)


def let_go_of_output() -> None:
    """Have what is still to be written go nowhere, so that the interpreter's own end has nothing to complain of."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def made_ready(console: Console) -> None:
    """Compile what is not compiled yet."""
    from explorer.readiness import WORDS, compile_all, is_compiled

    if not is_compiled():
        console.print(f"{WORDS}.")
        compile_all()


def out_console() -> Console:
    """Where results go: as wide as the terminal, or 120 columns into a file or a pipe."""
    return PlainConsole(width=_width(sys.stdout.isatty()))


def progress_console() -> Console:
    """How far it is, beside the output."""
    return PlainConsole(stderr=True, width=_width(sys.stderr.isatty()))


def _width(terminal: bool) -> int | None:
    """As wide as COLUMNS says where that makes sense; None where the terminal is asked."""
    stated = os.environ.get("COLUMNS", "")
    if stated.isascii() and stated.isdecimal() and NARROWEST <= int(stated[:9]) <= 10_000:
        return int(stated)
    return None if terminal else USUAL_WIDTH


class ProgressLines:
    """Progress for a log or a pipe, where no bar can be drawn: a line at each tenth, and as the front doubles."""

    def __init__(self, console: Console, name: str) -> None:
        self._console, self._name = console, name
        self._tenths, self._designs = -1, 0  # told so far

    def tell(self, now: SearchProgress) -> None:
        tenths = int(10.0 * now.share)
        if now.front_size and (tenths > self._tenths or now.front_size >= 2 * self._designs):
            self._tenths, self._designs = tenths, now.front_size
            self._console.print(f"{self._name}: {10 * tenths} %, {now.front_size} designs on the front")


class ShareTold:
    """How far a piece of work is: a bar, or a line at each tenth where none can be drawn."""

    def __init__(self, console: Console, name: str) -> None:
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        self._console, self._name, self._tenths = console, name, 0
        parts = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
        terminal = console.is_terminal
        self._bar = Progress(*parts, TimeRemainingColumn(), console=console, transient=True, disable=not terminal)

    def __enter__(self) -> Self:
        self._bar.__enter__()
        self._task = self._bar.add_task(self._name, total=1.0)
        return self

    def __exit__(self, *raised: Any) -> None:
        self._bar.__exit__(*raised)

    def tell(self, share: float) -> None:
        self._bar.update(self._task, completed=share)
        if not self._console.is_terminal and int(10.0 * share) > self._tenths:
            self._tenths = int(10.0 * share)
            self._console.print(f"{self._name}: {10 * self._tenths} %")


class CancelOnInterrupt:
    """The first Ctrl-C asks the search to stop and keep what it has; the second stops at once."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._asked = self._told = False

    def __enter__(self) -> Self:
        self._before = signal.getsignal(signal.SIGINT)
        if self._before is not signal.SIG_IGN:  # as whoever started us wants it
            signal.signal(signal.SIGINT, self._on_interrupt)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)

    def asked(self) -> bool:
        if self._asked and not self._told:  # not within the signal, which may have come within a print
            self._told = True
            self._console.print("Stopping; what was found so far is kept.")
        return self._asked

    def _on_interrupt(self, number: int, _frame: FrameType | None) -> None:
        if self._asked:
            stop(number)
        self._asked = True
