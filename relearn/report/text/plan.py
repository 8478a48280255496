"""A plan for the terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from relearn.findings.plan import PlanFindings, ProgrammingDoc, RelearnDoc
from relearn.report.text.parts import bullets, heading, line


def plan(document: PlanFindings) -> Iterable[RenderableType]:
    """What to have ready, the write, then each relearn in order."""
    order = " → ".join(one.title for one in document.relearns)
    yield from line(f"After {', '.join(document.events)}: {order}", 0)
    yield from line(f"limits: {document.sheet}")
    yield from bullets("Have ready before anything starts", document.have_ready)
    if document.programming is not None:
        yield from _programming(document.programming)
    for number, one in enumerate(document.relearns, start=1):
        yield from _relearn(number, one)
    yield from bullets("Cautions", document.cautions)


def _programming(made: ProgrammingDoc) -> Iterable[RenderableType]:
    yield from bullets("While the module is written", made.while_writing, True)
    yield from bullets("What upsets the supply", made.upsets_the_supply, True)
    yield from bullets("The wait after the write", made.after_write, True)
    yield from bullets("If the write fails", made.if_the_write_fails, True)
    yield from bullets("If no newer file is offered", made.if_no_newer_file, True)
    yield from bullets("Reading the calibration back", made.read_back, True)
    yield from bullets("What the customer gets", made.customer_gets, True)


def _relearn(number: int, one: RelearnDoc) -> Iterable[RenderableType]:
    yield heading(f"{number}. {one.title}  ({one.id})")
    for because in one.because:
        yield from line(f"why: {because}")
    for why in (*one.comes_after_why, *one.done_before):
        yield from line(f"order: {why.text}")
    for condition in one.measured:
        limits = f": {condition.limits}" if condition.limits else ""
        yield from line(f"measured: {condition.text}{limits} [{condition.standing}]")
    for item in one.by_eye:
        yield from line(f"by eye: {item.text} [{item.standing}]")
    yield from line(one.how)
    for place, step in enumerate(one.steps, start=1):
        standing = next((each.standing for each in step.numbers), step.standing)
        yield from line(f"step {place}: {step.text} [{standing}]")
    for after in one.afterwards:
        limits = f": {after.limits}" if after.limits else ""
        yield from line(f"afterwards: {after.text}{limits} [{after.standing}]")
    for caution in one.cautions:
        yield from line(f"caution: {caution.text}")
