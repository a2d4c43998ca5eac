"""Films written in pieces: the same as in one go, and going on after a break."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.errors import Cancelled, OutputError
from syncview.media.caption_stream import CaptionTrack
from syncview.media.colour_tags import ColourTags
from syncview.media.encoders import CODINGS, EncoderSettings, PictureEncoder, PictureShape, set_up, settings_for
from syncview.media.film_join import decode_stamps
from syncview.media.film_writer import FilmWriter, SoundShape
from syncview.media.parts_folder import PartsFolder, folder_beside
from syncview.media.recording import open_recording
from syncview.media.segments import FilmExtras, FilmSound, SegmentedFilm
from syncview_codecs.captions.cue import Cue
from syncview_codecs.chapters.chapter import Chapter
from tests.media.ffmpeg_tools import ffmpeg, ffprobe_frames
from tests.media_samples import bar_code, read_bar_code

SIZE = (160, 96)
SHAPE = PictureShape(*SIZE, "yuv420p", Fraction(1, 30000), Fraction(30000, 1001), ColourTags(1, 1, 1, 1))
DRAFTS = {coding: replace(settings_for("draft", coding), key_frame_step_s=0.5) for coding in CODINGS}
COUNT = 75


def picture(number: int, pixel_format: str = "yuv420p") -> av.VideoFrame:
    return av.VideoFrame.from_ndarray(bar_code(number, SIZE), format="rgb24").reformat(format=pixel_format)


def steady(number: int) -> tuple[int, int]:
    return number * 1001, 1001


def uneven(number: int) -> tuple[int, int]:
    """Steps as a phone's, with a pause longer than a piece after picture 40."""
    steps = np.random.default_rng(5).integers(500, 1600, COUNT)
    steps[40] = 45000
    return int(steps[:number].sum()), int(steps[number])


def write(film: SegmentedFilm | FilmWriter, begin: int, end: int, stamps: object = steady) -> None:
    assert callable(stamps)
    for number in range(begin, end):
        pts, duration = stamps(number)
        film.write_picture(picture(number, film._picture.pixel_format), pts=pts, duration=duration)


def segmented(output: Path, *, digest: str = "a", settings: EncoderSettings = DRAFTS["h264"]) -> SegmentedFilm:
    return SegmentedFilm(output, picture=SHAPE, digest=digest, settings=settings, segment_s=Fraction(1))


def tone(seconds: float = COUNT * 1001 / 30000) -> Iterator[NDArray[np.float32]]:
    samples = np.sin(2 * np.pi * 50 * np.arange(round(seconds * 48000)) / 48000).astype(np.float32) / 4
    for begin in range(0, len(samples), 4800):
        yield np.tile(samples[begin : begin + 4800], (2, 1))


EXTRAS_CUES = (Cue(300, 900, "Brake at the board"), Cue(1200, 2000, "Wait → then throttle\n<100 %>"))


def extras() -> FilmExtras:
    return FilmExtras(
        sound=FilmSound(SoundShape(48000, 2), tone()),
        chapters=[Chapter(0, 1000, "Corner 1"), Chapter(1000, 2500, "Corner 2")],
        captions=[CaptionTrack(EXTRAS_CUES, "eng", "Notes")],
        title="Lesson",
    )


def complaints(path: Path) -> str:
    """What ffmpeg says while decoding picture and sound; chapters' own track in MP4 is left out, as players do."""
    command = ["ffmpeg", "-v", "warning", "-i", str(path), "-map", "0:V", "-map", "0:a?"]
    command += ["-fps_mode", "passthrough", "-enc_time_base", "-1", "-f", "null", "-"]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stderr
    return "\n".join(line for line in told.splitlines() if "Unsupported codec with id 98314" not in line)


@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize(("suffix", "stamps"), [(".mp4", steady), (".mp4", uneven), (".mkv", uneven)])
def test_joined_film_is_the_one_written_in_one_go(tmp_path: Path, coding: str, suffix: str, stamps: object) -> None:
    whole, joined = tmp_path / f"whole{suffix}", tmp_path / f"joined{suffix}"
    settings = DRAFTS[coding]
    with FilmWriter(whole, picture=SHAPE, settings=settings) as writer:
        write(writer, 0, COUNT, stamps)
    with SegmentedFilm(joined, picture=SHAPE, digest="a", settings=settings, segment_s=Fraction(1)) as film:
        write(film, 0, COUNT, stamps)
        film.finish()
    assert complaints(joined) == ""
    assert ffprobe_frames(joined) == ffprobe_frames(whole)
    one, two = open_recording(whole), open_recording(joined)
    assert one.frames.pts.tolist() == two.frames.pts.tolist()
    # MP4 has no duration of its own for the last shown picture where it is not the last decoded one.
    assert one.frames.duration.tolist()[:-1] == two.frames.duration.tolist()[:-1]
    assert (one.colour, one.nominal_rate, one.codec) == (two.colour, two.nominal_rate, two.codec)
    assert decoded_numbers(joined) == list(range(COUNT))
    assert sorted(path.name for path in tmp_path.iterdir()) == [joined.name, whole.name]


