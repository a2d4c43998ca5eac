"""A picture of the evidence, by which a person sees in five seconds whether the match is right; the same as data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from syncview.clock.align import Alignment
from syncview.clock.candidates import Candidate
from syncview.clock.clock_map import ClockMap
from syncview.clock.evidence import Evidence
from syncview.clock.fit import ClockFit
from syncview.clock.motion import GRID_S, EvenSignal
from syncview.clock.sound import BINS_PER_OCTAVE, FRAME_S, LOWEST_HZ, ORDERS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from syncview.media.recording import Recording

FloatArray = NDArray[np.float64]
Picture = NDArray[np.uint8]

BLUE, VERMILLION, ORANGE, GREEN, GREY = "#0072B2", "#D55E00", "#E69F00", "#009E73", "#555555"
"""Okabe and Ito's colours; each line also differs by form."""
EXCERPT_S = 40.0
MOST_FRAMES = 8
FRAME_WIDTH = 320
MOST_POINTS = 3000


@dataclass(frozen=True, slots=True, eq=False)
class LapStartFrame:
    """The frame on screen at one lap start."""

    lap: int
    media_s: float
    picture: Picture
    """Shape (rows, columns, 3), RGB."""


def lap_start_frames(recording: Recording, fit: ClockFit) -> tuple[LapStartFrame, ...]:
    """The frames on screen where the clock puts the lap starts, small, at most `MOST_FRAMES` over the recording."""
    from syncview.media.reading import read_frame_at
    from syncview.media.turning import upright

    chosen = fit.residuals
    if len(chosen) > MOST_FRAMES:
        chosen = tuple(chosen[i] for i in np.linspace(0, len(chosen) - 1, MOST_FRAMES).round().astype(int))
    frames = []
    for start in chosen:
        if start.media_s >= recording.duration_s:
            continue
        picture = upright(read_frame_at(recording, start.media_s), recording.turn)
        height = round(FRAME_WIDTH * recording.display_height / recording.display_width)
        small = picture.reformat(width=FRAME_WIDTH, height=height, format="rgb24")
        frames.append(LapStartFrame(start.lap, start.media_s, np.asarray(small.to_ndarray(), dtype=np.uint8)))
    return tuple(frames)


def draw_evidence(result: Alignment, frames: Sequence[LapStartFrame], title: str) -> Figure:
    """One page: verdict, sound against engine speed, motion against turning, scores, residuals, lap-start frames."""
    from matplotlib.figure import Figure

    kinds = [one for one in (result.sound, result.motion) if one is not None and one.candidates]
    rows = [1.5] * len(kinds) + [1.2] + ([1.5] if frames else [])
    figure = Figure(figsize=(11.5, 1.1 + 1.9 * sum(rows) / 1.4), dpi=100, facecolor="white")
    sheet = figure.add_gridspec(
        len(rows), 1, height_ratios=rows, hspace=0.55, left=0.07, right=0.98, top=0.88, bottom=0.07
    )
    _head(figure, result, title)
    row = 0
    if result.sound is not None and result.sound.candidates:
        _draw_sound(figure.add_subplot(sheet[row]), result)
        row += 1
    if result.motion is not None and result.motion.candidates:
        _draw_motion(figure.add_subplot(sheet[row]), result)
        row += 1
    pair = sheet[row].subgridspec(1, 2, wspace=0.16)
    _draw_scores(figure.add_subplot(pair[0]), kinds)
    _draw_residuals(figure.add_subplot(pair[1]), result, kinds)
    if frames:
        strip = sheet[row + 1].subgridspec(1, max(len(frames), 3), wspace=0.03)
        for i, frame in enumerate(frames):
            _draw_frame(figure.add_subplot(strip[i]), frame)
    return figure


def _head(figure: Figure, result: Alignment, title: str) -> None:
    fit = result.fit
    word, colour = ("sure", GREEN) if fit.sure else ("UNSURE", VERMILLION)
    figure.text(0.07, 0.965, word, fontsize=20, weight="bold", color=colour, va="center")
    figure.text(0.20, 0.965, title, fontsize=11, va="center", color="black")
    words = fit.basis if fit.sure else "; ".join(fit.doubts)
    figure.text(0.20, 0.937, words[:150], fontsize=9, va="center", color=GREY)


