"""A job that keeps its own record, for the terminal: what came in, what is next, where it stands, is it untouched."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from relearn.findings.record import (
    AddedFindings,
    BookRow,
    JobsFindings,
    NextFindings,
    StageRow,
    StatusFindings,
    TryRow,
    VerifyFindings,
)
from relearn.report.text.parts import anyway, bullets, footnotes, heading, headline, legend, line
from relearn.report.words import SIGNS, plain

DAY = len("2026-05-18")
MINUTE = len("2026-05-18T10:00")


def added(document: AddedFindings) -> Iterable[RenderableType]:
    what = f"{document.file} is in the record, line {document.line}"
    if document.verdict is not None:
        yield from headline(
            what, document.verdict, [f"{one.kind} {one.verdict}: {one.reason}" for one in document.answers]
        )
    else:
        yield from line(what, 0)
        yield from line(
            f"VIN {document.vin or 'not read'}; calibration {', '.join(document.calibrations) or 'not read'}"
        )
    if document.anyway is not None:
        yield from anyway([document.anyway])
    yield from line(f"next: {document.next}")


def next_thing(document: NextFindings) -> Iterable[RenderableType]:
    """The one thing first, then what must hold, the steps, and what to type afterwards."""
    marks = footnotes(one.standing for one in (*document.must_hold, *document.steps))
    yield from line(document.remedy, 0)
    yield from line(f"why now: {document.because}")
    yield from bullets("What must hold", document.must_hold, marks)
    yield from bullets("Step by step", document.steps, marks)
    yield from bullets("Mind", document.cautions)
    yield heading("Then")
    for place, command in enumerate(document.commands):
        yield from line(f"{'or: ' if place else ''}{command}")
    yield from legend(marks)


def status(document: StatusFindings) -> Iterable[RenderableType]:
    yield from headline(document.title, document.verdict, document.reasons)
    yield from line(f"VIN {document.vin or 'not known'}; started {document.started}, last line {document.changed}")
    for number, stage in enumerate(document.stages, start=1):
        yield from _stage(number, stage)
    yield from anyway(document.anyway)
    if document.remarks:
        yield heading("Remarks")
    for remark in document.remarks:
        yield from line(remark)
    yield heading("Next")
    yield from line(document.next)


def _stage(number: int, stage: StageRow) -> Iterator[RenderableType]:
    yield heading(f"{number}. {plain(stage.title)}: {SIGNS[stage.verdict]}")
    yield from line(stage.reason)
    for one in stage.tries:
        yield from line(_said(one), 4)


def _said(one: TryRow) -> str:
    verdict = f" {one.verdict}:" if one.verdict is not None else ""
    note = f" ({one.note})" if one.note else ""
    return f"line {one.line}, {one.time[:MINUTE].replace('T', ' ')}: {one.what},{verdict} {one.reason}{note}"


def verify(document: VerifyFindings) -> Iterable[RenderableType]:
    reasons = [f"{one.where}: {one.text}" for one in document.problems] or document.reasons
    yield from headline("is the record as it was written", document.verdict, reasons)
    yield from line(f"{document.folder}: {document.lines} lines, {document.files} files")
    for note in document.notes:
        yield from line(note)


def jobs(document: JobsFindings) -> Iterable[RenderableType]:
    """Two lines for each job; --json and --csv have everything."""
    if not document.jobs:
        yield from line(f"no such job in {document.book}", 0)
    yield Lines(tuple(text for one in document.jobs for text in _of_book(one)))


@dataclass(frozen=True)
class Lines:
    """Plain lines that are printed as they are: laying out ten thousand of them as a table takes seconds."""

    lines: tuple[str, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        for text in self.lines:
            yield Segment(f"{text}\n")


def _of_book(one: BookRow) -> tuple[str, str]:
    first = f"{one.started[:DAY]}  {SIGNS[one.verdict]:11}  {one.vin or 'no VIN':17}  {one.workshop}"
    return plain(first.rstrip()), plain(f"    {one.title}: {one.folder}")
