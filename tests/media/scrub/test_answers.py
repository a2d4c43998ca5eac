"""Who may answer: decided without threads."""

from __future__ import annotations

from fractions import Fraction

import pytest

from syncview.errors import MediaError, SyncviewError
from syncview.media.reading import FrameReader
from syncview.media.recording import Recording
from syncview.media.scrub.answers import Answers, Request
from syncview.media.scrub.picture_ring import KeptPicture
from syncview.media.scrub.pictures import PictureMaker, ScrubPicture

Taken = tuple[Answers, list[ScrubPicture], list[SyncviewError]]


@pytest.fixture
def taken(long_groups: Recording) -> Taken:
    pictures: list[ScrubPicture] = []
    faults: list[SyncviewError] = []
    return Answers(long_groups, on_picture=pictures.append, on_fault=faults.append), pictures, faults


def take(answers: Answers, number: int, *, direction: int = 0) -> Request:
    moment_s: Fraction = answers.recording.frames.media_s(number)
    with answers.changed:
        return answers.take(number, moment_s, direction=direction, full=False)


def deliver(answers: Answers, number: int, request: Request) -> None:
    maker = PictureMaker(answers.recording)
    with FrameReader(answers.recording) as reader:
        frame = reader.frame(number)
    answers.deliver_small(maker, number, KeptPicture(maker.small(frame), is_proxy=False), request)
    answers.deliver_full(maker, number, frame, request)


def test_answers_to_replaced_requests_are_dropped(taken: Taken) -> None:
    answers, pictures, _ = taken
    old, new = take(answers, 3), take(answers, 9)
    deliver(answers, 3, old)
    assert pictures == []
    deliver(answers, 9, new)
    assert [(p.asked, p.number, p.is_full) for p in pictures] == [(2, 9, False), (2, 9, True)]


def test_a_near_picture_never_follows_the_exact_one(taken: Taken) -> None:
    answers, pictures, _ = taken
    request = take(answers, 9)
    deliver(answers, 0, request)
    deliver(answers, 9, request)
    deliver(answers, 1, request)
    assert [p.is_exact for p in pictures] == [False, False, True, True]


def test_nothing_comes_after_closing(taken: Taken) -> None:
    answers, pictures, faults = taken
    request = take(answers, 9)
    answers.close()
    deliver(answers, 9, request)
    answers.tell_fault(MediaError("gone", "Bring it back."))
    assert pictures == []
    assert faults == []


def test_a_fault_is_told_once_until_a_picture_could_be_had(taken: Taken) -> None:
    answers, _, faults = taken
    fault = MediaError("gone", "Bring it back.")
    answers.tell_fault(fault)
    answers.tell_fault(MediaError("gone", "Bring it back."))
    assert faults == [fault]
    deliver(answers, 9, take(answers, 9))
    answers.tell_fault(fault)
    assert faults == [fault, fault]


def test_the_direction_of_a_drag_is_seen(taken: Taken) -> None:
    answers, _, _ = taken
    assert [take(answers, n).direction for n in (50, 55, 55, 52, 200)] == [0, 1, 1, -1, 0]
    assert take(answers, 201, direction=-1).direction == -1


def test_a_wide_drag_is_seen(taken: Taken, monkeypatch: pytest.MonkeyPatch) -> None:
    answers, _, _ = taken
    now_s = 100.0
    monkeypatch.setattr("syncview.media.scrub.answers.time.monotonic", lambda: now_s)
    assert not take(answers, 0).is_hasty
    assert take(answers, 100).is_hasty
    assert not take(answers, 101).is_hasty
    now_s += 0.2
    assert not take(answers, 0).is_hasty
