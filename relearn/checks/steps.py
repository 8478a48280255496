"""Were the steps of a relearn done, in time? A walk over the steps along a timeline, step by step, in order.

Each step is looked for from where the one before it was over, so that a step in the wrong place is not found. A capture
may hold several tries; which one counts:
  yes          any try with all its steps a yes (the first of them)
  cannot tell  else any try without a no that is open because of what was not read or not sampled closely enough
  no           else the try with the most steps a yes, if any of its steps is a no
  cannot tell  else: the capture begins too late or ends too soon
Where the capture leaves open whether the ignition was on, both readings are walked, and a step on which they disagree
is a cannot tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

from relearn.actions import Moment, elapsed_s
from relearn.checks.step_conditions import kept
from relearn.checks.step_measures import Found, Measure
from relearn.checks.step_patterns import look
from relearn.checks.step_window import Here
from relearn.checks.timeline import Timeline, timelines
from relearn.checks.view import View
from relearn.procedures.models import Precondition
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep
from relearn.verdict import Evidence, Outcome, Verdict, combine

START = Moment(-inf, -inf)
OFF = "the ignition went off"


@dataclass(frozen=True, eq=False)
class Done:
    """One step as it was found. outcome: None where it is left to the eye. found: by pattern, in the step's order.

    conditions: what was to hold during it, judged over its span. open: a cannot tell by what was not read, not one by
    the capture beginning too late or ending too soon.
    """

    step: PlannedStep
    outcome: Outcome | None
    reason: str
    found: Mapping[str, Found]
    conditions: tuple[Verdict, ...] = ()

    @property
    def judged(self) -> Outcome:
        """The outcome, a cannot tell for what is left to the eye."""
        return Outcome.CANNOT_TELL if self.outcome is None else self.outcome

    @property
    def leading(self) -> Found | None:
        """The pattern that the step's time and span are those of: the first with a measure, else the first found."""
        several = list(self.found.values())
        return next((one for one in several if one.measures), next((one for one in several if one.span), None))

    @property
    def span(self) -> tuple[Moment, Moment] | None:
        return self.leading.span if self.leading is not None else None

    @property
    def in_part(self) -> bool:
        """Whether some of it was seen, and some of it was not read."""
        return any(one.outcome is Outcome.CANNOT_TELL and one.span is None for one in self.found.values())

    @property
    def measures(self) -> tuple[Measure, ...]:
        return tuple(measure for one in self.found.values() for measure in one.measures)

    @property
    def open(self) -> bool:
        undecided = [one for one in self.found.values() if one.outcome is Outcome.CANNOT_TELL]
        return any(not one.cut for one in undecided) or any(
            one.outcome is Outcome.CANNOT_TELL for one in self.conditions
        )


@dataclass(frozen=True, eq=False)
class Steps:
    """The verdict with a child for each step that scan data shows. done: every such step. unseen: those left to the eye
    by what the module or the pattern shows, with the reason. troubles: what went wrong, the most likely cause first."""

    verdict: Verdict
    done: tuple[Done, ...]
    unseen: tuple[Done, ...]
    troubles: tuple[str, ...]


Try = tuple[Done, ...]


@dataclass(frozen=True)
class Course:
    """What is walked: the steps of a relearn, or of the wait after a write, that scan data shows, and the conditions
    that they may keep, by id."""

    title: str
    steps: tuple[PlannedStep, ...]
    conditions: Mapping[str, Precondition]


def steps(view: View, course: Course, sheet: Sheet, earlier: Sequence[Course] = ()) -> Steps:
    """Judge every step. earlier: relearns that come before this one, to see whether the capture breaks the order."""
    seen = timelines(view, sheet)
    tries = [tries_of(view, one, course, sheet) for one in seen]
    best = _agreed([chosen(several) for several in tries]) if tries else ()
    done = tuple(one for one in best if one.outcome is not None)
    unseen = tuple(one for one in best if one.outcome is None)
    outcome = combine(one.judged for one in done)
    broken = [_out_of_order(view, seen, tries, one, sheet) for one in earlier] if outcome is Outcome.YES else []
    order = tuple(sentence for sentence in broken if sentence)
    troubles = (*order, *_troubles(done))
    verdict = Verdict(
        "steps",
        Outcome.CANNOT_TELL if order else outcome,
        _sentence(outcome, done, troubles, bool(seen)),
        children=tuple(_child(one) for one in done),
    )
    return Steps(verdict, done, unseen, troubles)


