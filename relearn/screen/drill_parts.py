"""Beside the charts of a drill: a question with its choices, what was right, and the score."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from relearn.drills.questions import Choice, Truth, shown
from relearn.drills.results import Result, Tally
from relearn.drills.wording import kinds
from relearn.errors import RelearnError
from relearn.report.words import plain
from relearn.screen.drill_run import Run
from relearn.screen.panel import Span
from relearn.screen.parts import Charts, key

Keep = Callable[[Result], None]


def asking(run: Run, charts: Charts, keep: Keep) -> None:
    """The question. keep: is handed the result when it is answered."""
    chosen: set[str] = set()
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
            run.answer(tuple(one.id for one in run.asked.choices if one.id in chosen))
        except RelearnError as wrong:
            trouble.text = plain(str(wrong))
        else:
            keep(run.results[-1])

    key("Answer", answer)


def _choice(choice: Choice, kind: str, chosen: set[str]) -> None:
    with ui.element("label").classes("choice"):
        box = ui.element("input").props(f'type="{kind}" name="answer"')
        box.props["value"] = choice.id
        ui.label(plain(choice.text))

    def changed(checked: object) -> None:
        if kind == "radio":
            chosen.clear()
        (chosen.add if checked else chosen.discard)(choice.id)

    box.on("change", lambda event: changed(event.args), js_handler="(event) => emit(event.target.checked)")


def telling(run: Run, charts: Charts, keep: Keep) -> None:
    """What was right, and where it can be seen. The recording's name would often be a hint: it comes only now."""
    told = run.told
    if told is None:
        return
    texts = {one.id: one.text for one in told.question.choices}
    ui.label(plain(told.question.text)).classes("note")
    ui.label(_worth(told.result.points)).classes("big").props('role="status"')
    _listed("You said", [texts[one] for one in told.result.answered])
    _listed("By the data", [texts.get(one, one) for one in told.result.right])
    for reason in told.truth.reasons:
        ui.label(plain(reason)).classes("sentence")
    if told.truth.note:
        ui.label(f"Note: {plain(told.truth.note)}").classes("note")
    ui.label(f"recording: {plain(told.question.capture)}").classes("note")
    span = _span(told.truth)
    if span is not None:
        charts.focus(*span)
        key("Show what decided", lambda: charts.focus(*span))
    key("Next", run.go_on)


def _span(truth: Truth) -> Span | None:
    """From the first to the last of what decided; None where nothing has a time."""
    spans = [at for part in truth.decided_by for one in part.evidence if (at := shown(one)) is not None]
    return (min(one.from_s for one in spans), max(one.to_s for one in spans)) if spans else None


def _listed(head: str, texts: Sequence[str]) -> None:
    with ui.element("div").classes("said-line"):
        ui.label(f"{head}:").classes("asks")
        ui.label("; ".join(plain(one) for one in texts) or "nothing")


def _worth(points: float) -> str:
    if points == 1.0:
        return "Right"
    return "Not right" if points == 0.0 else f"Partly right ({points:.0%})"


def score(tallies: Sequence[Tally]) -> None:
    """Points by kind of question."""
    with ui.element("table").classes("score"):
        for one in tallies:
            with ui.element("tr"):
                for text in (kinds()[one.kind].title, f"{one.points:.3g} of {one.asked}"):
                    with ui.element("td"):
                        ui.label(text)
    wrong_yes = sum(one.went_on for one in tallies)
    if wrong_yes:
        times = "once" if wrong_yes == 1 else f"{wrong_yes} times"
        ui.label(f"{times} a yes where the data said otherwise: the mistake that lets a job go on.").classes("note")
