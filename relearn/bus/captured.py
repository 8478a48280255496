"""A capture as a car: what its modules said is said again, as it stood at the moment of the question.

Nothing is invented. A value is the newest that the module gave at or before the moment, since it was last silent, and
no older than three of its own intervals (2 s at least, 15 s at most); else there is none. Support masks, identity,
codes and freeze frames hold from when they were read until they are read again, and count before their first read too.
A question that the capture holds unanswered stays unanswered until it was answered again. A module is silent where it
was silent (waking.py). A mask that nobody asked for is made from what was seen, and `notes` says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from relearn.bus.address import Address
from relearn.bus.answering import Spoken
from relearn.bus.module import Module
from relearn.bus.remembering import modules as remembered
from relearn.capture.frames import Capture
from relearn.capture.keep import module_name
from relearn.errors import CaptureError
from relearn.j1979 import identity

VIN_THINGS = (b"\x09\x02", b"\x22\xf8\x02")


@dataclass(frozen=True)
class Captured:
    """The modules of a capture as a `Car`; times are seconds from the capture's start. notes: plain sentences about
    what is not as it was captured."""

    modules: tuple[Module, ...]
    duration_s: float
    notes: tuple[str, ...]

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        """Nothing once the capture is over."""
        if now_s > self.duration_s:
            return ()
        said = [one for module in self.modules for one in module.says(payload, to, now_s)]
        return sorted(said, key=lambda one: one.delay_s)

    @property
    def names(self) -> tuple[str, ...]:
        """The modules, by name."""
        return tuple(module_name(module.identifier) for module in self.modules)

    @property
    def vin(self) -> str | None:
        """The first VIN that any module gave; None where there is none."""
        said = (data for module in self.modules for thing in VIN_THINGS for data in _said(module, thing))
        return next((vin for data in said if (vin := _vin(data)) is not None), None)


def captured(capture: Capture) -> Captured:
    """A capture as a car. CaptureError: a table of values, or nobody answers in it.

    Modules of a further interface whose identifiers are taken already cannot be played on one bus: told in the notes.
    """
    frames = capture.frames
    if frames is None:
        raise CaptureError(
            "this is a table of values, which no module sent", path=capture.path, remedy="give a capture of CAN frames"
        )
    modules, notes = remembered(frames)
    if not modules:
        raise CaptureError("no module answers in it", path=capture.path, remedy="give one with answers, or replay it")
    return Captured(modules, capture.duration_s, notes)


def _said(module: Module, thing: bytes) -> Iterator[bytes]:
    """What it said of one thing, without the identifier in front."""
    kept = module.memory.get(thing)
    yield from (one.data[len(thing) - 1 :] for one in (kept.entries if kept else ()) if one.data is not None)


def _vin(data: bytes) -> str | None:
    values = identity.entries(identity.INFOTYPES[0x02], data)
    return values[0] if values else None
