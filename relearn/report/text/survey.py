"""Many captures at once for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType

from relearn.findings.survey import FileRow, MarginRow, NumberRow, ReasonRow, SurveyFindings, ValueRow
from relearn.report.text.parts import heading, indented, line, row, table
from relearn.report.words import margin, number, words

MOST_FILES = 12
MOST_REASONS = 12


def survey(document: SurveyFindings) -> Iterable[RenderableType]:
    """The counts first, then why, how close it was, and which files need a look."""
    asked = f"{document.question} for {document.relearn}" if document.relearn else document.question
    yield from line(f"{asked}: {document.captures} captures below {', '.join(document.folders)}", 0)
    if document.kept:
        yield from line(f"{document.kept} of them were judged before and are kept")
    if document.margins:
        yield from line(f"limits: {document.sheet}")
    made = table("verdict", "captures", "share", numbers=(1, 2))
    for one in document.verdicts:
        row(made, one.verdict, str(one.count), f"{one.share:.1%}")
    yield indented(made)
    yield from _reasons("Why, by the part that decided", [one for one in document.reasons if _decided(one)])
    yield from _margins(document.margins)
    yield from _numbers(document.numbers)
    yield from _values(document.values)
    yield from _files(document)
    yield from _listed("Notes", document.notes)
    if document.table is not None:
        yield from line(f"rows: {document.table}", 0)


def _decided(one: ReasonRow) -> bool:
    return one.verdict not in ("yes", "unreadable")


def _reasons(title: str, reasons: Sequence[ReasonRow]) -> Iterable[RenderableType]:
    """How many for each reason, and the first of them with its whole sentence."""
    if not reasons:
        return
    yield heading(title)
    for one in reasons[:MOST_REASONS]:
        why = words(one.decided_by) if _decided(one) else one.decided_by
        yield from line(f"{one.count} {one.verdict}: {why or 'nothing was found to judge'}")
        yield from line(f"such as {one.file}: {one.reason}", 4)
    yield from _more(len(reasons) - MOST_REASONS)


def _margins(margins: Sequence[MarginRow]) -> Iterable[RenderableType]:
    if not margins:
        return
    yield heading("Worst margins, by the part they are of")
    made = table("part", "captures", "worst", "middle", "worst in", numbers=(1, 2, 3))
    for one in margins:
        row(made, words(one.part), str(one.count), margin(one.worst, one.unit), margin(one.median, one.unit), one.file)
    yield indented(made)


def _numbers(numbers: Sequence[NumberRow]) -> Iterable[RenderableType]:
    if not numbers:
        return
    yield heading("Key numbers")
    made = table("number", "captures", "lowest", "middle", "highest", numbers=(1, 2, 3, 4))
    for one in numbers:
        row(made, one.words, str(one.count), *(number(end, one.unit) for end in (one.low, one.median, one.high)))
    yield indented(made)


def _values(values: Sequence[ValueRow]) -> Iterable[RenderableType]:
    if not values:
        return
    yield heading("Key texts")
    made = table("captures", "what", "value", numbers=(0,))
    for one in values[:MOST_REASONS]:
        row(made, str(one.count), one.words, one.value)
    yield indented(made)
    yield from _more(len(values) - MOST_REASONS)


def _files(document: SurveyFindings) -> Iterable[RenderableType]:
    unreadable = [one for one in document.reasons if one.verdict == "unreadable"]
    yield from _reasons("Unreadable, by reason", unreadable)
    if len(document.unreadable) > len(unreadable):
        yield from _listed("All that is unreadable", [one.file for one in document.unreadable])
    yield from _listed("Took longest to judge", [_took(one) for one in document.slowest])


def _took(one: FileRow) -> str:
    return f"{one.file}: {one.judged_in_s or 0.0:.2f} s"


def _listed(title: str, said: Sequence[str]) -> Iterable[RenderableType]:
    if said:
        yield heading(title)
    for one in said[:MOST_FILES]:
        yield from line(one)
    yield from _more(len(said) - MOST_FILES)


def _more(left: int) -> Iterable[RenderableType]:
    if left > 0:
        yield from line(f"and {left} more; --json lists all")
