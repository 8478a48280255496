"""What has happened in a recording so far, as the checks see it. `HAPPENINGS` is the whole list.

Each answers yes (it happened), no (the data would show it, and does not) or cannot tell. What cannot be told is never
offered as an answer, so that each one offered is either right or wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, fresh_within_s, implausible, median_interval_s, plausible_only, value_at
from relearn.checks import pedal
from relearn.checks.air import DIRECTIONS
from relearn.checks.holding import evidence_of, inside, worst
from relearn.checks.supply import source as supply_source
from relearn.drills.scene import Scene
from relearn.events import turning
from relearn.verdict import Evidence, Limits, Outcome, Verdict

MANY = 10  # a channel with fewer samples was looked at, not followed
SHORT_PRESS_S = 1.0  # as in checks.settle: a blip of the pedal lasts about as long
CHARGING_AFTER_S = 5.0  # after a start the alternator has the supply up again: from memory
COOLANT, LAMP, SPEED, VEHICLE = "coolant_temperature", "malfunction_lamp", "engine_speed", "vehicle_speed"


def happenings(scene: Scene) -> Mapping[str, Verdict]:
    """Every one of HAPPENINGS, judged at the scene's moment."""
    return {name: judge(name, scene) for name, judge in HAPPENINGS.items()}


def _yes(name: str, reason: str, *evidence: Evidence) -> Verdict:
    return Verdict(name, Outcome.YES, reason, evidence)


def _no(name: str, *evidence: Evidence) -> Verdict:
    return Verdict(name, Outcome.NO, "the data would show it, and does not", evidence)


def _through(*channels: Channel) -> tuple[Evidence, ...]:
    """All of these channels: where something would be seen that is not there."""
    return tuple(Evidence(one.name, first_s=float(one.time_s[0]), last_s=float(one.time_s[-1])) for one in channels)


def _unknown(name: str, reason: str) -> Verdict:
    return Verdict(name, Outcome.CANNOT_TELL, reason)


def _followed(scene: Scene, name: str) -> Channel | None:
    """A channel that was read from its first sample to the moment without a gap, else None."""
    channel = scene.view.channels.get(name)
    return channel if channel is not None and len(channel) and _gap(channel, scene.at_s) is None else None


@lru_cache(maxsize=128)  # several happenings ask it of the same channels of one scene
def _gap(channel: Channel, at_s: float) -> tuple[float, float] | None:
    """The first time without a fresh sample, up to at_s."""
    times_s = np.append(channel.time_s, at_s)
    long = np.flatnonzero(np.diff(times_s) > fresh_within_s(channel))
    return (float(times_s[long[0]]), float(times_s[long[0] + 1])) if len(long) else None


def _where(name: str, channel: Channel, mask: NDArray[np.bool_], reason: str) -> Verdict:
    """Yes with the samples at the mask as evidence, no where it holds nowhere."""
    if not mask.any():
        return _no(name, evidence_of(channel.name, channel, float(channel.value[-1]), ANY))
    found = channel.take(mask)
    return _yes(name, reason, evidence_of(channel.name, found, float(found.value[-1]), ANY))


ANY = Limits(None, None, "", "")
STOPS = {"stalled": "stalled", "stopped-itself": "stopped by itself", "switched-off": "was switched off"}


def _stopped(name: str, scene: Scene) -> Verdict:
    """A stop of the engine of this kind (events.Stop). One whose kind is unclear leaves all of them open."""
    stops = scene.settle.stops
    found = next((one for one in stops if one.kind == name), None)
    if found is not None and doubtful(scene):
        return _unknown(name, "the engine stood, and what stopped it cannot be told yet")
    if found is not None:
        evidence = Evidence(SPEED, first_s=found.time_s, last_s=found.restarted_s or scene.at_s)
        return _yes(name, f"the engine {STOPS[name]} at {found.time_s:.1f} s", evidence)
    if any(one.kind == "unclear" for one in stops):
        return _unknown(name, "the engine stopped, and why cannot be told")
    speed = _followed(scene, SPEED)
    if speed is None:
        return _unknown(name, "engine speed was not read throughout")
    return _no(name, *_through(speed))


def doubtful(scene: Scene) -> bool:
    """Whether a stop counts as a stall that may be none.

    After a silence the engine may have been switched off, and in a car that moved it may yet start again by itself.
    """
    stalls = [one for one in scene.settle.stops if one.kind == "stalled"]
    stayed = _moved("moved", scene).outcome is Outcome.NO
    return any(_after_silence(scene, one.time_s) or (one.restarted_s is None and not stayed) for one in stalls)


