"""`relearn replay`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.bus_options import bus_options
from relearn.cli.pretending import empty_bus, pace_options, place, say
from relearn.cli.shared import file_argument
from relearn.cli.stopping import Stopping

if TYPE_CHECKING:
    from relearn.bus.wire import Interface


@click.command()
@file_argument("file")
@bus_options
@pace_options
def replay(file: Path, adapter: Interface, speed: float, from_s: float, no_car: bool) -> None:
    """Put the frames of a capture on a bus as they were recorded, broadcast frames too.

    A tester's frame that is no reading question is left out. Never use it on a bus with a car or a module on it.
    Ctrl-C ends it.
    """
    from relearn.bus.replay import KEEP_EVERYTHING, score
    from relearn.bus.replay import replay as play
    from relearn.capture import load

    chosen = score(load(file, KEEP_EVERYTHING), from_s)
    say(f"capture {file}: {len(chosen.frames)} frames from {from_s:g} s on.")
    for left_out in chosen.left_out:
        say(f"note: {left_out}")
    with Stopping() as stopping, empty_bus(adapter, no_car) as line:
        say(f"replaying on {place(adapter)}; Ctrl-C ends it")
        said = play(line, chosen, from_s, speed, lambda: stopping.asked)
        say(f"{said} of {len(chosen.frames)} frames replayed{', stopped' if stopping.asked else ''}")
