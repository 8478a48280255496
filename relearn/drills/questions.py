"""What a drill asks, what it offers as answers, and the truth: judged when it is asked, by what was known then.

A question carries no answer, so that whatever shows it cannot give it away. `KINDS` is the whole list of kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import sha256

from relearn.analysis.common import judgements
from relearn.drills.drill_file import OF_A_RELEARN, Drill, Kind, Stop
from relearn.drills.happenings import happenings
from relearn.drills.moments import agrees
from relearn.drills.scene import Scene, scene
from relearn.drills.wording import kinds, titles
from relearn.findings.base import EvidenceDoc, Judgement
from relearn.procedures.loader import procedure
from relearn.verdict import Evidence, Outcome, Verdict

NOTHING = "nothing"
MOST_HAPPENINGS = 6  # as many as can be read at a glance; every right one is always among them


@dataclass(frozen=True)
class Choice:
    """One answer that is offered."""

    id: str
    text: str


@dataclass(frozen=True)
class Question:
    """What is asked at one stop. place: of the stop in the drill, from 0. several: more than one may be right. relearn:
    the one that is asked about, None where it is about none."""

    place: int
    capture: str
    at_s: float
    kind: Kind
    text: str
    choices: tuple[Choice, ...]
    several: bool
    relearn: str | None = None


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
    """A kind of question: what it offers, which of that is right, and why, of a stop in a scene."""

    several: bool
    choices: Callable[[Stop, Scene], tuple[Choice, ...]]
    right: Callable[[Stop, Scene], tuple[str, ...]]
    truth: Callable[[Stop, Scene], Truth]


def questions(drill: Drill) -> tuple[Question, ...]:
    """Every question of a drill, in the order in which it is played."""
    return tuple(question(drill, place) for place in range(len(drill.stops)))


def question(drill: Drill, place: int) -> Question:
    """The question of one stop."""
    stop = drill.stops[place]
    kind = KINDS[stop.kind]
    choices = kind.choices(stop, _scene(drill, stop))
    return Question(place, stop.capture, stop.at_s, stop.kind, _text(stop), choices, kind.several, stop.relearn)


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
    return frozenset(KINDS[stop.kind].right(stop, seen)), told


def restless(drill: Drill) -> tuple[str, ...]:
    """A sentence for each stop a second before or after which another answer would be right."""
    return tuple(
        f"{stop.capture} at {stop.at_s:g} s, '{stop.kind}': a second earlier or later another answer is right"
        for stop in drill.stops
        if not _rests(drill, stop)
    )


def _rests(drill: Drill, stop: Stop) -> bool:
    recording = drill.recordings[stop.capture]
    return agrees(lambda at_s: right(stop, scene(recording, at_s, drill.sheet)), stop.at_s, recording.duration_s)


def shown(evidence: EvidenceDoc) -> Shown | None:
    """The channel and the time of an evidence; None where it has no time, so that there is nothing to look at."""
    if evidence.first_s is None or evidence.last_s is None:
        return None
    return Shown(CHANNELS.get(evidence.subject, evidence.subject), evidence.first_s, evidence.last_s)


def places(asked: Question, found: Truth, given: Collection[str]) -> tuple[Shown, ...]:
    """Everything to look at after an answer, each once: what decided, and what speaks against a choice that was wrong.

    Each says what it shows, in the words of its precondition, its choice or else its judgement, and with which verdict.
    Of a precondition that cannot be told the time goes on to the moment: it is what is missing there that decides.
    """
    texts = {**{one.id: one.text for one in asked.choices}, **_preconditions_of(asked.relearn)}
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


def _preconditions_of(relearn: str | None) -> Mapping[str, str]:
    """The texts of a relearn's preconditions by id; none of no relearn."""
    return {one.id: one.text for one in procedure(relearn).preconditions} if relearn is not None else {}


def _readiness(stop: Stop, seen: Scene) -> Verdict:
    return seen.ready(stop.relearn or "").verdict


