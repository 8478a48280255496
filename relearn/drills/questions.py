"""What a drill asks, what it offers as answers, and the truth: judged when it is asked, by what was known then.

A question carries no answer, so that whatever shows it cannot give it away. `KINDS` is the whole list of kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import sha256

from relearn.drills.drill_file import OF_A_RELEARN, Drill, Kind, Stop
from relearn.drills.happenings import happenings
from relearn.drills.moments import agrees
from relearn.drills.scene import Scene, scene
from relearn.drills.wording import kinds, titles
from relearn.findings.base import EvidenceDoc, Judged, Judgement
from relearn.procedures.loader import procedure
from relearn.verdict import Outcome, Verdict

NOTHING = "nothing"
MOST_HAPPENINGS = 6  # as many as can be read at a glance; every right one is always among them


@dataclass(frozen=True)
class Choice:
    """One answer that is offered."""

    id: str
    text: str


@dataclass(frozen=True)
class Question:
    """What is asked at one stop. place: of the stop in the drill, from 0. several: more than one may be right."""

    place: int
    capture: str
    at_s: float
    kind: Kind
    text: str
    choices: tuple[Choice, ...]
    several: bool


@dataclass(frozen=True)
class Truth:
    """The right choices, by id; the sentences that say why; the judgements that decide, with their evidence; the
    trainer's note ('' for none); the judgements that speak against each of the other choices."""

    right: tuple[str, ...]
    reasons: tuple[str, ...]
    decided_by: tuple[Judgement, ...]
    note: str = ""
    against: tuple[Judgement, ...] = ()


@dataclass(frozen=True)
class Shown:
    """Where a judgement can be looked at: a channel, and the time that decided. of: what it shows, '' unless said."""

    channel: str
    from_s: float
    to_s: float
    of: str = ""


@dataclass(frozen=True)
class _Kind:
    """A kind of question: what it offers, and the truth, of a stop in a scene."""

    several: bool
    choices: Callable[[Stop, Scene], tuple[Choice, ...]]
    truth: Callable[[Stop, Scene], Truth]


def questions(drill: Drill) -> tuple[Question, ...]:
    """Every question of a drill, in the order in which it is played."""
    return tuple(question(drill, place) for place in range(len(drill.stops)))


def question(drill: Drill, place: int) -> Question:
    """The question of one stop."""
    stop = drill.stops[place]
    kind, seen = KINDS[stop.kind], _scene(drill, stop)
    return Question(place, stop.capture, stop.at_s, stop.kind, _text(stop), kind.choices(stop, seen), kind.several)


def together(drill: Drill) -> tuple[tuple[int, ...], ...]:
    """The places of the questions of each stop. All of them are asked before any answer is shown: why a car is not
    ready would give away what is missing."""
    moments = dict.fromkeys((stop.capture, stop.at_s) for stop in drill.stops)
    return tuple(
        tuple(place for place, stop in enumerate(drill.stops) if (stop.capture, stop.at_s) == moment)
        for moment in moments
    )


def truth(drill: Drill, place: int) -> Truth:
    """What is right at one stop, judged by the recording as it stood then."""
    stop = drill.stops[place]
    return KINDS[stop.kind].truth(stop, _scene(drill, stop))


def right(stop: Stop, seen: Scene) -> tuple[frozenset[str], frozenset[str]]:
    """The right choices of a stop in a scene, and all that can be chosen before any are left out for brevity."""
    told = (
        frozenset(_told(seen))
        if stop.kind == "happened"
        else frozenset(one.id for one in KINDS[stop.kind].choices(stop, seen))
    )
    return frozenset(KINDS[stop.kind].truth(stop, seen).right), told


def restless(drill: Drill) -> tuple[str, ...]:
    """A sentence for each stop a second before or after which another answer would be right."""
    return tuple(
        f"{_named(stop)}: a second earlier or later another answer is right"
        for stop in drill.stops
        if not _rests(drill, stop)
    )


def _rests(drill: Drill, stop: Stop) -> bool:
    recording = drill.recordings[stop.capture]
    return agrees(lambda at_s: right(stop, scene(recording, at_s, drill.sheet)), stop.at_s, recording.duration_s)


def _named(stop: Stop) -> str:
    return f"{stop.capture} at {stop.at_s:g} s, '{stop.kind}'"


def shown(evidence: EvidenceDoc) -> Shown | None:
    """The channel and the time of an evidence; None where it has no time, so that there is nothing to look at."""
    if evidence.first_s is None or evidence.last_s is None:
        return None
    return Shown(CHANNELS.get(evidence.subject, evidence.subject), evidence.first_s, evidence.last_s)


def places(asked: Question, found: Truth, given: Collection[str]) -> tuple[Shown, ...]:
    """Everything to look at after an answer, each once: what decided, and what speaks against a choice that was wrong.

    Each says what it shows, in the words of its choice or else of its judgement, and with which verdict. Of a
    precondition that cannot be told the time goes on to the moment: it is what is missing there that decides.
    """
    texts = {one.id: one.text for one in asked.choices}
    parts = (*found.decided_by, *(one for one in found.against if one.id in given))
    return tuple(
        dict.fromkeys(
            replace(at, of=f"{texts.get(part.id, _plainly(part.id))}: {part.verdict}", to_s=_until(asked, part, at))
            for part in parts
            for one in part.evidence
            if (at := shown(one)) is not None
        )
    )


def _plainly(name: str) -> str:
    return name.replace("-", " ").replace("_", " ")


