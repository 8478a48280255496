"""A recording at one moment, with what was known then and nothing later; each document made once, when it is asked."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from relearn.analysis import air as air_of
from relearn.analysis import ready as ready_of
from relearn.analysis import settle as settle_of
from relearn.analysis.common import engine_module, view
from relearn.checks.view import View
from relearn.findings.answers import AirFindings, ReadyFindings, SettleFindings
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording, until


@dataclass(frozen=True, eq=False)
class Scene:
    """A recording that ends at the moment asked about, and the sheet to judge it by."""

    recording: Recording
    sheet: Sheet

    @property
    def at_s(self) -> float:
        """The moment: where the recording ends."""
        return self.recording.duration_s

    @cached_property
    def view(self) -> View:
        """The engine module's side."""
        return view(self.recording, engine_module(self.recording, None))

    @cached_property
    def settle(self) -> SettleFindings:
        """Did the idle settle?"""
        return settle_of.settle(self.recording, self.sheet)

    @cached_property
    def air(self) -> AirFindings:
        """Does the engine breathe as it meters?"""
        return air_of.air(self.recording, self.sheet)

    @cached_property
    def _ready(self) -> dict[str, ReadyFindings]:
        return {}

    def ready(self, relearn: str) -> ReadyFindings:
        """Is the car ready for this relearn? ChoiceError: nobody knows it."""
        if relearn not in self._ready:
            self._ready[relearn] = ready_of.ready(self.recording, relearn, self.sheet)
        return self._ready[relearn]


def scene(recording: Recording, at_s: float, sheet: Sheet) -> Scene:
    """The recording as it stood at at_s."""
    return Scene(until(recording, at_s), sheet)
