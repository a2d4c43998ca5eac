"""GPX tracks written by gpxpy and by hand."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import gpxpy.gpx
import numpy as np
import pytest

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import read_log

BEGIN = datetime(2030, 5, 4, 9, 59, 58, 250_000, tzinfo=UTC)
HEAD = '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"'


def written(folder: Path, *, version: str = "1.1", points: int = 30, segments: int = 1) -> Path:
    """A track as gpxpy writes it: 10 Hz, with a speed where the version has one."""
    document = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack()
    document.tracks.append(track)
    for k in range(segments):
        segment = gpxpy.gpx.GPXTrackSegment()
        track.segments.append(segment)
        for i in range(points):
            segment.points.append(
                gpxpy.gpx.GPXTrackPoint(
                    52 + i * 1e-6,
                    -1 - i * 1e-6,
                    elevation=100 + i / 8,
                    time=BEGIN + timedelta(seconds=i / 10 + 60 * k),
                    speed=20 + i / 4 if version == "1.0" else None,
                )
            )
    path = folder / "run.gpx"
    path.write_text(document.to_xml(version=version), encoding="utf-8")
    return path


def by_hand(folder: Path, points: str, *, more: str = "", text: str | None = None, encoding: str = "utf-8") -> Path:
    path = folder / "run.xml"
    whole = text or f"{HEAD}{more}><trk><trkseg>{points}</trkseg></trk></gpx>"
    path.write_bytes(whole.encode(encoding))
    return path


def point(seconds: float, inside: str = "") -> str:
    return f'<trkpt lat="52.0" lon="-1.0"><time>2030-05-04T10:00:{seconds:06.3f}Z</time>{inside}</trkpt>'


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_values_come_back_as_gpxpy_wrote_them(tmp_path: Path, version: str) -> None:
    table = read_log(written(tmp_path, version=version))
    i = np.arange(30)
    assert table.time_s == pytest.approx(i / 10, abs=1e-9)
    found = {c.name: c for c in table.channels}
    assert np.degrees(found["latitude"].values) == pytest.approx(52 + i * 1e-6, abs=1e-12)
    assert np.degrees(found["longitude"].values) == pytest.approx(-1 - i * 1e-6, abs=1e-12)
    assert found["elevation"].values == pytest.approx(100 + i / 8)
    assert ("speed" in found) is (version == "1.0")
    if version == "1.0":
        assert found["speed"].values == pytest.approx(20 + i / 4)
        assert found["speed"].unit == "m/s"
    assert any("2030-05-04T09:59:58.250000+00:00" in words for words in table.warnings)


def test_pieces_are_said(tmp_path: Path) -> None:
    table = read_log(written(tmp_path, segments=3))
    assert table.time_s.size == 90
    assert any("3 pieces" in words for words in table.warnings)


def test_numbers_in_extensions_become_channels_without_unit(tmp_path: Path) -> None:
    extension = "<extensions><x:all><x:rpm>{}</x:rpm><x:word>go</x:word></x:all><x:speed>12.5</x:speed></extensions>"
    points = point(0, extension.format(4000)) + point(0.5) + point(1, extension.format(4500))
    table = read_log(by_hand(tmp_path, points, more=' xmlns:x="urn:x"'))
    rpm, speed = table.channel("rpm"), table.channel("speed")
    assert rpm is not None
    assert speed is not None
    assert rpm.values == pytest.approx([4000, np.nan, 4500], nan_ok=True)
    assert speed.unit is None


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    declared = {"utf-8-sig": "UTF-8"}.get(encoding, encoding)
    text = f"{HEAD}><trk><name>Übung</name><trkseg>{point(1)}{point(2)}</trkseg></trk></gpx>".replace("UTF-8", declared)
    assert read_log(by_hand(tmp_path, "", text=text, encoding=encoding)).time_s.tolist() == [0.0, 1.0]


def test_zones_repeats_and_missing_times(tmp_path: Path) -> None:
    zoned = '<trkpt lat="52" lon="-1"><time>2030-05-04T11:00:02+01:00</time></trkpt>'
    table = read_log(by_hand(tmp_path, point(1) + point(1) + '<trkpt lat="52" lon="-1"/>' + zoned))
    assert table.time_s.tolist() == [0.0, 1.0]
    told = " ".join(item.reason for item in table.skipped)
    assert "1 point(s) have no time" in told
    assert "1 point(s) repeat a time" in told


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ("", "no track in it"),
        ('<trkpt lat="52" lon="-1"/>' * 3, "fewer than two of its track points"),
        (point(5) * 3, "fewer than two of its track points"),
        (point(5) + point(4), "time goes back .* at point 2"),
        (point(5) + "<trkpt", "no well-formed GPX"),
        ('<trkpt lat="north" lon="-1"/>', "no well-formed GPX|fewer than two"),
    ],
)
def test_bad_files_are_refused_in_a_sentence(tmp_path: Path, points: str, message: str) -> None:
    with pytest.raises(CodecError, match=message) as caught:
        read_log(by_hand(tmp_path, points))
    assert "run.xml" in str(caught.value)


def test_entities_are_refused(tmp_path: Path) -> None:
    swelling = '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">' + "".join(
        f'<!ENTITY a{i} "{f"&a{i - 1 if i else str()};" * 10}">' for i in range(12)
    )
    text = f'<?xml version="1.0"?>{swelling}]><gpx version="1.1"><trk><name>&a11;</name></trk></gpx>'
    with pytest.raises(CodecError, match="document type"):
        read_log(by_hand(tmp_path, "", text=text))


SAMPLES = os.environ.get("GPXPY_TEST_FILES", "")
"""The folder `test_files` of gpxpy's source package (Apache-2.0), which its wheel leaves out."""


@pytest.mark.skipif(not SAMPLES, reason="GPXPY_TEST_FILES does not name gpxpy's sample files")
def test_the_librarys_own_samples() -> None:
    """Every sample is read with the library's own points, or refused in a sentence."""
    read = 0
    for path in sorted(Path(SAMPLES).glob("*.gpx")):
        try:
            table = read_log(path)
        except CodecError:
            continue
        document = gpxpy.parse(path.read_text("utf-8-sig"))
        times = [p.time for t in document.tracks for s in t.segments for p in s.points if p.time is not None]
        assert table.time_s[-1] == pytest.approx((times[-1] - times[0]).total_seconds())
        read += 1
    assert read >= 5
