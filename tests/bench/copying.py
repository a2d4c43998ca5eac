"""What is saved by not coding again: python -m tests.bench.copying (about four minutes).

One 1080p60 clip, all in one run and in turn; figures are medians of paired ratios and hold for each other, not for
another machine. Copies are measured per frame against a plain PyAV transcode with the settings for sending.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from statistics import median

import av

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

from syncview.media.caption_stream import CaptionTrack  # noqa: E402
from syncview.media.cut_plan import plan_cut  # noqa: E402
from syncview.media.edge_cut import cut_clip  # noqa: E402
from syncview.media.encoders import WEB, PictureShape  # noqa: E402
from syncview.media.film_writer import FilmWriter  # noqa: E402
from syncview.media.reading import FrameReader  # noqa: E402
from syncview.media.recording import Recording, open_recording  # noqa: E402
from syncview.media.segments import SegmentedFilm  # noqa: E402
from syncview.media.stream_copy import CopyExtras, copy_span  # noqa: E402
from syncview_codecs.captions.cue import Cue  # noqa: E402
from syncview_codecs.chapters.chapter import Chapter  # noqa: E402
from tests.bench.render import plain_transcode, road  # noqa: E402
from tests.media_samples import SoundTrack, make_clip  # noqa: E402

REPEATS = 3
FRAMES, KEY_STEP, LOOPS = 180, 60, 20
"""Frames of the clip that is made, its key frames, and how often it is strung together for the long one."""


def measured(runs: dict[str, Callable[[], object]]) -> tuple[dict[str, list[float]], dict[str, list[float]]]:
    """Seconds and processor seconds of each, run in turn forwards and backwards."""
    seconds: dict[str, list[float]] = {name: [] for name in runs}
    work: dict[str, list[float]] = {name: [] for name in runs}
    for repeat in range(REPEATS):
        for name in runs if repeat % 2 == 0 else reversed(runs):
            begin, begin_work = time.perf_counter(), time.process_time()
            runs[name]()
            seconds[name].append(time.perf_counter() - begin)
            work[name].append(time.process_time() - begin_work)
    return seconds, work


def ratio(above: list[float], below: list[float], share: float = 1.0) -> float:
    """Median of paired ratios, of which the upper does `share` of the lower's frames."""
    return median(a / share / b for a, b in zip(above, below, strict=True))


def strung_together(clip: Path, output: Path) -> Path:
    """The clip many times over without coding it again, as a long recording."""
    with av.open(str(clip)) as first:
        template = {s.index: s for s in first.streams}
        with av.open(str(output), "w") as container:
            made = {index: container.add_stream_from_template(s, opaque=True) for index, s in template.items()}
            for loop in range(LOOPS):
                with av.open(str(clip)) as source:
                    for packet in source.demux():
                        if packet.size == 0 or packet.pts is None or packet.dts is None:
                            continue
                        ticks = round(loop * Fraction(FRAMES, 60) / packet.time_base)
                        packet.pts, packet.dts = packet.pts + ticks, packet.dts + ticks
                        if packet.stream_index == 1 and loop < LOOPS - 1 and packet.dts >= ticks + FRAMES * 800 - 1024:
                            continue
                        if packet.stream_index == 1 and loop and packet.dts < ticks:
                            continue
                        packet.stream = made[packet.stream_index]
                        container.mux(packet)
    return output


def written(recording: Recording, output: Path, *, in_pieces: bool) -> None:
    """The clip coded again, pictures only, in one go or in pieces of one second."""
    index = recording.frames
    shape = PictureShape(
        recording.width, recording.height, recording.pixel_format, index.time_base, recording.nominal_rate,
        recording.colour,
    )  # fmt: skip
    if in_pieces:
        pieces = SegmentedFilm(output, picture=shape, digest="bench", overwrite=True, segment_s=Fraction(1))
        with pieces as film, FrameReader(recording) as reader:
            for number, frame in reader.frames(0, len(index)):
                film.write_picture(frame, pts=int(index.pts[number]), duration=int(index.duration[number]))
            film.finish()
        return
    with FilmWriter(output, picture=shape, overwrite=True) as writer, FrameReader(recording) as reader:
        for number, frame in reader.frames(0, len(index)):
            writer.write_picture(frame, pts=int(index.pts[number]), duration=int(index.duration[number]))


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        clip = make_clip(
            folder / "clip.mp4", frame_count=FRAMES, rate=Fraction(60), size=(1920, 1080), painter=road,
            key_step=KEY_STEP, quality="21", sound=SoundTrack(),
        )  # fmt: skip
        short, long = open_recording(clip), open_recording(strung_together(clip, folder / "long.mp4"))
        cues = tuple(
            Cue(n * 1000, n * 1000 + 900, f"Corner {n}: brake at the board") for n in range(FRAMES * LOOPS // 60)
        )
        chapters = [Chapter(n * 6000, n * 6000 + 6000, f"Corner {n}") for n in range(FRAMES * LOOPS // 360)]
        extras = CopyExtras([CaptionTrack(cues, "eng")], chapters)
        whole_s, frame_s = long.frames.end_s, Fraction(1, 60)
        begin_s, end_s = 20 * frame_s, whole_s - 10 * frame_s
        plan = plan_cut(long, begin_s, end_s)
        seconds, work = measured(
            {
                "transcode": lambda: plain_transcode(short, float(short.frames.end_s), WEB, folder / "plain.mp4"),
                "copy mp4": lambda: copy_span(
                    long, begin_s=0, end_s=whole_s, output=folder / "copy.mp4", extras=extras, overwrite=True
                ),
                "copy mkv": lambda: copy_span(
                    long, begin_s=0, end_s=whole_s, output=folder / "copy.mkv", extras=extras, overwrite=True
                ),
                "cut": lambda: cut_clip(long, plan, output=folder / "cut.mp4", overwrite=True),
                "one go": lambda: written(short, folder / "one.mp4", in_pieces=False),
                "pieces": lambda: written(short, folder / "pieces.mp4", in_pieces=True),
            }
        )
        share = len(short.frames) / len(long.frames)
        print(f"clip of {len(long.frames)} frames, {long.size_bytes / 1e6:.0f} MB; transcode at {WEB.preset}")
        for name in ("copy mp4", "copy mkv", "cut"):
            speed, cpu = (ratio(table["transcode"], table[name], share) for table in (seconds, work))
            print(f"{name:10s} {len(long.frames) / median(seconds[name]):9.0f} frames/s  "
                  f"{speed:7.1f} x the transcode's speed  {cpu:7.1f} x less processor time")  # fmt: skip
        print(f"{plan.frames_coded_again} of {plan.frames} frames of the cut were coded again")
        speed, cpu = (ratio(table["one go"], table["pieces"]) for table in (seconds, work))
        print(f"in pieces of 1 s instead of one go: {speed:.3f} x the speed, {cpu:.3f} in processor time "
              f"({median(seconds['one go']):.2f} s against {median(seconds['pieces']):.2f} s)")  # fmt: skip


if __name__ == "__main__":
    main()
