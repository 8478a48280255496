"""How each kind of source becomes a feed: a capture, a scenario of the engine model, a bus."""

from __future__ import annotations

import secrets
import tempfile
from pathlib import Path
from threading import Thread

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.clock import Clock
from relearn.bus.frame import Frame
from relearn.bus.serve import Paced, serve
from relearn.bus.session import Session
from relearn.bus.source import Notice
from relearn.bus.wire import Interface, Line, opened
from relearn.practice.engine import load
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import Scenario
from relearn.recording import read
from relearn.screen.feeds import Replay
from relearn.screen.live import Live
from relearn.screen.taking_over import Faults


def replay(path: Path, clock: Clock) -> Replay:
    """A capture, from its beginning, playing. CaptureError: it cannot be used."""
    feed = Replay(read(path), clock)
    feed.play()
    return feed


def bus(interface: Interface, clock: Clock, out: Path) -> Live:
    """A car on a bus, asked as `relearn record` asks it and recorded to `out`. BusError, ChoiceError as there."""
    line = opened(interface)
    given = " ".join(str(one) for one in (interface.interface, interface.channel) if one is not None)
    title = given or line.channel_info  # python-can's own words where its configuration names the bus
    source = Session(line, clock, out, None, Patience(), _untold)
    return Live(source, clock, title, "live")


class Played:
    """A scenario of the engine model that answers on a bus inside this program, asked by a recording like any car.

    faults: what the trainer may switch in while it runs.
    """

    def __init__(self, title: str, scenario: Scenario, clock: Clock) -> None:
        self.car = PlayedCar(load(scenario.engine), scenario)
        self._clock, self._over = clock, False
        self._folder = tempfile.TemporaryDirectory(prefix="relearn-")
        channel = f"scenario-{secrets.token_hex(4)}"  # nobody else is on it
        pretend, tester = (opened(Interface("virtual", channel)) for _ in range(2))
        self.faults = Faults(self.car)
        self._thread = Thread(target=self._answer, args=(Line(pretend, clock, _unseen),), name="scenario", daemon=True)
        self._thread.start()
        source = Session(tester, clock, Path(self._folder.name) / "scenario.log", None, Patience(), _untold)
        self.live = Live(source, clock, title, "scenario")

    def stop(self) -> None:
        """End the recording, then the car."""
        self.live.stop()
        self._over = True
        self._thread.join()
        self._folder.cleanup()

    def _answer(self, line: Line) -> None:
        now_s = self._clock.now_s()
        try:
            serve(line, Answering(Paced(self.car, now_s)), now_s + self.car.duration_s, lambda: self._over)
        finally:
            line.close()
        if not self._over:
            self.faults.end()
            self.live.end("the scenario is over")


def _untold(notice: Notice) -> None:
    """The page shows how the recording stands by itself."""


def _unseen(frame: Frame) -> None:
    """The recording at the other end of the bus is the one that is kept."""
