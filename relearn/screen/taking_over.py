"""The trainer's hand on a scenario that runs: faults of the engine model, brought in and mended again."""

from __future__ import annotations

from collections.abc import Collection

from relearn.errors import ChoiceError
from relearn.practice.engine import Inputs
from relearn.practice.faults import begins, ends
from relearn.practice.live_car import PlayedCar

NOW_S = 0.0  # the car lets it happen at its own next step


class Faults:
    """Which faults are in one car, and what its inputs were before each. over: its scenario has ended."""

    def __init__(self, car: PlayedCar) -> None:
        self._car = car
        self._before: dict[str, Inputs] = {}
        self.over = False

    def present(self) -> Collection[str]:
        """The faults that were brought in and not mended."""
        return frozenset(self._before)

    def end(self) -> None:
        """The scenario has ended; from any thread."""
        self.over = True

    def switch(self, name: str) -> None:
        """Bring a fault in, or mend it: its inputs become again what they were. ChoiceError: there is no such fault, or
        the scenario is over."""
        if self.over:
            raise ChoiceError("the scenario is over, nothing can be switched in it", remedy="choose it again")
        if name in self._before:
            self._car.tell(ends(name, NOW_S, self._before.pop(name)))
        else:
            event, before = begins(name, NOW_S), self._car.inputs
            self._car.tell(event)
            self._before[name] = before
