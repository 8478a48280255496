"""The bar on top: what is shown, where it stands, how it is played, and what is wrong with the data."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.elements.dark_mode import DarkMode

from relearn.report.words import plain
from relearn.screen.desk import Desk
from relearn.screen.fault_menu import fault_menu
from relearn.screen.feeds import Standing
from relearn.screen.panel import minutes
from relearn.screen.parts import Act, key
from relearn.screen.player import player
from relearn.screen.taking_over import Faults

WAITS_S = 5.0  # so long it takes to find out who is there; nobody need be alarmed by it
LIGHT = "relearn-light"
SEEN_AS = {"live": "a car", "replay": "a recording", "scenario": "a running model"}
"""What is shown, for who only looks on: the name of a file or scenario often says what is to be found in it."""


def bar(desk: Desk, leave: Act | None, faults: Faults | None) -> Callable[[], None]:
    """Build it; what is returned brings it up to date. leave: what goes back to choosing, None for who only looks on.
    faults: what the trainer may switch, None for everybody else."""
    kind, what = ui.label().classes("kind"), ui.label().classes("what")
    clock = ui.label().classes("clock")
    show_play = player(desk) if leave is not None else _nothing
    ui.element("span").classes("gap")
    if faults is not None:
        fault_menu(faults)
    if leave is not None:
        key("Choose another", leave)
    light()
    state = ui.label().classes("state").props('role="status" aria-live="polite"')

    def show() -> None:
        standing = desk.feed.standing() if desk.feed is not None else None
        kind.text, what.text = named(standing, leave is not None)
        clock.text = minutes(standing.position_s) if standing is not None else "–"
        wrong, said = trouble(standing, leave is not None), calm(standing)
        state.text = wrong or said
        state.classes(remove="trouble calm", add="trouble" if wrong else "calm" if said else "")
        show_play()

    return show


def named(standing: Standing | None, home: bool) -> tuple[str, str]:
    """Of which kind it is and what it is called; home: not for who only looks on."""
    if standing is None:
        return "", "nothing chosen"
    return (standing.kind, plain(standing.title)) if home else ("", SEEN_AS[standing.kind])


def trouble(standing: Standing | None, home: bool) -> str:
    """What is wrong with the data now, '' for nothing. home: who only looks on is not told the names of files."""
    if standing is None:
        return ""
    if standing.gone:
        return f"Data has ended: {plain(standing.gone)}" if home else "Data has ended."
    if standing.silent_s is not None and not waits(standing):
        why = f": {plain(standing.why)}" if standing.why else ""
        return f"No data for {standing.silent_s:.0f} s{why}"
    return ""


def calm(standing: Standing | None) -> str:
    """That a recording is over, or that nobody has answered yet; '' for neither."""
    if standing is None:
        return ""
    over = standing.end_s is not None and standing.position_s >= standing.end_s
    return "The recording ends here." if over else "Waiting for the first answer." if waits(standing) else ""


def waits(standing: Standing) -> bool:
    """Whether nobody has answered yet, and that is no longer than usual."""
    return standing.waiting and standing.silent_s is not None and standing.silent_s <= WAITS_S


def light() -> None:
    """Light or dark, at first as the machine has it."""
    dark = ui.dark_mode(None)
    key("Light / dark", lambda: _turn(dark))
    ui.timer(0.0, lambda: _as_chosen(dark), once=True)


async def _turn(dark: DarkMode) -> None:
    """To the other one than is seen; the browser alone knows what the machine has, and it keeps what was chosen."""
    seen_dark = await ui.run_javascript("document.body.classList.contains('body--dark')")
    dark.set_value(not seen_dark)
    ui.run_javascript(f"localStorage.setItem('{LIGHT}', '{'light' if seen_dark else 'dark'}')")


async def _as_chosen(dark: DarkMode) -> None:
    """As it was chosen on another page of this browser; a browser that keeps nothing stays as its machine has it."""
    kept = await ui.run_javascript(f"localStorage.getItem('{LIGHT}')")
    if kept in ("light", "dark"):
        dark.set_value(kept == "dark")


def _nothing() -> None:
    """Nothing to show for who may only look on."""
