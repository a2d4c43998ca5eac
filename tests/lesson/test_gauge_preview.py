"""The gauges over one frame, as a film would show them, by the command that a coach types."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from syncview.cli import main
from syncview.clock.clock_map import ClockMap
from syncview.errors import MediaError
from syncview.gauges.arrangement import arrange
from syncview.gauges.choice import GaugeChoice
from syncview.lesson.gauge_feed import usual_reference
from syncview.lesson.gauge_preview import gauge_preview
from syncview.lesson.lap_film import LapFilm, lap_film
from syncview.lesson.session import session_of
from syncview.media.recording import open_recording
from syncview.media_file import refer_to
from syncview.project import Project, SavedClock, save
from syncview.track.circuit_file import read_circuit

SAMPLE = Path(__file__).parents[2] / "sample_media"
NONE = GaugeChoice.of([])


@pytest.fixture(scope="module")
def project() -> Project:
    clock = SavedClock(ClockMap(-7.3426, 1.00004), sure=True, basis="marked")
    return Project(refer_to(SAMPLE / "session.mp4", SAMPLE), refer_to(SAMPLE / "session.csv", SAMPLE), clock=clock)


@pytest.fixture(scope="module")
def film(project: Project) -> LapFilm:
    session = session_of(project, SAMPLE / "p.syncview.json", circuit=read_circuit(SAMPLE / "circuit.toml"))
    return lap_film(session, open_recording(SAMPLE / "session.mp4"), session.lap(2))


@pytest.mark.parametrize(("shape", "size"), [("as recorded", (640, 360)), ("square", (360, 360)), ("tall", (202, 360))])
def test_every_shape_shows_gauges_where_they_belong_and_the_recording_elsewhere(
    film: LapFilm, shape: str, size: tuple[int, int]
) -> None:
    reference = usual_reference(film.session, film.lap)
    shown, moment_s, notes = gauge_preview(film, shape=shape, reference=reference)
    bare, same_s, _notes = gauge_preview(film, shape=shape, choice=NONE)
    assert (shown.shape, moment_s, notes) == ((size[1], size[0], 3), same_s, ())
    places = arrange(*size)
    changed = (shown != bare).any(axis=-1)
    for box in (places.seesaw, places.lap, places.card, places.gap, places.marker, places.map):
        assert box is not None
        assert changed[box.top : box.bottom, box.left : box.right].mean() > 0.2
        changed[box.top : box.bottom, box.left : box.right] = False
    # The scaler spreads chroma by a sample or two beyond a plate.
    assert changed.mean() < 0.02


def test_the_frame_is_the_one_on_screen(film: LapFilm) -> None:
    """Sixty frames a second: at 100.010 s the frame of 100 s stands."""
    _rgb, moment_s, _notes = gauge_preview(film, media_s=100.010, choice=NONE)
    assert moment_s == pytest.approx(100.0)


def test_moments_outside_the_recording_are_refused(film: LapFilm) -> None:
    for moment_s in (-1.0, 1e6):
        with pytest.raises(MediaError, match="has no picture at"):
            gauge_preview(film, media_s=moment_s)


def test_the_command(tmp_path: Path, project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "p.syncview.json"
    recording, log = (refer_to(SAMPLE / name, tmp_path) for name in ("session.mp4", "session.csv"))
    save(Project(recording, log, clock=project.clock), path)
    output = tmp_path / "gauges.png"
    words = ["picture", str(path), str(output), "--gauges"]
    assert main([*words, "--at", "90", "--shape", "square", "--against", "3", "--without", "map"]) == 0
    assert "the frame at 90.000 s" in capsys.readouterr().out
    before = output.read_bytes()
    with Image.open(output) as picture:
        assert picture.size == (360, 360)
    assert main(words) == 7
    assert output.read_bytes() == before
    assert main([*words, "--overwrite", "--without", "wheel"]) == 1
    assert "there is no gauge 'wheel'" in capsys.readouterr().err
    assert main(["picture", str(path), str(tmp_path / "m.png"), "--shape", "tall"]) == 1
    assert "Add --gauges" in capsys.readouterr().err
    assert main(["picture", str(path), str(tmp_path / "g.pdf"), "--gauges"]) == 7