def _excerpt(result: Alignment, clock: ClockMap, span_s: tuple[float, float]) -> tuple[float, float]:
    """Media times of a stretch worth looking at: around a lap start in the middle of what both have."""
    low = max(float(clock.to_media_s(span_s[0])), 0.0)
    high = float(clock.to_media_s(span_s[1]))
    starts = clock.to_media_s(result.laps.starts_s)
    inside = starts[(starts > low) & (starts < high)]
    middle = float(inside[inside.size // 2]) if inside.size else (low + high) / 2
    return max(low, middle - EXCERPT_S / 2), middle + EXCERPT_S / 2


def _draw_sound(axes: Axes, result: Alignment) -> None:
    """The spectrogram, with the logged engine speed drawn where its two loudest orders must sound."""
    sound = result.sound
    assert sound is not None
    clock = result.fit.clock or sound.candidates[0].clock
    begin, end = _excerpt(result, clock, sound.span_s)
    first, stop = (round((t - sound.sound.begin_s) / FRAME_S) for t in (begin, end))
    part = sound.sound.level(max(first, 0), stop)
    octaves = part.shape[1] / BINS_PER_OCTAVE
    left = sound.sound.begin_s + max(first, 0) * FRAME_S
    axes.imshow(part.T, origin="lower", aspect="auto", cmap="Greys", vmin=-1, vmax=3,
                extent=(left, left + len(part) * FRAME_S, 0, octaves))  # fmt: skip
    media_s: FloatArray = clock.to_media_s(sound.engine.times_s)
    shown = (media_s >= begin) & (media_s <= end)
    loudest = np.argsort(sound.order_weights)[::-1][:2]
    for order, dash in zip(sorted(float(ORDERS[i]) for i in loudest), ((0, (6, 5)), (0, (2, 4))), strict=False):
        height = sound.engine.place[shown] / BINS_PER_OCTAVE + np.log2(order)
        axes.plot(media_s[shown], height, color=VERMILLION, linewidth=1.3, linestyle=dash,
                  label=f"logged engine speed, order {order:g}")  # fmt: skip
    ticks = np.array([50, 100, 200, 400, 800, 1600])
    axes.set_yticks(np.log2(ticks / LOWEST_HZ), [f"{hz}" for hz in ticks])
    axes.set(xlim=(begin, end), ylim=(0, octaves), ylabel="Hz", title="Sound (dark) under the logged engine speed")
    _lap_lines(axes, result, clock)
    _finish(axes)


def _draw_motion(axes: Axes, result: Alignment) -> None:
    motion = result.motion
    assert motion is not None
    clock = result.fit.clock or motion.candidates[0].clock
    begin, end = _excerpt(result, clock, motion.span_s)
    for signal, to_media, colour, dash, label in (
        (motion.picture, None, BLUE, "-", "picture pans"),
        (motion.car, clock, VERMILLION, (0, (5, 3)), f"logged: {motion.car_source}"),
    ):
        time_s: FloatArray = signal.begin_s + np.arange(signal.values.size, dtype=np.float64) * GRID_S
        media_s = time_s if to_media is None else to_media.to_media_s(time_s)
        shown = (media_s >= begin) & (media_s <= end)
        axes.plot(media_s[shown], _unit(signal)[shown], color=colour, linestyle=dash, linewidth=1.3, label=label)
    axes.set(xlim=(begin, end), ylabel="turning", yticks=[], title="Motion of the picture and turning of the car")
    _lap_lines(axes, result, clock)
    _finish(axes)


def _unit(signal: EvenSignal) -> FloatArray:
    return signal.values / (float(signal.values.std()) + 1e-12)


def _draw_scores(axes: Axes, kinds: Sequence[Evidence]) -> None:
    for one, colour, dash in zip(kinds, (BLUE, ORANGE), ("-", (0, (4, 2))), strict=False):
        offsets, heights = thinned(one.scores.offset_s, one.scores.score)
        axes.plot(offsets, heights, color=colour, linestyle=dash, linewidth=0.9, label=one.criteria.kind)
        best = one.candidates[0]
        axes.plot(best.clock.offset_s, best.score, marker="v", markersize=7, color=VERMILLION, clip_on=False)
    axes.axhline(0, color=GREY, linewidth=0.5)
    axes.set(xlabel="offset, s", ylabel="above chance, σ", title="One peak should stand out")
    _finish(axes)


def _draw_residuals(axes: Axes, result: Alignment, kinds: Sequence[Evidence]) -> None:
    clock = result.fit.clock
    if clock is not None:
        for one, colour, mark in zip(kinds, (BLUE, ORANGE), ("o", "s"), strict=False):
            log_s, off_ms = residuals_ms(nearest_candidate(one, clock), clock)
            axes.plot(log_s, np.clip(off_ms, -60, 60), mark, color=colour, markersize=4, label=one.criteria.kind)
        grid = np.linspace(*_log_span(result), 100)
        band = np.array([clock.half_width_s(float(t)) for t in grid]) * 1000
        axes.fill_between(grid, -band, band, color=GREY, alpha=0.25, linewidth=0, label="95 %")
        for residual in result.fit.residuals:
            axes.axvline(residual.log_s, color=GREY, linewidth=0.6, linestyle=":")
            if residual.mark_s is not None:
                axes.plot(residual.log_s, residual.mark_s * 1000, "x", color=VERMILLION, markersize=8, mew=2)
    axes.axhline(0, color=GREY, linewidth=0.5)
    axes.set(
        xlabel="log, s (dotted: lap starts)", ylabel="ms", ylim=(-65, 65), title="Stretches should lie on the line"
    )
    _finish(axes, legend_below=True)


def _log_span(result: Alignment) -> tuple[float, float]:
    spans = [one.span_s for one in (result.sound, result.motion) if one is not None]
    starts = result.laps.starts_s
    return (
        min([s[0] for s in spans], default=float(starts[0])),
        max([s[1] for s in spans], default=float(starts[-1])),
    )


def nearest_candidate(evidence: Evidence, clock: ClockMap) -> Candidate:
    """The candidate whose clock is the one that was chosen, or nearest to it."""
    return min(evidence.candidates, key=lambda c: abs(c.clock.offset_s - clock.offset_s))


def residuals_ms(candidate: Candidate, clock: ClockMap) -> tuple[FloatArray, FloatArray]:
    """Log times of the stretches, and by how many ms later than the clock each of them puts the recording."""
    log_s = candidate.stretches.log_s
    off = candidate.stretches.offset_s + log_s - clock.to_media_s(log_s)
    good = np.isfinite(off)
    return log_s[good], off[good] * 1000


def _draw_frame(axes: Axes, frame: LapStartFrame) -> None:
    axes.imshow(frame.picture)
    axes.set_title(f"lap {frame.lap} begins\n{frame.media_s:.3f} s", fontsize=8)
    axes.set_axis_off()


def _lap_lines(axes: Axes, result: Alignment, clock: ClockMap) -> None:
    low, high = axes.get_xlim()
    for start in result.laps.starts:
        media_s = clock.to_media_s(start.log_s)
        if low <= media_s <= high:
            axes.axvline(media_s, color=GREEN, linewidth=1.2)
            axes.annotate(f"lap {start.number}", (media_s, 1.0), xycoords=("data", "axes fraction"), fontsize=8,
                          xytext=(3, -10), textcoords="offset points", color=GREEN)  # fmt: skip
    axes.set_xlabel("recording, s", labelpad=1)


def _finish(axes: Axes, *, legend_below: bool = False) -> None:
    axes.title.set_fontsize(10)
    axes.tick_params(labelsize=8)
    axes.xaxis.label.set_fontsize(8)
    axes.yaxis.label.set_fontsize(8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if axes.get_legend_handles_labels()[0]:
        if legend_below:
            axes.legend(fontsize=7.5, loc="lower right", ncols=3, framealpha=0.9)
        else:
            axes.legend(fontsize=7.5, loc="upper right", framealpha=0.9)


def thinned(x: FloatArray, y: FloatArray, most: int = MOST_POINTS) -> tuple[FloatArray, FloatArray]:
    """At most about `most` points of a curve that keep its peaks: the highest of every block."""
    block = max(1, -(-x.size // most))
    if block == 1:
        return x, y
    rows = x.size // block
    best = y[: rows * block].reshape(rows, block).argmax(axis=1) + np.arange(rows) * block
    return x[best], y[best]


def evidence_data(result: Alignment) -> dict[str, Any]:
    """The same as plain values, for JSON: scores over offset, stretches, lap starts."""
    data: dict[str, Any] = {"sure": result.fit.sure, "basis": result.fit.basis, "doubts": list(result.fit.doubts)}
    for name, one in (("sound", result.sound), ("motion", result.motion)):
        if one is None:
            continue
        offsets, heights = thinned(one.scores.offset_s, one.scores.score)
        data[name] = {
            "why_not": one.why_not,
            "scores": {"offset_s": np.round(offsets, 4).tolist(), "score": np.round(heights, 3).tolist()},
            "candidates": [_candidate_data(candidate) for candidate in one.candidates],
        }
    return data


def _candidate_data(candidate: Candidate) -> dict[str, Any]:
    return {
        "offset_s": candidate.clock.offset_s,
        "drift_ppm": candidate.clock.drift_ppm,
        "score": candidate.score,
        "agreement": candidate.agreement,
        "scatter_s": candidate.scatter_s if np.isfinite(candidate.scatter_s) else None,
        "fits": candidate.fits,
        "stretches": {
            "log_s": np.round(candidate.stretches.log_s, 3).tolist(),
            "offset_s": np.round(candidate.stretches.offset_s, 5).tolist(),
            "agrees": candidate.agrees.tolist(),
        },
    }


def save_evidence(result: Alignment, frames: Sequence[LapStartFrame], title: str, path: Path) -> None:
    """Write the picture; the format follows from the suffix (.png, .pdf, .svg)."""
    draw_evidence(result, frames, title).savefig(path, format=path.suffix.lstrip(".").lower() or "png")
