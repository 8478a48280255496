"""What was done to the car: the ignition switched, the pedal pressed, a lamp lit, the engine started and revved.

Everything is read from samples, so a moment is known only to lie between two of them. Nothing here says what was asked
for, and nothing is rounded to the nearest sample: `Moment` keeps both ends, and every duration comes as least and most.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, between
from relearn.events import runs
from relearn.traffic import Traffic

SILENCE_S = 2.0  # a lost frame alone keeps a tester waiting for 1 s (N_Cr of ISO 15765-2)
SILENCE_INTERVALS = 3.0  # a silence no longer than this many of the usual intervals is slow asking
USUAL_QUANTILE = 0.95  # nineteen of twenty answers come within the usual interval
SLOW_PACE = 6  # so many silences are no key being turned but slow asking; the longest relearn here has two
BY_LOSS = 1e-3  # so unlikely it must be that a silence is only answers which the recording lost
ANSWER_S = 0.05  # by when a module answers (P2 of ISO 15765-4)
CLOCK_S = 1e-6  # captures count microseconds

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Moment:
    """Something happened after earliest_s and by latest_s; ±inf where the capture does not reach."""

    earliest_s: float
    latest_s: float


def elapsed_s(began: Moment, ended: Moment) -> tuple[float, float]:
    """The least and the most time from one moment to another; negative where they may be the other way round."""
    return ended.earliest_s - began.latest_s, ended.latest_s - began.earliest_s


def sooner(*moments: Moment) -> Moment:
    """The moment of whichever comes first."""
    return Moment(min(one.earliest_s for one in moments), min(one.latest_s for one in moments))


@dataclass(frozen=True)
class Stretch:
    """A run of samples of one kind. top: the highest value in it. Frames: those of its first and last sample."""

    began: Moment
    ended: Moment
    top: float
    frames: tuple[int, int]

    @property
    def least_s(self) -> float:
        return max(0.0, elapsed_s(self.began, self.ended)[0])

    @property
    def most_s(self) -> float:
        return elapsed_s(self.began, self.ended)[1]


@dataclass(frozen=True)
class Phase:
    """A time with the ignition on (the module answers) or off (it is silent), or one of which nothing is known.

    Frames: of 'on' its first and last answer, else the last answer before and the first after.
    """

    kind: Literal["on", "off", "unknown"]
    began: Moment
    ended: Moment
    frames: tuple[int, int]


def stretches(channel: Channel, mask: NDArray[np.bool_], since: Moment, until: Moment) -> tuple[Stretch, ...]:
    """Every run of samples at which `mask` holds. since, until: where the channel's samples begin and end being all of
    the story, e.g. the ignition coming on and going off."""
    times_s, values, frames = channel.time_s, channel.value, channel.frame
    before_s = np.concatenate(([since.earliest_s], times_s))
    after_s = np.append(times_s[1:], until.latest_s)
    return tuple(
        Stretch(
            Moment(float(before_s[a]), float(times_s[a])),
            Moment(float(times_s[b]), float(after_s[b])),
            float(values[a : b + 1].max()),
            (int(frames[a]), int(frames[b])),
        )
        for a, b in runs(mask)
    )


def holes(channel: Channel, from_s: float, to_s: float, longer_than_s: float) -> tuple[tuple[float, float], ...]:
    """The times in from_s … to_s for longer than longer_than_s without a sample; an infinite end is no end."""
    if to_s <= from_s:
        return ()
    ends = [end for end in (from_s, to_s) if np.isfinite(end)]
    times_s = np.union1d(between(channel, from_s, to_s).time_s, ends)
    return tuple((float(a), float(b)) for a, b in pairwise(times_s) if b - a > longer_than_s + CLOCK_S)


def changes(channel: Channel) -> int:
    """How often the value differs from the one before."""
    return int((np.diff(channel.value) != 0).sum())


def ignition(heard: Traffic) -> tuple[Phase, ...]:
    """The ignition going on and off, in time order, by when the module answers. None where it never did.

    off      it was asked in vain; or everything fell silent and came back, in a capture whose tester is never seen
             asking in vain. How long is known to the requests on both sides, or else to one usual interval.
    unknown  a silence in which nobody is seen asking it although others are heard, or although this tester is seen
             asking in vain at another time: it may have been on or off, or the recording may have paused.
    A module goes on answering for a moment after the key is turned, and needs one to wake up: it is its silence that is
    measured. An ignition on shorter than SILENCE_S between two silences is not seen.
    """
    if not len(heard.answered_s):
        return ()
    silences = list(_silences(heard))
    asks_in_vain = any(one.kind == "off" for one in silences)
    known = [_whole_bus(one, heard) if one.kind == "unknown" and not asks_in_vain else one for one in silences]
    return tuple(_with_answers_between(known, heard))


def as_on(phases: tuple[Phase, ...]) -> tuple[Phase, ...]:
    """The same if the ignition was on whenever nothing is known."""
    return _joined(phases, "on")


def as_off(phases: tuple[Phase, ...]) -> tuple[Phase, ...]:
    """The same if the ignition was off, for any part of it, whenever nothing is known."""
    return _joined(phases, "off")


def _joined(phases: tuple[Phase, ...], kind: Literal["on", "off"]) -> tuple[Phase, ...]:
    """Unknown phases taken for one kind, and neighbours of the same kind made one."""
    joined: list[Phase] = []
    for one in phases:
        one = replace(one, kind=kind) if one.kind == "unknown" else one
        if joined and joined[-1].kind == one.kind:
            before = joined.pop()
            one = Phase(one.kind, before.began, one.ended, (before.frames[0], one.frames[1]))
        joined.append(one)
    return tuple(joined)


def _silences(heard: Traffic) -> Iterator[Phase]:
    """Every silence longer than SILENCE_S that is not just slow asking, before, between and after the answers."""
    times_s, frame = heard.answered_s, heard.frame
    edges_s = np.concatenate(([-np.inf], times_s, [np.inf]))
    frames = np.concatenate((frame[:1], frame, frame[-1:]))
    usual_s, lost = _usual_s(times_s), _may_be_lost(heard, edges_s)
    for row in np.flatnonzero(np.diff(edges_s) > SILENCE_S):
        since_s, until_s = float(edges_s[row]), float(edges_s[row + 1])
        around = (int(frames[row]), int(frames[row + 1]))
        asked = _in_vain(heard.asked_s, since_s, until_s, lost)
        if asked:
            yield from _asked_in_vain(asked, since_s, until_s, around)
        elif np.isfinite(until_s - since_s) and until_s - since_s > SILENCE_INTERVALS * usual_s:
            yield Phase("unknown", Moment(since_s, until_s), Moment(since_s, until_s), around)


def _may_be_lost(heard: Traffic, edges_s: Times) -> int:
    """How many answers in a row this capture may have lost by chance: by the share of requests that it leaves
    unanswered outside of its silences, and BY_LOSS. edges_s: the answers, between -inf and inf."""
    asked_s, answered_s = heard.asked_s, heard.answered_s
    until_s = np.append(asked_s[1:], np.inf)
    row = np.searchsorted(answered_s, asked_s)
    got = np.searchsorted(answered_s, until_s, side="right") > row
    told = got | (edges_s[row + 1] - edges_s[row] <= SILENCE_S)
    lost = 1.0 - float(got[told].mean()) if told.any() else 0.0
    return ceil(log(BY_LOSS) / log(lost)) if 0.0 < lost < 1.0 else 0


def _in_vain(asked_s: Times, since_s: float, until_s: float, lost: int) -> list[Times]:
    """When the module was asked and stayed silent, cut where the asking paused for long; none with fewer than two
    requests. On both sides as many are left out as may only have lost their answers, and a request within ANSWER_S of
    the answer is the one that was answered."""
    vain_s = asked_s[(asked_s > since_s) & (asked_s < until_s - ANSWER_S)]
    vain_s = vain_s[lost : len(vain_s) - lost]
    if len(vain_s) < 2:
        return []
    pauses_s = np.diff(vain_s)
    longest_s = max(SILENCE_S, SILENCE_INTERVALS * float(np.median(pauses_s)))
    return np.split(vain_s, np.flatnonzero(pauses_s > longest_s) + 1)


def _asked_in_vain(asked: list[Times], since_s: float, until_s: float, around: tuple[int, int]) -> Iterator[Phase]:
    """Off while it was asked; unknown where the asking paused."""
    began = Moment(since_s, float(asked[0][0]))
    for run, following in pairwise(asked):
        pause = Moment(float(run[-1]), float(following[0]))
        yield Phase("off", began, pause, around)
        yield Phase("unknown", pause, pause, around)
        began = pause
    yield Phase("off", began, Moment(float(asked[-1][-1]), until_s), around)


def _usual_s(times_s: Times) -> float:
    """The usual time between answers: nearly all come within it. Silences are left out, unless there are so many, or so
    few shorter times, that they are the pace of the asking."""
    intervals_s = np.diff(times_s)
    long_s, short_s = intervals_s[intervals_s > SILENCE_S], intervals_s[intervals_s <= SILENCE_S]
    if len(long_s) >= min(SLOW_PACE, max(1, len(short_s))):
        return float(np.median(long_s))
    return float(np.quantile(short_s, USUAL_QUANTILE)) if len(short_s) else 0.0


def _whole_bus(silence: Phase, heard: Traffic) -> Phase:
    """Off, to one usual interval on both sides, if nothing else was heard and nobody asked; else it stays as it is."""
    since_s, until_s, usual_s = silence.began.earliest_s, silence.ended.latest_s, _usual_s(heard.answered_s)
    bus_s = np.concatenate([heard.others_s, heard.asked_s])
    if ((bus_s > since_s + usual_s) & (bus_s < until_s - usual_s)).any():
        return silence
    return Phase("off", Moment(since_s, since_s + usual_s), Moment(until_s - usual_s, until_s), silence.frames)


def _with_answers_between(silences: list[Phase], heard: Traffic) -> Iterator[Phase]:
    """The silences and, before, between and after them, the time in which the module answered."""
    since, times_s, frame = Moment(-np.inf, float(heard.answered_s[0])), heard.answered_s, heard.frame
    row = 0
    for one in silences:
        last = int(np.searchsorted(times_s, one.began.earliest_s, side="right")) - 1
        if last >= row:
            yield Phase("on", since, one.began, (int(frame[row]), int(frame[last])))
        yield one
        since, row = one.ended, last + 1
    if row < len(times_s):
        yield Phase("on", since, Moment(float(times_s[-1]), np.inf), (int(frame[row]), int(frame[-1])))
