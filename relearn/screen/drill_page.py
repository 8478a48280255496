"""The page of a drill: the charts play up to a stop, the question is asked beside them, then the evidence is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from nicegui import app, ui

from relearn.analysis.marks import marks
from relearn.bus.clock import Clock
from relearn.drills.drill_file import Drill
from relearn.drills.results import by_kind, figure
from relearn.report.words import plain
from relearn.screen.bar import light
from relearn.screen.charts import Chart, Ends, band, having, windows
from relearn.screen.desk import NOTHING, Answers
from relearn.screen.drill_parts import Keep, Page, asking, score, telling
from relearn.screen.drill_readings import readings
from relearn.screen.drill_run import Run
from relearn.screen.feeds import Feed
from relearn.screen.panel import minutes
from relearn.screen.parts import DRAW_S, ONLY_READS, Charts, heading, key
from relearn.verdict import Limits

STYLE = Path(__file__).with_name("drill.css")
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

    def limits(self, charts: Sequence[Chart]) -> list[Limits | None]:
        told, sheet = self._run.told, self._run.drill.sheet
        return [band(one, sheet, told.question.relearn) if told is not None else None for one in charts]

    def plausible(self, charts: Sequence[Chart]) -> list[list[Ends | None]]:
        told = self._run.told is not None
        return [windows(one) if told else [None] * len(one.channels) for one in charts]

    def fresh(self, charts: Sequence[Chart]) -> list[list[float | None]]:
        """Unknown to the end: that a value is too old may be the very answer, and each line shows where it ends."""
        return [[None] * len(one.channels) for one in charts]


def drill_page(drill: Drill, clock: Clock, keep: Keep) -> None:
    """Ask for a name, then run; a page that is loaded again goes on where its browser's tab was.

    keep: is handed every result for the class's table.
    """
    ui.add_css(STYLE.read_text(encoding="utf-8"))
    box = ui.element("main").classes("contents")
    here = f"drill {drill.path}"

    def show() -> None:
        run = app.storage.tab.get(here)
        box.clear()
        with box:
            if run is None:
                _entry(drill, begin)
            else:
                _run(run, keep, leave)

    def begin(person: str) -> None:
        app.storage.tab[here] = Run(drill, person, clock)
        show()

    def leave() -> None:
        app.storage.tab.pop(here, None)
        show()

    ui.timer(0.0, show, once=True)  # which tab it is comes with its connection


def _entry(drill: Drill, begin: Callable[[str], None]) -> None:
    """Whoever answers says a name."""
    said = {"name": ""}
    with ui.element("div").classes("entry"):
        heading(plain(drill.title))
        asked = "1 question" if len(drill.stops) == 1 else f"{len(drill.stops)} questions"
        ui.label(f"{asked}. The recording plays, stops and asks; nothing is sent to any car.")
        name = (
            ui.element("input")
            .classes("name")
            .props(f'placeholder="your name" aria-label="your name" maxlength="{LONGEST_NAME}"')
        )
        name.on("keydown.enter", lambda: begin(said["name"].strip() or "somebody"))
        name.on(
            "input",
            lambda event: said.update(name=str(event.args)[:LONGEST_NAME]),
            js_handler="(event) => emit(event.target.value)",
        )
        key("Begin", lambda: begin(said["name"].strip() or "somebody"))


def _run(run: Run, keep: Keep, leave: Callable[[], None]) -> None:
    with ui.element("div").classes("desk drill") as desk:
        with ui.element("header").classes("top"):
            ui.label("drill").classes("kind")
            ui.label(plain(run.drill.title)).classes("what")
            clock = ui.label().classes("clock")
            ui.element("span").classes("gap")
            progress = ui.label().classes("progress")
            light()
        with ui.element("section").classes("left"):
            charts = Charts(Scene(run))
            read = ui.label().classes("also-read")
        side = ui.element("aside").classes("side").props('aria-live="polite"')
        with ui.element("footer").classes("foot"):
            ui.label(ONLY_READS)
    page = Page(run, charts, keep, leave)
    shown_for: list[object] = [None]

    def show() -> None:
        run.tick()
        clock.text = minutes(run.feed.position_s())
        read.text = also_read(run)
        progress.text = f"question {run.place + 1} of {len(run.drill.stops)}"
        charts.draw()
        charts.tell()
        if shown_for[0] != (run.place, run.phase):
            shown_for[0] = (run.place, run.phase)
            desk.classes(remove="told", add="told" if run.phase == "told" else "")
            side.clear()
            with side:
                PHASES[run.phase](page)

    ui.timer(DRAW_S, show)


def also_read(run: Run) -> str:
    """What is asked about and no chart shows."""
    charted = {name for chart in having(run.feed.channels()) for name in chart.channels}
    said = readings(run.seen, charted, run.feed.position_s())
    return f"Also read: {said}" if said else ""


def _playing(page: Page) -> None:
    page.charts.follow()
    ui.label("Watch. It stops and asks.").classes("big")
    key("Ask now", page.run.skip)


def _done(page: Page) -> None:
    page.charts.follow()
    results = page.run.results
    total = f"{figure(sum(one.points for one in results))} of {len(results)} points"
    ui.label(plain(page.run.person)).classes("note")  # alone: a name of another script turns numbers round
    ui.label(total).classes("big").props('role="status"')
    score(by_kind(results))
    key("Next person", page.leave)
    ui.link("Back to the beginning", "/").classes("link")


PHASES: dict[str, Callable[[Page], None]] = {"playing": _playing, "asking": asking, "told": telling, "done": _done}
