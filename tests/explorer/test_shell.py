"""The command in a shell, as a process of its own: promises to the user for how a shell ends or hinders it."""

from __future__ import annotations

import os
import shutil
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from engine.formats.front import write_run
from engine.formats.scenario import demo_scenarios
from engine.search.runs import Run
from explorer.demo_fronts import folder_of, stored_front
from tests.explorer.test_as_built import files as design_and_sweep
from tests.explorer.test_cli import DESIGN, wedgefront

ROOT = Path(__file__).parents[2]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}
COMMAND = [sys.executable, "-m", "explorer.entry"]
FOUND = "found"
FEW = ("--evaluations", "2000")

# Every command in a form that takes little time, OUT where it writes to.
COMMANDS = {
    "evaluate": ("evaluate", "box.toml"),
    "search": ("search", "van-bench", *FEW, "--out", "OUT"),
    "catalogue": ("catalogue", "van-bench", "--drivers", "drivers.csv", *FEW, "--workers", "1", "--out", "OUT"),
    "compare": ("compare", str(folder_of("roadster"))),
    "price": ("price", "van-bench", *FEW),
    "sure": ("sure", "van-bench", FOUND, "--out", "OUT/sure.csv"),
    "wish": ("wish", FOUND, "--more", "level_40_hz"),
    "sheet": ("sheet", "van-bench", FOUND, "D0001", "--out", "OUT"),
    "build": ("build", FOUND, "D0317", "--out", "OUT"),
    "listen": ("listen", "van-bench", FOUND, "D0001", "--out", "OUT"),
    "check": ("check", "box.toml", "sweep.csv"),
}
WRITING = [name for name, arguments in COMMANDS.items() if any(part.startswith("OUT") for part in arguments)]
EARLY = ["evaluate", "search", "build"]  # for what is refused before a command is looked at
QUICK = ["evaluate", "compare", "wish", "check"]  # that write nothing and take a second or two


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the commands read."""
    made = tmp_path_factory.mktemp("read")
    design_and_sweep(made)
    (made / "box.toml").write_text(DESIGN, encoding="utf-8")
    (made / "drivers.csv").write_text(CATALOGUE, encoding="utf-8")
    # Of a front as few designs as it takes: a whole one is judged for a minute.
    stored = stored_front("van-bench")
    few = stored.front[(stored.front.index < 8) | stored.front["id"].isin(["D0001", "D0317"])].reset_index(drop=True)
    (made / "found").mkdir()
    write_run(Run(few, stored.left_out, {**stored.record, "designs": len(few)}), made / "found")
    return made


@pytest.fixture
def folder(read: Path, tmp_path: Path) -> Path:
    """A working folder with all that."""
    return Path(shutil.copytree(read, tmp_path, dirs_exist_ok=True))


CATALOGUE = """\
name,counts,fs,qes,qms,vas,sd,re,le,xmax,rated_power,coils,coil_impedance,outer_diameter,cutout_diameter,magnet_diameter,mounting_depth,displacement,mass
shallow one,1,32 Hz,0.511,5.2,29.4 L,350 cm^2,3.4 ohm,1.1 mH,10 mm,300 W,1,4 ohm,262 mm,232 mm,140 mm,86 mm,1.2 L,3 kg
"""


def arguments_of(name: str, out: str = "out") -> list[str]:
    return [part.replace("OUT", out) for part in COMMANDS[name]]


def run(*arguments: str, cwd: Path, shell: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """A command; ``shell`` is what stands behind it in the shell's own language."""
    line = ["bash", "-c", f'"$@" {shell}', "-", *COMMAND, *arguments]
    asked = {**ENVIRONMENT, **environment}
    return subprocess.run(line, capture_output=True, cwd=cwd, env=asked, text=True, check=False)


