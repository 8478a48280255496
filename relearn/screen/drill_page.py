"""The page of a drill: the charts play up to a stop, the question is asked beside them, then the evidence is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from relearn.analysis.marks import marks
from relearn.bus.clock import Clock
from relearn.drills.drill_file import Drill
from relearn.drills.results import by_kind
from relearn.report.words import plain
from relearn.screen.bar import light
from relearn.screen.charts import Chart, Ends, ends, having, windows
from relearn.screen.desk import NOTHING, Answers
from relearn.screen.drill_parts import Keep, asking, score, telling
from relearn.screen.drill_run import Run
from relearn.screen.feeds import Feed
from relearn.screen.panel import minutes
from relearn.screen.parts import DRAW_S, ONLY_READS, Charts, heading, key

LONGEST_NAME = 60


class Scene:
    """What the charts of a run are drawn from. Events, spans and limits would be hints, so they come with the truth."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self._known: tuple[Feed, Answers] | None = None

    @property
    def feed(self) -> Feed:
        return self._run.feed

    @property
    def answers(self) -> Answers:
        run = self._run
        if run.told is None:
            return NOTHING
        if self._known is None or self._known[0] is not run.feed:
            seen = marks(run.feed.recording(), run.drill.sheet)
            self._known = run.feed, Answers(run.told.question.at_s, marks=seen)
        return self._known[1]

    def charts(self) -> tuple[Chart, ...]:
        return having(self.feed.channels())

    def limits(self, charts: Sequence[Chart]) -> list[Ends | None]:
        return [ends(one, self._run.drill.sheet) if self._run.told is not None else None for one in charts]

    def plausible(self, charts: Sequence[Chart]) -> list[list[Ends | None]]:
        told = self._run.told is not None
        return [windows(one) if told else [None] * len(one.channels) for one in charts]


def drill_page(drill: Drill, clock: Clock, keep: Keep) -> None:
    """Ask for a name, then run. keep: is handed every result for the class's table."""
    box = ui.element("main").classes("contents")
    said = {"name": ""}

    def begin(person: str) -> None:
        box.clear()
        with box:
            _run(Run(drill, person, clock), keep)

    with box, ui.element("div").classes("entry"):
        heading(plain(drill.title))
        ui.label(f"{len(drill.stops)} questions. The recording plays, stops and asks; nothing is sent to any car.")
        name = (
            ui.element("input")
            .classes("name")
            .props(f'placeholder="your name" aria-label="your name" maxlength="{LONGEST_NAME}"')
        )
        name.on(
            "input",
            lambda event: said.update(name=str(event.args)[:LONGEST_NAME]),
            js_handler="(event) => emit(event.target.value)",
        )
        key("Begin", lambda: begin(said["name"].strip() or "somebody"))


def _run(run: Run, keep: Keep) -> None:
    with ui.element("div").classes("desk drill"):
        with ui.element("header").classes("top"):
            ui.label("drill").classes("kind")
            ui.label(plain(run.drill.title)).classes("what")
            clock = ui.label().classes("clock")
            ui.element("span").classes("gap")
            progress = ui.label().classes("progress")
            light()
        with ui.element("section").classes("left"):
            charts = Charts(Scene(run))
        side = ui.element("aside").classes("side").props('aria-live="polite"')
        with ui.element("footer").classes("foot"):
            ui.label(ONLY_READS)
    shown_for: list[object] = [None]

    def show() -> None:
        run.tick()
        clock.text = minutes(run.feed.standing().position_s)
        progress.text = f"question {run.place + 1} of {len(run.drill.stops)}"
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
    key("Ask now", run.skip)


def _done(run: Run, charts: Charts, keep: Keep) -> None:
    total = f"{sum(one.points for one in run.results):.3g} of {len(run.results)}"
    ui.label(f"{plain(run.person)}: {total}").classes("big").props('role="status"')
    score(by_kind(run.results))
    ui.link("Back to the beginning", "/").classes("link")


PHASES: dict[str, Callable[[Run, Charts, Keep], None]] = {
    "playing": _playing,
    "asking": asking,
    "told": telling,
    "done": _done,
}
