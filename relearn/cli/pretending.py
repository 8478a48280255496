"""What `answer` and `replay` share: their options, what must be minded, and a bus that was found empty."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from relearn.bus.wire import Interface, Line

Command = TypeVar("Command", bound=Callable[..., Any])
WIDTH = 79
MIND = (
    "Never on a bus with a car or a module on it: what is said here is a recording or a model, and a tester or another "
    "module would take it for true. It listens first, and stops when it hears another module."
)


def pace_options(command: Command) -> Command:
    """--speed, --from and --no-car."""
    no_car = click.option(
        "--no-car", is_flag=True, help="Needed with a real adapter: says that no car and no module is on its bus."
    )
    speed = click.option(
        "--speed",
        type=click.FloatRange(min=0.0, min_open=True),
        default=1.0,
        show_default=True,
        help="How many times as fast time passes.",
    )
    from_s = click.option(
        "--from",
        "from_s",
        metavar="SECONDS",
        type=click.FloatRange(min=0.0),
        default=0.0,
        help="Begin so many seconds behind its start.",
    )
    return speed(from_s(no_car(command)))


def say(text: str) -> None:
    """One paragraph, at once, whoever reads the other end."""
    from relearn.report.words import plain

    click.echo(textwrap.fill(plain(text), WIDTH, subsequent_indent="  "))


def place(adapter: Interface) -> str:
    """The adapter in words."""
    given = adapter.given()
    words = [str(given[name]) for name in ("interface", "channel") if name in given]
    return " ".join(words) or "the interface set up for python-can"


@contextmanager
def empty_bus(adapter: Interface, no_car: bool) -> Iterator[Line]:
    """A line on a bus on which nothing but a tester's questions was heard. BusError: something else was.

    no_car: said by the person. A car with its ignition off is silent and wakes up later, so that listening alone does
    not do; a ChoiceError where an adapter is real and nobody has said it.
    """
    from relearn.bus.clock import MachineClock
    from relearn.bus.serve import LISTEN_S, quiet
    from relearn.bus.wire import Line, only_software, opened
    from relearn.errors import ChoiceError

    say(MIND)
    bus = opened(adapter)
    line = Line(bus, MachineClock(), lambda frame: None)
    try:
        if not no_car and not only_software(bus):
            raise ChoiceError(
                f"{place(adapter)} may lead to a car, which must never hear a recording",
                remedy="give --no-car once you have made sure that no car and no module is on that bus",
            )
        say(f"listening on {place(adapter)} for {LISTEN_S:.0f} s …")
        quiet(line)
        yield line
    finally:
        line.close()
