"""Beside the charts of a drill: a question with its choices, what was right, and the score."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nicegui import ui

from relearn.drills.questions import Choice, Shown, places
from relearn.drills.results import Result, Tally, figure, worth
from relearn.drills.wording import kinds
from relearn.errors import RelearnError
from relearn.report.words import plain, words
from relearn.screen.charts import having
from relearn.screen.drill_run import Run
from relearn.screen.panel import minutes
from relearn.screen.parts import Charts, key

Keep = Callable[[Result], None]


@dataclass(frozen=True)
class Page:
    """One browser's page of a run. keep: is handed each result. leave: makes room for the next person."""

    run: Run
    charts: Charts
    keep: Keep
    leave: Callable[[], None]


def asking(page: Page) -> None:
    """The question."""
    run, place, chosen = page.run, page.run.place, set[str]()
    ui.label(plain(run.asked.text)).classes("big").props('role="heading" aria-level="1"')
    ui.label("More than one may be right." if run.asked.several else "One is right.").classes("note")
    kind = "checkbox" if run.asked.several else "radio"
    with ui.element("div").classes("choices").props('role="group"'):
        for one in run.asked.choices:
            _choice(one, kind, chosen)
    trouble = ui.label().classes("note").props('role="status"')

    def answer() -> None:
        if not chosen:
            trouble.text = "Choose an answer first."
            return
        try:
            run.answer(place, tuple(one.id for one in run.asked.choices if one.id in chosen))
        except RelearnError as wrong:
            trouble.text = plain(str(wrong))
        else:
            page.keep(run.results[-1])

    key("Answer", answer)


def _choice(choice: Choice, kind: str, chosen: set[str]) -> None:
    with ui.element("label").classes("choice"):
        box = ui.element("input").props(f'type="{kind}" name="answer"')
        ui.label(plain(choice.text))

    def changed(checked: object) -> None:
        if kind == "radio":
            chosen.clear()
        (chosen.add if checked else chosen.discard)(choice.id)

    box.on("change", lambda event: changed(event.args), js_handler="(event) => emit(event.target.checked)")


def telling(page: Page) -> None:
    """What was right, and where it can be seen."""
    told = page.run.told
    if told is None:
        return
    ui.label(plain(told.question.text)).classes("note")
    ui.label(_worth(told.result.points)).classes("big").props('role="status"')
    _listed("You said", told.result.answered)
    _listed("By the data", told.result.right)
    for reason in told.truth.reasons:
        ui.label(plain(reason)).classes("sentence")
    if told.truth.note:
        ui.label(f"Note: {plain(told.truth.note)}").classes("note")
    _evidence(page, places(told.question, told.truth, told.given))
    if page.run.recording_name:
        ui.label(f"recording: {plain(page.run.recording_name)}").classes("note")
    key("Next", page.run.go_on)


def _evidence(page: Page, shown: Sequence[Shown]) -> None:
    """What decided, each with its chart and time; the first is shown on the charts, and whichever is chosen."""
    if not shown:
        return
    titles = {name: chart.title for chart in having(page.run.feed.channels()) for name in chart.channels}
    buttons: list[ui.element] = []

    def look(place: int) -> None:
        page.charts.focus(shown[place].from_s, shown[place].to_s, shown[place].channel)
        for n, button in enumerate(buttons):
            button.props(f'aria-pressed="{str(n == place).lower()}"')

    with ui.element("div").classes("evidence").props('role="group"'):
        ui.label("Look at").classes("asks")
        for place, one in enumerate(shown):
            button = ui.element("button").classes("look-at").props('type="button"')
            with button.on("click", lambda place=place: look(place)):
                ui.label(plain(one.of)).classes("of")
                ui.label(_where(one, titles.get(one.channel))).classes("where")
            buttons.append(button)
    look(0)


def _where(at: Shown, chart: str | None) -> str:
    """'Supply, 1:02.0–1:12.0', by the chart's title; of a channel that has no chart its own name."""
    when = minutes(at.from_s) if at.from_s == at.to_s else f"{minutes(at.from_s)}–{minutes(at.to_s)}"
    return f"{chart or words(at.channel)}, {when}"


def _listed(head: str, texts: Sequence[str]) -> None:
    with ui.element("div").classes("said-line"):
        ui.label(f"{head}:").classes("asks")
        ui.label("; ".join(plain(one) for one in texts) or "nothing")


def _worth(points: float) -> str:
    said = worth(points).capitalize()
    return said if points in (0.0, 1.0) else f"{said} ({points:.0%})"


def score(tallies: Sequence[Tally]) -> None:
    """Points by kind of question."""
    with ui.element("table").classes("score"):
        for one in tallies:
            with ui.element("tr"):
                for text in (kinds()[one.kind].title, f"{figure(one.points)} of {one.asked}"):
                    with ui.element("td"):
                        ui.label(text)
    wrong_yes = sum(one.went_on for one in tallies)
    if wrong_yes:
        times = "once" if wrong_yes == 1 else f"{wrong_yes} times"
        ui.label(f"{times} a yes where the data said otherwise: the mistake that lets a job go on.").classes("note")
