"""The plan of a job as a document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from relearn.findings.base import TextLine
from relearn.findings.plan import MeasuredLine, PlanFindings, ProgrammingDoc, RelearnDoc, StepDoc, StepNumberDoc
from relearn.procedures.plan import Caution, PlannedProgramming, PlannedRelearn
from relearn.procedures.plan import plan as make_plan
from relearn.procedures.say import Line, Measured
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import PlannedStep


def plan(events: Sequence[str], sheet: Sheet) -> PlanFindings:
    """Which relearns the job needs, in order, and all that surrounds them. An unknown event is a ChoiceError."""
    made = make_plan(events, sheet)
    return PlanFindings(
        events=made.events,
        sheet=made.sheet,
        have_ready=_lines(made.have_ready),
        programming=_programming(made.programming) if made.programming is not None else None,
        relearns=tuple(_relearn(one) for one in made.relearns),
        cautions=_cautions(made.cautions),
    )


def _lines(lines: Iterable[Line]) -> tuple[TextLine, ...]:
    return tuple(TextLine(id=one.id, text=one.text, standing=one.standing) for one in lines)


def _measured(lines: Iterable[Measured]) -> tuple[MeasuredLine, ...]:
    return tuple(
        MeasuredLine(id=one.id, text=one.text, limits=one.limits, unit=one.unit, standing=one.standing) for one in lines
    )


def _cautions(rows: Iterable[Caution]) -> tuple[TextLine, ...]:
    return tuple(TextLine(id=row.id, text=row.text) for row in rows)


def _steps(steps: Iterable[PlannedStep]) -> tuple[StepDoc, ...]:
    return tuple(
        StepDoc(
            id=step.id,
            text=step.text,
            standing=step.standing,
            numbers=tuple(
                StepNumberDoc(name=number.name, value=number.value, unit=number.unit, standing=number.standing)
                for number in step.numbers
            ),
        )
        for step in steps
    )


def _relearn(one: PlannedRelearn) -> RelearnDoc:
    return RelearnDoc(
        id=one.id,
        title=one.title,
        because=one.because,
        comes_after=tuple(line.id for line in one.comes_after),
        comes_after_why=_lines(one.comes_after),
        done_before=_lines(one.done_before),
        measured=_measured(one.measured),
        by_eye=_lines(one.by_eye),
        how=one.how,
        steps=_steps(one.steps),
        afterwards=_measured(one.afterwards),
        cautions=_cautions(one.cautions),
        standing=one.standing,
    )


def _programming(made: PlannedProgramming) -> ProgrammingDoc:
    return ProgrammingDoc(
        while_writing=_lines(made.while_writing),
        upsets_the_supply=_lines(made.upsets_the_supply),
        after_write=_steps(made.after_write),
        if_the_write_fails=_lines(made.if_the_write_fails),
        if_no_newer_file=_lines(made.if_no_newer_file),
        read_back=_lines(made.read_back),
        customer_gets=_lines(made.customer_gets),
    )