def _settle(stop: Stop, seen: Scene) -> Truth:
    """Where no idle was long enough to be judged, the longest one is what there is to look at."""
    verdict, episodes = seen.settle.verdict, seen.settle.episodes
    found = _decided(stop, verdict, *seen.settle.remarks)
    if any(shown(one) for part in found.decided_by for one in part.evidence) or not episodes:
        return found
    longest = max(episodes, key=lambda one: one.duration_s)
    idle = Evidence("engine_speed", first_s=longest.from_s, last_s=longest.to_s)
    return replace(found, decided_by=(Judgement.of(Verdict("idle", verdict.outcome, verdict.reason, (idle,))),))


def _decided(stop: Stop, verdict: Verdict, *remarks: str) -> Truth:
    """A verdict, decided by the parts that agree with it."""
    deciding = tuple(part for part in judgements(verdict) if part.verdict == verdict.outcome.value)
    return Truth((verdict.outcome.value,), (verdict.reason, *remarks), deciding, stop.note or "")


def _preconditions(stop: Stop, seen: Scene) -> tuple[Choice, ...]:
    """Every precondition that the module can show, in the relearn's order, and that none is missing."""
    texts = _preconditions_of(stop.relearn)
    return (*(Choice(one.id, texts[one.id]) for one in _readiness(stop, seen).children), _nothing("missing"))


def _missing_right(stop: Stop, seen: Scene) -> tuple[str, ...]:
    """The preconditions that are a no or cannot be told."""
    parts = _readiness(stop, seen).children
    return tuple(one.id for one in parts if one.outcome is not Outcome.YES) or (NOTHING,)


def _missing(stop: Stop, seen: Scene) -> Truth:
    """Decided by what is missing; where nothing is, by all that hold."""
    right, verdict, texts = _missing_right(stop, seen), _readiness(stop, seen), _preconditions_of(stop.relearn)
    parts = [Judgement.of(one) for one in verdict.children]
    missing = tuple(part for part in parts if part.verdict != "yes")
    held = tuple(part for part in parts if part.verdict == "yes")
    if not missing:
        return Truth(right, (verdict.reason,), held, stop.note or "")
    reasons = tuple(f"{texts[part.id]}: {part.verdict}, {part.reason}" for part in missing)
    return Truth(right, reasons, missing, stop.note or "", held)


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


def _happened_right(stop: Stop, seen: Scene) -> tuple[str, ...]:
    return tuple(name for name, one in _told(seen).items() if one.outcome is Outcome.YES) or (NOTHING,)


def _happened(stop: Stop, seen: Scene) -> Truth:
    """What happened. Where nothing did, what is shown is what was looked through for each one that was offered."""
    right, told, offered = _happened_right(stop, seen), _told(seen), {one.id for one in _offered(stop, seen)}
    judged = [Judgement.of(one) for name, one in told.items() if name in offered]
    found = tuple(one for one in judged if one.verdict == "yes")
    not_so = tuple(one for one in judged if one.verdict == "no")
    if not found:
        none = f"from the start to {seen.at_s:.1f} s the data would show each of these, and shows none"
        return Truth(right, (none,), not_so, stop.note or "")
    reasons = tuple(f"{titles()[one.id]}: {one.reason}" for one in found)
    return Truth(right, reasons, found, stop.note or "", not_so)


KINDS: Mapping[str, _Kind] = {
    "ready": _Kind(
        False,
        _three,
        lambda stop, seen: (_readiness(stop, seen).outcome.value,),
        lambda stop, seen: _decided(stop, _readiness(stop, seen)),
    ),
    "missing": _Kind(True, _preconditions, _missing_right, _missing),
    "settle": _Kind(False, _three, lambda _, seen: (seen.settle.verdict.outcome.value,), _settle),
    "happened": _Kind(True, _offered, _happened_right, _happened),
}