def _after_silence(scene: Scene, time_s: float) -> bool:
    """Whether nobody saw the engine for so long before this sample that it may have stopped in any way."""
    speed = scene.view.channels[SPEED]
    before_s = speed.time_s[speed.time_s < time_s]
    return not len(before_s) or time_s - float(before_s[-1]) > fresh_within_s(speed)


def _hunting(name: str, scene: Scene) -> Verdict:
    """The idle that was judged swings beyond the limit. With other idles than that one a no says nothing of them."""
    judged, steady = scene.settle, scene.settle.steady
    part = next((one for one in judged.verdict.children if one.id == "hunting"), None)
    if part is not None and part.outcome is Outcome.NO:
        return _yes(name, part.reason, *(replace(one, subject=SPEED, value=None, limits=None) for one in part.evidence))
    if steady is None or len(judged.episodes) > 1:
        return _unknown(name, "not every idle was long enough to tell")
    return _no(name, Evidence(SPEED, first_s=steady.from_s, last_s=steady.to_s, samples=steady.samples))


def _pedal(name: str, scene: Scene) -> Verdict:
    """A pedal channel outside of what counts as released. Read more seldom than every second, a no says nothing."""
    channels = [plausible_only(one) for one in pedal.shown(scene.view)]
    pressed = [
        (one, ~inside(one, limits)) for one in channels if (limits := pedal.released(one, scene.sheet)) is not None
    ]
    found = [_where(name, one, mask, "the pedal was not released") for one, mask in pressed if mask.any()]
    if found:
        return found[0]
    often = [one for one in channels if _followed(scene, one.name) and (median_interval_s(one) or 0.0) <= SHORT_PRESS_S]
    return _no(name, *_through(*often)) if pressed and often else _unknown(name, "no pedal was read often enough")


def _moved(name: str, scene: Scene) -> Verdict:
    """Vehicle speed above what counts as standing."""
    channel, standing = scene.view.channels.get(VEHICLE), scene.sheet.need("vehicle.stopped_km_h")
    if channel is None or not len(channel):
        return _unknown(name, "no vehicle speed was read")
    found = _where(name, channel, channel.value > (standing.high or 0.0), "the car moved")
    followed = _followed(scene, VEHICLE) is not None
    return found if followed or found.outcome is Outcome.YES else _unknown(name, "it was not read throughout")


def _sagged(name: str, scene: Scene) -> Verdict:
    """The supply below its floor: of a running engine's once it charges, else of the window for programming."""
    channel = supply_source(scene.view.channels)
    if channel is None:
        return _unknown(name, "no supply voltage was read")
    speed = scene.view.channels.get(SPEED)
    limits, over = _floor(scene, channel, speed)
    if not len(over):
        return _unknown(name, "the engine has not charged long enough")
    low = ~inside(over, limits)
    if low.any():
        return _yes(name, f"the supply fell to {over.value.min():.2f} V", worst(over.take(low), limits))
    followed = _followed(scene, channel.name) is not None
    return _no(name, worst(over, limits)) if followed else _unknown(name, "it was not read throughout")


def _floor(scene: Scene, channel: Channel, speed: Channel | None) -> tuple[Limits, Channel]:
    """The limit, and the samples held against it: of an engine that runs, those CHARGING_AFTER_S after its start."""
    measured, running = plausible_only(channel), scene.sheet.need("engine.running_rpm")
    if speed is None or not len(speed) or not turning(speed, running).any():
        window = scene.sheet.need("supply.programming_v")
        return Limits(window.low, None, window.unit, window.standing), measured
    charging = _running_at(speed, running, measured.time_s) & _running_at(
        speed, running, measured.time_s - CHARGING_AFTER_S
    )
    return scene.sheet.need("supply.engine_running_v"), measured.take(charging)