def tries_of(view: View, timeline: Timeline, course: Course, sheet: Sheet) -> tuple[Try, ...]:
    """A try from the beginning of each ignition phase on; those that begin with the same phase are one."""
    made: dict[tuple[int | None, ...], Try] = {}
    for place in range(len(timeline.phases)):
        walked = walk(timeline, course.steps, sheet, place)
        used = tuple(found.phase for one in walked for found in one.found.values())
        made.setdefault(used, tuple(_with_conditions(view, one, course, sheet) for one in walked))
    return tuple(made.values())


def walk(timeline: Timeline, asked: Sequence[PlannedStep], sheet: Sheet, first: int) -> Try:
    """One try: every step in order, beginning with ignition phase `first`."""
    here = Here(timeline, first, None, START, Moment(inf, inf), {}, sheet.need("window.about_percent"), OFF)
    done: list[Done] = []
    last_of: dict[str, Found] = {}
    for step in asked:
        numbers = {one.name: one for one in step.numbers}
        found, here = _step(step, replace(here, numbers=numbers, timed_from=last_of.get(step.after or "")))
        last_of[step.id] = list(found.values())[-1]
        done.append(_done(step, found))
    return tuple(done)


def _step(step: PlannedStep, here: Here) -> tuple[Mapping[str, Found], Here]:
    """What each pattern of a step found, and where the walk stands after it. All but the first look into its span."""
    found: dict[str, Found] = {}
    goes_on = here.at
    for pattern in step.shows:
        one = look(pattern, here)
        found[pattern] = one
        goes_on = one.goes_on or goes_on
        here = _moved(here, one, narrowed=len(found) == 1)
    until = here.cycle.phase.ended if here.cycle is not None else Moment(inf, inf)
    lost = all(one.span is None for one in found.values())
    return found, replace(here, at=goes_on, until=until, ends=OFF, lost=lost)


def _moved(here: Here, one: Found, narrowed: bool) -> Here:
    if one.phase is not None:
        here = replace(here, following=one.phase + 1, cycle=one.cycle, lost=False)
    if narrowed and one.span is not None:
        here = replace(here, at=one.span[0], until=one.span[1], ends="" if one.phase is None else here.ends)
    return here


def _done(step: PlannedStep, found: Mapping[str, Found]) -> Done:
    outcomes = [one.outcome for one in found.values() if one.outcome is not None]
    outcome = combine(outcomes) if outcomes else None
    return Done(step, outcome, "; ".join(_reasons(found, outcome)), found)


def _with_conditions(view: View, done: Done, course: Course, sheet: Sheet) -> Done:
    """The same with its conditions judged over its span; a step that was not found keeps nothing, nor does one of which
    a part was not read: how far it reached is not known."""
    if done.span is None or done.outcome is None or done.in_part:
        return done
    conditions = tuple(
        verdict
        for name in done.step.keeps
        if (verdict := kept(view, course.conditions[name], sheet, done.span)) is not None
    )
    outcome = combine([done.outcome, *(one.outcome for one in conditions)])
    said = [done.reason] if done.outcome is outcome else []
    said += [one.reason for one in conditions if one.outcome is outcome and outcome is not Outcome.YES]
    return replace(done, outcome=outcome, reason="; ".join(said), conditions=conditions)


def chosen(tries: Sequence[Try]) -> Try:
    """The try that counts, as the module's docstring says. Of equals the first."""
    kinds = [_kind(one) for one in tries]
    for wanted in (("yes",), ("open",), ("no", "cut")):
        several = [one for one, kind in zip(tries, kinds, strict=True) if kind in wanted]
        if several:
            return max(several, key=lambda one: sum(done.outcome is Outcome.YES for done in one))
    return ()


