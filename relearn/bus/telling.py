"""What a session that asks says about the car and the bus, each thing once, in plain sentences."""

from __future__ import annotations

from collections.abc import Callable, Collection

from relearn.bus.manners import ALONE_S, Held
from relearn.bus.source import Kind

SILENT = (
    "nobody answers yet; asking once a second. Check that the ignition is on, the diagnostic connector, and the "
    "bitrate (500000 on most cars, 250000 on some)"
)
OTHER = (
    "another tester is at work on this bus, and a question of ours could spoil what it writes: nothing is asked, only "
    f"listened and recorded, until it has been quiet for {ALONE_S:.0f} s"
)
SHARED = "another tester asks questions on this bus too; two testers take answers from each other: better only one"
ERRORS = (
    "nothing but errors is heard: the bitrate may be wrong (500000 on most cars, 250000 on some). Nothing is sent "
    "until a frame is heard or the errors end"
)
HELD: dict[Held, tuple[Kind, str]] = {
    "other-tester": ("other-tester", OTHER),
    "wrong-bitrate": ("wrong-bitrate", ERRORS),
}
FREE: dict[Held, tuple[Kind, str]] = {
    "other-tester": ("alone", f"the other tester has been quiet for {ALONE_S:.0f} s: asking goes on"),
    "wrong-bitrate": ("well", "the errors are over: asking goes on"),
}


class Telling:
    """Remembers what was told, so that it is told when it begins and when it ends. state: of the engine module."""

    def __init__(self, tell: Callable[[Kind, str], None]) -> None:
        self._tell = tell
        self._told: set[str] = set()
        self._held: Held | None = None
        self.state: Kind = "back"

    def once(self, kind: Kind, text: str) -> None:
        """Never the same again."""
        if text not in self._told:
            self._told.add(text)
            self._tell(kind, text)

    def held(self, held: Held | None) -> bool:
        """Why nothing is asked, None while it is. Whether this is the moment from which on it may be asked again."""
        before, self._held = self._held, held
        if held is not None and held != before:
            self._tell(*HELD[held])
        freed = held is None and before is not None
        if freed and before is not None:
            self._tell(*FREE[before])
        return freed

    def engine(self, name: str, state: Kind) -> Kind | None:
        """How the engine module is: back (it answers), stopped or busy. What was told of it, None for nothing new."""
        if state == self.state:
            return None
        self.state = state
        self._tell(state, f"{name} {ENGINE[state]}")
        return state

    def lacks(self, name: str, channels: Collection[str]) -> None:
        """What the engine module does not have."""
        if channels:
            said = ", ".join(one.replace("_", " ") for one in channels)
            self.once("lacks", f"{name} does not have {said}")

    def slow(self, round_trip_s: float | None, usual_s: float) -> None:
        """Answers that take longer than usual, None where that is not known yet."""
        if round_trip_s is not None and round_trip_s > usual_s and "slow" not in self._told:
            self._told.add("slow")
            rate = f"about {1 / round_trip_s:.0f} answers a second at most"
            self._tell("slow", f"the adapter is slow: an answer takes {round_trip_s:.2f} s, so {rate}; {SHORT}")


SHORT = "what is over within a second, as a press of the pedal, can be missed"
ENGINE: dict[Kind, str] = {
    "back": "answers again",
    "stopped": "no longer answers: ignition off, or the connector is loose",
    "busy": "asks for time, as a module does that is busy with itself: no value comes from it until it answers",
}
