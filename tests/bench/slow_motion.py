"""What slow motion costs and how true it is: python tests/bench/slow_motion.py (about four minutes).

Speed: a quarter of full speed at 1920 x 1080, frames a second out of the program and out of FFmpeg's minterpolate
(motion compensated, as it is by default), in turn, by the clock and by processor time; medians of paired ratios.
They hold for each other within one run, not for another machine.

Truth: moving scenes are drawn at 240 frames a second; every fourth picture goes into a recording of 60, and the three
between are made anew and compared with those left out, by FFmpeg's psnr and ssim filters on luma. Pictures that are
recorded ones are not counted, nor those at the ends, where minterpolate gives none.
"""

from __future__ import annotations

import math
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from statistics import median

import av
import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

from sample_media.recipe import camera, clock  # noqa: E402
from sample_media.recipe.circuit import circuit  # noqa: E402
from sample_media.recipe.driver import drive  # noqa: E402
from sample_media.recipe.picture import Artist  # noqa: E402
from syncview.media.planes import plane_rows  # noqa: E402
from syncview.media.reading import FrameReader  # noqa: E402
from syncview.media.recording import Recording, open_recording  # noqa: E402
from syncview.media.slow_pictures import Method, Moment, PictureCounts, retimed  # noqa: E402
from tests.media_samples import make_clip  # noqa: E402

REPEATS = 3
BETWEEN = 4
"""Pictures drawn for each one that is recorded."""
RATE = Fraction(60)
Picture = NDArray[np.uint8]
Planes = list[Picture]


# Scenes: RGB pictures at 240 a second.


