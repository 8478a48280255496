"""The server of the page: its addresses, a judge in the background, and a guard in front."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from http import HTTPStatus
from pathlib import Path

from nicegui import Client, app, run, ui

from relearn.errors import RelearnError
from relearn.report.words import plain
from relearn.screen import serving
from relearn.screen.choose import choose
from relearn.screen.drill_page import drill_page
from relearn.screen.guard import LOOPBACK, Guests
from relearn.screen.hall import Hall
from relearn.screen.parts import heading
from relearn.screen.results_page import results_page
from relearn.screen.watch import watch

HERE = Path(__file__).parent
STYLES = (HERE / "vendor" / "uPlot.min.css", HERE / "look.css")
REST_S, LONGEST_REST_S = 0.25, 1.0  # between two judgements


def serve(
    hall: Hall, hosts: Sequence[str], port: int, guests: Guests, ready: Callable[[int], None], over: Callable[[], bool]
) -> None:
    """Serve this hall until it is over; the rest as serving.serve has it."""
    _pages(hall)
    judging: list[asyncio.Task[None]] = []
    judges = (hall.desk.judge, hall.desk.judge_idle)
    app.on_startup(lambda: judging.extend(asyncio.create_task(_judge(hall, one)) for one in judges))
    app.on_shutdown(hall.leave)
    serving.serve(hosts, port, guests, ready, lambda: over() or any(task.done() for task in judging))
    for task in judging:
        if not task.cancelled():
            task.result()  # a judge that fails ends the page: answers that grow old must not stand there


def _pages(hall: Hall) -> None:
    @ui.page("/")
    def index() -> None:
        _style()
        home = _at_home()
        if hall.desk.feed is None:
            _choose(hall, home)
        else:
            watch(hall.desk, (lambda: _leave(hall)) if home else None, hall.faults if home else None)

    @ui.page("/drill/{number}")
    def drill(number: str) -> None:
        _style()
        place = hall.drills_by_address.get(number)
        if place is None:
            _say("There is no such drill here.", HTTPStatus.NOT_FOUND)
            return
        try:
            chosen = hall.drill(place)
        except RelearnError as wrong:
            _say(str(wrong))
        else:
            drill_page(chosen, hall.clock, hall.results.append)

    @ui.page("/results")
    def results() -> None:
        _style()
        if _at_home():
            results_page(hall)
        else:
            _say("The results are with whoever started this page.", HTTPStatus.FORBIDDEN)


def _choose(hall: Hall, home: bool) -> None:
    """home: may choose what everybody sees; others may only take part in drills."""

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
            _everybody_looks()

    choose(hall.files, hall.scenarios if home else (), take, home)


async def _leave(hall: Hall) -> None:
    """Back to choosing, for every browser that looks on."""
    await run.io_bound(hall.leave)
    _everybody_looks()


def _everybody_looks() -> None:
    """Every browser that is not in a drill sees what is shown now."""
    for client in Client.instances.values():
        if client.page.path == "/":
            with client:
                ui.navigate.to("/")


def _say(text: str, status: HTTPStatus = HTTPStatus.OK) -> None:
    ui.context.client.status_code = status
    with ui.element("main").classes("entry"):
        heading(plain(text))
        ui.link("Back", "/").classes("link")


async def _judge(hall: Hall, judge: Callable[[], None]) -> None:
    """Judge what is shown, again and again, resting about as long as it took: the page is served meanwhile."""
    while True:
        began_s = hall.clock.now_s()
        await asyncio.to_thread(judge)  # the framework's own way would not let itself be ended
        await asyncio.sleep(min(max(REST_S, hall.clock.now_s() - began_s), LONGEST_REST_S))


def _style() -> None:
    for path in STYLES:
        ui.add_css(path.read_text(encoding="utf-8"))


def _at_home() -> bool:
    return ui.context.client.ip in LOOPBACK
