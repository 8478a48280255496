"""Were the steps of a relearn done, in time? As a document."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from relearn.analysis.common import (
    cautions,
    engine_module,
    fault_docs,
    judgements,
    others_with_engine_speed,
    source,
    view,
)
from relearn.checks.ready import needs
from relearn.checks.step_measures import Measure
from relearn.checks.steps import Course, Done
from relearn.checks.steps import steps as judge
from relearn.checks.timeline import by_key, timelines
from relearn.checks.view import View, lacks
from relearn.errors import ChoiceError
from relearn.findings.base import TextLine
from relearn.findings.steps import MeasuredRow, Span, StepRow, StepsFindings
from relearn.procedures.loader import procedure, procedures
from relearn.procedures.models import AFTER_WRITE
from relearn.procedures.patterns import PATTERNS
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep, planned_steps
from relearn.recording import Recording

TITLE_AFTER_WRITE = "The wait after a write"
LEFT_TO_THE_EYE = "no scan data shows it"


def steps(recording: Recording, relearn: str, sheet: Sheet, module: str | None = None) -> StepsFindings:
    """The verdict on every step that scan data shows, what stays by eye, and what went wrong.

    `relearn` may be models.AFTER_WRITE. An unknown relearn or module is a ChoiceError.
    """
    asked, name = course(relearn, sheet), engine_module(recording, module)
    planned, seen = planned_steps(relearn, sheet), view(recording, name)
    found = judge(seen, asked, sheet, _earlier(relearn, sheet))
    return StepsFindings(
        verdict=found.verdict.outcome.value,
        reasons=(found.verdict.reason,),
        sheet=sheet.title,
        source=source(recording, name),
        parts=judgements(found.verdict) if found.done else (),
        faults=fault_docs(recording.faults),
        notes=(*recording.notes, *others_with_engine_speed(recording, name)),
        relearn=relearn,
        title=asked.title,
        steps=tuple(_row(one) for one in found.done),
        by_eye=_by_eye(planned, found.unseen, asked, seen),
        troubles=found.troubles,
        cautions=cautions(() if relearn == AFTER_WRITE else procedure(relearn).cautions),
        tried=_tried(found.done, seen, sheet),
    )


def _tried(done: Sequence[Done], seen: View, sheet: Sheet) -> bool:
    """Whether anything is there that nobody does but to relearn. A silence while the engine runs is none: a plug that
    came loose looks like it."""
    deliberate = [
        found
        for one in done
        for pattern, found in one.found.items()
        if PATTERNS[pattern].deliberate and found.span is not None
    ]
    phases = timelines(seen, sheet)[0].phases if deliberate else ()
    used = [None if found.phase is None else phases[found.phase] for found in deliberate]
    return any(phase is None or phase.kind == "on" or by_key(phase, seen, sheet) for phase in used)


def course(relearn: str, sheet: Sheet) -> Course:
    """What is walked: the steps that scan data shows, with this sheet's numbers. Unknown: a ChoiceError."""
    if relearn == AFTER_WRITE:
        return Course(TITLE_AFTER_WRITE, _shown(relearn, sheet), {})
    if relearn not in procedures():
        known = ", ".join((*procedures(), AFTER_WRITE))
        raise ChoiceError(f"there are no steps of '{relearn}'", remedy=f"choose one of {known}")
    asked = procedure(relearn)
    conditions = {one.id: one for one in (*asked.preconditions, *asked.during)}
    return Course(asked.title, _shown(relearn, sheet), conditions)


def _earlier(relearn: str, sheet: Sheet) -> tuple[Course, ...]:
    """The relearns that come before this one and whose steps scan data shows."""
    if relearn == AFTER_WRITE:
        return ()
    courses = [course(one.id, sheet) for one in procedure(relearn).comes_after]
    return tuple(one for one in courses if one.steps)


def _shown(group: str, sheet: Sheet) -> tuple[PlannedStep, ...]:
    return tuple(one for one in planned_steps(group, sheet) if one.shows)


def _by_eye(planned: Sequence[PlannedStep], unseen: Sequence[Done], asked: Course, seen: View) -> tuple[TextLine, ...]:
    """Steps without a pattern, those whose patterns show nothing here, and conditions that the module lacks."""
    why = {one.step.id: one.reason for one in unseen}
    lines = [
        TextLine(id=one.id, text=one.text, why=why.get(one.id, LEFT_TO_THE_EYE))
        for one in planned
        if not one.shows or one.id in why
    ]
    kept = dict.fromkeys(name for one in asked.steps for name in one.keeps)
    lacking = [asked.conditions[name] for name in kept if lacks(seen, needs(asked.conditions[name]))]
    return (*lines, *(TextLine(id=one.id, text=one.text, why="the module does not show it") for one in lacking))


def _row(done: Done) -> StepRow:
    decides, leading = _deciding(done), done.leading
    timed = decides is not None and decides.limits.unit == "s"
    return StepRow(
        id=done.step.id,
        text=done.step.text,
        verdict=done.judged.value,
        asked=decides.words if decides is not None else "",
        measured=round(decides.value, 3) if decides is not None else None,
        unit=decides.limits.unit if decides is not None else "",
        uncertainty_s=_rounded(decides.uncertainty) if decides is not None and timed else None,
        span_s=_span(done),
        frames=leading.frames if leading is not None and leading.frames is not None else (None, None),
        standing=decides.limits.standing if decides is not None else done.step.standing,
        reason=done.reason,
        quantities=tuple(_quantity(one) for one in done.measures),
    )


def _deciding(done: Done) -> Measure | None:
    """The first quantity with the step's own outcome that is a time; without a time, the first."""
    several = [one for one in done.measures if one.outcome is done.outcome] or list(done.measures)
    return next((one for one in several if one.limits.unit == "s"), next(iter(several), None))


def _quantity(one: Measure) -> MeasuredRow:
    return MeasuredRow(
        what=one.what,
        verdict=one.outcome.value,
        asked=one.words,
        measured=round(one.value, 3),
        uncertainty=_rounded(one.uncertainty),
        unit=one.limits.unit,
        limits=(one.limits.low, one.limits.high),
        standing=one.limits.standing,
        reason=one.sentence,
    )


def _span(done: Done) -> Span:
    if done.span is None:
        return None, None
    began, ended = done.span
    return _rounded(began.earliest_s), _rounded(ended.latest_s)


def _rounded(value: float | None) -> float | None:
    return round(value, 3) if value is not None and isfinite(value) else None
