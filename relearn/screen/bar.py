"""The bar on top: what is shown, where it stands, how it is played, and what is asked of it."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.elements.dark_mode import DarkMode

from relearn.report.words import plain
from relearn.screen.desk import Desk
from relearn.screen.feeds import FASTEST, SLOWEST, Replay, Standing
from relearn.screen.parts import Act, key

SPEEDS = (SLOWEST, 1.0, 2.0, 5.0, 10.0, FASTEST)
KINDS = {"live": "live", "replay": "replay", "scenario": "scenario"}


def bar(desk: Desk, leave: Act | None) -> Callable[[], None]:
    """Build it; what is returned brings it up to date. leave: what goes back to choosing, None for who only looks on."""
    kind, what = ui.label().classes("kind"), ui.label().classes("what")
    clock = ui.label().classes("clock")
    show_play = _player(desk) if leave is not None else _nothing
    ui.element("span").classes("gap")
    if leave is not None:
        key("Choose another", leave)
    _light()
    state = ui.label().classes("state").props('role="status" aria-live="polite"')

    def show() -> None:
        standing = desk.feed.standing() if desk.feed is not None else None
        kind.text = KINDS[standing.kind] if standing is not None else ""
        what.text = plain(standing.title) if standing is not None else "nothing chosen"
        clock.text = minutes(standing.position_s) if standing is not None else "–"
        state.text = condition(standing)
        state.classes(toggle=None, add="trouble" if state.text else "", remove="" if state.text else "trouble")
        show_play()

    return show


def condition(standing: Standing | None) -> str:
    """What is wrong with the data now, '' for nothing."""
    if standing is None:
        return ""
    if standing.gone:
        return f"Data has ended: {plain(standing.gone)}"
    if standing.silent_s is not None:
        return f"No data for {standing.silent_s:.0f} s"
    return ""


def minutes(seconds: float) -> str:
    """'2:05.3'"""
    whole, rest = divmod(round(seconds * 10), 600)
    return f"{whole}:{rest / 10:04.1f}"


def _nothing() -> None:
    """Nothing to show for who may only look on."""


def _player(desk: Desk) -> Callable[[], None]:
    """Play, pause, speed and the place: only where a capture is played."""
    with ui.element("span").classes("player") as box:
        with ui.element("button").classes("key wide").on("click", lambda: _toggle(desk)):
            label = ui.label("Play")
        with ui.element("select").classes("key").props('aria-label="speed"') as speed:
            for one in SPEEDS:
                usual = "selected" if one == 1.0 else ""
                ui.html(f"× {one:g}", tag="option", sanitize=False).props(f'value="{one:g}" {usual}')
        speed.on(
            "change", lambda event: _at(desk, event.args), js_handler="(event) => emit(Number(event.target.value))"
        )
        place = ui.element("input").classes("place").props('type="range" step="0.1" min="0" aria-label="moment"')
        place.on("input", lambda event: _go(desk, event.args), js_handler="(event) => emit(Number(event.target.value))")

    def show() -> None:
        feed = desk.feed
        box.set_visibility(isinstance(feed, Replay))
        if isinstance(feed, Replay):
            standing = feed.standing()
            label.text = "Pause" if standing.playing else "Play"
            place.props(f'max="{standing.end_s:.1f}"')
            ui.run_javascript(
                f"const one = getHtmlElement({place.id}); if (one && !one.matches(':active')) one.value = {standing.position_s:.1f}"
            )

    return show


def _toggle(desk: Desk) -> None:
    if isinstance(desk.feed, Replay):
        (desk.feed.pause if desk.feed.standing().playing else desk.feed.play)()


def _at(desk: Desk, speed: object) -> None:
    if isinstance(desk.feed, Replay) and isinstance(speed, int | float):
        desk.feed.play_at(float(speed))


def _go(desk: Desk, time_s: object) -> None:
    if isinstance(desk.feed, Replay) and isinstance(time_s, int | float):
        desk.feed.go_to(float(time_s))


def _light() -> None:
    """Light or dark, at first as the machine has it."""
    dark = ui.dark_mode(None)
    key("Light/dark", lambda: _turn(dark))


def _turn(dark: DarkMode) -> None:
    dark.set_value(not dark.value)
