"""A recording at one moment, with what was known then and nothing later; each answer made once, when it is asked.

The checks are asked themselves: a drill looks at a recording at thousands of moments, and needs no documents of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from relearn.analysis.common import engine_module, view
from relearn.analysis.settle import target
from relearn.checks import air as air_of
from relearn.checks import ready as ready_of
from relearn.checks import settle as settle_of
from relearn.checks.air import Breathing
from relearn.checks.ready import Readiness
from relearn.checks.settle import Settling
from relearn.checks.view import View
from relearn.procedures.loader import procedure
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
    def settle(self) -> Settling:
        """Did the idle settle?"""
        return settle_of.settle(self.view, self.sheet, target(self.sheet))

    @cached_property
    def air(self) -> Breathing:
        """Does the engine breathe as it meters?"""
        return air_of.air(self.view, self.sheet)

    @cached_property
    def _ready(self) -> dict[str, Readiness]:
        return {}

    def ready(self, relearn: str) -> Readiness:
        """Is the car ready for this relearn? ChoiceError: nobody knows it."""
        if relearn not in self._ready:
            hold_s = self.sheet.need("window.hold_s").low or 0.0
            self._ready[relearn] = ready_of.ready(self.view, procedure(relearn).preconditions, self.sheet, hold_s)
        return self._ready[relearn]


def scene(recording: Recording, at_s: float, sheet: Sheet) -> Scene:
    """The recording as it stood at at_s."""
    return Scene(until(recording, at_s), sheet)
