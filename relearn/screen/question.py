"""One question of the page with its verdict and its rows. Built once; what changes is written into what is there, so
that the focus and the place to which somebody has scrolled stay."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from relearn.screen.panel import Line, Panel, Span
from relearn.screen.shapes import CLASSES, shape

Focus = Callable[[float, float], None]
UNDECIDED = "No stretch of the recording has decided this yet."


class Mark:
    """A verdict's shape, and whatever else wears its colour."""

    def __init__(self, *worn_by: ui.element) -> None:
        self._picture = ui.html("", sanitize=False).classes("mark")
        self._worn_by = (self._picture, *worn_by)
        self._verdict = ""

    def show(self, verdict: str) -> None:
        if verdict == self._verdict:
            return
        self._verdict = verdict
        self._picture.content = shape(verdict)
        for one in self._worn_by:
            one.classes(remove=" ".join(CLASSES.values()), add=CLASSES[verdict])


class Question:
    """A panel: its head opens and closes the rows, and shows on the charts what decided."""

    def __init__(self, title: str, focus: Focus) -> None:
        self._focus = focus
        self._span: Span | None = None
        self._rows: dict[str, Row] = {}
        with ui.element("section").classes("question") as section:
            section.props["data-question"] = title
            self._head = ui.element("button").classes("head").props('type="button" aria-expanded="false"')
            with self._head.on("click", self._pressed):
                ui.label(title).classes("asks")
                self._mark = Mark(self._head)
                self._word = ui.label().classes("word")
            self._sentence = ui.label().classes("sentence")
            self._notes = ui.label().classes("note")
            self._box = ui.element("div").classes("rows")
        self._opened(False)

    def open(self) -> None:
        """Show its rows."""
        self._opened(True)

    def show(self, panel: Panel) -> None:
        """Bring it up to date."""
        self._span = panel.span
        self._mark.show(panel.verdict)
        self._word.text, self._sentence.text = panel.verdict, panel.sentence
        self._notes.text = " ".join(panel.notes)
        if list(self._rows) != [one.id for one in panel.lines]:
            self._box.clear()
            with self._box:
                self._rows = {one.id: Row(one.id, self._focus) for one in panel.lines}
        for one in panel.lines:
            self._rows[one.id].show(one)

    def _pressed(self) -> None:
        self._opened(not self._open)
        if self._open:
            look(self._span, self._focus)

    def _opened(self, now: bool) -> None:
        self._open = now
        self._box.set_visibility(now)
        self._head.props(f'aria-expanded="{str(now).lower()}"')


class Row:
    """One judged line."""

    def __init__(self, name: str, focus: Focus) -> None:
        self._span: Span | None = None
        self._row = ui.element("button").classes("row").props('type="button"')
        self._row.props["data-row"] = name
        with self._row.on("click", lambda: look(self._span, focus)):
            self._mark = Mark()
            self._text, self._value = ui.label().classes("text"), ui.label().classes("value")
            self._said = ui.label().classes("said")
            self._margin = ui.label().classes("margin")
            self._why = ui.label().classes("why")

    def show(self, line: Line) -> None:
        """Bring it up to date."""
        self._span = line.span
        self._mark.show(line.verdict)
        self._text.text, self._value.text, self._margin.text = line.text, line.value, _margin(line)
        self._said.text = f"{line.verdict} · asked {line.asked}" if line.asked not in ("", "–") else line.verdict
        self._why.text = line.why if line.verdict != "yes" else ""
        if self._row.props.get("title") != line.standing:
            self._row.props["title"] = line.standing


def _margin(line: Line) -> str:
    return f"margin {line.margin}" if line.margin not in ("", "–") else ""


def look(span: Span | None, focus: Focus) -> None:
    """Show a stretch on the charts, or say that there is none."""
    if span is not None:
        focus(*span)
    else:
        ui.notify(UNDECIDED)
