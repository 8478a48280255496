"""Looking again who is there, question by question, so that polling goes on in between.

A first look can come too early: a module that was still asleep, an ignition switched off between two masks. So it is
looked again after every silence, when a module speaks that was not known, and every AGAIN_S while a mask is missing or
no module has engine speed. Only masks are read, all modules' first one at once and the rest of each alone, which is
over with its answer; identity and codes are not.
"""

from __future__ import annotations

from collections.abc import Collection, Generator
from dataclasses import replace

from relearn.bus.address import Address
from relearn.bus.ask import Answer, Exchange, Patience, ask, complete
from relearn.bus.speech import Request
from relearn.bus.survey import ENGINE_SPEED, Survey, groups, named, parameter_request, usual_first
from relearn.bus.wire import Line
from relearn.errors import BusError
from relearn.j1979.records import MASKS

AGAIN_S = 5.0
APART_S = 0.3  # between two questions of a look, so that the fast channels keep their pace
Questions = Generator[Request, None, Survey]
"""The questions of a look, one by one; what came back is laid down before the next one. It returns what is known."""


class LookAgain:
    """When to look again, and where a look stands. survey: what is known now."""

    def __init__(self, line: Line, survey: Survey, patience: Patience) -> None:
        self.survey = survey
        self._line, self._patience = line, patience
        self._heard = set(survey.modules)
        self._wanted = False
        self._next_s = line.clock.now_s() + AGAIN_S
        self._look: tuple[Questions, Request] | None = None
        self._came: list[Exchange] = []

    def want(self) -> None:
        """Look as soon as can be: somebody was silent, or nobody could be asked."""
        self._wanted, self._next_s = True, self._line.clock.now_s()

    def spoke(self, identifier: int) -> None:
        """A module was heard; one that is not known is a reason to look."""
        if identifier not in self._heard and (identifier > 0x7FF) == self.survey.extended:
            self._heard.add(identifier)
            self.want()

    def due(self, silent: bool) -> bool:
        """Whether a question of a look should go out now. silent: the engine module does not answer; only where it is
        not known to be the engine module does looking help then."""
        unknown = not any(ENGINE_SPEED in one for one in self.survey.supported.values())
        reason = unknown or (not silent and (self._wanted or bool(self.survey.missing) or self._look is not None))
        return reason and self._line.clock.now_s() >= self._next_s

    def turn(self) -> Exchange:
        """One question of a look. HeldBack, BusError: as of Line.say and Line.hear; the look then begins anew."""
        questions, request = self._look or self._begun()
        self._look = None
        try:
            exchange = ask(self._line, request, self._patience)
        except BusError:
            self._wanted = True
            raise
        self._next_s = self._line.clock.now_s() + APART_S
        self._came.append(exchange)
        try:
            self._look = questions, next(questions)
        except StopIteration as end:
            self.survey = end.value
            self._next_s += 0.0 if self._wanted else AGAIN_S
        return exchange

    def _begun(self) -> tuple[Questions, Request]:
        self._wanted = False
        self._came.clear()
        questions = looked_again(self.survey, self._heard, self._came)
        return questions, next(questions)


def looked_again(survey: Survey, heard: Collection[int], came: list[Exchange]) -> Questions:
    """heard: the modules that spoke at any time. came: where what came back is laid down. What a module does not tell
    now stays as it was told before."""
    everyone = yield from _asked(parameter_request(survey.everyone, survey.by_identifier, (0x00,)), came)
    if not everyone.answers:
        return survey
    first = {one.identifier: one for one in everyone.answers}
    told = {}
    for module in sorted({*heard, *first}):
        told[module] = yield from _masks_of(module, survey, first.get(module), came)
    supported = {
        module: _joined(survey.supported.get(module, frozenset()), masks)
        for module, masks in told.items()
        if masks or module in survey.supported
    }
    missing = frozenset(one for module, masks in told.items() for one in _missing(module, survey, masks))
    answers = _engine(survey, supported)
    engine = Address.of_module(answers, survey.extended)
    known = engine == survey.engine and survey.together > 1
    together = survey.together if known else (yield from _together(engine, survey, supported[answers], came))
    return replace(
        survey, modules=tuple(supported), engine=engine, supported=supported, together=together, missing=missing
    )


Masks = dict[int, frozenset[int]]
"""By its base, what each mask that was told names."""


def _asked(request: Request, came: list[Exchange]) -> Generator[Request, None, Exchange]:
    yield request
    return came.pop()


def _masks_of(
    module: int, survey: Survey, first: Answer | None, came: list[Exchange]
) -> Generator[Request, None, Masks]:
    """One mask after another, as far as they are told and each names the next."""
    masks: Masks = {}
    to = Address.of_module(module, survey.extended)
    for base in sorted(MASKS):
        answer = first
        if base or first is None:
            exchange = yield from _asked(parameter_request(to, survey.by_identifier, (base,)), came)
            answer = next(iter(exchange.answers), None)
        if answer is None:
            break
        masks[base] = named(answer, base)
        if base + 0x20 not in masks[base]:
            break
    return masks


def _joined(before: frozenset[int], masks: Masks) -> frozenset[int]:
    """What was told now, and of masks that were not, what was told before."""
    if not masks:
        return before
    kept = (pid for pid in before if _base(pid) > max(masks) and max(masks) + 0x20 in masks[max(masks)])
    return frozenset().union(*masks.values(), kept) - MASKS


def _missing(module: int, survey: Survey, masks: Masks) -> set[tuple[int, int]]:
    """The next mask that was named and not told, now or before; where nothing was told, what was missing before."""
    before = {one for one in survey.missing if one[0] == module}
    if not masks:
        return before
    last = max(masks)
    if last + 0x20 not in masks[last]:
        return set()
    known = any(_base(pid) == last + 0x20 for pid in survey.supported.get(module, ()))
    return {one for one in before if one[1] > last} | (set() if known else {(module, last + 0x20)})


def _base(pid: int) -> int:
    """Of the mask that names it."""
    return (pid - 1) // 0x20 * 0x20


def _engine(survey: Survey, supported: dict[int, frozenset[int]]) -> int:
    """The one that was it, unless another one has engine speed and it has not."""
    naming = [module for module, known in supported.items() if ENGINE_SPEED in known]
    now = survey.engine.answers or 0
    return now if now in naming or not naming else usual_first(naming)[0]


def _together(
    to: Address, survey: Survey, supported: Collection[int], came: list[Exchange]
) -> Generator[Request, None, int]:
    for question in groups(to, survey.by_identifier, supported):
        exchange = yield from _asked(question, came)
        if complete(exchange):
            return len(question.asks)
    return 1
