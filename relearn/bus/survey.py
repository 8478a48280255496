"""Who is there: which modules answer, by which dialect, what each supports, and how much one request may ask for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from relearn.bus.address import ALL_11, ALL_29, Address
from relearn.bus.ask import STRAGGLERS_S, Answer, Exchange, Patience, ask, complete, listen
from relearn.bus.refusing import BUSY
from relearn.bus.segments import FRAME
from relearn.bus.speech import Request, Service
from relearn.bus.wire import Line
from relearn.capture.keep import USUAL_ENGINE
from relearn.j1979.identity import INFOTYPES
from relearn.j1979.records import MASKS
from relearn.j1979.table import parameters

ENGINE_SPEED, MONITORS = 0x0C, 0x01
PARAMETERS, INFORMATION = 0xF400, 0xF800  # where SAE J1979-2 puts what services 01 and 09 read
BUSY_S = 1.0  # how much later: common practice, no source
TRIES = 3  # a lost frame, or a busy module, must not cost a whole recording its parameters
CODES = (Service.STORED_CODES, Service.PENDING_CODES, Service.PERMANENT_CODES)


@dataclass(frozen=True)
class Survey:
    """The modules of one car as they present themselves.

    extended: identifiers of 29 bits. by_identifier: the SAE J1979-2 dialect, service 22. modules: the identifiers that
    they answer under, lowest first. engine: where the engine module is asked alone. supported: by module, the
    parameters (as of service 01) that its masks name. together: how many of them the engine module takes in one
    request, of those whose answer fits into one frame (`answer_bytes`): up to 3, in the J1979-2 dialect up to 2.
    missing: by module and base, the masks that it named and did not tell.
    """

    extended: bool
    by_identifier: bool
    modules: tuple[int, ...]
    engine: Address
    supported: Mapping[int, frozenset[int]]
    together: int
    missing: frozenset[tuple[int, int]] = frozenset()

    @property
    def everyone(self) -> Address:
        """Where all modules are asked at once."""
        return ALL_29 if self.extended else ALL_11


def look(line: Line, patience: Patience) -> Survey | None:
    """Look who is there: 11 bits before 29, service 01 before 22. None: nobody answered.

    BusError: the adapter is gone.
    """
    for everyone in (ALL_11, ALL_29):
        for by_identifier in (False, True):
            named = _named_by(line, patience, everyone, by_identifier)
            if named:
                return _survey(line, patience, everyone, by_identifier, named)
    return None


def identity_questions(survey: Survey) -> tuple[Request, ...]:
    """VIN, calibration identifications, verification numbers and names of all modules, as far as they have them."""
    if survey.by_identifier:
        return tuple(Request(survey.everyone, Service.BY_IDENTIFIER, (INFORMATION + one,)) for one in INFOTYPES)
    return tuple(Request(survey.everyone, Service.VEHICLE_INFORMATION, (one,)) for one in (0x00, *INFOTYPES))


def code_questions(survey: Survey) -> tuple[Request, ...]:
    """Monitors and lamp of all modules; stored, pending and permanent codes, which SAE J1979-2 reads by another service
    that nobody asks here."""
    kinds = () if survey.by_identifier else tuple(Request(survey.everyone, kind) for kind in CODES)
    return (parameter_request(survey.everyone, survey.by_identifier, (MONITORS,)), *kinds)


def ask_all(line: Line, request: Request, patience: Patience) -> Exchange:
    """Ask all modules; where none answered, a late long answer is let pass before anything else is asked."""
    exchange = patiently(line, request, patience)
    if not exchange.answers:
        listen(line, line.clock.now_s() + STRAGGLERS_S)
    return exchange


def parameter_request(to: Address, by_identifier: bool, pids: Iterable[int]) -> Request:
    """Current data in either dialect."""
    if by_identifier:
        return Request(to, Service.BY_IDENTIFIER, tuple(PARAMETERS + pid for pid in pids))
    return Request(to, Service.CURRENT_DATA, tuple(pids))


def answer_bytes(pids: Iterable[int], by_identifier: bool) -> int:
    """How long the answer with these parameters is. Below FRAME it fits into one frame.

    Values are only ever asked for so: a frame comes whole or not at all, while the frames of a long answer can be taken
    for those of another one (ask.py).
    """
    return 1 + sum((2 if by_identifier else 1) + parameters()[pid].length for pid in pids)


def patiently(line: Line, request: Request, patience: Patience) -> Exchange:
    """Ask; where a module is busy, ask again a second later, TRIES times at most."""
    exchange = ask(line, request, patience)
    for _ in range(TRIES - 1):
        if BUSY not in exchange.codes:
            break
        listen(line, line.clock.now_s() + BUSY_S)
        exchange = ask(line, request, patience)
    return exchange


def usual_first(identifiers: Iterable[int]) -> Sequence[int]:
    """The usual identifier of an engine module before any other, then the lowest."""
    return sorted(identifiers, key=lambda one: (one not in USUAL_ENGINE, one))


@dataclass
class _Named:
    """supported: by module, the parameters that its masks name. missing: as in Survey."""

    supported: dict[int, frozenset[int]]
    missing: frozenset[tuple[int, int]]

    def __bool__(self) -> bool:
        return bool(self.supported)


def _named_by(line: Line, patience: Patience, everyone: Address, by_identifier: bool) -> _Named:
    """What each module's masks name, one mask after another while any says that there is a next one."""
    found: dict[int, frozenset[int]] = {}
    missing: set[tuple[int, int]] = set()
    awaited: frozenset[int] = frozenset()
    for base in sorted(MASKS):
        said = _masks(line, patience, parameter_request(everyone, by_identifier, (base,)), awaited)
        found |= {module: found.get(module, frozenset()) | named for module, named in said.items()}
        missing |= {(module, base) for module in awaited - set(said)}
        awaited = frozenset(module for module, named in found.items() if base + 0x20 in named)
        if not awaited:
            break
    return _Named({module: named - MASKS for module, named in sorted(found.items())}, frozenset(missing))


