"""Findings as text for a terminal of 80 columns: the verdict first, then why. Readable without colour."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from rich.console import Console, RenderableType

from relearn.findings.base import Document

WIDTH = 80
Renderer = Callable[[Any], Iterable[RenderableType]]


def _late(module: str, name: str) -> Renderer:
    """A page whose module, and the documents that it knows, are imported only when one is printed."""

    def render(document: Any) -> Iterable[RenderableType]:
        page: Renderer = getattr(importlib.import_module(f"relearn.report.text.{module}"), name)
        return page(document)

    return render


RENDERERS: Mapping[str, Renderer] = {
    "plan": _late("plan", "plan"),
    "show": _late("show", "show"),
    "ready": _late("answers", "ready"),
    "steps": _late("steps", "steps"),
    "settle": _late("answers", "settle"),
    "supply": _late("answers", "supply"),
    "identity": _late("answers", "identity"),
    "air": _late("answers", "air"),
    "job": _late("job", "job"),
    "added": _late("record", "added"),
    "next": _late("record", "next_thing"),
    "status": _late("record", "status"),
    "verify": _late("record", "verify"),
    "jobs": _late("record", "jobs"),
    "compare": _late("compare", "compare"),
    "survey": _late("survey", "survey"),
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
