"""Orders, what workers say, and the time left, without Qt."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from syncview.cli import parser
from syncview.cli.render import CODINGS, QUALITIES
from syncview.desk.export.orders import IN_ORDER, SHARES, Order, Run, runs_of, to_go_on, words_of
from syncview.desk.export.time_left import Watch, left_text
from syncview.desk.export.worker_words import Reported, WorkerWords, written_of
from syncview.lesson.export import PRODUCTS

ORDER = Order(Path("/a folder/p.syncview.json"), Path("/out"), ("lesson", "captions", "film"))


def test_every_product_can_be_ordered() -> None:
    assert set(SHARES) == set(PRODUCTS)


@given(st.lists(st.sampled_from(IN_ORDER), unique=True))
def test_each_product_is_made_once(products: list[str]) -> None:
    runs = runs_of(tuple(products))
    made = [product for run in runs for product in run.products]
    assert sorted(made) == sorted(products)
    assert sum(run.share for run in runs) == pytest.approx(sum(SHARES[product] for product in products))


COMMANDS = parser()


@settings(max_examples=40)
@given(st.sampled_from(QUALITIES), st.sampled_from(CODINGS), st.booleans(), st.booleans(), st.floats(0, 60))
def test_commands_are_understood(quality: str, coding: str, copy: bool, overwrite: bool, before_s: float) -> None:
    order = Order(ORDER.project, ORDER.folder, ("film", "clips"), quality, coding, copy, before_s, 3.0, overwrite)
    for run in runs_of(order.products):
        read = COMMANDS.parse_args(words_of(order, run))
        assert read.products == list(run.products)
        assert (read.project, read.folder) == (order.project, order.folder)
        assert (read.quality, read.coding, read.copy, read.overwrite) == (quality, coding, copy, overwrite)
        assert read.before == pytest.approx(before_s, rel=1e-5)
        assert read.progress == "json"
        assert read.json


def test_going_on_may_replace_what_was_begun() -> None:
    assert "--overwrite" not in words_of(ORDER, Run(("film",)))
    assert "--overwrite" in words_of(to_go_on(ORDER), Run(("film",)))
    assert "--copy" not in words_of(Order(ORDER.project, ORDER.folder, ("lesson",), copy=True), Run(("lesson",)))


SAID = (
    '{"share": 0.1, "what": "reading “it”"}\n{"share": 0.4, "what": "writing"}\n'
    "note: a remark\nsyncview: p.json: there is no such project. Make one.\n{broken\n"
).encode()


@given(st.lists(st.integers(0, len(SAID)), max_size=12))
def test_pieces_of_any_length(cuts: list[int]) -> None:
    words, reported = WorkerWords(), []
    edges = [0, *sorted(cuts), len(SAID)]
    for begin, end in pairwise(edges):
        latest = words.feed(SAID[begin:end])
        if latest is not None:
            reported.append(latest)
    words.end()
    assert reported[-1] == Reported(0.4, "writing")
    assert words.faults == ["p.json: there is no such project. Make one."]
    assert list(words.last_lines) == ["note: a remark", "{broken"]


@given(st.binary(max_size=200))
def test_nonsense_is_no_progress(said: bytes) -> None:
    words = WorkerWords()
    found = words.feed(said)
    words.end()
    assert found is None or 0 <= found.share <= 1
    assert written_of(said) is None


def test_odd_numbers_are_none() -> None:
    words = WorkerWords()
    assert words.feed(b'{"share": NaN, "what": "x"}\n') is None
    assert words.feed(b'{"share": 7, "what": "x"}\n') == Reported(1.0, "x")


def test_what_was_written() -> None:
    said = json.dumps({"files": [{"product": "film", "path": "/out/ü.mp4"}], "remarks": ["one"]}).encode()
    written = written_of(said)
    assert written is not None
    assert written.files == (("film", Path("/out/ü.mp4")),)
    assert written.remarks == ("one",)


@given(st.floats(0.05, 1.0), st.floats(5, 10_000), st.floats(0, 0.9))
def test_the_time_left(share: float, spent_s: float, began: float) -> None:
    left_s = Watch(100.0, began).left_s(100.0 + spent_s, began + share * (1 - began))
    if left_s is not None:
        assert spent_s + left_s == pytest.approx(spent_s / share, rel=1e-6)
    assert Watch(100.0).left_s(101.0, 0.5) is None, "too early to say"


def test_how_it_is_written() -> None:
    assert [left_text(seconds) for seconds in (6.6, 150, 3900.2)] == ["0:07", "2:30", "1:05:00"]
