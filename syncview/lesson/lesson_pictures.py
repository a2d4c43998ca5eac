"""The pictures of the lesson, one after the other: cards, the recording retimed, drawings, gauges."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.gauges.drawing import Drawing
from syncview.gauges.drawing_sprites import drawn_rgba
from syncview.gauges.title_card import draw_card
from syncview.lesson.film_picture import FilmPicture, PanelOptions
from syncview.media.encoders import PictureShape
from syncview.media.framing import ASPECTS, Framing
from syncview.media.reading import FrameReader
from syncview.media.slow_pictures import Moment, PictureCounts, retimed
from syncview.plan.lesson_choices import SlowMethod

if TYPE_CHECKING:
    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.gauges.sprites import Sprite
    from syncview.gauges.values import GaugeValues
    from syncview.lesson.lesson_plan import LessonPlan, SaidAt, Section
    from syncview.media.slow_pictures import Method

SMOOTH_RATE = Fraction(30)
"""With this many different pictures a second a repeated picture is not seen as a jerk: half of 60 (the usual rate)."""

ValuesAt = Callable[[Fraction, Fraction], "GaugeValues"]
"""From media time and lesson time to what the gauges show."""


@dataclass(frozen=True, slots=True)
class LessonLook:
    """How the pictures look."""

    shape: str = "as recorded"
    """One of `SHAPES`."""
    slow_pictures: SlowMethod = "auto"
    panel: PanelOptions | None = None
    """None draws no gauges."""


class LessonPictures:
    """Makes the pictures of a plan; number k is shown from lesson time k / rate. Keep it for one pass only."""

    def __init__(self, plan: LessonPlan, look: LessonLook, values_at: ValuesAt) -> None:
        self._plan = plan
        self._look = look
        self._values_at = values_at
        self._recording = plan.film.recording
        self._picture = FilmPicture(self._recording, options=look.panel, aspect=ASPECTS.get(look.shape))
        self._counts = PictureCounts()
        self._card_notes: dict[str, None] = {}
        self._drawn: dict[str, Sprite] = {}
        self._begins = [section.begin_s for section in plan.sections]
        self.lost: list[float] = []
        """Media times of recorded frames that could not be decoded."""

    @property
    def shape(self) -> PictureShape:
        """What all pictures have in common; a tick of their stamps is one picture."""
        return PictureShape(
            width=self._picture.width,
            height=self._picture.height,
            pixel_format=self._picture.pixel_format,
            time_base=1 / self._plan.rate,
            nominal_rate=self._plan.rate,
            colour=self._picture.colour,
            sample_aspect=self._picture.sample_aspect,
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person should know of the pictures made so far, each a sentence."""
        return (*self._picture.notes, *self._card_notes, *self._counts.notes())

    def frames(self, begin: int = 0, end: int | None = None) -> Iterator[VideoFrame]:
        """Pictures begin <= k < end of the lesson (`end` None: all), ready to be coded."""
        last = self._plan.frame_count if end is None else end
        while begin < last:
            section = self._section_of(begin)
            # The first picture that belongs to the next section; a border may lie between two pictures.
            after = min(last, -int(-section.end_s * self._plan.rate // 1))
            if section.card is not None:
                yield from self._card_frames(section, after - begin)
            else:
                yield from self._lap_frames(section, begin, after)
            begin = after

    def rgb(self, number: int) -> NDArray[np.uint8]:
        """Picture `number` as people see it, shape (rows, columns, 3)."""
        return self._picture.as_rgb(next(self.frames(number, number + 1)))

    def _section_of(self, number: int) -> Section:
        return self._plan.sections[bisect_right(self._begins, number / self._plan.rate) - 1]

    def _card_frames(self, section: Section, count: int) -> Iterator[VideoFrame]:
        assert section.card is not None  # the caller has looked
        sheet, remarks = draw_card(section.card, self._picture.width, self._picture.height)
        self._card_notes.update(dict.fromkeys(remarks))
        frame = self._picture.opaque(sheet.rgba())
        for _ in range(count):
            yield frame

    def _lap_frames(self, section: Section, begin: int, end: int) -> Iterator[VideoFrame]:
        moments = [self._moment(section, number) for number in range(begin, end)]
        with FrameReader(self._recording) as reader:
            made = retimed(reader, moments, counts=self._counts)
            for number, moment, frame in zip(range(begin, end), moments, made, strict=True):
                lesson_s = number / self._plan.rate
                values = None if self._look.panel is None else self._values_at(moment.media_s, lesson_s)
                yield self._picture.finished(frame, values, under=self._drawing_at(section, lesson_s))
            self.lost.extend(float(self._recording.frames.media_s(number)) for number in reader.missing)

    def _moment(self, section: Section, number: int) -> Moment:
        pace = section.pace
        assert pace is not None  # only cards have none
        within = number / self._plan.rate - section.begin_s
        span = pace.span_at(within)
        # The last picture of a section may be the one that ends with the recording's last frame.
        return Moment(min(pace.to_media_s(within), self._recording.frames.end_s), self._method(span.speed))

    def _method(self, speed: Fraction) -> Method:
        if speed == 0 or speed == 1:
            return "repeat"
        chosen = self._look.slow_pictures
        if chosen == "auto":
            return "repeat" if self._recording.nominal_rate * speed >= SMOOTH_RATE else "flow"
        return chosen

    def _drawing_at(self, section: Section, lesson_s: Fraction) -> Sprite | None:
        """What is drawn on the still at a lesson time: the drawings of the note at which the picture stands."""
        if section.kind != "breakdown":
            return None
        said = drawn_note_at(self._plan, section, lesson_s)
        if said is None:
            return None
        key = said.note.key
        if key not in self._drawn:
            self._drawn[key] = self._sprite_of(said.note.drawings)
        return self._drawn[key]

    def _sprite_of(self, drawings: tuple[Drawing, ...]) -> Sprite:
        framing = self._picture.framing
        moved = [_reframed(drawing, framing) for drawing in drawings]
        taken = self._picture.taken
        return self._picture.sprite(drawn_rgba(moved, framing.width, framing.height, taken=taken))


def _reframed(drawing: Drawing, framing: Framing) -> Drawing:
    """The drawing in the part of the picture that the film shows."""
    return Drawing(drawing.kind, framing.place(*drawing.begin), framing.place(*drawing.end), drawing.label)


def drawn_note_at(plan: LessonPlan, section: Section, lesson_s: Fraction) -> SaidAt | None:
    """The note with drawings at whose place the picture stands at a lesson time; of several there, the last begun."""
    assert section.pace is not None  # the breakdown is no card
    span = section.pace.span_at(lesson_s - section.begin_s)
    if not span.is_hold:
        return None
    here = [said for said in plan.said if said.note.drawings and said.media_s == span.begin_media_s]
    begun = [said for said in here if said.begin_s <= lesson_s]
    return begun[-1] if begun else here[0] if here else None
