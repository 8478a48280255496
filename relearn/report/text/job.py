"""A whole job for the terminal: short, since the page has the rest."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from relearn.findings.job import Chapter, JobFindings
from relearn.report.text.parts import anyway, heading, headline, indented, line, row, table


def job(document: JobFindings) -> Iterable[RenderableType]:
    yield from headline(document.title, document.verdict, document.reasons)
    yield from line(
        f"VIN {document.vin or 'not read'}; calibration {', '.join(document.calibration_before) or 'not read'} → "
        f"{', '.join(document.calibration_after) or 'not read'}"
    )
    made = table("capture", "for", "question", "verdict")
    for chapter in document.chapters:
        for answer in chapter.answers:
            role = chapter.role.replace("ready.", "ready for ").replace("steps.", "steps of ")
            row(made, chapter.source.file, role, answer.kind, f"{answer.verdict}{_tried(chapter)}")
    yield indented(made)
    yield from anyway(document.anyway)
    if document.remarks:
        yield heading("Remarks")
    for remark in document.remarks:
        yield from line(remark)
    open_items = [one.text for one in document.confirmations if one.confirmed_by is None]
    if open_items:
        yield heading("Not confirmed by eye")
    for text in open_items:
        yield from line(f"- {text}")


def _tried(chapter: Chapter) -> str:
    """Which of several tries this is."""
    return f" (try {chapter.attempt} of {chapter.attempts})" if chapter.attempts > 1 else ""
