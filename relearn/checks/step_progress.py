"""Where the steps of a relearn stand while they are being done: the same walk and the same verdicts as `checks.steps`.

A recorded capture is judged by its best try; here the one under way counts. What is looked at begins with a moment (the
technician starts on the steps) and ends now, and it ends in the middle: an answer that is only due is no ignition that
went off, so a silence counts from actions.SILENCE_S on.

Where a try stands never goes back: a step is behind it once it is a yes, once a later action is seen, or once its own
time is past, whether it can still be told or not (step_place.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

from relearn.actions import SILENCE_S, Phase, Stretch, holes
from relearn.channels import between, median_interval_s
from relearn.checks.step_patterns import LIT_S
from relearn.checks.step_place import NOT_BEGUN, Lost, doubt, held_on, lost, place_of, settled
from relearn.checks.step_window import FLEETING_S
from relearn.checks.steps import Course, Done, Try, tries_of
from relearn.checks.timeline import LAMP, LIT, Cycle, Timeline, timelines, traffic_of
from relearn.checks.view import View
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep
from relearn.traffic import Traffic
from relearn.verdict import Outcome, combine

BLINKS_LONGER = 1.5  # a lamp that is lit this much longer than its longest blink so far is taken for staying lit
USUAL_INTERVALS = 2.0  # a time between two samples up to so many usual ones is no hole in them


@dataclass(frozen=True, eq=False)
class Progress:
    """The steps so far. done: of the try under way, every step that scan data shows. at: which one is under way, None
    when nothing is left to be done. failed: the newest try that went wrong, empty without one. lost: the steps of the
    try under way that can no longer be decided, so that it cannot become a yes. doubt: why it cannot be told where the
    steps stand, empty when it can. phase, cycle: the ignition now. leaving: it is still as it was when all began, and
    the first thing to do is to switch it off.
    """

    done: Try
    at: int | None
    failed: Try
    phase: Phase | None
    cycle: Cycle | None
    leaving: bool
    lost: tuple[Lost, ...] = ()
    doubt: str = ""

    @property
    def outcome(self) -> Outcome:
        """Of the try under way, what is left to the eye aside."""
        return combine(one.outcome for one in self.done if one.outcome is not None)


def progress(view: View, course: Course, sheet: Sheet, since_s: float, leaves: bool) -> Progress:
    """How far the steps are, by the data from since_s on.

    leaves: they begin with switching off what runs, so that the ignition of since_s belongs to no try. Where it is open
    whether the ignition was on, a step that both readings do not give alike is a cannot tell.
    """
    seen = settled_end(since(view, since_s))
    readings = [_one(seen, timeline, course, sheet, leaves) for timeline in timelines(seen, sheet)]
    if not readings:
        return Progress(not_begun(course), place_of(not_begun(course)), (), None, None, leaves)
    first = max(readings, key=_likely)
    others = [one for one in readings if one is not first]
    done = tuple(_alike(one, place, others) for place, one in enumerate(first.done))
    known = [one.done.step for one in first.lost]
    unlike = (Lost(one, one.reason) for one, was in zip(done, first.done, strict=True) if _was(one, was, known))
    return replace(first, done=done, lost=(*first.lost, *unlike))


def not_begun(course: Course) -> Try:
    """A try of which nothing is seen."""
    return tuple(Done(step, Outcome.CANNOT_TELL, NOT_BEGUN, {}) for step in course.steps)


def since(view: View, since_s: float) -> View:
    """The view without anything older."""
    channels = {name: between(one, since_s, inf) for name, one in view.channels.items()}
    told = traffic_of(view)
    later = told.answered_s >= since_s
    traffic = Traffic(
        told.answered_s[later],
        told.frame[later],
        told.asked_s[told.asked_s >= since_s],
        told.others_s[told.others_s >= since_s],
    )
    return replace(view, channels={name: one for name, one in channels.items() if len(one)}, traffic=traffic)


def settled_end(view: View) -> View:
    """The view without the requests that may still be answered."""
    told = traffic_of(view)
    last_s = float(told.answered_s[-1]) if len(told.answered_s) else -inf
    if view.end_s - last_s > SILENCE_S:
        return view
    return replace(view, traffic=replace(told, asked_s=told.asked_s[told.asked_s <= last_s]))


def steady_lamp(cycle: Cycle) -> Stretch | None:
    """The stretch in which the lamp is lit and seems to stay lit: longer than any blink so far; without one, LIT_S.
    What a hole in its samples could hide is no part of it.

    Advice, not a verdict: those go by LIT_S alone, and a foot cannot wait for them.
    """
    several = cycle.of(LIT)
    if not several or isfinite(several[-1].ended.latest_s):
        return None
    longest_s = max((one.most_s for one in several[:-1]), default=inf)
    return several[-1] if _surely_lit_s(cycle, several[-1]) >= min(LIT_S, BLINKS_LONGER * longest_s) else None


def _surely_lit_s(cycle: Cycle, lit: Stretch) -> float:
    """For how long, up to the newest sample, no blink can have been hidden between two samples of the usual pace."""
    lamp = cycle.channels[LAMP]
    usual_s = max(FLEETING_S, USUAL_INTERVALS * (median_interval_s(lamp) or 0.0))
    missing = holes(lamp, lit.began.latest_s, lit.ended.earliest_s, usual_s)
    return lit.ended.earliest_s - (missing[-1][1] if missing else lit.began.latest_s)


def blinking(cycle: Cycle, now_s: float) -> bool:
    """Whether the lamp came on again and again over the last seconds, and is not lit for longer than it was before."""
    several = cycle.of(LIT)
    recent = [one for one in several if one.ended.earliest_s >= now_s - 2 * LIT_S]
    longest_s = max((one.most_s for one in several[:-1]), default=0.0)
    return len(recent) > 1 and recent[-1].least_s < min(LIT_S, longest_s) and all(one.least_s < LIT_S for one in recent)


def _one(view: View, timeline: Timeline, course: Course, sheet: Sheet, leaves: bool) -> Progress:
    underway = timeline.phases[0].kind == "on" and not isfinite(timeline.phases[0].began.earliest_s)
    told = tries_of(view, held_on(timeline, course), course, sheet)
    tries = [settled(one, view.end_s) for one in told if not (leaves and underway and _uses(one, 0))]
    chosen = max(
        enumerate(tries), key=lambda numbered: _standing(numbered[0], numbered[1], view), default=(0, not_begun(course))
    )[1]
    chosen = not_begun(course) if _wrong(chosen) else chosen
    failed = max(filter(_wrong, tries), key=_lasted_s, default=())
    last = len(timeline.phases) - 1
    return Progress(
        chosen,
        place_of(chosen, view.end_s),
        failed,
        timeline.phases[last],
        timeline.cycles.get(last),
        leaves and underway and last == 0,
        _lost(chosen, view),
        doubt(chosen, view.end_s),
    )


def _likely(one: Progress) -> tuple[bool, int]:
    """The reading in which nothing went wrong, and that came furthest."""
    return not one.failed, len(one.done) if one.at is None else one.at


def _lost(one: Try, view: View) -> tuple[Lost, ...]:
    answered_s = traffic_of(view).answered_s
    return lost(one, view.end_s, float(answered_s[-1]) if len(answered_s) else -inf)


def _uses(one: Try, phase: int) -> bool:
    return any(found.phase == phase for done in one[:1] for found in done.found.values())


def _standing(number: int, one: Try, view: View) -> tuple[bool, bool, bool, int, int]:
    """Tries that did not go wrong first, then one that is all there, then those that go on, those that came furthest,
    and the newest."""
    at = place_of(one, view.end_s)
    there = at is None and not _lost(one, view)
    return not _wrong(one), there, at is not None, at or 0, number


def _wrong(one: Try) -> bool:
    return any(done.outcome is Outcome.NO for done in one)


def _lasted_s(one: Try) -> tuple[float, int]:
    """Until when a try went on, and how far it came."""
    ends = [end.earliest_s for done in one if done.span is not None for end in done.span if isfinite(end.earliest_s)]
    return max(ends, default=-inf), sum(done.outcome is Outcome.YES for done in one)


def _was(done: Done, before: Done, known: Sequence[PlannedStep]) -> bool:
    """A step that was a yes, and is one in this reading only."""
    return before.outcome is Outcome.YES and done.outcome is Outcome.CANNOT_TELL and done.step not in known


def _alike(done: Done, place: int, others: Sequence[Progress]) -> Done:
    if all(other.done[place].outcome is done.outcome for other in others):
        return done
    return replace(done, outcome=Outcome.CANNOT_TELL, reason="whether the ignition was on is not known")
