"""The trainer's menu: faults switched into the engine model while it runs, for the class to find."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from relearn.practice.faults import faults as known
from relearn.screen.taking_over import Faults

LOOK_S = 0.5  # another browser of the trainer's may switch, too
HOW = "Switch a fault in or out. It happens at once; nothing is said of it on the page."
OVER = "The scenario is over: nothing can be switched any more. Choose it again to go on."


def fault_menu(faults: Faults) -> None:
    """A closed menu, so that a class that looks on sees nothing; each row brings its fault in, or mends it."""
    with ui.element("details").classes("faults") as menu:
        menu.on("keydown.escape", js_handler="(event) => event.currentTarget.removeAttribute('open')")
        with ui.element("summary").classes("key"):
            ui.label("Take over")
        with ui.element("div").classes("menu"):
            said = ui.label().classes("note")
            rows = [_row(faults, name, fault.title) for name, fault in known().items()]

    def show() -> None:
        said.text = OVER if faults.over else HOW
        for one in rows:
            one()

    show()
    ui.timer(LOOK_S, show)


def _row(faults: Faults, name: str, title: str) -> Callable[[], None]:
    """One fault; what is returned brings it up to date."""
    button = ui.element("button").classes("key fault").props('type="button"')
    button.props["data-fault"] = name
    with button:
        ui.label(title)
        word = ui.label().classes("word")

    def show() -> None:
        present = name in faults.present()
        word.text = "in" if present else "out"
        button.props(f'aria-pressed="{str(present).lower()}"')
        button.props(add="disabled" if faults.over else "", remove="" if faults.over else "disabled")

    def switch() -> None:
        if not faults.over:
            faults.switch(name)
        show()

    button.on("click", switch)
    return show
