"""What the pages share: charts that are sent only what is new, buttons, headings, and what every page says."""

from __future__ import annotations

import json
import time
from collections.abc import Awaitable, Callable, Iterable, Sequence
from typing import Protocol

from nicegui import ui

from relearn.report.words import words
from relearn.screen.charts import Chart, Ends, ends, legend, shown
from relearn.screen.desk import Answers
from relearn.screen.feeds import Feed, Standing
from relearn.screen.panel import Span
from relearn.screen.strips import Strips
from relearn.verdict import Limits

DRAW_S, SPAN_S = 0.07, 90.0
ONLY_READS = (
    "relearn only reads and advises; the relearn is done with your own tool or by the service information. "
    "Mind: hot engine, fans that start unasked, exhaust, a car that can move."
)
LEGEND = (("ready", "ready"), ("judged", "idle judged"), ("band", "limits"), ("decided", "decided"))
HANDLING = "drag, wheel, keys + − ← →"

Act = Callable[[], None] | Callable[[], Awaitable[None]]


class Drawable(Protocol):
    """What charts are drawn from."""

    @property
    def feed(self) -> Feed | None: ...

    @property
    def answers(self) -> Answers: ...

    def charts(self) -> tuple[Chart, ...]: ...

    def limits(self, charts: Sequence[Chart]) -> list[Limits | None]: ...

    def plausible(self, charts: Sequence[Chart]) -> list[list[Ends | None]]: ...

    def fresh(self, charts: Sequence[Chart]) -> list[list[float | None]]: ...


class Charts:
    """The charts of one browser: made anew when another feed or another channel comes, else only sent what is new."""

    def __init__(self, desk: Drawable) -> None:
        self._desk = desk
        self._feed = desk.feed
        self._charts: tuple[Chart, ...] = ()
        self._strips: Strips | None = None
        self._told: object = None
        self._box = ui.element("div").classes("charts")
        with ui.element("div").classes("tools"):
            for kind, text in LEGEND:
                with ui.element("span").classes("legend"):
                    ui.element("span").classes(f"swatch {kind}")
                    ui.label(text)
            ui.label(HANDLING).classes("hint")
            key("Whole", lambda: self._do(Strips.everything))
            key("Now", lambda: self._do(Strips.follow))

    def focus(self, from_s: float, to_s: float, channel: str) -> None:
        """Show a stretch, marked on the chart of this channel; on all of them where it is of no single one."""
        places = [place for place, chart in enumerate(self._charts) if channel in ("", *chart.channels)]
        if not places:
            ui.notify(f"No chart shows {words(channel)}: this is the stretch of time.")
        self._do(lambda strips: strips.focus(from_s, to_s, places))

    def follow(self) -> None:
        """Go along with the newest sample again."""
        self._do(Strips.follow)

    def draw(self) -> None:
        """Send what is new."""
        feed, charts = self._desk.feed, self._desk.charts()
        if feed is not self._feed or charts != self._charts or self._strips is None:
            self._make(charts)
        if feed is not None and self._strips is not None:
            standing = feed.standing()
            self._strips.bring(feed.rows(charts), standing.position_s, time.time(), is_lost(standing))

    def tell(self) -> None:
        """Send marks, spans, limits and how old a value may be, where they changed."""
        answers, limits = self._desk.answers, self._desk.limits(self._charts)
        fresh, plausible = self._desk.fresh(self._charts), self._desk.plausible(self._charts)
        told = (answers.marks, answers.ready_spans, answers.judged, limits, fresh, plausible)
        if self._strips is None or told == self._told:
            return
        self._told = told
        self._strips.tell(
            {
                "marks": [{"at": one.time_s, "text": one.text, "first": one.kind != "press"} for one in answers.marks],
                "spans": [*_spans("ready", answers.ready_spans), *_spans("judged", filter(None, (answers.judged,)))],
                "limits": [ends(one) for one in limits],
                "legends": [legend(one) for one in limits],
                "fresh": fresh,
                "plausible": plausible,
            }
        )

    def _make(self, charts: tuple[Chart, ...]) -> None:
        self._feed, self._charts, self._told = self._desk.feed, charts, None
        self._box.clear()
        with self._box:
            self._strips = Strips(shown(charts), SPAN_S)

    def _do(self, what: Callable[[Strips], None]) -> None:
        if self._strips is not None:
            what(self._strips)


def _spans(kind: str, spans: Iterable[Span]) -> list[dict[str, object]]:
    return [{"kind": kind, "from": from_s, "to": to_s} for from_s, to_s in spans]


def is_lost(standing: Standing) -> bool:
    """Whether no value of it is a current one."""
    return bool(standing.gone) or standing.silent_s is not None


def key(text: str, act: Act) -> None:
    """A button."""
    with ui.element("button").classes("key").props('type="button"').on("click", act):
        ui.label(text)


def heading(text: str) -> None:
    """The title of a page."""
    with ui.element("h1").classes("big"):
        ui.label(text)


def followed(select: ui.element, now: Callable[[], str]) -> Callable[[], None]:
    """A list to choose from that shows what holds now, whichever browser has chosen it; what is returned does it."""
    shown = [now()]

    def show() -> None:
        value = now()
        if value != shown[0]:
            shown[0] = value
            ui.run_javascript(f"const one = getHtmlElement({select.id}); if (one) one.value = {json.dumps(value)}")

    return show
