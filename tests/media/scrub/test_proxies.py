"""Small pictures on disk: the process that makes them, and what becomes of its files."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from syncview.media.recording import Recording
from tests.media.scrub.shown import WAIT_S, Shown, read_bars, shown

ROOT = Path(__file__).parents[3]


def files(folder: Path) -> list[Path]:
    return sorted(folder.glob("*/*.small"))


def child_of(own: Shown) -> subprocess.Popen[bytes]:
    end = time.monotonic() + WAIT_S
    while own.source._builder is None or own.source._builder._process is None:
        assert time.monotonic() < end
        time.sleep(0.01)
    return own.source._builder._process


def children() -> list[str]:
    """Processes of this one, zombies too."""
    return Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()


def test_every_frame_is_answered_exactly_from_disk(long_groups: Recording, tmp_path: Path) -> None:
    with shown(long_groups, folder=tmp_path, memory_bytes=0) as own:
        own.wait_for_proxies()
        for number in (0, 239, 60, 59, 100, 161):
            came = own.answers(number)
            assert len(came) == 1
            assert came[0].is_proxy
            assert read_bars(came[0].rgb) == number
    with shown(long_groups, folder=tmp_path) as again:
        again.wait_for_proxies()  # those made before serve at once
        playing = again.source.play(Fraction(0))
        while (picture := playing.picture(Fraction(1))) is None or picture.number < 30:
            time.sleep(0.002)
        assert read_bars(picture.rgb) == 30


@pytest.mark.parametrize("harm", ["cut", "flip", "empty", "gone"])
def test_spoilt_files_are_made_again(long_groups: Recording, tmp_path: Path, harm: str) -> None:
    with shown(long_groups, folder=tmp_path) as own:
        own.wait_for_proxies()
    for path in files(tmp_path):
        data = path.read_bytes()
        changed = {
            "cut": data[: len(data) // 2],
            "flip": data[:-900] + bytes([data[-900] ^ 1]) + data[-899:],
            "empty": b"",
        }
        path.unlink() if harm == "gone" else path.write_bytes(changed[harm])
    before = {path: path.stat().st_mtime_ns for path in files(tmp_path)}
    with shown(long_groups, folder=tmp_path, memory_bytes=0) as own:
        for number in (239, 119, 1, 180):
            assert read_bars(own.answers(number)[-1].rgb) == number
        own.wait_for_proxies()
        end = time.monotonic() + WAIT_S
        while not own.answers(239)[0].is_proxy:
            assert time.monotonic() < end
        assert files(tmp_path)
        assert all(before.get(path) != path.stat().st_mtime_ns for path in files(tmp_path) if "frames-" in path.name)


def test_the_folder_stays_within_its_budget(long_groups: Recording, tmp_path: Path) -> None:
    with shown(long_groups, folder=tmp_path) as own:
        own.wait_for_proxies()
    whole = sum(path.stat().st_size for path in files(tmp_path))
    largest = max(path.stat().st_size for path in files(tmp_path))
    assert len(files(tmp_path)) >= 3
    budget = whole - largest // 2
    folder = tmp_path / "small"
    with shown(long_groups, folder=folder, proxy_bytes=budget) as own:
        end = time.monotonic() + WAIT_S
        while len(files(folder)) < 2:
            assert time.monotonic() < end
            time.sleep(0.02)
        for number in (230, 2, 230):
            assert read_bars(own.answers(number)[-1].rgb) == number
            time.sleep(0.3)
            assert sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) <= budget


def test_a_process_that_dies_is_started_again(long_groups: Recording, tmp_path: Path) -> None:
    with shown(long_groups, folder=tmp_path) as own:
        first = child_of(own)
        first.kill()
        own.wait_for_proxies()
        assert child_of(own).pid != first.pid
        assert own.faults.empty()
    assert own.source.proxy_share == 1


def test_a_process_that_keeps_dying_is_told(
    long_groups: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("syncview.media.scrub.proxy_builder._MODULE", "this")  # prints a poem and ends
    with shown(long_groups, folder=tmp_path) as own:
        fault = own.faults.get(timeout=WAIT_S)
        assert "keeps ending" in fault.problem
        assert read_bars(own.answers(100)[-1].rgb) == 100


def test_a_folder_that_cannot_be_written_is_told(long_groups: Recording, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with shown(long_groups, folder=tmp_path / "taken") as own:
        fault = own.faults.get(timeout=WAIT_S)
        assert "small pictures cannot be kept there" in fault.problem
        assert fault.remedy
        assert read_bars(own.answers(100)[-1].rgb) == 100


def test_a_process_that_never_listens_does_not_hold_up_pictures_or_closing(
    long_groups: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "deaf.py").write_text("import time\ntime.sleep(600)\n")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr("syncview.media.scrub.proxy_builder._MODULE", "deaf")
    index = long_groups.frames
    filler = "x" * (1 << 20)  # more than a pipe takes, as the index of an hour is
    with shown(replace(long_groups, notes=(filler,)), folder=tmp_path / "small") as own:
        deaf = child_of(own)
        for number in (10, 200, len(index) - 1):
            assert read_bars(own.answers(number)[-1].rgb) == number
        begin_s = time.monotonic()
    assert time.monotonic() - begin_s < WAIT_S / 2
    assert deaf.poll() is not None


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs the proc file system")
def test_no_process_is_left_after_closing(long_groups: Recording, tmp_path: Path) -> None:
    before = set(children())
    with shown(long_groups, folder=tmp_path) as own:
        child_of(own)
    assert set(children()) <= before


@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal of Unix")
def test_the_process_ends_when_the_program_is_killed(long_groups: Recording, tmp_path: Path) -> None:
    program = (
        "import sys, time\nfrom pathlib import Path\n"
        "from syncview.media.recording import open_recording\n"
        "from syncview.media.scrub.scrub_source import ScrubSource\n"
        "nothing = lambda _: None\n"
        "s = ScrubSource(open_recording(Path(sys.argv[1])), on_picture=nothing, on_fault=nothing,"
        " proxy_folder=Path(sys.argv[2]))\n"
        "while s._builder._process is None: time.sleep(0.01)\n"
        "print(s._builder._process.pid, flush=True)\ntime.sleep(60)\n"
    )
    command = [sys.executable, "-c", program, str(long_groups.path), str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as parent:
        assert parent.stdout is not None
        child = int(parent.stdout.readline())
        parent.send_signal(signal.SIGKILL)
    end = time.monotonic() + WAIT_S
    while is_alive(child):
        assert time.monotonic() < end, "the process outlived the program"
        time.sleep(0.05)


def is_alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"  # nobody collects it here, where the first process does not
