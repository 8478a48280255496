"""The page that shows a feed: bar on top, charts on the left, answers on the right. Built once for each browser."""

from __future__ import annotations

from nicegui import ui

from relearn.screen.bar import bar
from relearn.screen.desk import Desk
from relearn.screen.parts import DRAW_S, ONLY_READS, Act, Charts
from relearn.screen.side import side
from relearn.screen.taking_over import Faults

SHOW_S = 0.25


def watch(desk: Desk, leave: Act | None, faults: Faults | None) -> None:
    """The page of one browser. leave: goes back to choosing; None for who may only look on and not play or seek.
    faults: what the trainer may switch."""
    with ui.element("main").classes("desk"):
        with ui.element("header").classes("top"):
            show_bar = bar(desk, leave, faults)
        with ui.element("section").classes("left"):
            charts = Charts(desk)
        with ui.element("aside").classes("side"):
            show_side = side(desk, leave is not None, charts.focus)
        with ui.element("footer").classes("foot"):
            ui.label(ONLY_READS)

    def show() -> None:
        show_bar()
        show_side()
        charts.tell()

    ui.timer(DRAW_S, charts.draw)
    ui.timer(SHOW_S, show)
