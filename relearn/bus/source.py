"""What anything that records looks like from outside, and what it tells while it does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from relearn.capture.frames import Capture

Kind = Literal[
    "silent",
    "answering",
    "stopped",
    "back",
    "busy",
    "changed",
    "lacks",
    "slow",
    "shared-bus",
    "other-tester",
    "alone",
    "wrong-bitrate",
    "trouble",
    "bus-off",
    "well",
]
"""silent: nobody has answered yet. answering: these modules do. stopped, back: the engine module no longer answers,
answers again. busy: it only asks for time, and no value comes; ended by back, or stopped. changed: at the end they are
not who they were in the beginning. lacks: what is wanted and the engine module does not have. slow: answers take long,
so that few come. shared-bus: another tester asks as well. other-tester: another tester does more than ask, so that
nothing is asked; ended by alone. wrong-bitrate: only errors are heard, so that nothing is asked. trouble: the adapter
failed, or reports errors. bus-off: it has left the bus. well: these last three are over."""

ENDS: Mapping[Kind, frozenset[Kind]] = {
    "alone": frozenset({"other-tester"}),
    "well": frozenset({"wrong-bitrate", "trouble", "bus-off"}),
}
"""What lasts until it is said to be over, by what says so."""
LASTING = frozenset().union(*ENDS.values())


@dataclass(frozen=True)
class Notice:
    """Something that whoever is at the car must know at once. time_s: seconds since 1970. text: one plain sentence."""

    time_s: float
    kind: Kind
    text: str


@dataclass(frozen=True)
class Status:
    """How a recording goes.

    time_s: seconds since its first frame. frames: recorded so far. rate_hz: answers a second over the last 10 s (frames
    a second while only listening). answered_share: of the questions of the last 10 s, 0 to 1; None when none was asked.
    silent_s: since the engine module last answered, a wish for more time being no answer (since anybody was heard,
    while only listening); None while that is never. modules: those that answered, by name. notice: the newest one; as
    long as something is wrong with the bus (LASTING), that. identifiers: how many different ones were recorded.
    """

    time_s: float
    frames: int
    rate_hz: float
    answered_share: float | None
    silent_s: float | None
    modules: tuple[str, ...]
    notice: Notice | None
    identifiers: int = 0


class Source(Protocol):
    """A recording being made. All of it happens inside `step`, in the caller's own thread."""

    def step(self) -> None:
        """Go on a little: one question or a short listen, mostly some hundredths of a second, and what is due besides.
        Looking who is there takes some seconds; the file reaches the disk meanwhile.

        BusError: the adapter has been gone for some seconds. CaptureError: the disk does not take the recording.
        Either way `close` must follow, and leaves the file whole.
        """
        ...

    def capture(self) -> Capture:
        """What the last quarter of an hour holds, and all that was ever said of identity, support and codes."""
        ...

    def status(self) -> Status:
        """How it goes, as of now."""
        ...

    def close(self) -> None:
        """Ask for identity and codes once more where anybody answers, make the file whole, let go of the bus."""
        ...
