"""The steps of a relearn for the terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from relearn.findings.steps import StepRow, StepsFindings
from relearn.report.text.parts import (
    bullets,
    heading,
    headline,
    indented,
    line,
    origin,
    row,
    standings,
    table,
    troubles,
)
from relearn.report.words import number

WENT_WRONG = "What went wrong, the most likely cause first"
NOT_THERE = "Nobody has begun on the steps in this capture: what is not there"


def steps(document: StepsFindings) -> Iterable[RenderableType]:
    """The verdict, what went wrong, every step with its measured time beside the asked one, and what stays by eye."""
    yield from headline(f"steps done, in time: {document.title}", document.verdict, document.reasons)
    yield from origin(document.source, document.sheet)
    if document.troubles:
        yield heading(WENT_WRONG if document.tried else NOT_THERE)
    for trouble in document.troubles:
        yield from line(f"- {trouble}")
    made = table("step", "verdict", "measured", "asked", "span s")
    for one in document.steps:
        row(made, one.id, one.verdict, _measured(one), one.asked or "–", _span(*one.span_s))
    yield indented(made)
    for one in document.steps:
        if one.verdict == "cannot tell":
            yield from line(f"{one.id}: {one.reason}")
    yield from bullets("Confirm by eye", document.by_eye)
    yield from standings((part.what.rstrip(","), part.standing) for one in document.steps for part in one.quantities)
    yield from bullets("Cautions", document.cautions)
    yield from troubles(document.faults, document.notes)


def _measured(one: StepRow) -> str:
    if one.measured is None:
        return "–"
    if one.unit != "s":
        return number(one.measured, one.unit)
    if one.uncertainty_s is None:
        return f"{one.measured:.1f} s or more"
    return f"{one.measured:.1f} ± {max(one.uncertainty_s, 0.1):.1f} s"


def _span(first_s: float | None, last_s: float | None) -> str:
    """'12.0–22.0'; an end that lies outside of the capture is left open."""
    if first_s is None and last_s is None:
        return "–"
    return f"{'…' if first_s is None else f'{first_s:.1f}'}–{'…' if last_s is None else f'{last_s:.1f}'}"
