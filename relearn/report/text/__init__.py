"""Findings as text for a terminal of 80 columns: the verdict first, then why. Readable without colour."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from rich.console import Console, RenderableType

from relearn.findings.base import Document
from relearn.report.text.answers import air, identity, ready, settle, supply
from relearn.report.text.compare import compare
from relearn.report.text.job import job
from relearn.report.text.plan import plan
from relearn.report.text.record import added, jobs, next_thing, status, verify
from relearn.report.text.show import show
from relearn.report.text.steps import steps

WIDTH = 80
RENDERERS: Mapping[str, Callable[[Any], Iterable[RenderableType]]] = {
    "plan": plan,
    "show": show,
    "ready": ready,
    "steps": steps,
    "settle": settle,
    "supply": supply,
    "identity": identity,
    "air": air,
    "job": job,
    "added": added,
    "next": next_thing,
    "status": status,
    "verify": verify,
    "jobs": jobs,
    "compare": compare,
}


class _Page(Console):
    """A console that leaves it to the caller what a closed pipe means; rich itself would end with the 1 of a no."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


def print_document(document: Document, console: Console | None = None) -> None:
    """Write a findings document to a console, by its kind."""
    shown = console or _Page(width=WIDTH, highlight=False)
    for part in RENDERERS[str(getattr(document, "kind", ""))](document):
        shown.print(part, markup=False)
