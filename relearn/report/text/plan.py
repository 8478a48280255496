"""A plan for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rich.console import RenderableType

from relearn.findings.base import TextLine
from relearn.findings.plan import MeasuredLine, PlanFindings, ProgrammingDoc, RelearnDoc, StepDoc
from relearn.report.text.parts import bullets, footnotes, heading, legend, line, mark

Marks = Mapping[str, str]


def plan(document: PlanFindings) -> Iterable[RenderableType]:
    """What to have ready, the write, then each relearn in order; letters in brackets say where each thing comes
    from."""
    marks = footnotes(_standings(document))
    order = ", then ".join(one.title for one in document.relearns)
    yield from line(f"After {', '.join(document.events)}: {order}", 0)
    yield from line(f"limits: {document.sheet}")
    yield from bullets("Have ready before anything starts", document.have_ready, marks)
    if document.programming is not None:
        yield from _programming(document.programming, marks)
    for number, one in enumerate(document.relearns, start=1):
        yield from _relearn(number, one, marks)
    yield from bullets("Cautions", document.cautions)
    yield from legend(marks)


def _standings(document: PlanFindings) -> Iterator[str]:
    """Every standing in the document, in the order in which it is read."""
    programming = document.programming
    yield from (one.standing for one in document.have_ready)
    for group in (getattr(programming, name) for name in type(programming).model_fields) if programming else ():
        yield from (_standing(one) for one in group)
    for relearn in document.relearns:
        for one in (*relearn.measured, *relearn.by_eye, *relearn.steps, *relearn.afterwards):
            yield _standing(one)


def _standing(one: TextLine) -> str:
    """Of a step, its first number's; otherwise the line's own."""
    return next((number.standing for number in one.numbers), one.standing) if isinstance(one, StepDoc) else one.standing


def _programming(made: ProgrammingDoc, marks: Marks) -> Iterable[RenderableType]:
    yield from bullets("While the module is written", made.while_writing, marks)
    yield from bullets("What upsets the supply", made.upsets_the_supply, marks)
    yield from bullets("The wait after the write", made.after_write, marks)
    yield from bullets("If the write fails", made.if_the_write_fails, marks)
    yield from bullets("If no newer file is offered", made.if_no_newer_file, marks)
    yield from bullets("Reading the calibration back", made.read_back, marks)
    yield from bullets("What the customer gets", made.customer_gets, marks)


def _relearn(number: int, one: RelearnDoc, marks: Marks) -> Iterable[RenderableType]:
    yield heading(f"{number}. {one.title}  ({one.id})")
    yield from (part for because in one.because for part in line(f"why: {because}"))
    yield from (part for why in (*one.comes_after_why, *one.done_before) for part in line(f"order: {why.text}"))
    yield from (part for row in one.measured for part in line(f"measured: {_measured(row, marks)}"))
    yield from (part for row in one.by_eye for part in line(f"by eye: {row.text}{mark(row.standing, marks)}"))
    yield from line(f"how: {one.how}")
    for place, step in enumerate(one.steps, start=1):
        yield from line(f"{place}) {step.text}{mark(_standing(step), marks)}", 4)
    yield from (part for row in one.afterwards for part in line(f"afterwards: {_measured(row, marks)}"))
    yield from (part for caution in one.cautions for part in line(f"caution: {caution.text}"))


def _measured(row: MeasuredLine, marks: Marks) -> str:
    limits = f": {row.limits}" if row.limits else ""
    return f"{row.text}{limits}{mark(row.standing, marks)}"
