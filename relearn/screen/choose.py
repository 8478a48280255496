"""The page before anything is shown: the captures and drills of the folder, and the scenarios."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence

from nicegui import ui

from relearn.report.words import plain
from relearn.screen.folder import Choosable
from relearn.screen.parts import ONLY_READS, heading

Take = Callable[[str, int], Awaitable[None]]
Rows = Sequence[tuple[int, str, str]]


def choose(files: Sequence[Choosable], scenarios: Sequence[tuple[str, str]], take: Take, home: bool) -> None:
    """Lists with a button for each; take: is told which list ('capture', 'drill', 'scenario') and the number in it.

    home: may choose what everybody sees, and look at the class's results.
    """
    captures = [(n, one.name, "") for n, one in enumerate(files) if home and not one.is_drill]
    drills = [(n, one.name, "") for n, one in enumerate(files) if one.is_drill]
    with ui.element("main").classes("entry wide"):
        heading("What shall be shown?" if home else "Nothing is shown yet")
        ui.label(ONLY_READS).classes("note")
        _list("Drills", "drill", drills, take)
        if home:
            ui.link("What the class has answered", "/results").classes("link")
        _list("Captures of this folder", "capture", captures, take)
        _list("Scenarios of the invented car", "scenario", [(n, *one) for n, one in enumerate(scenarios)], take)


def _list(title: str, kind: str, rows: Rows, take: Take) -> None:
    if not rows:
        return
    with ui.element("h2").classes("asks"):
        ui.label(title)
    with ui.element("div").classes("choosing"):
        for number, name, what in rows:
            button = ui.element("button").classes("key choose").props('type="button"')
            with button.on("click", lambda number=number: take(kind, number)):
                ui.label(plain(name))
                if what:
                    ui.label(plain(what)).classes("note")
