"""Polling: what to ask one module for how often, and asking it, gently and fairly."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from math import inf

from relearn.bus.ask import Asking, Exchange, Patience, complete, listen
from relearn.bus.pace import covered, of_parameters, paces
from relearn.bus.refusing import BUSY
from relearn.bus.segments import FRAME
from relearn.bus.speech import Request
from relearn.bus.survey import BUSY_S, Survey, answer_bytes, parameter_request
from relearn.bus.wire import Line

STEP_S = 0.1  # a step takes no longer, so that whoever drives the poller can do something else between two
FAILURES = 5  # that many in a row are no lost frames, even on a bus that loses one answer in ten
SILENT = 5  # that many unanswered questions in a row, whichever: nobody is there
TRY_AGAIN_S = 0.1  # how often a silent module is asked whether it is back: relearns time an ignition that is off
SELDOM_S = 5.0  # how often one is asked for what it does not answer, though it says that it has it
GROUP_REFUSED = frozenset({0x12, 0x13, 0x14, 0x31})  # ISO 14229-1: of this form, this length, this long, in this range


@dataclass(frozen=True)
class Ask:
    """One question and how often it is asked."""

    request: Request
    every_s: float


def plan(survey: Survey, channels: Collection[str] | None = None) -> tuple[Ask, ...]:
    """What to ask the engine module for these channels, or for every one that has a pace (data/pace.toml).

    Only what its masks name; parameters of one pace share requests, as many as the module takes and one frame answers.
    """
    wanted = paces() if channels is None else channels
    every_s = of_parameters(wanted, survey.supported.get(survey.engine.answers or 0, ()))
    return tuple(
        Ask(parameter_request(survey.engine, survey.by_identifier, some), pace_s)
        for pace_s, alike in groupby(every_s, key=lambda pid: every_s[pid])
        for some in _shared(alike, survey)
    )


def lacking(survey: Survey, channels: Collection[str]) -> tuple[str, ...]:
    """Which of these channels the engine module does not have, of those that would be asked for. One that only stands
    for another is not missed beside it."""
    have = survey.supported.get(survey.engine.answers or 0, ())
    return tuple(name for name in channels if name in paces() and not covered(name, have))


def _shared(pids: Iterable[int], survey: Survey) -> list[list[int]]:
    """Each parameter in the first request that has room for it."""
    groups: list[list[int]] = []
    for pid in pids:
        rooms = (one for one in groups if _has_room(one, pid, survey))
        room = next(rooms, None)
        if room is None:
            groups.append([pid])
        else:
            room.append(pid)
    return groups


def _has_room(group: list[int], pid: int, survey: Survey) -> bool:
    return len(group) < survey.together and answer_bytes([*group, pid], survey.by_identifier) < FRAME


@dataclass
class Turn:
    """One question in the round. due_s: when it is to be asked next. failures: in a row, those of a module that was
    not heard between two of them counted once; failed_s: when it last failed."""

    ask: Ask
    due_s: float
    failures: int = 0
    failed_s: float = -inf

    def late(self, now_s: float) -> float:
        """How long it is overdue, in its own paces."""
        return (now_s - self.due_s) / self.ask.every_s


class Poller:
    """Asks one module its questions in turn, one outstanding.

    Who goes next: of the questions that are due, the one with the fastest pace, unless others are overdue by more than
    their own pace; then the one overdue by most of its own paces. So a module that cannot keep up is first asked the
    slow ones at half their pace, then all of them less often by one common measure, and none is left out.

    A question is never asked before it is due. A busy module (7F xx 21) is left alone for BUSY_S. A request for
    several parameters that is refused as such, answered in part, or left unanswered FAILURES times by a module that
    answers others is taken apart; one parameter that fails so often is asked for every SELDOM_S. After SILENT
    unanswered questions in a row the module is only asked the first parameter of its first question, every
    TRY_AGAIN_S, until it speaks.
    """

    def __init__(self, line: Line, asks: Collection[Ask], patience: Patience) -> None:
        self._line, self._patience = line, patience
        now_s = line.clock.now_s()
        self._turns = [Turn(ask, now_s) for ask in sorted(asks, key=lambda ask: ask.every_s)]
        self._heard_s, self._unanswered, self._rest_until_s = now_s, 0, now_s
        self._knock = [Turn(Ask(_first_of(turn.ask.request), TRY_AGAIN_S), now_s) for turn in self._turns[:1]]
        self._under_way: tuple[Turn, Asking] | None = None
        self._busy_since_s: float | None = None
        self._late_seen_s = now_s

    @property
    def outstanding(self) -> bool:
        """A question is on its way, and no other may be."""
        return self._under_way is not None

    @property
    def busy_since_s(self) -> float | None:
        """Since when the module only asks for time (7F xx 21, 7F xx 78); None while it answers or is silent."""
        if self._busy_since_s is not None or self._under_way is None:
            return self._busy_since_s
        asking = self._under_way[1]
        return asking.sent_s if asking.pending else None

    @property
    def silent_since_s(self) -> float | None:
        """When the module was last heard, or this poller made; None while it answers."""
        return self._heard_s if self._unanswered >= SILENT else None

    @property
    def asks(self) -> tuple[Ask, ...]:
        """What is asked at present."""
        return tuple(turn.ask for turn in self._turns)

    def renew(self, asks: Collection[Ask]) -> None:
        """Ask this from now on. What was asked before keeps its turn."""
        now_s, before = self._line.clock.now_s(), {turn.ask: turn for turn in self._turns}
        paced = sorted(asks, key=lambda ask: ask.every_s)
        self._turns = [before[ask] if ask in before else Turn(ask, now_s) for ask in paced]
        knock = [Turn(Ask(_first_of(ask.request), TRY_AGAIN_S), now_s) for ask in paced[:1]]
        if {one.ask.request.to for one in knock} != {one.ask.request.to for one in self._knock}:
            self._heard_s, self._unanswered, self._busy_since_s = now_s, 0, None
        self._knock = knock

    def resume(self) -> None:
        """Go on after a time in which nothing could be asked: nothing is made up for, nothing held against it."""
        now_s = self._line.clock.now_s()
        self._turns = [replace(turn, due_s=now_s) for turn in self._turns]
        self._under_way, self._busy_since_s = None, None
        self._heard_s, self._unanswered = now_s, 0

    def step(self) -> Exchange | None:
        """Ask what is due, or listen until something is, for STEP_S at most; the exchange that ended in it, if one did.

        BusError: the adapter is gone.
        """
        now_s = self._line.clock.now_s()
        self._take_late(now_s)
        if self._under_way is None and (turn := self._next(now_s)) is not None:
            self._under_way = turn, Asking(self._line, turn.ask.request, self._patience)
        if self._under_way is None:
            self._listen(now_s)
            return None
        turn, asking = self._under_way
        exchange = asking.go(now_s + STEP_S)
        if exchange is not None:
            self._under_way = None
            self._learn(turn, exchange)
        return exchange

    def _take_late(self, now_s: float) -> None:
        """An answer that came after its time is one all the same."""
        late = self._line.trips.late_since(self._late_seen_s)
        self._late_seen_s = now_s
        for turn in (turn for turn in self._turns if turn.ask.request in late):
            turn.failures, turn.due_s = 0, min(turn.due_s, now_s + turn.ask.every_s)
            self._busy_since_s = None

    def _round(self) -> list[Turn]:
        return self._knock if self._unanswered >= SILENT else self._turns

    def _next(self, now_s: float) -> Turn | None:
        due = [turn for turn in self._round() if turn.due_s <= now_s]
        if not due or now_s < self._rest_until_s:
            return None
        latest = max(due, key=lambda turn: turn.late(now_s))
        return latest if latest.late(now_s) > 1 else min(due, key=lambda turn: turn.ask.every_s)

    def _listen(self, now_s: float) -> None:
        """Up to what is due next. A late answer shows that the module is not silent."""
        next_s = min((turn.due_s for turn in self._round()), default=now_s + STEP_S)
        spoke = listen(self._line, min(max(next_s, self._rest_until_s), now_s + STEP_S))
        if any(turn.ask.request.to.answers in spoke for turn in self._knock):
            self._spoke(self._line.clock.now_s())

    def _spoke(self, time_s: float) -> None:
        """It is there. After a silence the round begins anew: nothing is made up for."""
        if self._unanswered >= SILENT:
            self._turns = [replace(turn, due_s=time_s) for turn in self._turns]
        self._heard_s, self._unanswered = time_s, 0

    def _learn(self, turn: Turn, exchange: Exchange) -> None:
        turn.due_s = max(turn.due_s + turn.ask.every_s, exchange.sent_s + turn.ask.every_s / 2)
        if exchange.heard_s is not None:
            self._spoke(exchange.heard_s)
        else:
            self._unanswered += 1
        self._busy_since_s = self._busy_since(exchange)
        if BUSY in exchange.codes:
            self._rest_until_s = exchange.ended_s + BUSY_S
        elif self._unanswered < SILENT:
            self._judge(turn, exchange)

    def _busy_since(self, exchange: Exchange) -> float | None:
        """Other refusals and lost answers neither begin nor end it; an answer does, and silence."""
        if exchange.answers or self._unanswered >= SILENT:
            return None
        asks_for_time = exchange.pending or BUSY in exchange.codes
        return self._busy_since_s or (exchange.sent_s if asks_for_time else None)

    def _judge(self, turn: Turn, exchange: Exchange) -> None:
        """Take a question apart, or ask it seldom, where the module does not do with it as it should."""
        if complete(exchange):
            turn.failures = 0
        elif self._heard_s > turn.failed_s:
            turn.failures, turn.failed_s = turn.failures + 1, exchange.ended_s
        several = len(turn.ask.request.asks) > 1
        at_once = several and (exchange.codes & GROUP_REFUSED or exchange.answers)
        if not turn.failures or not (at_once or turn.failures >= FAILURES):
            return
        if several and turn in self._turns:
            self._turns = [one for one in self._turns if one is not turn] + _apart(turn)
            self._turns.sort(key=lambda one: one.ask.every_s)
        else:
            turn.due_s = max(turn.due_s, exchange.sent_s + SELDOM_S)


def _apart(turn: Turn) -> list[Turn]:
    return [
        Turn(replace(turn.ask, request=replace(turn.ask.request, asks=(one,))), turn.due_s)
        for one in turn.ask.request.asks
    ]


def _first_of(request: Request) -> Request:
    return replace(request, asks=request.asks[:1])
