"""The answers beside the charts: the order of the relearns, and each question with its verdict and its rows."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from relearn.procedures.loader import procedures
from relearn.screen.desk import Desk, has_shown_steps
from relearn.screen.panel import Line, Panel, Planned, Span
from relearn.screen.shapes import CLASSES, shape

Focus = Callable[[float, float], None]


def side(desk: Desk, trainer: bool, focus: Focus) -> Callable[[], None]:
    """Build it; what is returned brings it up to date. A row that is clicked shows on the charts what decided it."""
    if trainer:
        _relearn(desk)
    plan = ui.element("ol").classes("plan").props('aria-label="order of the relearns"')
    questions = ui.element("div").classes("questions")
    with ui.element("section").classes("mind").props('aria-label="cautions"'):
        ui.label("Mind").classes("asks")
        minded = ui.element("ul")
    seen: list[object] = [None, None, None]
    opened: dict[str, bool] = {"Ready?": True}

    def show() -> None:
        answers = desk.answers
        if seen[0] != answers.plan:
            seen[0] = answers.plan
            plan.clear()
            with plan:
                for one in answers.plan:
                    _planned(one)
        if seen[1] != answers.panels:
            seen[1] = answers.panels
            redraw()
        if seen[2] != desk.cautions():
            seen[2] = desk.cautions()
            minded.clear()
            with minded:
                for text in desk.cautions():
                    with ui.element("li"):
                        ui.label(text)

    def redraw() -> None:
        questions.clear()
        with questions:
            for one in desk.answers.panels:
                _question(one, opened, focus, redraw)

    return show


def _relearn(desk: Desk) -> None:
    """Which relearn the page is about."""
    known = {name: one.title for name, one in procedures().items() if has_shown_steps(name)}
    with ui.element("select").classes("key").props('aria-label="relearn"') as chosen:
        for name, title in known.items():
            here = "selected" if name == desk.relearn else ""
            ui.html(f"For: {title}", tag="option", sanitize=False).props(f'value="{name}" {here}')

    def choose(name: object) -> None:
        if name in known:
            desk.relearn = str(name)

    chosen.on("change", lambda event: choose(event.args), js_handler="(event) => emit(event.target.value)")


def _planned(one: Planned) -> None:
    with ui.element("li").classes("planned asked" if one.asked else "planned"):
        ui.label(one.title).classes("text")
        ui.label(f"steps in this recording: {one.verdict}").classes("said")


def _question(panel: Panel, opened: dict[str, bool], focus: Focus, redraw: Callable[[], None]) -> None:
    is_open = opened.get(panel.question, False)

    def toggle() -> None:
        opened[panel.question] = not is_open
        redraw()
        _look(panel.span, focus)

    with ui.element("section").classes("question").props(f'data-question="{panel.question}"'):
        head = (
            ui.element("button")
            .classes(f"head {CLASSES[panel.verdict]}")
            .props(f'aria-expanded="{str(is_open).lower()}"')
        )
        with head.on("click", toggle):
            ui.label(panel.question).classes("asks")
            _verdict(panel.verdict)
            ui.label(panel.verdict).classes("word")
        ui.label(panel.sentence).classes("sentence")
        for note in panel.notes:
            ui.label(note).classes("note")
        if is_open:
            for line in panel.lines:
                _row(line, focus)


def _row(line: Line, focus: Focus) -> None:
    row = (
        ui.element("button").classes("row").props(f'data-row="{line.id}"').on("click", lambda: _look(line.span, focus))
    )
    with row:
        _verdict(line.verdict)
        ui.label(line.text).classes("text")
        ui.label(line.value).classes("value")
        ui.label(line.verdict).classes(f"said {CLASSES[line.verdict]}")
        ui.label(line.why if line.verdict != "yes" or not line.asked else line.asked).classes("why")
        ui.label(line.margin).classes("margin")
        row.props["title"] = line.standing


def _verdict(verdict: str) -> None:
    ui.html(shape(verdict), sanitize=False).classes(f"mark {CLASSES[verdict]}")


def _look(span: Span | None, focus: Focus) -> None:
    if span is not None:
        focus(*span)