def _kind(one: Try) -> str:
    outcomes = [done.outcome for done in one if done.outcome is not None]
    outcome = combine(outcomes)
    if outcome is not Outcome.CANNOT_TELL:
        return "yes" if outcome is Outcome.YES else "no"
    return "open" if any(done.open for done in one) else "cut"


def _agreed(readings: Sequence[Try]) -> Try:
    """The steps of the first reading, a cannot tell where another one says otherwise."""
    first, *others = readings
    return tuple(
        replace(
            done, outcome=Outcome.CANNOT_TELL, reason=f"{done.reason}; but whether the ignition was on is not known"
        )
        if done.outcome is not None and any(other[place].outcome is not done.outcome for other in others)
        else done
        for place, done in enumerate(first)
    )


def _out_of_order(
    view: View, seen: Sequence[Timeline], tries: Sequence[Sequence[Try]], earlier: Course, sheet: Sheet
) -> str:
    """Said when the capture shows an earlier relearn done, and this one only before that was over; else nothing."""
    ends = [_whole(one)[1] for one in tries_of(view, seen[0], earlier, sheet) if _kind(one) == "yes"]
    begins = [_whole(one)[0] for one in tries[0] if _kind(one) == "yes"]
    if not ends or any(elapsed_s(end, begin)[1] >= 0 for end in ends for begin in begins):
        return ""
    return (
        f"{earlier.title} comes first, but its steps are done only at {ends[0].latest_s:.1f} s, after these were begun "
        f"at {begins[0].latest_s:.1f} s; whether it had been done before does not show"
    )


def _whole(one: Try) -> tuple[Moment, Moment]:
    spans = [done.span for done in one if done.span is not None]
    return spans[0][0], spans[-1][1]


def _troubles(done: Sequence[Done]) -> list[str]:
    """What went wrong, step by step: conditions that lapsed, then what was not seen or not in time. A lapse in the very
    next step comes before what it cut short in this one: it is the likelier cause."""
    failed = [one.outcome is Outcome.NO for one in done]
    told: list[str] = []
    for place, one in enumerate(done):
        following = done[place + 1 : place + 2] if failed[place] else ()
        told += [sentence for step in (one, *following) for sentence in _lapses(step)]
        told += [f"{one.step.id}: {why}" for why in (_reasons(one.found, Outcome.NO) if failed[place] else ())]
    return list(dict.fromkeys(told))


def _lapses(done: Done) -> list[str]:
    if done.outcome is not Outcome.NO:
        return []
    return [f"{done.step.id}: {one.reason}" for one in done.conditions if one.outcome is Outcome.NO]


def _reasons(found: Mapping[str, Found], outcome: Outcome | None) -> list[str]:
    return list(dict.fromkeys(one.reason for one in found.values() if one.outcome is outcome))


def _sentence(outcome: Outcome, done: Sequence[Done], troubles: Sequence[str], heard: bool) -> str:
    """The first trouble; without one, why it is a yes or the first reason why it cannot be told."""
    if troubles:
        return _first(troubles)
    if outcome is Outcome.YES:
        return "every step that scan data shows was done, in time"
    if not heard:
        return "no module answered"
    return _first([f"{one.step.id}: {one.reason}" for one in done if one.outcome is outcome]) or "no step shows here"


def _first(several: Sequence[str]) -> str:
    """The first, and how many more; '' of none."""
    return f"{several[0]} (and {len(several) - 1} more)" if len(several) > 1 else "".join(several)


def _child(done: Done) -> Verdict:
    return Verdict(done.step.id, done.judged, done.reason, tuple(_evidence(done)), done.conditions)


def _evidence(done: Done) -> Iterator[Evidence]:
    """Every quantity that was measured, with the time and frames of the pattern that measured it."""
    for one in done.found.values():
        ends = (one.span[0].latest_s, one.span[1].earliest_s) if one.span is not None else (inf, inf)
        first_s, last_s = (end if isfinite(end) else None for end in ends)
        first_frame, last_frame = one.frames or (None, None)
        for measure in one.measures:
            yield Evidence(
                measure.what,
                measure.value,
                measure.limits,
                first_s,
                last_s,
                first_frame=first_frame,
                last_frame=last_frame,
            )