def _running_at(speed: Channel, running: Limits, times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    turns = Channel(SPEED, "", speed.module, speed.time_s, turning(speed, running).astype(np.float64), speed.frame)
    return np.asarray(value_at(turns, times_s) == 1.0, np.bool_)


def _coolant(name: str, scene: Scene) -> Verdict:
    """A coolant reading that is no temperature (channels.implausible)."""
    channel = scene.view.channels.get(COOLANT)
    if channel is None or not len(channel):
        return _unknown(name, "no coolant temperature was read")
    return _where(name, channel, implausible(channel), "the coolant reading is no temperature but a broken circuit")


def _data_stopped(name: str, scene: Scene) -> Verdict:
    """A channel that was followed and then not read for longer than its samples stay fresh, others being read. A module
    that is silent as a whole is another matter."""
    followed = [one for one in scene.view.channels.values() if len(one) >= MANY]
    gaps = [(gap, one) for one in followed if (gap := _gap(one, scene.at_s)) is not None]
    alone = [(gap, one) for gap, one in gaps if _others_read(followed, gap[0] + fresh_within_s(one), gap[1])]
    if gaps and not alone:
        return _unknown(name, "the module was silent as a whole")
    if not alone:
        first = sorted(followed, key=lambda one: (one.name != SPEED, one.name))[:1]  # one of them stands for all
        return _no(name, *_through(*first)) if first else _unknown(name, "nothing was read for long")
    (first_s, last_s), channel = min(alone, key=lambda found: (found[0], found[1].name))
    said = f"{channel.name.replace('_', ' ')} was not read from {first_s:.1f} to {last_s:.1f} s"
    return _yes(name, said, Evidence(channel.name, first_s=first_s, last_s=last_s))


def _others_read(followed: Sequence[Channel], from_s: float, to_s: float) -> bool:
    return any(bool(((one.time_s > from_s) & (one.time_s < to_s)).any()) for one in followed)


def _lamp(name: str, scene: Scene) -> Verdict:
    """The malfunction lamp lit at any time, by any module."""
    own = scene.view.channels.get(LAMP)
    channels = [one for one in (own, *scene.view.other_lamps) if one is not None and len(one)]
    judged = [_where(name, one, one.value > 0, f"module {one.module} lit the lamp") for one in channels]
    if any(one.outcome is Outcome.YES for one in judged):
        return next(one for one in judged if one.outcome is Outcome.YES)
    return judged[0] if judged and _followed(scene, LAMP) is not None else _unknown(name, "the lamp was not followed")


def _codes(name: str, scene: Scene) -> Verdict:
    """Stored codes in any list that the module gave; a count of none counts as a list without any."""
    lists = [one for one in scene.view.codes if one.kind == "stored"]
    held = next((one for one in lists if one.codes), None)
    if held is not None:
        evidence = Evidence("stored_codes", ", ".join(held.codes), first_s=held.time_s, last_s=held.time_s)
        return _yes(name, f"stored {', '.join(held.codes)}", evidence)
    count = scene.view.channels.get("stored_code_count")
    if count is not None and len(count):
        return _where(name, count, count.value > 0, "the module counts stored codes")
    if not lists:
        return _unknown(name, "no codes were read")
    return _no(name, Evidence("stored_codes", first_s=lists[0].time_s, last_s=lists[-1].time_s))


AIR: Mapping[str, tuple[str, ...]] = {
    "unmetered-air": ("unmetered",),
    "metering-or-fuel": ("lean everywhere", "rich everywhere"),
}
AIR_TOLD = tuple(DIRECTIONS[key][0] for key in ("unmetered", "lean everywhere", "rich everywhere", "in order"))


def _air(name: str, scene: Scene) -> Verdict:
    """What trims at idle and near 2,500 rpm point to (checks.air)."""
    found = scene.air
    if found.points_to not in AIR_TOLD:
        return _unknown(name, found.points_to)
    so = found.points_to in [DIRECTIONS[key][0] for key in AIR[name]]
    trims = [one for part in found.verdict.children if part.outcome is Outcome.NO or not so for one in part.evidence]
    evidence = [Evidence(one.subject, one.value, first_s=one.first_s, last_s=one.last_s) for one in trims]
    return _yes(name, found.points_to, *evidence) if so else _no(name, *evidence)


HAPPENINGS: Mapping[str, Callable[[str, Scene], Verdict]] = {
    "stalled": _stopped,
    "stopped-itself": _stopped,
    "switched-off": _stopped,
    "hunting": _hunting,
    "pedal-pressed": _pedal,
    "moved": _moved,
    "supply-sagged": _sagged,
    "coolant-circuit-open": _coolant,
    "data-stopped": _data_stopped,
    "lamp-lit": _lamp,
    "codes-stored": _codes,
    "unmetered-air": _air,
    "metering-or-fuel": _air,
}