def _until(asked: Question, part: Judgement, at: Shown) -> float:
    untold = asked.kind in OF_A_RELEARN and part.verdict == Outcome.CANNOT_TELL.value
    return max(at.to_s, asked.at_s) if untold else at.to_s


CHANNELS: Mapping[str, str] = {
    "stalls": "engine_speed",
    "silence": "engine_speed",
    "hunting_amplitude": "engine_speed",
    "trim_sum": "short_term_fuel_trim_bank_1",
    "trim_sum_bank_1": "short_term_fuel_trim_bank_1",
    "trim_sum_bank_2": "short_term_fuel_trim_bank_2",
    "airflow_per_litre": "mass_air_flow",
    "implied_volumetric_efficiency": "mass_air_flow",
    "ignition_timing": "timing_advance",
    "load": "calculated_load",
    "stored_codes": "stored_code_count",
}
"""The channel to look at for a subject that is worked out of one."""


def _scene(drill: Drill, stop: Stop) -> Scene:
    return scene(drill.recordings[stop.capture], stop.at_s, drill.sheet)


def _text(stop: Stop) -> str:
    title = procedure(stop.relearn).title if stop.relearn is not None else ""
    return stop.wording or kinds()[stop.kind].asks.format(relearn=title)


def _nothing(kind: Kind) -> Choice:
    return Choice(NOTHING, kinds()[kind].nothing)


def _three(stop: Stop, seen: Scene) -> tuple[Choice, ...]:
    return tuple(Choice(one.value, one.value) for one in Outcome)


def _ready(stop: Stop, seen: Scene) -> Truth:
    return _verdict(stop, seen.ready(stop.relearn or ""))


def _settle(stop: Stop, seen: Scene) -> Truth:
    """Where no idle was long enough to be judged, the longest one is what there is to look at."""
    found = _verdict(stop, seen.settle)
    if any(shown(one) for part in found.decided_by for one in part.evidence) or not seen.settle.episodes:
        return found
    longest = max(seen.settle.episodes, key=lambda one: one.to_s - one.from_s)
    idle = EvidenceDoc(subject="engine_speed", first_s=longest.from_s, last_s=longest.to_s)
    part = Judgement(id="idle", verdict=seen.settle.verdict, reason=found.reasons[0], evidence=(idle,))
    return replace(found, decided_by=(part,))


def _verdict(stop: Stop, found: Judged) -> Truth:
    """The verdict of a document, decided by the parts that agree with it."""
    deciding = tuple(part for part in found.parts if part.verdict == found.verdict)
    return Truth((found.verdict,), found.reasons, deciding, stop.note or "")


def _preconditions(stop: Stop, seen: Scene) -> tuple[Choice, ...]:
    """Every precondition that the module can show, in the relearn's order, and that none is missing."""
    rows = seen.ready(stop.relearn or "").preconditions
    return (*(Choice(one.id, one.text) for one in rows), _nothing("missing"))


def _missing(stop: Stop, seen: Scene) -> Truth:
    """The preconditions that are a no or cannot be told."""
    found = seen.ready(stop.relearn or "")
    texts = {one.id: one.text for one in found.preconditions}
    parts = [part for part in found.parts if part.id in texts]
    missing = tuple(part for part in parts if part.verdict != "yes")
    held = tuple(part for part in parts if part.verdict == "yes")
    if not missing:
        return Truth((NOTHING,), found.reasons, held, stop.note or "")
    reasons = tuple(f"{texts[part.id]}: {part.verdict}, {part.reason}" for part in missing)
    return Truth(tuple(part.id for part in missing), reasons, missing, stop.note or "", held)


@lru_cache(maxsize=8)
def _told(seen: Scene) -> Mapping[str, Verdict]:
    """What certainly happened or certainly did not, in the order shown."""
    found = happenings(seen)
    return {name: found[name] for name in titles() if found[name].outcome is not Outcome.CANNOT_TELL}


def _offered(stop: Stop, seen: Scene) -> tuple[Choice, ...]:
    """All that happened, filled up with what did not; which of those is left to chance, but always the same."""
    told = _told(seen)
    others = sorted((name for name in told if told[name].outcome is Outcome.NO), key=lambda name: _lot(stop, name))
    happened = [name for name in told if told[name].outcome is Outcome.YES]
    offered = {*happened, *others[: max(0, MOST_HAPPENINGS - len(happened))]}
    return (*(Choice(name, titles()[name]) for name in told if name in offered), _nothing("happened"))


def _lot(stop: Stop, name: str) -> bytes:
    return sha256(f"{stop.capture}|{stop.at_s:g}|{name}".encode()).digest()


def _happened(stop: Stop, seen: Scene) -> Truth:
    """What happened. Where nothing did, what is shown is what was looked through for each one that was offered."""
    told, offered = _told(seen), {one.id for one in _offered(stop, seen)}
    judged = [Judgement.of(one) for name, one in told.items() if name in offered]
    found = tuple(one for one in judged if one.verdict == "yes")
    not_so = tuple(one for one in judged if one.verdict == "no")
    if not found:
        none = f"from the start to {seen.at_s:.1f} s the data would show each of these, and shows none"
        return Truth((NOTHING,), (none,), not_so, stop.note or "")
    reasons = tuple(f"{titles()[one.id]}: {one.reason}" for one in found)
    return Truth(tuple(one.id for one in found), reasons, found, stop.note or "", not_so)


KINDS: Mapping[str, _Kind] = {
    "ready": _Kind(False, _three, _ready),
    "missing": _Kind(True, _preconditions, _missing),
    "settle": _Kind(False, _three, _settle),
    "happened": _Kind(True, _offered, _happened),
}
