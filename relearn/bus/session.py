"""A recording that asks: look who is there, poll what is wanted, notice when the car falls silent and comes back."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from math import inf
from pathlib import Path

from relearn.bus.address import is_module, is_tester
from relearn.bus.ask import Exchange, Patience, listen
from relearn.bus.clock import Clock
from relearn.bus.frame import Frame
from relearn.bus.look_again import LookAgain
from relearn.bus.manners import LISTEN_S, HeldBack
from relearn.bus.poll import STEP_S, Ask, Poller, lacking, plan
from relearn.bus.recorder import Recorder
from relearn.bus.refusing import asks_for_time
from relearn.bus.source import Kind, Notice, Source, Status
from relearn.bus.survey import Survey, ask_all, code_questions, identity_questions, look, parameter_request
from relearn.bus.telling import SHARED, SILENT, Telling
from relearn.bus.who import Who, changed, presented
from relearn.bus.window import Window
from relearn.bus.wire import AnyBus
from relearn.capture.frames import Capture
from relearn.capture.keep import module_name
from relearn.errors import BusError
from relearn.recording import live

__all__ = ["Notice", "Session", "Source", "Status"]

LOOK_S = 1.0  # how often a car that has never answered is asked
RECENT_S = 10.0
BUSY_TOLD_S = 1.0  # a module that answers soon after all has not kept anybody waiting
VALUES_BETWEEN = 2  # answers, between two questions of the end
LAST_PENDING_S = 1.0  # whoever ends a recording does not wait longer for one last answer


@dataclass(frozen=True)
class _Met:
    """A car that answered: who is there, and what is asked of the engine module from then on."""

    who: LookAgain
    poller: Poller

    @property
    def survey(self) -> Survey:
        return self.who.survey

    @property
    def modules(self) -> str:
        return ", ".join(module_name(one) for one in self.survey.modules)

    @property
    def engine(self) -> str:
        return module_name(self.survey.engine.answers or 0)


class Session:
    """A Source that asks. Only the diagnostic frames on the bus are recorded.

    It listens for LISTEN_S before its first word, and asks nothing while that could do harm (`manners`).

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
        self._telling = Telling(self._recorder.tell)
        self._first_word_s: float | None = None
        self._busy_s = -inf
        self._heard_s: dict[int, float] = {}
        self._recent: deque[tuple[float, bool]] = deque()

    def step(self) -> None:
        self._recorder.attempt(self._go_on)

    def capture(self) -> Capture:
        return self._recorder.capture()

    def status(self) -> Status:
        now_s = self._clock.now_s()
        self._forget(now_s)
        late = len(self._line.trips.late_since(now_s - RECENT_S))
        answered = min(len(self._recent), late + sum(one for _, one in self._recent))
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
            identifiers=len(self._heard_s),
        )

    def close(self) -> None:
        try:
            if self._met is not None and self._answers(self._met):
                poller = self._met.poller
                self._values(poller)  # the question under way is over then
                patience = replace(self._patience, pending_s=LAST_PENDING_S)
                self._read(self._met.survey, patience, lambda: self._values(poller))
                self._compare()
        except BusError as wrong:
            self._recorder.tell("trouble", f"identity and codes could not be read at the end ({wrong.what})")
        finally:
            self._recorder.close()

    def _answers(self, met: _Met) -> bool:
        """Whether somebody may be asked, and answers."""
        now_s = self._clock.now_s()
        free = self._line.manners.held(now_s) is None and not self._recorder.troubled
        return free and met.poller.silent_since_s is None

    def _wants(self, frame: Frame) -> bool:
        """Diagnosis only: what else is on the bus nobody here can read, and an hour of it is large."""
        if not is_module(frame.identifier, frame.extended):
            return is_tester(frame.identifier, frame.extended)
        if frame.identifier not in self._heard_s or not asks_for_time(frame.data):
            self._heard_s[frame.identifier] = frame.time_s
        if self._met is not None:
            self._met.who.spoke(frame.identifier)
        self._recorder.hears(frame)
        return True

    def _go_on(self) -> None:
        now_s = self._clock.now_s()
        if self._first_word_s is None:
            self._first_word_s = now_s + LISTEN_S
        if self._holds_back(now_s):
            listen(self._line, now_s + STEP_S)
            return
        if now_s < self._first_word_s:
            listen(self._line, min(now_s + STEP_S, self._first_word_s))
            return
        try:
            self._ask()
        except HeldBack:
            self._holds_back(self._clock.now_s())  # told at once; from the next step on it only listens

    def _holds_back(self, now_s: float) -> bool:
        """Whether nothing may be asked now; told when that begins and when it ends."""
        manners = self._line.manners
        if manners.asked_s is not None:
            self._telling.once("shared-bus", SHARED)
        held = manners.held(now_s)
        if self._telling.held(held) and self._met is not None:
            self._met.poller.resume()
            self._met.who.want()
        return held is not None

    def _ask(self) -> None:
        if self._met is None:
            self._find()
        else:
            self._poll(self._met)
        self._telling.slow(self._line.trips.sure_s, self._patience.first_s)

    def _find(self) -> None:
        began_s = self._clock.now_s()
        survey = look(self._line, self._patience)
        if survey is not None:
            self._meet(survey)
        elif not self._line.trips.late_since(began_s):  # else there is somebody, and is awaited longer next time
            self._telling.once("silent", SILENT)
            listen(self._line, began_s + LOOK_S)

    def _meet(self, survey: Survey) -> None:
        """Who they are, and polling from then on."""
        asks = Poller(self._line, self._asks(survey), self._patience)
        met = self._met = _Met(LookAgain(self._line, survey, self._patience), asks)
        self._read(survey, self._patience)
        self._who = self._identity()
        self._recorder.tell("answering", f"{met.modules} answer: {presented(self._who)}")
        self._tell_lacking(met)

    def _tell_lacking(self, met: _Met) -> None:
        """Not before all masks of the engine module are known."""
        unknown = any(module == met.survey.engine.answers for module, _ in met.survey.missing)
        if self._channels is not None and not unknown:
            self._telling.lacks(met.engine, lacking(met.survey, self._channels))

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

    def _read(self, survey: Survey, patience: Patience, between: Callable[[], None] = lambda: None) -> None:
        """Identity and codes. between: what is done after each question of them."""
        for request in (*identity_questions(survey), *code_questions(survey)):
            self._count(ask_all(self._line, request, patience))
            between()

    def _values(self, poller: Poller) -> None:
        """Some values between the last questions, so that they are fresh where the recording ends."""
        for _ in range(VALUES_BETWEEN):
            while (exchange := poller.step()) is None and poller.outstanding:
                pass
            if exchange is not None:
                self._count(exchange)

    def _identity(self) -> Who:
        found = {(one.module, str(one.item)): one.values for one in live(self.capture()).identity}
        return {**self._who, **found}

    def _poll(self, met: _Met) -> None:
        if not met.poller.outstanding and met.who.due(met.poller.silent_since_s is not None):
            self._look_again(met)
        exchange = met.poller.step()
        if exchange is not None:
            self._count(exchange)
        if self._telling.engine(met.engine, self._state(met)) == "back":
            met.who.want()

    def _state(self, met: _Met) -> Kind:
        """How the engine module is. One that has been busy is so until it has not asked for time for BUSY_TOLD_S."""
        now_s, busy_since_s = self._clock.now_s(), met.poller.busy_since_s
        if busy_since_s is not None:
            self._busy_s = now_s
        if met.poller.silent_since_s is not None:
            return "stopped"
        long = busy_since_s is not None and now_s - busy_since_s >= BUSY_TOLD_S
        again = self._telling.state == "busy" and now_s - self._busy_s < BUSY_TOLD_S
        return "busy" if long or again else "back"

    def _look_again(self, met: _Met) -> None:
        """One question of it; once it is through, what it found. Who they are is not read again (`_compare`)."""
        before = met.survey
        self._count(met.who.turn())
        if met.survey == before:
            return
        met.poller.renew(self._asks(met.survey))
        if (met.survey.modules, met.survey.engine) != (before.modules, before.engine):
            self._recorder.tell("answering", f"{met.modules} answer; {met.engine} is asked as the engine module")
        self._tell_lacking(met)

    def _count(self, exchange: Exchange) -> None:
        self._recent.append((exchange.ended_s, bool(exchange.answers)))
        self._forget(exchange.ended_s)

    def _forget(self, now_s: float) -> None:
        while self._recent and now_s - self._recent[0][0] > RECENT_S:
            self._recent.popleft()
