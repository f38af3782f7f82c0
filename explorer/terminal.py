"""What the command line shows while it works: where results and progress go, bars, lines, and the first Ctrl-C."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from rich.console import Console

    from engine.search.runs import Progress as SearchProgress


def made_ready(console: Console) -> None:
    """Compile what is not compiled yet."""
    from explorer.readiness import WORDS, compile_all, is_compiled

    if not is_compiled():
        console.print(f"{WORDS}.")
        compile_all()


def out_console() -> Console:
    """Where results go: as wide as the terminal, or 120 columns into a file or a pipe."""
    from rich.console import Console

    own_width = sys.stdout.isatty() or "COLUMNS" in os.environ
    return Console(width=None if own_width else 120, markup=False, emoji=False, highlight=False)


def progress_console() -> Console:
    """How far it is, beside the output."""
    from rich.console import Console

    return Console(stderr=True, markup=False, emoji=False)


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
        self._asked = False

    def __enter__(self) -> Self:
        self._before = signal.signal(signal.SIGINT, self._on_interrupt)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)

    def asked(self) -> bool:
        return self._asked

    def _on_interrupt(self, _signal: int, _frame: FrameType | None) -> None:
        if self._asked:
            raise KeyboardInterrupt
        self._asked = True
        self._console.print("Stopping; what was found so far is kept.")
