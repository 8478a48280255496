"""The page before anything is shown: the captures and drills of the folder, and the scenarios."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence

from nicegui import ui

from relearn.report.words import plain
from relearn.screen.folder import Choosable
from relearn.screen.parts import ONLY_READS, heading

Take = Callable[[str, int], Awaitable[None]]


def choose(files: Sequence[Choosable], scenarios: Sequence[tuple[str, str]], take: Take, drills_only: bool) -> None:
    """Lists with a button for each; take: is told which list ('capture', 'drill', 'scenario') and the number in it.

    drills_only: for who may not choose what everybody sees.
    """
    captures = [] if drills_only else [(n, one.name, "") for n, one in enumerate(files) if not one.is_drill]
    with ui.element("main").classes("entry"):
        heading("What shall be shown?")
        ui.label(ONLY_READS).classes("note")
        _list("Captures", "capture", captures, take)
        _list("Drills", "drill", [(n, one.name, "") for n, one in enumerate(files) if one.is_drill], take)
        _list("Scenarios of the invented car", "scenario", [(n, *one) for n, one in enumerate(scenarios)], take)


def _list(title: str, kind: str, rows: Sequence[tuple[int, str, str]], take: Take) -> None:
    if not rows:
        return
    with ui.element("h2").classes("asks"):
        ui.label(title)
    for number, name, what in rows:
        with ui.element("button").classes("key choose").on("click", lambda number=number: take(kind, number)):
            ui.label(plain(name))
            ui.label(plain(what)).classes("note")
