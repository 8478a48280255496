"""Play, pause, speed and the place in a capture that is played."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from relearn.screen.desk import Desk
from relearn.screen.feeds import FASTEST, SLOWEST, Replay
from relearn.screen.parts import followed

SPEEDS = (SLOWEST, 1.0, 2.0, 5.0, 10.0, FASTEST)
NUMBER = "(event) => emit(Number(event.target.value))"


def player(desk: Desk) -> Callable[[], None]:
    """Build it; what is returned brings it up to date. It is seen only where a capture is played."""
    with ui.element("span").classes("player") as box:
        button = ui.element("button").classes("key wide").props('type="button"')
        with button.on("click", lambda: _toggle(desk)):
            label = ui.label("Play")
        with ui.element("select").classes("key").props('aria-label="speed"') as speed:
            for one in SPEEDS:
                option = TextElement(tag="option", text=f"× {one:g}").props(f'value="{one:g}"')
                if one == _speed(desk):
                    option.props("selected")
        speed.on("change", lambda event: _at(desk, event.args), js_handler=NUMBER)
        place = ui.element("input").classes("place").props('type="range" step="0.1" min="0" aria-label="moment"')
        place.on("input", lambda event: _go(desk, event.args), js_handler=NUMBER)
    shown: list[object] = [None]
    show_speed = followed(speed, lambda: f"{_speed(desk):g}")

    def show() -> None:
        feed = desk.feed
        box.set_visibility(isinstance(feed, Replay))
        show_speed()
        if not isinstance(feed, Replay) or shown[0] == feed.standing():
            return
        shown[0] = standing = feed.standing()
        label.text = "Pause" if standing.playing else "Play"
        place.props(f'max="{standing.end_s:.1f}"')
        ui.run_javascript(
            f"const one = getHtmlElement({place.id});"
            f"if (one && !one.matches(':active')) one.value = {standing.position_s:.1f}"
        )

    return show


def _speed(desk: Desk) -> float:
    return desk.feed.standing().speed if desk.feed is not None else 1.0


def _toggle(desk: Desk) -> None:
    if isinstance(desk.feed, Replay):
        (desk.feed.pause if desk.feed.standing().playing else desk.feed.play)()


def _at(desk: Desk, speed: object) -> None:
    if isinstance(desk.feed, Replay) and isinstance(speed, int | float):
        desk.feed.play_at(float(speed))


def _go(desk: Desk, time_s: object) -> None:
    if isinstance(desk.feed, Replay) and isinstance(time_s, int | float):
        desk.feed.go_to(float(time_s))
