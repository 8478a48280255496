"""Where the steps of a relearn stand while they are being done: the same walk and the same verdicts as `checks.steps`.

A recorded capture is judged by its best try; here the one under way counts. What is looked at begins with a moment (the
technician starts on the steps) and ends now, and it ends in the middle: an answer that is only due is no ignition that
went off, so a silence counts from actions.SILENCE_S on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

from relearn.actions import SILENCE_S, Phase, Stretch
from relearn.channels import between
from relearn.checks.step_measures import Measure
from relearn.checks.step_patterns import LIT_S
from relearn.checks.steps import Course, Done, Try, tries_of
from relearn.checks.timeline import LIT, Cycle, Timeline, timelines, traffic_of
from relearn.checks.view import View
from relearn.procedures.sheets import Sheet
from relearn.traffic import Traffic
from relearn.verdict import Outcome, combine

BLINKS_LONGER = 1.5  # a lamp that is lit this much longer than its longest blink so far is taken for staying lit
NOT_BEGUN = "not begun yet"


@dataclass(frozen=True, eq=False)
class Progress:
    """The steps so far. done: of the try under way, every step that scan data shows. at: which one is under way, None
    when nothing is left to be done. failed: the newest try that went wrong, empty without one. phase, cycle: the
    ignition now. leaving: it is still as it was when all began, and the first thing to do is to switch it off.
    """

    done: Try
    at: int | None
    failed: Try
    phase: Phase | None
    cycle: Cycle | None
    leaving: bool

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
        return Progress(not_begun(course), _under_way(not_begun(course)), (), None, None, leaves)
    first, *others = readings
    return replace(first, done=tuple(_alike(one, place, others) for place, one in enumerate(first.done)))


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


def enough(done: Done) -> bool:
    """A step that is open only because more of it could follow: it is over, and what was asked for is there."""
    span = done.span
    if done.outcome is not Outcome.CANNOT_TELL or done.open or span is None or not isfinite(span[1].latest_s):
        return False
    waiting = [one for one in done.found.values() if one.outcome is Outcome.CANNOT_TELL]
    return all(one.measures and all(part.limits.holds(part.least) for part in one.measures) for one in waiting)


def timed(done: Done) -> Measure | None:
    """The time by which a step goes, so far; None for one that goes by none."""
    return next((one for one in done.measures if one.limits.unit == "s"), None)


def counted(done: Done) -> Measure | None:
    """What is counted of a step, so far; None for one of which nothing is."""
    return next((one for one in done.measures if one.limits.unit == "times"), None)


def steady_lamp(cycle: Cycle) -> Stretch | None:
    """The stretch in which the lamp is lit and seems to stay lit: longer than any blink so far; without one, LIT_S.

    Advice, not a verdict: those go by LIT_S alone, and a foot cannot wait for them.
    """
    several = cycle.of(LIT)
    if not several or isfinite(several[-1].ended.latest_s):
        return None
    longest_s = max((one.most_s for one in several[:-1]), default=inf)
    return several[-1] if several[-1].least_s >= min(LIT_S, BLINKS_LONGER * longest_s) else None


def blinking(cycle: Cycle, now_s: float) -> bool:
    """Whether the lamp came on again and again over the last seconds."""
    recent = [one for one in cycle.of(LIT) if one.ended.earliest_s >= now_s - 2 * LIT_S]
    return len(recent) > 1 and all(one.least_s < LIT_S for one in recent)


def _one(view: View, timeline: Timeline, course: Course, sheet: Sheet, leaves: bool) -> Progress:
    underway = timeline.phases[0].kind == "on" and not isfinite(timeline.phases[0].began.earliest_s)
    tries = [one for one in tries_of(view, timeline, course, sheet) if not (leaves and underway and _uses(one, 0))]
    chosen = max(enumerate(tries), key=lambda numbered: _standing(*numbered), default=(0, not_begun(course)))[1]
    chosen = not_begun(course) if _wrong(chosen) else chosen
    failed = max(filter(_wrong, tries), key=_lasted_s, default=())
    place = len(timeline.phases) - 1
    leaving = leaves and underway and place == 0
    return Progress(chosen, _under_way(chosen), failed, timeline.phases[place], timeline.cycles.get(place), leaving)


def _uses(one: Try, phase: int) -> bool:
    return any(found.phase == phase for done in one[:1] for found in done.found.values())


def _standing(place: int, one: Try) -> tuple[bool, bool, int, int]:
    """Tries that can still come out well first, then those that came furthest, then the newest."""
    at, yes = _under_way(one), sum(done.outcome is Outcome.YES for done in one)
    so_far = one if at is None else one[: at + 1]
    return not _wrong(one), not any(done.open for done in so_far), yes, place


def _wrong(one: Try) -> bool:
    return any(done.outcome is Outcome.NO for done in one)


def _lasted_s(one: Try) -> tuple[float, int]:
    """Until when a try went on, and how far it came."""
    ends = [end.earliest_s for done in one if done.span is not None for end in done.span if isfinite(end.earliest_s)]
    return max(ends, default=-inf), sum(done.outcome is Outcome.YES for done in one)


def _under_way(one: Try) -> int | None:
    """The first step that is still to be done; what could not be read and is over does not come back."""
    left = (
        place
        for place, done in enumerate(one)
        if done.outcome not in (None, Outcome.YES) and not enough(done) and not _over(one, place)
    )
    return next(left, None)


def _over(one: Try, place: int) -> bool:
    return one[place].open and any(later.outcome is Outcome.YES for later in one[place + 1 :])


def _alike(done: Done, place: int, others: Sequence[Progress]) -> Done:
    if all(other.done[place].outcome is done.outcome for other in others):
        return done
    return replace(done, outcome=Outcome.CANNOT_TELL, reason="whether the ignition was on is not known")
