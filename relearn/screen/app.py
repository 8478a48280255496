"""The server of the page: its addresses, a judge in the background, and a guard in front."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from pathlib import Path

from nicegui import Client, app, run, ui

from relearn.drills.results import by_kind
from relearn.errors import RelearnError
from relearn.report.words import plain
from relearn.screen import serving
from relearn.screen.choose import choose
from relearn.screen.drill_page import drill_page, score
from relearn.screen.guard import LOOPBACK, Guests
from relearn.screen.hall import Hall
from relearn.screen.parts import heading, key
from relearn.screen.watch import watch

HERE = Path(__file__).parent
STYLES = (HERE / "vendor" / "uPlot.min.css", HERE / "look.css")
JUDGE_S = 0.5


def serve(
    hall: Hall,
    hosts: Sequence[str],
    port: int,
    guests: Guests,
    ready: Callable[[int], None],
    over: Callable[[], bool],
) -> None:
    """Serve this hall until it is over; the rest as serving.serve has it."""
    _pages(hall)
    tasks: set[asyncio.Task[None]] = set()
    app.on_startup(lambda: tasks.add(asyncio.create_task(_judge(hall))))
    app.on_shutdown(hall.leave)
    serving.serve(hosts, port, guests, ready, over)


def _pages(hall: Hall) -> None:
    @ui.page("/")
    def index() -> None:
        _style()
        if hall.desk.feed is None and not _at_home():
            _choose(hall, drills_only=True)
        elif hall.desk.feed is None:
            _choose(hall, drills_only=False)
        else:
            watch(hall.desk, (lambda: _leave(hall)) if _at_home() else None)

    @ui.page("/drill/{number}")
    def drill(number: int) -> None:
        _style()
        if not (0 <= number < len(hall.files) and hall.files[number].is_drill):
            _say("There is no such drill here.")
            return
        try:
            chosen = hall.drill(number)
        except RelearnError as wrong:
            _say(str(wrong))
        else:
            drill_page(chosen, hall.clock, hall.results.append)

    @ui.page("/results")
    def results() -> None:
        _style()
        if not _at_home():
            _say("The results are with whoever started this page.")
            return
        _results(hall)


def _choose(hall: Hall, drills_only: bool) -> None:
    async def take(kind: str, number: int) -> None:
        if kind == "drill":
            ui.navigate.to(f"/drill/{number}")
            return
        try:
            if kind == "capture":
                await run.io_bound(hall.show_capture, number)
            else:
                await run.io_bound(hall.show_scenario, hall.scenarios[number][0])
        except RelearnError as wrong:
            ui.notify(plain(str(wrong)), type="negative", timeout=0, close_button="Close")
        else:
            ui.navigate.to("/")

    choose(hall.files, () if drills_only else hall.scenarios, take, drills_only)


async def _leave(hall: Hall) -> None:
    """Back to choosing, for every browser."""
    await run.io_bound(hall.leave)
    for client in Client.instances.values():
        with client:
            ui.navigate.to("/")


def _results(hall: Hall) -> None:
    with ui.element("main").classes("entry"):
        heading("What the class has answered")
        for person in dict.fromkeys(one.person for one in hall.results):
            ui.label(plain(person)).classes("asks")
            score(by_kind([one for one in hall.results if one.person == person]))
        key("Save as CSV", lambda: ui.download(hall.table(), "results.csv", "text/csv"))


def _say(text: str) -> None:
    with ui.element("main").classes("entry"):
        heading(plain(text))


async def _judge(hall: Hall) -> None:
    while True:
        answers = await run.io_bound(hall.desk.asked)
        if answers is not None:  # None: the server is going down
            hall.desk.answers = answers
        await asyncio.sleep(JUDGE_S)


def _style() -> None:
    for path in STYLES:
        ui.add_css(path.read_text(encoding="utf-8"))


def _at_home() -> bool:
    return ui.context.client.ip in LOOPBACK