def onboard(place_m: float, count: int) -> list[Picture]:
    """The sample's own view of its invented circuit, from a place on the second lap on."""
    run = drive()
    frames = clock.frame_count(float(run.log_s[-1]))
    log_s = clock.frame_log_s(frames)
    poses = camera.poses(run, log_s)
    first = int(np.argmin(np.abs(run.at("station_m", log_s) - circuit().length_m - place_m)))
    known = np.arange(first - 4, first + count // BETWEEN + 5)
    fine = first + np.arange(count) / BETWEEN
    between = camera.Poses(
        *(CubicSpline(known, getattr(poses, field.name)[known])(fine) for field in fields(camera.Poses))
    )
    artist = Artist(run)
    return [artist.frame(between, number) for number in range(count)]


def turning(count: int, size: tuple[int, int] = (640, 360)) -> list[Picture]:
    """A cloudy and grainy texture that passes by at 1200 px/s and turns at 60 degrees a second."""
    draw = np.random.default_rng(3)
    texture = np.zeros((1400, 1400, 3), dtype=np.float32)
    for spread_px in (1, 3, 9, 30):
        grain = draw.normal(0, 1, texture.shape).astype(np.float32)
        texture += spread_px**1.3 * cv2.GaussianBlur(grain, (0, 0), spread_px)
    texture = np.interp(texture, (texture.min(), texture.max()), (10, 245)).astype(np.uint8)
    pictures = []
    for number in range(count):
        time_s = number / 240 - count / 480
        angle = math.radians(60 * time_s)
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        middle = np.array([700 + 1200 * time_s, 700 + 240 * time_s])
        matrix = np.column_stack([turn, middle - turn @ np.array([size[0] / 2, size[1] / 2])])
        how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        pictures.append(np.asarray(cv2.warpAffine(texture, matrix, size, flags=how), dtype=np.uint8))
    return pictures


def plain(count: int, size: tuple[int, int], speed_mps: float) -> list[Picture]:
    """A grainy plane that is driven over under a sky: near the lower edge it moves by a good part of the picture."""
    width, height = size
    scale = height / 1080
    horizon = round(480 * scale)
    drop = (np.arange(1, height - horizon + 1) / (900 * scale))[:, None]
    aside = ((np.arange(width) - width / 2) / (900 * scale))[None, :] / drop
    draw = np.random.default_rng(6)
    texture = cv2.GaussianBlur(draw.integers(0, 255, (2048, 2048, 3), dtype=np.uint8), (0, 0), 2.0)
    texture = np.interp(texture, (texture.min(), texture.max()), (40, 200)).astype(np.uint8)
    sky = np.linspace((120, 160, 220), (200, 215, 230), horizon)[:, None, :] * np.ones((1, width, 1))
    pictures = []
    for number in range(count):
        ahead_m = 1.2 / drop + speed_mps * number / 240 + 0 * aside
        texels = ((aside * 40 % 2048).astype(np.float32), (ahead_m * 40 % 2048).astype(np.float32))
        ground = cv2.remap(texture, *texels, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        pictures.append(np.vstack([sky.astype(np.uint8), ground]))
    return pictures


# Truth.


def as_planes(picture: Picture) -> Planes:
    """Luma and chroma as they are recorded: BT.709, limited range, 4:2:0."""
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
    coded = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
    return [plane.copy() for plane in plane_rows(coded)]


def write_raw(path: Path, pictures: Sequence[Planes]) -> None:
    """Samples one after another, as FFmpeg's rawvideo."""
    path.write_bytes(b"".join(plane.tobytes() for planes in pictures for plane in planes))


def raw_input(path: Path, size: tuple[int, int]) -> list[str]:
    """FFmpeg's options for reading what `write_raw` wrote."""
    form = ["-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", f"{size[0]}x{size[1]}", "-r", str(RATE)]
    return [*form, "-i", str(path)]


def made_by_program(recording: Recording, count: int, method: Method) -> list[Planes]:
    """The pictures at 240 a second."""
    step_s = 1 / (RATE * BETWEEN)
    with FrameReader(recording) as reader:
        frames = retimed(reader, (Moment(number * step_s, method) for number in range(count)))
        return [[plane.copy() for plane in plane_rows(frame)] for frame in frames]


def made_by_minterpolate(path: Path, size: tuple[int, int]) -> list[Planes]:
    """The pictures at 240 a second; it leaves out the last few."""
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-vf", f"minterpolate=fps={RATE * BETWEEN}:mi_mode=mci"]
    raw = subprocess.run([*command, "-f", "rawvideo", "-"], check=True, capture_output=True).stdout
    width, height = size
    luma, chroma = width * height, width * height // 4
    pictures = np.frombuffer(raw, dtype=np.uint8).reshape(-1, luma + 2 * chroma)
    cuts = (0, luma, luma + chroma, luma + 2 * chroma)
    return [[picture[a:b] for a, b in pairwise(cuts)] for picture in pictures]


def judged(folder: Path, made: Sequence[Planes], truth: Sequence[Planes], size: tuple[int, int]) -> tuple[float, float]:
    """SSIM and PSNR of luma, by ffmpeg."""
    write_raw(folder / "made.yuv", made)
    write_raw(folder / "truth.yuv", truth)
    inputs = [*raw_input(folder / "made.yuv", size), *raw_input(folder / "truth.yuv", size)]
    found = []
    for name, pattern in (("ssim", r"SSIM Y:([\d.]+)"), ("psnr", r"PSNR y:([\d.]+|inf)")):
        command = ["ffmpeg", "-hide_banner", *inputs, "-lavfi", f"[0:v][1:v]{name}", "-f", "null", "-"]
        text = subprocess.run(command, check=True, capture_output=True, text=True).stderr
        match = re.search(pattern, text)
        assert match is not None, text
        found.append(float(match[1]))
    return found[0], found[1]


def truth_table(folder: Path) -> None:
    """Print how near each method comes to the pictures left out."""
    small = (640, 360)
    boards_m, kerb_m, exit_m = _places()
    scenes: list[tuple[str, tuple[int, int], Callable[[], list[Picture]]]] = [
        ("onboard, straight with boards", small, lambda: onboard(boards_m, 33)),
        ("onboard, apex with kerb", small, lambda: onboard(kerb_m, 33)),
        ("onboard, corner exit", small, lambda: onboard(exit_m, 33)),
        ("turning texture", small, lambda: turning(33)),
        ("plain at 25 m/s", small, lambda: plain(33, small, 25)),
        ("plain at 50 m/s", small, lambda: plain(33, small, 50)),
        ("plain at 25 m/s, 1920 x 1080", (1920, 1080), lambda: plain(17, (1920, 1080), 25)),
    ]
    print(f"{'SSIM and PSNR (dB) of luma':32s} {'minterpolate':>16s} {'blend':>16s} {'flow':>16s}   goal")
    for title, size, draw in scenes:
        truth = [as_planes(picture) for picture in draw()]
        write_raw(folder / "recorded.yuv", truth[::BETWEEN])
        clip = folder / "recorded.mkv"
        coding = ["-c:v", "ffv1", str(clip)]
        subprocess.run(["ffmpeg", "-v", "error", "-y", *raw_input(folder / "recorded.yuv", size), *coding], check=True)
        recording = open_recording(clip)
        made = {
            "minterpolate": made_by_minterpolate(clip, size),
            "blend": made_by_program(recording, len(truth), "blend"),
            "flow": made_by_program(recording, len(truth), "flow"),
        }
        counted = [number for number in range(BETWEEN, len(made["minterpolate"])) if number % BETWEEN]
        found = {
            name: judged(folder, [pictures[k] for k in counted], [truth[k] for k in counted], size)
            for name, pictures in made.items()
        }
        is_met = all(
            own >= other and own > mixed
            for own, other, mixed in zip(found["flow"], found["minterpolate"], found["blend"], strict=True)
        )
        figures = " ".join(f"{ssim:8.4f} {psnr:7.2f}" for ssim, psnr in found.values())
        print(f"{title:32s} {figures}   {'met' if is_met else 'MISSED'}", flush=True)


def _places() -> tuple[float, float, float]:
    track = circuit()
    return track.boards[0].station_m - 40, track.corners[0].apex_m - 10, track.corners[1].exit_m - 10


# Speed.


@dataclass(frozen=True, slots=True)
class Cost:
    """What a frame out took."""

    wall_s: float
    work_s: float


def program_cost(recording: Recording, count: int, method: Method) -> Cost:
    """Quarter speed through the program, the opening of the file left out."""
    counts = PictureCounts()
    moments = [Moment(Fraction(number, 240), method) for number in range(count)]
    wall_s, work_s = time.perf_counter(), time.process_time()
    with FrameReader(recording) as reader:
        for _frame in retimed(reader, moments, counts=counts):
            pass
    if method == "flow":
        assert counts.flowed == count * (BETWEEN - 1) // BETWEEN, counts
    return Cost((time.perf_counter() - wall_s) / count, (time.process_time() - work_s) / count)


def filter_cost(path: Path, count: int) -> Cost:
    """Quarter speed through ffmpeg's filter."""
    slow = f"setpts={BETWEEN}*PTS,minterpolate=fps={RATE}:mi_mode=mci"
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-vf", slow, "-frames:v", str(count), "-an", "-f", "null", "-"]
    wall_s, work_s = time.perf_counter(), _children_s()
    subprocess.run(command, check=True)
    return Cost((time.perf_counter() - wall_s) / count, (_children_s() - work_s) / count)


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def speed_table(folder: Path) -> None:
    """Print frames a second at 1920 x 1080."""
    pictures = plain(45, (1920, 1080), 25 * BETWEEN)
    clip = make_clip(
        folder / "clip.mp4",
        frame_count=45,
        rate=RATE,
        size=(1920, 1080),
        painter=lambda number, _time_s: pictures[number],
        quality="21",
    )
    recording = open_recording(clip)
    costs: dict[str, list[Cost]] = {name: [] for name in ("minterpolate", "flow", "blend", "repeat")}
    for _ in range(REPEATS):
        costs["minterpolate"].append(filter_cost(clip, 20))
        costs["flow"].append(program_cost(recording, 100, "flow"))
        costs["blend"].append(program_cost(recording, 160, "blend"))
        costs["repeat"].append(program_cost(recording, 160, "repeat"))
    print(f"\n{'quarter speed, 1920 x 1080':28s} {'frames/s':>9s} {'CPU ms':>8s}   {'to minterpolate: speed, CPU':s}")
    for name, found in costs.items():
        pairs = list(zip(costs["minterpolate"], found, strict=True))
        speed = median(base.wall_s / own.wall_s for base, own in pairs)
        work = median(base.work_s / own.work_s for base, own in pairs)
        fps, work_ms = 1 / median(own.wall_s for own in found), 1000 * median(own.work_s for own in found)
        print(f"{name:28s} {fps:9.1f} {work_ms:8.1f}   {speed:7.1f} {work:7.1f}", flush=True)


def main() -> None:
    """Print both tables, or with an argument "truth" or "speed" one of them."""
    with tempfile.TemporaryDirectory() as scratch:
        if "speed" not in sys.argv[1:]:
            truth_table(Path(scratch))
        if "truth" not in sys.argv[1:]:
            speed_table(Path(scratch))


if __name__ == "__main__":
    main()
