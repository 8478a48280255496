"""The page of a drill: the charts play up to a stop, the question is asked beside them, the evidence is shown on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from relearn.analysis.marks import marks
from relearn.bus.clock import Clock
from relearn.drills.drill_file import Drill
from relearn.drills.questions import Choice, shown
from relearn.drills.results import Result, Tally, by_kind
from relearn.drills.wording import kinds
from relearn.errors import RelearnError
from relearn.procedures.sheets import Sheet
from relearn.report.words import plain
from relearn.screen.bar import minutes
from relearn.screen.charts import Chart, Ends, ends, having
from relearn.screen.desk import NOTHING, Answers
from relearn.screen.drill_run import Run
from relearn.screen.feeds import Feed
from relearn.screen.parts import DRAW_S, ONLY_READS, Charts, heading, key

Keep = Callable[[Result], None]


class Scene:
    """What the charts of a run are drawn from. Marks and spans would be hints, so they come with the truth."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self.sheet: Sheet = run.drill.sheet
        self._told: tuple[int, Answers] | None = None

    @property
    def feed(self) -> Feed:
        return self._run.feed

    @property
    def answers(self) -> Answers:
        run = self._run
        if run.truth is None:
            return NOTHING
        if self._told is None or self._told[0] != run.place:
            self._told = run.place, Answers(run.asked.at_s, marks=marks(run.feed.recording(), self.sheet))
        return self._told[1]

    def charts(self) -> tuple[Chart, ...]:
        return having(self.feed.channels())

    def limits(self, charts: Sequence[Chart]) -> list[Ends | None]:
        return [ends(one, self.sheet) for one in charts]


def drill_page(drill: Drill, clock: Clock, keep: Keep) -> None:
    """Ask for a name, then run. keep: is handed every result for the class's table."""
    box = ui.element("main").classes("contents")

    def begin(person: str) -> None:
        box.clear()
        with box:
            _run(Run(drill, person, clock), keep)

    with box, ui.element("div").classes("entry"):
        heading(plain(drill.title))
        ui.label(f"{len(drill.stops)} questions. The recording plays, stops and asks; nothing is sent to any car.")
        name = (
            ui.element("input").classes("name").props('placeholder="your name" aria-label="your name" maxlength="60"')
        )
        said = {"name": ""}
        name.on(
            "input", lambda event: said.update(name=str(event.args)), js_handler="(event) => emit(event.target.value)"
        )
        key("Begin", lambda: begin(said["name"].strip() or "somebody"))


def _run(run: Run, keep: Keep) -> None:
    with ui.element("main").classes("desk drill"):
        with ui.element("header").classes("top"):
            ui.label("drill").classes("kind")
            ui.label(plain(run.drill.title)).classes("what")
            clock = ui.label().classes("clock")
            ui.element("span").classes("gap")
            progress = ui.label().classes("progress")
        with ui.element("section").classes("left"):
            charts = Charts(Scene(run))
        side = ui.element("aside").classes("side")
        with ui.element("footer").classes("foot"):
            ui.label(ONLY_READS)
    shown_for: list[object] = [None]

    def show() -> None:
        run.tick()
        clock.text = minutes(run.feed.standing().position_s)
        progress.text = f"{run.place + 1} of {len(run.drill.stops)}"
        charts.draw()
        charts.tell()
        if shown_for[0] != (run.place, run.phase):
            shown_for[0] = (run.place, run.phase)
            side.clear()
            with side:
                PHASES[run.phase](run, charts, keep)

    ui.timer(DRAW_S, show)


def _playing(run: Run, charts: Charts, keep: Keep) -> None:
    charts.follow()
    ui.label("Watch. It stops and asks.").classes("big")
    key("Stop now", run.skip)


def _asking(run: Run, charts: Charts, keep: Keep) -> None:
    chosen: set[str] = set()
    ui.label(plain(run.asked.text)).classes("big").props('role="heading"')
    ui.label("More than one may be right." if run.asked.several else "One is right.").classes("note")
    kind = "checkbox" if run.asked.several else "radio"
    with ui.element("div").classes("choices").props('role="group"'):
        for one in run.asked.choices:
            _choice(one, kind, chosen)
    trouble = ui.label().classes("note")

    def answer() -> None:
        try:
            run.answer(tuple(one.id for one in run.asked.choices if one.id in chosen))
        except RelearnError as wrong:
            trouble.text = plain(str(wrong))
        else:
            keep(run.results[-1])

    def ready() -> None:
        if chosen:
            answer()
        else:
            trouble.text = "Choose an answer first."

    key("Answer", ready)


def _choice(choice: Choice, kind: str, chosen: set[str]) -> None:
    with ui.element("label").classes("choice"):
        box = ui.element("input").props(f'type="{kind}" name="answer" value="{choice.id}"')
        ui.label(plain(choice.text))

    def changed(checked: object) -> None:
        if kind == "radio":
            chosen.clear()
        (chosen.add if checked else chosen.discard)(choice.id)

    box.on("change", lambda event: changed(event.args), js_handler="(event) => emit(event.target.checked)")


def _told(run: Run, charts: Charts, keep: Keep) -> None:
    found, truth = run.results[-1], run.truth
    texts = {one.id: one.text for one in run.asked.choices}
    ui.label(plain(run.asked.text)).classes("note")  # the recording's name would often be a hint: it comes only now
    ui.label(f"recording: {plain(run.asked.capture)}").classes("kind")
    ui.label(_worth(found.points)).classes("big").props('role="status"')
    _listed("You said", [texts[one] for one in found.answered])
    _listed("By the data", [texts.get(one, one) for one in found.right])
    for reason in truth.reasons if truth is not None else ():
        ui.label(plain(reason)).classes("sentence")
    if truth is not None and truth.note:
        ui.label(plain(truth.note)).classes("note")
    spans = [
        at for part in (truth.decided_by if truth else ()) for one in part.evidence if (at := shown(one)) is not None
    ]
    if spans:
        first_s, last_s = min(one.from_s for one in spans), max(one.to_s for one in spans)
        charts.focus(first_s, last_s)
        key("Show what decided", lambda: charts.focus(first_s, last_s))
    key("Next", run.go_on)


def _listed(head: str, texts: Sequence[str]) -> None:
    with ui.element("div").classes("said-line"):
        ui.label(f"{head}:").classes("asks")
        ui.label("; ".join(plain(one) for one in texts) or "nothing")


def _worth(points: float) -> str:
    if points == 1.0:
        return "Right"
    return "Not right" if points == 0.0 else f"Partly right ({points:.0%})"


def _done(run: Run, charts: Charts, keep: Keep) -> None:
    ui.label(f"{plain(run.person)}: {sum(one.points for one in run.results):.1f} of {len(run.results)}").classes("big")
    score(by_kind(run.results))


def score(tallies: Sequence[Tally]) -> None:
    """Points by kind of question."""
    names = kinds()
    with ui.element("table").classes("score"):
        for one in tallies:
            with ui.element("tr"):
                for text in (names[one.kind].title, f"{one.points:.1f} of {one.asked}"):
                    with ui.element("td"):
                        ui.label(text)
    wrong_yes = sum(one.went_on for one in tallies)
    if wrong_yes:
        ui.label(f"{wrong_yes} times a yes where the data said otherwise: the mistake that lets a job go on.").classes(
            "note"
        )


PHASES: dict[str, Callable[[Run, Charts, Keep], None]] = {
    "playing": _playing,
    "asking": _asking,
    "told": _told,
    "done": _done,
}
