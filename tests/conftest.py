"""What all tests share: programs the machine may lack, and the rule that nothing is skipped in CI."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Callable, Generator
from pathlib import Path

import pytest
from hypothesis import settings

if "PYTEST_XDIST_WORKER" in os.environ:
    # As many workers as cores: threads of theirs would only get in each other's way.  Read when NumPy is imported.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("WEDGEFRONT_THREADS", "1")

from explorer.readiness import compile_all

# Another program may be running: how long an example takes says nothing.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile once, before workers start that would each compile the same; have processes that are started hear Ctrl-C.

    Where tests run behind a shell, or apart from one, it has them ignore that, and so would whatever they start.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
        signal.signal(signal.SIGHUP, signal.SIG_DFL)
    if session.config.getoption("numprocesses", None):
        compile_all()


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests that wait for a browser or a process leave theirs idle."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(scope="session")
def program() -> Callable[[str], str]:
    """The path of a program that only some tests need; skips where it is absent, and fails so in CI."""

    def find(name: str) -> str:
        path = shutil.which(name)
        if path is None:
            pytest.skip(f"{name} is not installed; this test runs with Debian's package of that name")
        return path

    return find


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI a skipped test is a failed one: an absent program must not look like a pass."""
    report = yield
    if report.skipped and os.environ.get("CI") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, which CI does not allow: {report.longrepr}"
    return report


@pytest.fixture
def state_directory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place for the explorer's saved jobs."""
    folder = tmp_path / "state"
    monkeypatch.setenv("WEDGEFRONT_STATE", str(folder))
    return folder
