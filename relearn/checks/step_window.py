"""A window of a timeline in which a step is looked for, and what may be hidden between the samples in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor, inf, isfinite

from relearn.actions import CLOCK_S, Moment, Stretch, elapsed_s, holes, sooner
from relearn.channels import Channel
from relearn.checks.step_measures import Found, cut_off, not_seen
from relearn.checks.timeline import FULL, PEDAL, RUNNING, Cycle, Timeline
from relearn.procedures.steps import StepNumber
from relearn.verdict import Limits, Outcome

FLEETING_S = 0.4  # no foot presses fully and releases, and no lamp blinks, in less
LET_GO_S = 0.25  # a pedal that is not fully down before or after may have been let go for this long between


@dataclass(frozen=True, eq=False)
class Here:
    """Where the walk over the steps stands, and what this step asks.

    following: the first ignition phase that no step has used. at: when the step before was over. lost: that step was
    not found, so `at` is older. until: when the window ends, and `ends` by what. about: how far from 'about' a time may
    be, in percent. timed_from: what the step named as `after` found.
    """

    timeline: Timeline
    following: int
    cycle: Cycle | None
    at: Moment
    until: Moment
    numbers: Mapping[str, StepNumber]
    about: Limits
    ends: str = ""
    timed_from: Found | None = None
    lost: bool = False

    @property
    def mark(self) -> Moment | None:
        """When what the step is timed from happened."""
        return self.timed_from.mark if self.timed_from is not None else None

    @property
    def since_s(self) -> float:
        """The earliest time that may belong to the window and lies in the capture."""
        return self.at.earliest_s if isfinite(self.at.earliest_s) else self.at.latest_s

    def inside(self) -> Cycle:
        """The stretch of ignition on that the walk stands in; `look` asks nothing of the others without one."""
        if self.cycle is None:
            raise LookupError("the ignition is not on")
        return self.cycle


def next_phase(here: Here, kind: str) -> int | None:
    """The place of the next ignition phase of a kind that no step has used."""
    places = range(here.following, len(here.timeline.phases))
    return next((place for place in places if here.timeline.phases[place].kind == kind), None)


def before_start(here: Here) -> Here:
    """The window up to the next start of the engine, if that comes before its end."""
    start = next((one.began for one in here.inside().of(RUNNING) if one.began.latest_s > here.at.latest_s), None)
    if start is None or start.latest_s > here.until.latest_s:
        return here
    return replace(here, until=sooner(here.until, start), ends="the engine was started")


def starting(several: Sequence[Stretch], here: Here) -> list[Stretch]:
    """Those that can begin in the window, and are not over before it surely has begun."""
    at, until_s = here.at, here.until.latest_s
    return [
        one
        for one in several
        if one.began.latest_s >= at.earliest_s and one.began.earliest_s < until_s and one.ended.latest_s > at.latest_s
    ]


def group(
    several: Sequence[Stretch], here: Here, channel: Channel, apart_s: float, longest_s: float = inf
) -> tuple[list[Stretch], Moment]:
    """The first stretches that are shorter than longest_s and less than apart_s from each other; and when it is clear
    that no more follow, which is never (inf) if the capture ends too soon for that."""
    together: list[Stretch] = []
    for one in several:
        if one.least_s >= longest_s or (together and elapsed_s(together[-1].ended, one.began)[0] >= apart_s):
            return together, one.began
        together.append(one)
    over_s = together[-1].ended.latest_s + apart_s if together else inf
    return together, sooner(here.until, Moment(over_s, over_s)) if _last_s(channel) >= over_s else here.until


def _last_s(channel: Channel) -> float:
    return float(channel.time_s[-1]) if len(channel) else -inf


def hidden(channel: Channel, from_s: float, until: Moment, each_s: float) -> float:
    """How many more could have happened in the holes between samples; inf if the capture ends too soon."""
    if not isfinite(until.latest_s):
        return inf
    return sum(floor((b - a) / each_s) for a, b in holes(channel, from_s, until.latest_s, each_s))


def let_go(cycle: Cycle, press: Stretch) -> int:
    """How often the pedal may have been let go between two samples that both show it pressed. Not while it was fully
    down on both sides; a hole longer than FLEETING_S is counted as one that may hide whole presses."""
    several = holes(cycle.channels[PEDAL], press.began.latest_s, press.ended.earliest_s, LET_GO_S)
    down = [(one.began.latest_s, one.ended.earliest_s) for one in cycle.of(FULL)]
    short = [(a, b) for a, b in several if b - a <= FLEETING_S + CLOCK_S]
    return sum(not any(from_s <= a and b <= to_s for from_s, to_s in down) for a, b in short)


def perhaps_sooner(channel: Channel, since_s: float, ended: Moment, longer_than_s: float) -> Moment:
    """When something ended that may have been over at the first hole in the samples."""
    first = next(iter(holes(channel, since_s, ended.earliest_s, longer_than_s)), None)
    return Moment(first[0], ended.latest_s) if first is not None else ended


def absent(what: str, here: Here, channel: Channel, longer_than_s: float) -> Found:
    """Not in the window: a no, unless the capture ends first or a hole could hide it."""
    if not isfinite(here.until.latest_s):
        return cut_off(what)
    hole = next(iter(holes(channel, here.since_s, here.until.latest_s, longer_than_s)), None)
    if hole is not None:
        return not_seen(what, f"not seen, but not read for {hole[1] - hole[0]:.1f} s", Outcome.CANNOT_TELL)
    return not_seen(what, f"not seen{how_it_ended(here)}")


def how_it_ended(here: Here) -> str:
    """' before the ignition went off at 12.0 s', or from when to when it was looked for."""
    if here.ends and isfinite(here.until.latest_s):
        return f" before {here.ends} at {here.until.latest_s:.1f} s"
    if not isfinite(here.until.earliest_s):
        return f" from {here.at.latest_s:.1f} s on"
    return f" from {here.at.latest_s:.1f} to {here.until.earliest_s:.1f} s"
