"""What the class has answered: points by person and kind of question, and all of it as CSV."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from relearn.drills.results import Result, by_kind, figure
from relearn.drills.wording import kinds
from relearn.report.words import plain
from relearn.screen.hall import Hall
from relearn.screen.parts import heading, key

LOOK_S = 1.0
WRONGLY = "'said yes wrongly' is how often somebody would have let a job go on although the data said otherwise."


def results_page(hall: Hall) -> None:
    """The trainer's page; it grows while the class answers."""
    with ui.element("main").classes("entry wide"):
        heading("What the class has answered")
        table = ui.element("div")
        with ui.element("div").classes("row-of-keys"):
            key("Save as CSV", lambda: ui.download(hall.table(), "results.csv", "text/csv"))
            ui.link("Back", "/").classes("link")
    seen: list[int] = [-1]

    def show() -> None:
        if seen[0] != len(hall.results):
            seen[0] = len(hall.results)
            table.clear()
            with table:
                _table(hall.results)

    show()
    ui.timer(LOOK_S, show)


def _table(results: Sequence[Result]) -> None:
    if not results:
        ui.label("Nobody has answered yet.").classes("note")
        return
    asked = [name for name in kinds() if any(one.kind == name for one in results)]
    people = list(dict.fromkeys(one.person for one in results))
    with ui.element("table").classes("score"):
        _line("th", ["who", *(kinds()[name].title for name in asked), "all so far", "said yes wrongly"])
        for person in people:
            _line("td", _scores(plain(person), [one for one in results if one.person == person], asked))
        if len(people) > 1:
            _line("th", _scores("the whole class", results, asked))
    ui.label(f"Points of how many questions answered; {WRONGLY}").classes("note")


def _scores(name: str, results: Sequence[Result], asked: Sequence[str]) -> list[str]:
    """One line: points of how many, for each kind and together."""
    tallies = {one.kind: one for one in by_kind(results)}
    of_kinds = [f"{figure(tallies[one].points)} of {tallies[one].asked}" if one in tallies else "–" for one in asked]
    together = f"{figure(sum(one.points for one in results))} of {len(results)}"
    return [name, *of_kinds, together, str(sum(one.went_on for one in results))]


def _line(tag: str, cells: Sequence[str]) -> None:
    with ui.element("tr"):
        for text in cells:
            with ui.element(tag):
                ui.label(text)