def listed(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def one_line(text: str) -> str:
    """The one line that says what is wrong; how far a search came stands before it."""
    (line,) = [line for line in text.splitlines() if line.startswith("wedgefront")]
    assert "Traceback" not in text
    assert "Exception ignored" not in text
    return line


@pytest.mark.parametrize("name", COMMANDS)
def test_a_full_output_is_one_line_and_files_are_whole(name: str, folder: Path) -> None:
    before = listed(folder)
    done = run(*arguments_of(name), cwd=folder, shell=">/dev/full")
    assert done.returncode == 2
    assert one_line(done.stderr) == "wedgefront: the output cannot be written: No space left on device"
    assert {name: content for name, content in listed(folder).items() if name in before} == before
    assert not [path for path in folder.rglob("*") if path.name.startswith(".") or path.name.endswith(".part")]


@pytest.mark.parametrize("name", EARLY)
def test_a_closed_output_is_refused_before_anything_is_done(name: str, folder: Path) -> None:
    before = listed(folder)
    done = run(*arguments_of(name), cwd=folder, shell=">&-")
    assert done.returncode == 2
    assert "the output is closed" in one_line(done.stderr)
    assert done.stderr.count("\n") == 1
    assert listed(folder) == before


@pytest.mark.parametrize("name", [*QUICK, "search", "sheet"])
def test_a_reader_that_goes_ends_it_quietly(name: str, folder: Path) -> None:
    """As a shell has it: the status of a broken pipe, and nothing said."""
    done = run(*arguments_of(name), cwd=folder, shell='| true; exit "${PIPESTATUS[0]}"')
    assert done.returncode == 128 + signal.SIGPIPE
    assert not [line for line in done.stderr.splitlines() if not line.startswith("Searching")]


@pytest.mark.parametrize("arguments", [("--help",), ("search", "--help"), ("--version",)])
def test_help_that_nobody_takes(arguments: tuple[str, ...], folder: Path) -> None:
    assert run(*arguments, cwd=folder, shell='| true; exit "${PIPESTATUS[0]}"').returncode in (0, 128 + signal.SIGPIPE)
    full = run(*arguments, cwd=folder, shell=">/dev/full")
    assert (full.returncode, full.stderr.count("\n")) == (2, 1)


@pytest.mark.parametrize("name", ["evaluate", "search", "sheet"])
def test_nobody_to_tell_what_is_wrong(name: str, folder: Path) -> None:
    """Without a place for errors the work is done all the same, and its files hold nothing of what was to be said."""
    done = run(*arguments_of(name), cwd=folder, shell="2>&- <&-")
    assert (done.returncode, done.stderr) == (0, "")
    assert not [name for name, content in listed(folder).items() if b"Searching;" in content]
    assert run("evaluate", "nothing.toml", cwd=folder, shell="2>&-").returncode == 2
    assert run("evaluate", "nothing.toml", cwd=folder, shell="2>/dev/full").returncode == 2


@pytest.mark.parametrize("name", EARLY)
def test_a_working_folder_that_is_gone_is_said(name: str, folder: Path) -> None:
    (folder / "gone").mkdir()
    line = ["bash", "-c", 'cd gone && rmdir ../gone && exec "$@"', "-", *COMMAND, *arguments_of(name)]
    done = subprocess.run(line, cwd=folder, env=ENVIRONMENT, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "is not there any more" in one_line(done.stderr)


@pytest.mark.parametrize("name", COMMANDS)
def test_an_empty_path_is_refused(name: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not taken for the working folder."""
    monkeypatch.chdir(folder)
    before = listed(folder)
    arguments = ["" if part.startswith("OUT") else part for part in COMMANDS[name]]
    if name not in WRITING:
        arguments[1] = ""
    done = wedgefront(*arguments)
    assert done.returncode == 2
    assert "is empty" in one_line(done.stderr)
    assert listed(folder) == before


ODD = {
    "COLUMNS=0": {"COLUMNS": "0"}, "COLUMNS=1": {"COLUMNS": "1"}, "COLUMNS=-3": {"COLUMNS": "-3"},
    "COLUMNS=x": {"COLUMNS": "x", "LINES": "y"}, "COLUMNS=10^9": {"COLUMNS": str(10**9), "LINES": "0"},
    "no language": {"LANG": "", "LC_ALL": "C"}, "no such language": {"LC_ALL": "xx_XX.UTF-8"},
    "ASCII": {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}, "no terminal": {"TERM": ""},
    "odd terminal": {"TERM": "\x1b[31m"}, "no colour": {"NO_COLOR": "1"},
    "no home": {"HOME": "/nonexistent", "XDG_CACHE_HOME": ""}, "no temporary folder": {"TMPDIR": "/nonexistent"},
    "odd clock": {"TZ": "../../etc/passwd"}, "no threads": {"WEDGEFRONT_THREADS": "none"},
    "minus threads": {"WEDGEFRONT_THREADS": "-4"}, "no state": {"WEDGEFRONT_STATE": ""},
    "warnings": {"PYTHONWARNINGS": "error"},
}  # fmt: skip


@pytest.mark.parametrize("kind", ODD)
def test_odd_surroundings_change_nothing_of_what_it_says(kind: str, folder: Path) -> None:
    """The same figures, whatever the environment says; only where lines end may differ."""
    usual = wedgefront("evaluate", folder / "box.toml")
    done = run(*arguments_of("evaluate"), cwd=folder, **ODD[kind])
    assert done.returncode == 0, done.stderr
    assert [line for line in done.stderr.splitlines() if not line.startswith("bash: warning")] == []
    if kind not in ("ASCII", "no language", "no such language"):
        assert sorted("".join(done.stdout.split())) == sorted("".join(usual.stdout.split()))
    if kind.startswith("COLUMNS"):
        helped = run("--help", cwd=folder, **ODD[kind])
        assert (helped.returncode, helped.stderr) == (0, "")


# Where files are to go, and what is in the way there: within this process, as no shell has a part in it.


def test_what_others_put_there_is_replaced_only_when_asked(folder: Path) -> None:
    """Each command that writes, each of its files: somebody's own, one that is locked, a link, a folder, a pipe."""
    made: dict[str, list[str]] = {}
    for name in ("search", "sure", "sheet", "build", "listen"):
        done = wedgefront(*arguments_of(name, f"first {name}"), cwd=folder)
        assert done.returncode == 0, done.stderr
        made[name] = sorted(listed(folder / f"first {name}"))
        again = wedgefront(*arguments_of(name, f"first {name}"), cwd=folder)
        assert again.returncode == 0, again.stderr  # what it wrote itself is no hindrance


def _somebody_s(path: Path, folder: Path) -> None:
    path.write_text("mine")


def _locked(path: Path, folder: Path) -> None:
    path.write_text("mine")
    path.chmod(0o444)


def _link(path: Path, folder: Path) -> None:
    (folder / "elsewhere").write_text("mine")
    path.symlink_to(folder / "elsewhere")


def _dangling(path: Path, folder: Path) -> None:
    path.symlink_to(folder / "nowhere")


def _pipe(path: Path, folder: Path) -> None:
    os.mkfifo(path)


IN_THE_WAY = {each.__name__.strip("_"): each for each in (_somebody_s, _locked, _link, _dangling, _pipe)}
FILES = {
    "search": "run.json", "catalogue": "job.toml", "sure": "sure.csv", "build": "box.json", "listen": "D0001.wav",
    "sheet": "thin-wedge-behind-a-van-s-bench.pdf",
}  # fmt: skip


def as_it_is(place: Path) -> tuple[int, ...]:
    """What tells whether something was changed or replaced; not when it was read."""
    about = place.lstat()
    return about.st_mode, about.st_ino, about.st_size, about.st_mtime_ns


TAKEN = [(name, kind) for name in WRITING for kind in (IN_THE_WAY if name == "sheet" else ("somebody_s", "link"))]


@pytest.mark.parametrize(("name", "kind"), TAKEN)
def test_a_place_that_is_taken_is_left_as_it_is(name: str, kind: str, folder: Path) -> None:
    out = folder / "out"
    out.mkdir()
    place = out / FILES[name]
    IN_THE_WAY[kind](place, folder)
    before, about = list(out.iterdir()), as_it_is(place)
    done = wedgefront(*arguments_of(name), cwd=folder)
    assert done.returncode == 2
    assert "--replace" in one_line(done.stderr)
    assert (list(out.iterdir()), as_it_is(place)) == (before, about)


@pytest.mark.parametrize("name", ["search", "sheet", "listen", "sure"])
def test_asked_to_it_replaces_the_link_and_not_what_it_leads_to(name: str, folder: Path) -> None:
    out = folder / "out"
    out.mkdir()
    place = out / FILES[name]
    _link(place, folder)
    done = wedgefront(*arguments_of(name), "--replace", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert (folder / "elsewhere").read_text() == "mine"
    assert stat.S_ISREG(place.lstat().st_mode)


@pytest.mark.parametrize("name", WRITING)
def test_a_folder_in_the_place_of_a_file_is_refused(name: str, folder: Path) -> None:
    (folder / "out" / FILES[name]).mkdir(parents=True)
    for more in ((), ("--replace",)):
        done = wedgefront(*arguments_of(name), *more, cwd=folder)
        assert done.returncode == 2
        assert FILES[name] in one_line(done.stderr)
        assert list((folder / "out").rglob("*")) == [folder / "out" / FILES[name]]


@pytest.mark.parametrize("name", ["search", "sure", "build"])
@pytest.mark.parametrize("out", ["box.toml", "box.toml/in it", "/proc/wedgefront", "/dev/null", "dangling", "x" * 300])
def test_a_place_that_takes_nothing_is_refused(name: str, out: str, folder: Path) -> None:
    (folder / "dangling").symlink_to(folder / "nowhere")
    before = listed(folder)
    done = wedgefront(*arguments_of(name, out), cwd=folder)
    assert done.returncode == 2
    one_line(done.stderr)
    assert listed(folder) == before
    assert not (folder / "nowhere").exists()


# Signals.

# The process sends itself a signal before its n-th event of a kind: at any time, and yet at the same each time.
AT_AN_EVENT = """
import os, signal, sys
number, kinds, at = getattr(signal, sys.argv[1]), tuple(sys.argv[2].split(",")), int(sys.argv[3])
seen = 0
def hear(event, _arguments):
    global seen
    if event.startswith(kinds):
        seen += 1
        if seen == at:
            os.kill(os.getpid(), number)
from explorer import entry
if at:
    sys.addaudithook(hear)
else:
    counted = 0
    def count(event, _arguments):
        global counted
        counted += event.startswith(kinds)
    sys.addaudithook(count)
sys.argv = ["wedgefront", *sys.argv[4:]]
status = entry.main()
if not at:
    print(f"events: {counted}", file=sys.stderr)
sys.exit(status)
"""
WRITES = "os.rename,os.mkdir,os.remove,os.rmdir,tempfile,os.chmod,shutil"
SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")


def at_an_event(
    name: str, number: str, kinds: str, at: int, folder: Path, out: str = "out"
) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-c", AT_AN_EVENT, number, kinds, str(at), *arguments_of(name, out)]
    return subprocess.run(line, cwd=folder, env=ENVIRONMENT, capture_output=True, text=True, check=False)


def events(name: str, kinds: str, folder: Path) -> int:
    done = at_an_event(name, "SIGTERM", kinds, 0, folder, out="whole")
    assert done.returncode == 0, done.stderr
    return int(done.stderr.rpartition("events: ")[2])


def check_end(done: subprocess.CompletedProcess[str], number: str, out: Path, whole: set[str]) -> None:
    """The signal's status, one line, and in the folder all or nothing."""
    assert done.returncode == 128 + getattr(signal, number)
    line = one_line(done.stderr)
    there = {name for name in listed(out) if not name.startswith(".wedgefront.lock")} if out.exists() else set()
    assert there in (set(), whole), (line, there)
    assert line == (
        "wedgefront: stopped; what was written is whole" if there else "wedgefront: stopped; nothing written"
    )


@pytest.mark.parametrize("number", SIGNALS)
def test_a_signal_at_any_time_of_loading_is_one_line(number: str, folder: Path) -> None:
    """Before modules are there, while they are loaded, while files are read: at places spread over all."""
    total = events("evaluate", "import,open,exec,compile", folder)
    for at in sorted({1, 2, *(1 + each * (total - 1) // 5 for each in range(6))}):
        done = at_an_event("evaluate", number, "import,open,exec,compile", at, folder)
        assert done.returncode == 128 + getattr(signal, number), (at, done.stderr)
        assert done.stderr.splitlines()[-1] == "wedgefront: stopped; nothing written"
        assert done.stderr.count("\n") == 1, (at, done.stderr)


@pytest.mark.parametrize("name", ["search", "sheet", "listen", "sure", "build"])
def test_a_signal_at_each_step_of_writing_leaves_all_or_nothing(name: str, folder: Path) -> None:
    """Before file operations of a command's own, the first and the last among them, by turns with each signal."""
    total = events(name, WRITES, folder)
    whole = {name for name in listed(folder / "whole") if not name.startswith(".wedgefront.lock")}
    assert total >= 2  # the folder and a file; more where the compiler's own files are among them
    for at in sorted({1, 2, total // 2, total - 1, total}):
        number = SIGNALS[at % 2 + 1] if name == "search" else SIGNALS[at % 3]
        out = folder / f"out {at}"
        check_end(at_an_event(name, number, WRITES, at, folder, out=out.name), number, out, whole)


def test_a_signal_that_the_starter_ignores_stays_ignored(folder: Path) -> None:
    """As nohup and shells want it of what runs on behind them."""
    for number in SIGNALS:
        line = f"trap '' {number}; exec {sys.executable} -c \"$CODE\" {number} import,open 40 evaluate box.toml"
        done = subprocess.run(
            ["bash", "-c", line], cwd=folder, env={**ENVIRONMENT, "CODE": AT_AN_EVENT}, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, "")


def test_the_first_interrupt_keeps_what_was_found_and_the_second_ends_it(folder: Path) -> None:
    """A search that is told so by the line it prints, and is asked again by the line that it answers with."""
    arguments = ["search", "van-bench", "--evaluations", "100000000", "--out", "out"]
    for times, status in ((1, 0), (2, 128 + signal.SIGINT)):
        with subprocess.Popen(
            [*COMMAND, *arguments],
            cwd=folder,
            env=ENVIRONMENT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stderr is not None
            said = ""
            for line in process.stderr:
                said += line
                if "%" in line and "Stopping" not in said:
                    process.send_signal(signal.SIGINT)
                    break
            for line in process.stderr:
                said += line
                if "Stopping" in line and times == 2:
                    process.send_signal(signal.SIGINT)
            assert process.stdout is not None
            process.stdout.read()
            # The second may come when all is done already.
            assert process.wait() in (status, 0)
        assert "Traceback" not in said
        assert "Stopping; what was found so far is kept." in said
    assert sorted(listed(folder / "out")) == ["front.csv", "left_out.csv", "run.json"]


def test_demo_jobs_are_there() -> None:
    """What the commands above are asked of."""
    assert {"van-bench", "roadster"} <= set(demo_scenarios())
