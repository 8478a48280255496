"""Where a try stands while it is being done, and what of it can no longer be decided.

A judge looks back at a whole capture; a person in the car needs to know what comes next even where a hole in the data
has made a step before it undecidable. So a step is behind them once it is a yes, once a later action is seen, or once
its own time is past; and what cannot become a yes any more is named as soon as that is certain.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import floor, inf, isfinite

from relearn.actions import Moment, holes
from relearn.channels import FRESH_S, Channel
from relearn.checks.step_measures import Found, Measure
from relearn.checks.step_patterns import RESTS_S, REV_S, SOURCES
from relearn.checks.step_window import FLEETING_S, let_go
from relearn.checks.steps import Course, Done, Try
from relearn.checks.timeline import PEDAL, PRESSED, Cycle, Timeline
from relearn.verdict import Outcome

NOT_BEGUN = "not begun yet"
HELD_S = 1.0  # a pedal that is down for longer is being held: none of several quick presses takes so long
PRESSES, RESTS, REVS = "pedal-presses", "pedal-rests", "revved"
BY_KEY = ("ignition-on", "ignition-off")
ACTIONS = (*BY_KEY, PRESSES, "pedal-held", "engine-starts", REVS)
"""Patterns that a person does; the others follow by themselves, and seeing them tells nothing of where they are."""
HIDES_S = {RESTS: FLEETING_S, "pedal-held": FLEETING_S, "engine-idles": REV_S, PRESSES: FLEETING_S, REVS: REV_S}
"""How long a hole in the samples must be to hide the end of a pattern, or one more of it."""


@dataclass(frozen=True, eq=False)
class Lost:
    """A step that can no longer be decided, and why, in words that stay the same while time goes on."""

    done: Done
    why: str


def held_on(timeline: Timeline, course: Course) -> Timeline:
    """The same, with a pedal that has been down for HELD_S taken for one that stays down longer than presses may take:
    it is the hold, and none of the presses before it."""
    within_s = [one.value for step in course.steps if PRESSES in step.shows for one in step.numbers]
    cycles = {place: _held_on(one, max(within_s, default=0.0)) for place, one in timeline.cycles.items()}
    return replace(timeline, cycles=cycles)


def _held_on(cycle: Cycle, longest_s: float) -> Cycle:
    presses = cycle.of(PRESSED)
    if not presses or isfinite(presses[-1].ended.latest_s) or presses[-1].least_s < HELD_S:
        return cycle
    ended = Moment(max(presses[-1].ended.earliest_s, presses[-1].began.latest_s + longest_s), inf)
    return replace(cycle, stretches={**cycle.stretches, PRESSED: (*presses[:-1], replace(presses[-1], ended=ended))})


def settled(one: Try, now_s: float) -> Try:
    """A try whose presses are judged as they stand now: a press that is not over may turn out to be the hold and is no
    'too many' yet, and once their time is past, or the hold has begun, too few are too few. Behind a turn of the key
    that has not come, nothing is begun."""
    waiting = _by_key_next(one)
    one = (*one[: waiting + 1], *(_to_come(done) for done in one[waiting + 1 :]))
    return tuple(_settled(one, place, now_s) if PRESSES in done.step.shows else done for place, done in enumerate(one))


def _to_come(done: Done) -> Done:
    return done if done.outcome is None else Done(done.step, Outcome.CANNOT_TELL, NOT_BEGUN, {})


def _settled(one: Try, place: int, now_s: float) -> Done:
    done = one[place]
    if done.span is None:
        held = done.outcome is Outcome.CANNOT_TELL and _later_begun(one, place)
        cycle = _cycle(one, place)
        from_s = cycle.phase.began.latest_s if cycle is not None else -inf
        unseen = held and not _missing(cycle, PEDAL, from_s, inf, FLEETING_S)
        return replace(done, outcome=Outcome.NO, reason="not seen before what comes after them") if unseen else done
    if done.outcome is Outcome.NO and not isfinite(done.span[1].latest_s):
        return replace(done, outcome=Outcome.CANNOT_TELL, reason="a press that is not over yet")
    return _too_few(one, place, now_s)


def _too_few(one: Try, place: int, now_s: float) -> Done:
    done, count = one[place], counted(one[place])
    if count is None or not late(done, now_s) or count.least >= (count.limits.low or 0.0):
        return done
    if done.outcome is Outcome.CANNOT_TELL and not _all_seen(_cycle(one, place), done, count, _since_s(one, place)):
        return done
    reason = f"{replace(count, most=count.least).sentence}; the time for them is over: too late"
    return replace(done, outcome=Outcome.NO, reason=reason)


def _since_s(one: Try, place: int) -> float:
    """From when on the presses may have begun: a hole before the first that was seen could hide one."""
    before = one[place - 1].span if place else None
    ends_s = [span.earliest_s for span in (before and before[1], (one[place].span or (None,))[0]) if span is not None]
    return min(ends_s, default=-inf)


def _all_seen(cycle: Cycle | None, done: Done, count: Measure, from_s: float) -> bool:
    """Whether every press was counted: none was part of the way down, and no hole hides one."""
    if cycle is None or done.span is None or not isfinite(done.span[1].latest_s):
        return False
    to_s = done.span[0].latest_s + _within_s(done)
    several = [one for one in cycle.of(PRESSED) if from_s <= one.began.latest_s <= to_s]
    hidden = _missing(cycle, PEDAL, from_s, to_s, FLEETING_S) or any(let_go(cycle, one) for one in several)
    return len(several) == count.least and not hidden


def late(done: Done, now_s: float) -> bool:
    """Whether the time that presses may take is past, counted from the first of them."""
    return PRESSES in done.step.shows and done.span is not None and now_s - done.span[0].latest_s > _within_s(done)


def _within_s(done: Done) -> float:
    return next((one.value for one in done.step.numbers if one.name == "within_s"), inf)


def enough(done: Done) -> bool:
    """A step that is open only because more of it could follow: it is over, and what was asked for is there. One rev
    more may be on its way."""
    span = done.span
    if done.outcome is not Outcome.CANNOT_TELL or done.open or span is None:
        return False
    if not isfinite(span[1].latest_s) and REVS not in done.step.shows:
        return False
    waiting = [one for one in done.found.values() if one.outcome is Outcome.CANNOT_TELL]
    return all(one.measures and all(part.limits.holds(part.least) for part in one.measures) for one in waiting)


def timed(done: Done) -> Measure | None:
    """The time by which a step goes, so far; None for one that goes by none."""
    return next((one for one in done.measures if one.limits.unit == "s"), None)


def counted(done: Done) -> Measure | None:
    """What is counted of a step, so far; None for one of which nothing is."""
    return next((one for one in done.measures if one.limits.unit == "times"), None)


def place_of(one: Try, now_s: float = -inf) -> int | None:
    """The step under way: the first one behind the last that is past. None when nothing is left to be done, or nothing
    more can be: the ignition has gone off in the middle."""
    last = max((place for place in range(len(one)) if _past(one, place, now_s)), default=-1)
    at = next((place for place in range(last + 1, len(one)) if one[place].outcome is not None), None)
    return None if at is not None and _cut_short(one, at) else at


def _by_key_next(one: Try) -> int:
    """The first step for which the key has not been turned yet: what was found of later ones came before it."""
    waiting = (
        place
        for place, done in enumerate(one)
        if done.outcome is Outcome.CANNOT_TELL and done.span is None and done.step.shows[0] in BY_KEY
    )
    return next(waiting, len(one))


def _past(one: Try, place: int, now_s: float) -> bool:
    done = one[place]
    if done.outcome is None:
        return False
    if done.outcome is Outcome.YES or enough(done) or late(done, now_s):
        return True
    if _later_begun(one, place):
        return True
    if done.span is not None:
        return done.open and isfinite(done.span[1].latest_s)
    after = next((number for number, each in enumerate(one) if each.step.id == done.step.after), None)
    return done.open and after is not None and _past(one, after, now_s)


def _later_begun(one: Try, place: int) -> bool:
    return any(done.outcome is Outcome.YES or _begun(done) for done in one[place + 1 :])


def _begun(done: Done) -> bool:
    first = next(iter(done.step.shows), "")
    return first in ACTIONS and first in done.found and done.found[first].span is not None


def _cut_short(one: Try, at: int) -> bool:
    cycle = _cycle(one, at)
    by_key = bool(set(BY_KEY) & set(one[at].step.shows))
    return not by_key and cycle is not None and isfinite(cycle.phase.ended.latest_s)


def _cycle(one: Try, place: int) -> Cycle | None:
    """The ignition that a step is done in."""
    used = [found.cycle for done in one[: place + 1] for found in done.found.values() if found.cycle is not None]
    return used[-1] if used else None


def doubt(one: Try, now_s: float) -> str:
    """Why it cannot be told where the steps stand: while a press was waited for, the pedal was not read for so long
    that all of them may have been done. Nothing when it can."""
    at = place_of(one, now_s)
    if at is None or RESTS not in one[at].step.shows or one[at].span is None:
        return ""
    following = next(iter(one[at + 1 :]), None)
    count = next((each.value for each in following.step.numbers if each.name == "count"), inf) if following else inf
    missing = _missing(_cycle(one, at), PEDAL, _began_s(one[at]), now_s, count * FLEETING_S)
    if following is None or not missing:
        return ""
    began_s, ended_s = missing[-1]
    return f"{following.step.id} may have been done while the {PEDAL} was not read for {ended_s - began_s:.1f} s"


def lost(one: Try, now_s: float, heard_s: float) -> tuple[Lost, ...]:
    """The steps up to the one under way that cannot become a yes any more, without being a no. heard_s: when the module
    was last heard."""
    return tuple(_lost(one, now_s, heard_s))


def _lost(one: Try, now_s: float, heard_s: float) -> Iterator[Lost]:
    at = place_of(one, now_s)
    for place, done in enumerate(one[: len(one) if at is None else at + 1]):
        if done.outcome is not Outcome.CANNOT_TELL or (place == at and done.span is None):
            continue
        why = _stuck(done, _cycle(one, place), heard_s)
        if why or (place != at and not enough(done)):
            yield Lost(done, why or done.reason)


def _stuck(done: Done, cycle: Cycle | None, heard_s: float) -> str:
    """What can no longer be repaired of a step that may still go on; nothing when it can."""
    lapsed = [one for one in done.conditions if one.outcome is Outcome.CANNOT_TELL]
    if lapsed and done.span is not None and heard_s - done.span[0].latest_s > FRESH_S:
        return lapsed[0].reason
    told = (_hole(pattern, found, cycle, heard_s) for pattern, found in done.found.items())
    return next((one for one in told if one), "")


def _hole(pattern: str, found: Found, cycle: Cycle | None, heard_s: float) -> str:
    """Why a hole in the samples leaves a pattern open for good; nothing where it does not."""
    if found.outcome is not Outcome.CANNOT_TELL or found.span is None:
        return ""
    if not found.measures or pattern not in HIDES_S:
        return "" if found.cut else found.reason
    from_s, to_s = found.span[0].earliest_s, min(found.span[1].latest_s + _more_within_s(pattern, found), heard_s)
    missing = _missing(cycle, SOURCES[pattern], from_s, to_s, HIDES_S[pattern])
    if not missing or not any(_spoiled(one, found, missing, HIDES_S[pattern], heard_s) for one in found.measures):
        return ""
    return f"the {SOURCES[pattern]} was not read for {missing[0][1] - missing[0][0]:.1f} s"


def _more_within_s(pattern: str, found: Found) -> float:
    """Within what time another press or rev would still belong to those that were seen."""
    if pattern != PRESSES:
        return RESTS_S if pattern == REVS else 0.0
    return next((one.limits.high or 0.0 for one in found.measures if one.limits.unit == "s"), 0.0)


def _spoiled(
    one: Measure, found: Found, missing: tuple[tuple[float, float], ...], hides_s: float, heard_s: float
) -> bool:
    """Whether a measure cannot come inside its limits for certain: too many could be hidden, or it may have ended at
    the first hole, too soon, or else goes on too long."""
    low, high = one.limits.low or 0.0, one.limits.high
    if one.limits.unit == "times":
        return high is not None and sum(floor((b - a) / hides_s) for a, b in missing) > high - low
    span = found.span
    at_least = high is None or low > 0.0
    return (
        at_least and span is not None and (one.least < low or (high is not None and heard_s - span[0].latest_s > high))
    )


def _began_s(done: Done) -> float:
    return done.span[0].latest_s if done.span is not None else inf


def _missing(
    cycle: Cycle | None, source: str, from_s: float, to_s: float, longer_than_s: float
) -> tuple[tuple[float, float], ...]:
    """The holes in what a source showed of an ignition; of one that was never read, the whole time."""
    channel: Channel | None = cycle.channels.get(source) if cycle is not None else None
    if cycle is None or channel is None:
        return ((from_s, to_s),) if isfinite(to_s - from_s) and to_s - from_s > longer_than_s else ()
    return holes(
        channel, max(from_s, cycle.phase.began.earliest_s), min(to_s, cycle.phase.ended.latest_s), longer_than_s
    )