def test_sound_captions_and_chapters_are_added(tmp_path: Path) -> None:
    for suffix in (".mp4", ".mkv"):
        output = tmp_path / f"film{suffix}"
        with segmented(output) as film:
            write(film, 0, COUNT)
            film.finish(extras())
        assert complaints(output) == ""
        with av.open(str(output)) as container:
            assert container.metadata["title"] == "Lesson"
            titles = [chapter["metadata"]["title"] for chapter in container.chapters()]
            assert titles == ["Corner 1", "Corner 2"]
            assert container.streams.subtitles[0].metadata["language"] == "eng"
            found = [
                (round(packet.pts * packet.time_base * 1000), bytes(packet).decode()[-8:])
                for packet in container.demux(container.streams.subtitles[0])
                if packet.pts is not None and packet.size > 2
            ]
        assert found == [(300, "he board"), (1200, "\n<100 %>")]
        # From film time 0 on: the encoder's run-in lies before it.
        raw = ffmpeg("-copyts", "-i", output, "-af", "aresample=async=1:first_pts=0", "-ac", "1", "-f", "f32le", "-")
        heard = np.frombuffer(raw, "<f4")
        expected = np.concatenate([block[0] for block in tone()])
        # 0.99 at 50 Hz is 0.45 ms; Matroska's tick of 1 ms leaves 0.33 ms.
        assert np.corrcoef(heard[: len(expected)], expected)[0, 1] > 0.99


def decoded_numbers(path: Path) -> list[int]:
    with av.open(str(path)) as container:
        return [read_bar_code(frame) for frame in container.decode(video=0)]


def test_goes_on_after_a_fault(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    with pytest.raises(ZeroDivisionError), segmented(output) as film:  # noqa: PT012
        write(film, 0, 70)
        raise ZeroDivisionError
    assert not output.exists()
    with segmented(output) as film:
        assert film.next_picture == 60  # two pieces of 30 pictures; the third was not finished
        write(film, 60, COUNT)
        film.finish()
    assert decoded_numbers(output) == list(range(COUNT))
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


KILLED = """
import sys
from pathlib import Path
from tests.media.test_segments import segmented, write
with segmented(Path(sys.argv[1])) as film:
    print(film.next_picture, flush=True)
    for number in range(film.next_picture, 10_000):
        write(film, number, number + 1)
        if number == int(sys.argv[2]):
            print("there", flush=True)
            sys.stdin.read()  # until it is killed
"""


def test_goes_on_after_a_kill(tmp_path: Path) -> None:
    """SIGKILL, as by a power cut: twice, each time somewhat further; then the film is the one written in one go."""
    output, whole = tmp_path / "film.mp4", tmp_path / "whole.mp4"
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": f"{root}:{root / 'codecs'}"}
    begins = []
    for last in (35, 65):
        command = [sys.executable, "-c", KILLED, str(output), str(last)]
        with subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment, cwd=root
        ) as run:
            assert run.stdout is not None
            begins.append(int(run.stdout.readline()))
            assert run.stdout.readline() == "there\n"
            os.kill(run.pid, signal.SIGKILL)
        assert not output.exists()
    assert begins == [0, 30]
    with segmented(output) as film:
        assert film.next_picture == 60
        write(film, 60, COUNT)
        film.finish()
    with segmented(whole) as film:
        write(film, 0, COUNT)
        film.finish()
    assert output.read_bytes() == whole.read_bytes()