def _masks(line: Line, patience: Patience, request: Request, awaited: Collection[int]) -> dict[int, frozenset[int]]:
    """One mask of every module. Answers may be lost: nobody knows who has the first one, so it is asked for twice where
    anybody has it; those that must have a further one and did not answer are asked again, alone."""
    answers = [*patiently(line, request, patience).answers]
    if answers and not awaited:
        answers += patiently(line, request, patience).answers
    for _ in range(TRIES - 1):
        for module in sorted(set(awaited) - {one.identifier for one in answers}):
            alone = Request(Address.of_module(module, request.to.extended), request.service, request.asks)
            answers += patiently(line, alone, patience).answers
    return {one.identifier: named(one, request.asks[0] & 0xFF) for one in answers}


def named(answer: Answer, base: int) -> frozenset[int]:
    """The parameters that a mask names; its four bytes are the last of the answer."""
    bits = np.unpackbits(np.frombuffer(answer.payload[-4:], np.uint8))
    return frozenset(base + 1 + int(bit) for bit in np.flatnonzero(bits))


def _survey(line: Line, patience: Patience, everyone: Address, by_identifier: bool, named: _Named) -> Survey:
    engine = _engine(line, patience, everyone, by_identifier, named.supported)
    to = Address.of_module(engine, everyone.extended)
    together = _together(line, patience, groups(to, by_identifier, named.supported[engine]))
    return Survey(
        everyone.extended, by_identifier, tuple(named.supported), to, named.supported, together, named.missing
    )


def _engine(
    line: Line, patience: Patience, everyone: Address, by_identifier: bool, supported: Mapping[int, frozenset[int]]
) -> int:
    """The module that answers engine speed; of several, or of none, the usual identifier, else the lowest."""
    exchange = patiently(line, parameter_request(everyone, by_identifier, (ENGINE_SPEED,)), patience)
    answering = {one.identifier for one in exchange.answers} & set(supported)
    naming = {module for module, named in supported.items() if ENGINE_SPEED in named}
    return usual_first(answering | naming or supported)[0]


def groups(to: Address, by_identifier: bool, supported: Collection[int]) -> list[Request]:
    """Questions for as many of these parameters as one frame of an answer holds, then for less, down to two."""
    short = sorted(set(supported) & set(parameters()), key=lambda pid: (parameters()[pid].length, pid))
    return [
        parameter_request(to, by_identifier, short[:count])
        for count in range(len(short), 1, -1)
        if answer_bytes(short[:count], by_identifier) < FRAME
    ]


def _together(line: Line, patience: Patience, questions: Iterable[Request]) -> int:
    """How many parameters the module answers at once: those of the first question that it answers completely."""
    return next((len(one.asks) for one in questions if _takes(line, patience, one)), 1)


def _takes(line: Line, patience: Patience, request: Request) -> bool:
    """Whether the module answers it completely; silence may be a lost frame."""
    for _ in range(TRIES):
        exchange = patiently(line, request, patience)
        if exchange.answers or exchange.refusals:
            return complete(exchange)
    return False
