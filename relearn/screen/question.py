"""One question of the page with its verdict and its rows. Built once; what changes is written into what is there, so
that the focus and the place to which somebody has scrolled stay."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from relearn.screen.panel import NO_MEASUREMENT, NOT_BEGUN, Line, Panel, Span
from relearn.screen.shapes import CLASSES, shape

Focus = Callable[[float, float, str], None]
"""Shows a stretch of a channel on the charts, or of all where the channel is ''."""
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


def shown(verdict: str, current: bool) -> tuple[str, str]:
    """The verdict that a mark wears, and its word. One that is not current is only told as what it was."""
    if current or verdict in ("cannot tell", NOT_BEGUN):
        return verdict, verdict
    return "cannot tell", f"was {verdict}"


class Head:
    """One verdict of the row on top, where all of them are seen at once; pressed, it goes to its question."""

    def __init__(self, title: str, go: Callable[[], None]) -> None:
        button = ui.element("button").classes("verdict").props('type="button"')
        button.props["data-head"] = title
        with button.on("click", go):
            ui.label(title).classes("asks")
            self._mark = Mark(button)
            self._word = ui.label().classes("word")

    def show(self, panel: Panel, current: bool) -> None:
        """Bring it up to date."""
        worn, self._word.text = shown(panel.verdict, current)
        self._mark.show(worn)


class Question:
    """A panel: its head opens and closes the rows, and shows on the charts what decided."""

    def __init__(self, title: str, focus: Focus) -> None:
        self._focus = focus
        self._span: Span | None = None
        self._rows: dict[str, Row] = {}
        self._section = ui.element("section").classes("question")
        with self._section:
            self._section.props["data-question"] = title
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

    def come(self) -> None:
        """Show its rows, where they can be seen, and on the charts what decided."""
        self._opened(True)
        look(self._span, "", self._focus)
        ui.run_javascript(f"const one = getHtmlElement({self._section.id}); if (one) one.scrollIntoView()")

    def show(self, panel: Panel, current: bool) -> None:
        """Bring it up to date. current: whether the answer is one of now."""
        self._span = panel.span
        worn, self._word.text = shown(panel.verdict, current)
        self._mark.show(worn)
        self._sentence.text = panel.sentence
        self._notes.text = " ".join(panel.notes)
        if list(self._rows) != [one.id for one in panel.lines]:
            self._box.clear()
            with self._box:
                self._rows = {one.id: Row(one.id, self._focus) for one in panel.lines}
        for one in panel.lines:
            self._rows[one.id].show(one, current)

    def _pressed(self) -> None:
        self._opened(not self._open)
        if self._open:
            look(self._span, "", self._focus)

    def _opened(self, now: bool) -> None:
        self._open = now
        self._box.set_visibility(now)
        self._head.props(f'aria-expanded="{str(now).lower()}"')


class Row:
    """One judged line."""

    def __init__(self, name: str, focus: Focus) -> None:
        self._span: Span | None = None
        self._channel = ""
        self._row = ui.element("button").classes("row").props('type="button"')
        self._row.props["data-row"] = name
        with self._row.on("click", lambda: look(self._span, self._channel, focus)):
            self._mark = Mark()
            self._text = ui.label().classes("text")
            with ui.element("span").classes("reads"):
                self._of, self._value = ui.label().classes("of"), ui.label().classes("value")
            self._said = ui.label().classes("said")
            self._margin = ui.label().classes("margin")
            self._why = ui.label().classes("why")

    def show(self, line: Line, current: bool) -> None:
        """Bring it up to date. current: whether the answer is one of now."""
        self._span, self._channel = line.span, line.channel
        worn, word = shown(line.verdict, current)
        self._mark.show(worn)
        self._text.text, self._value.text, self._margin.text = line.text, line.value, _beside(line, current)
        self._of.text = line.of if line.not_now != NO_MEASUREMENT else ""
        self._value.classes(
            remove="struck", add="struck" if line.value not in ("", "–") and (line.not_now or not current) else ""
        )
        self._said.text = f"{word} · asked {line.asked}" if line.asked not in ("", "–") else word
        self._why.text = line.why if line.verdict != "yes" else ""
        if self._row.props.get("title") != line.standing:
            self._row.props["title"] = line.standing


def _beside(line: Line, current: bool) -> str:
    """Why the value is not one of now, or its margin, which only a value of now has."""
    if line.not_now or not current:
        return line.not_now
    return f"margin {line.margin}" if line.margin not in ("", "–") else ""


def look(span: Span | None, channel: str, focus: Focus) -> None:
    """Show a stretch on the charts, or say that there is none."""
    if span is not None:
        focus(*span, channel)
    else:
        ui.notify(UNDECIDED)