def test_pieces_of_another_film_are_thrown_away(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    with segmented(output, digest="a") as film:
        write(film, 0, 70)
    assert folder_beside(output).is_dir()
    with segmented(output, digest="b") as film:
        assert film.next_picture == 0
        write(film, 0, 35)
    with segmented(output, digest="b", settings=replace(DRAFTS["h264"], crf=30)) as film:
        assert film.next_picture == 0
    assert not folder_beside(output).exists()


def test_torn_piece_is_made_again(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    for damage in ("shorter", "altered"):
        with segmented(output) as film:
            write(film, film.next_picture, 70)
        second = sorted(folder_beside(output).glob("*.pictures"))[1]
        data = bytearray(second.read_bytes())
        data[len(data) // 2] ^= 1
        second.write_bytes(data if damage == "altered" else data[: len(data) // 2])
        with segmented(output) as film:
            assert film.next_picture == 30, damage


@pytest.mark.parametrize("stop", [Cancelled(), KeyboardInterrupt()])
def test_nothing_is_left_after_a_stop(tmp_path: Path, stop: BaseException) -> None:
    with pytest.raises(type(stop)), segmented(tmp_path / "film.mp4") as film:  # noqa: PT012
        write(film, 0, 70)
        raise stop
    assert list(tmp_path.iterdir()) == []


def test_stop_while_joining_leaves_nothing(tmp_path: Path) -> None:
    def stop(_share: float, _what: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled), segmented(tmp_path / "film.mp4") as film:  # noqa: PT012
        write(film, 0, COUNT)
        film.finish(extras(), progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_fault_of_the_sound_keeps_the_pictures(tmp_path: Path) -> None:
    def broken() -> Iterator[NDArray[np.float32]]:
        yield np.zeros((2, 4800), np.float32)
        raise ZeroDivisionError

    output = tmp_path / "film.mp4"
    with pytest.raises(ZeroDivisionError), segmented(output) as film:  # noqa: PT012
        write(film, 0, COUNT)
        film.finish(FilmExtras(sound=FilmSound(SoundShape(48000, 2), broken())))
    assert [path.name for path in tmp_path.iterdir()] == [folder_beside(output).name]
    with segmented(output) as film:
        assert film.next_picture == COUNT
        film.finish()
    assert decoded_numbers(output) == list(range(COUNT))


def test_two_renders_of_one_film_are_told_apart(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    with segmented(output) as film:
        write(film, 0, 35)
        with pytest.raises(OutputError, match="another render"), segmented(output):
            pass
        assert film.next_picture == 30


def test_disk_that_fills_up_is_said_and_the_rest_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Writing to the device that is always full gives the system's own ENOSPC."""
    output = tmp_path / "film.mp4"
    with segmented(output) as film:
        write(film, 0, 35)
    link = folder_beside(output) / "000001.undone"

    def full_disk(*_: object) -> Path:
        link.symlink_to("/dev/full")
        return link

    monkeypatch.setattr(PartsFolder, "undone", full_disk)
    with pytest.raises(OutputError, match="no space left") as caught, segmented(output) as film:  # noqa: PT012
        write(film, 30, COUNT)
        film.finish()
    assert "next run goes on" in caught.value.remedy
    assert not output.exists()
    monkeypatch.undo()
    with segmented(output) as film:
        assert film.next_picture == 30


def test_disk_that_fills_up_while_joining(tmp_path: Path) -> None:
    script = """
import resource, sys
from pathlib import Path
from syncview.errors import OutputError
from tests.media.test_segments import COUNT, segmented, write
with segmented(Path(sys.argv[1])) as film:
    write(film, film.next_picture, COUNT)
    pieces = sum(piece.path.stat().st_size for piece in film._pieces)
    resource.setrlimit(resource.RLIMIT_FSIZE, (pieces, pieces))
    try:
        film.finish()
    except OutputError as error:
        print(error)
        sys.exit(7)
"""
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": f"{root}:{root / 'codecs'}"}
    output = tmp_path / "film.mp4"
    command = [sys.executable, "-c", script, str(output)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, cwd=root)
    assert done.returncode == 7, done.stderr
    assert "file too large" in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == [folder_beside(output).name]


def test_encoder_that_fails_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_arguments: object, **_options: object) -> None:
        raise av.ExternalError(-542398533, "Generic error in an external library")

    output = tmp_path / "film.mp4"
    with pytest.raises(OutputError, match="the encoder refused"), segmented(output) as film:  # noqa: PT012
        write(film, 0, 35)
        monkeypatch.setattr(PictureEncoder, "packets", failing)
        write(film, 35, COUNT)
    assert not output.exists()


def test_bad_use_is_refused(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    with segmented(output) as film:
        write(film, 0, 3)
        with pytest.raises(ValueError, match="go on from picture"):
            write(film, 0, 1)
    with pytest.raises(ValueError, match="needs a picture"), segmented(output) as film:
        film.finish()
    output.write_bytes(b"dear")
    with pytest.raises(OutputError, match="exists already"):
        segmented(output)
    with pytest.raises(OutputError, match=r"cannot be a \.gif"):
        segmented(tmp_path / "film.gif")
    with pytest.raises(OutputError, match="no such file"), segmented(tmp_path / "gone" / "film.mp4"):
        pass
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


@given(
    st.lists(st.integers(1, 5000), min_size=1, max_size=40).flatmap(
        lambda steps: st.tuples(st.just(steps), st.permutations(range(len(steps))))
    )
)
def test_decode_stamps_ascend_and_never_pass_their_picture(drawn: tuple[list[int], list[int]]) -> None:
    """ISO/IEC 14496-12: decoding stamps ascend; a picture is shown no earlier than it is decoded."""
    steps, order = drawn
    pts = np.cumsum(steps)[order].astype(np.int64)
    dts = decode_stamps(pts)
    assert len(dts) == len(pts)
    assert np.all(np.diff(dts) > 0)
    assert np.all(dts <= pts)


def test_decode_stamps_are_the_encoders_own() -> None:
    """x264's stamps of a film in one piece, as an outside case."""
    context = av.CodecContext.create("libx264", "w")
    assert isinstance(context, av.VideoCodecContext)
    set_up(context, SHAPE, replace(DRAFTS["h264"], preset="medium"))
    encoder = PictureEncoder(context, SHAPE)
    packets = [p for n in range(COUNT) for p in encoder.packets(picture(n), pts=n * 1001, duration=1001)]
    packets += encoder.rest()
    assert any(packet.pts != packet.dts for packet in packets)
    assert decode_stamps(np.array([packet.pts for packet in packets])).tolist() == [packet.dts for packet in packets]
