"""A recording that asks: look who is there, poll what is wanted, notice when the car falls silent and comes back."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from relearn.bus.address import is_module, is_tester
from relearn.bus.ask import Exchange, Patience, listen
from relearn.bus.clock import Clock
from relearn.bus.frame import Frame
from relearn.bus.poll import Ask, Poller, plan
from relearn.bus.recorder import Recorder
from relearn.bus.source import Notice, Source, Status
from relearn.bus.survey import Survey, look, parameter_request, read_codes, read_identity
from relearn.bus.window import Window
from relearn.bus.wire import AnyBus
from relearn.capture.frames import Capture
from relearn.capture.keep import module_name
from relearn.errors import BusError
from relearn.recording import live

__all__ = ["Notice", "Session", "Source", "Status"]

LOOK_S = 1.0  # how often a car that has never answered is asked
RECENT_S = 10.0
LAST_PENDING_S = 1.0  # whoever ends a recording does not wait longer for one last answer
Who = Mapping[tuple[str, str], tuple[str, ...]]
"""By module and item (VIN, calibration, …): what it says."""


@dataclass(frozen=True)
class _Met:
    """A car that answered: who is there, and what is asked of the engine module from then on."""

    survey: Survey
    poller: Poller

    @property
    def modules(self) -> str:
        return ", ".join(module_name(one) for one in self.survey.modules)

    @property
    def engine(self) -> str:
        return module_name(self.survey.engine.answers or 0)


class Session:
    """A Source that asks. Only the diagnostic frames on the bus are recorded.

    channels: what is polled, None for all that any question reads. tell: is handed every notice when it happens.
    ChoiceError: a path that is taken or no .log.
    """

    def __init__(
        self,
        bus: AnyBus,
        clock: Clock,
        path: Path,
        channels: Collection[str] | None,
        patience: Patience,
        tell: Callable[[Notice], None],
    ) -> None:
        self._recorder = Recorder(bus, clock, path, Window(), self._wants, tell)
        self._line, self._clock = self._recorder.line, clock
        self._channels, self._patience = channels, patience
        self._met: _Met | None = None
        self._who: Who = {}
        self._stopped = self._said_silent = False
        self._heard_s: dict[int, float] = {}
        self._recent: deque[tuple[float, bool]] = deque()

    def step(self) -> None:
        self._recorder.attempt(self._find if self._met is None else self._poll)

    def capture(self) -> Capture:
        return self._recorder.capture()

    def status(self) -> Status:
        now_s = self._clock.now_s()
        self._forget(now_s)
        answered = sum(one for _, one in self._recent)
        engine = self._met.survey.engine.answers if self._met is not None else None
        heard_s = self._heard_s.get(engine or 0)
        return Status(
            time_s=self._recorder.elapsed_s(),
            frames=self._recorder.window.frames,
            rate_hz=answered / max(min(RECENT_S, self._recorder.elapsed_s()), 1.0),
            answered_share=answered / len(self._recent) if self._recent else None,
            silent_s=now_s - heard_s if heard_s is not None else None,
            modules=tuple(module_name(one) for one in sorted(self._heard_s)),
            notice=self._recorder.notice,
        )

    def close(self) -> None:
        try:
            if self._met is not None and not self._stopped and not self._recorder.troubled:
                self._read(self._met.survey, replace(self._patience, pending_s=LAST_PENDING_S))
                self._compare()
        except BusError as wrong:
            self._recorder.tell("trouble", f"identity and codes could not be read at the end ({wrong.what})")
        finally:
            self._recorder.close()

    def _wants(self, frame: Frame) -> bool:
        """Diagnosis only: what else is on the bus nobody here can read, and an hour of it is large."""
        if is_module(frame.identifier, frame.extended):
            self._heard_s[frame.identifier] = frame.time_s
            self._recorder.hears(frame)
            return True
        return is_tester(frame.identifier, frame.extended)

    def _find(self) -> None:
        began_s = self._clock.now_s()
        survey = look(self._line, self._patience)
        if survey is not None:
            self._meet(survey)
            return
        if not self._said_silent:
            self._said_silent = True
            self._recorder.tell("silent", SILENT)
        listen(self._line, began_s + LOOK_S)

    def _meet(self, survey: Survey) -> None:
        """Who they are, and polling from then on."""
        self._met = _Met(survey, Poller(self._line, self._asks(survey), self._patience))
        self._read(survey, self._patience)
        self._who = self._identity()
        self._recorder.tell("answering", f"{self._met.modules} answer: {_named(self._who)}")

    def _compare(self) -> None:
        """Whether they are who they were in the beginning. Identity is not read in between: an ignition cycle may
        belong to a relearn, whose presses and lamp must not be missed for the sake of names."""
        before, self._who = self._who, self._identity()
        if changes := changed(before, self._who):
            self._recorder.tell("changed", f"not the same as in the beginning: {'; '.join(changes)}")

    def _asks(self, survey: Survey) -> tuple[Ask, ...]:
        """What is wanted; where the module has none of it, at least whether it is there."""
        there = parameter_request(survey.engine, survey.by_identifier, (0x00,))
        return plan(survey, self._channels) or (Ask(there, LOOK_S),)

    def _read(self, survey: Survey, patience: Patience) -> None:
        for exchange in (*read_identity(self._line, survey, patience), *read_codes(self._line, survey, patience)):
            self._count(exchange)

    def _identity(self) -> Who:
        found = {(one.module, str(one.item)): one.values for one in live(self.capture()).identity}
        return {**self._who, **found}

    def _poll(self) -> None:
        assert self._met is not None
        exchange = self._met.poller.step()
        if exchange is not None:
            self._count(exchange)
        silent = self._met.poller.silent_since_s is not None
        if silent != self._stopped:
            self._turn(silent, self._met.engine)

    def _turn(self, silent: bool, engine: str) -> None:
        self._stopped = silent
        if silent:
            self._recorder.tell("stopped", f"{engine} no longer answers: ignition off, or the connector is loose")
        else:
            self._recorder.tell("back", f"{engine} answers again")

    def _count(self, exchange: Exchange) -> None:
        self._recent.append((exchange.ended_s, bool(exchange.answers)))
        self._forget(exchange.ended_s)

    def _forget(self, now_s: float) -> None:
        while self._recent and now_s - self._recent[0][0] > RECENT_S:
            self._recent.popleft()


SILENT = (
    "nobody answers yet; asking once a second. Check that the ignition is on, the diagnostic connector, and the "
    "bitrate (500000 on most cars, 250000 on some)"
)


def changed(before: Who, now: Who) -> tuple[str, ...]:
    """What is said otherwise than before, in words."""
    return tuple(
        f"{module} {item.replace('_', ' ')} {', '.join(before[module, item])}, now {', '.join(values)}"
        for (module, item), values in now.items()
        if (module, item) in before and before[module, item] != values
    )


def _named(who: Who) -> str:
    """VIN and calibrations of all, for whoever wants to see that it is the right car."""
    vin = next((", ".join(values) for (_, item), values in who.items() if item == "vin"), "")
    calibrations = [
        f"{module} calibration {', '.join(values)}" for (module, item), values in who.items() if item == "calibration"
    ]
    return ", ".join([f"VIN {vin}" if vin else "no VIN", *calibrations])
