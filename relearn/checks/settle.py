"""Did the idle settle? The last idle episode long enough is judged: inside target ± tolerance, then 20 s and more of
it, warm, stopped, pedal released, and no stall in it or after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from relearn.channels import Channel, between, median_interval_s
from relearn.checks import pedal
from relearn.checks.extras import Extra, extras
from relearn.checks.holding import worst
from relearn.checks.hunting import Swing, slowest_interval_s, swing
from relearn.checks.idle import engine_speed, engine_stops, idle_episodes
from relearn.checks.idle_parts import hunting_part, stall_part, stalled, stop_evidence, stopped_part, warm_part
from relearn.checks.settling import Settled, drift_per_min, exits, settled, without_tail
from relearn.checks.view import View, lacks
from relearn.events import Episode, Stop
from relearn.procedures.sheets import Sheet
from relearn.verdict import Limits, Outcome, Verdict, combine

UNSETTLED_LAST_S = 60.0


@dataclass(frozen=True)
class Steady:
    """The engine speed over the judged span: what it did, whether or not a target is known."""

    mean_rpm: float
    sd_rpm: float
    min_rpm: float
    max_rpm: float
    drift_rpm_per_min: float | None
    hunting: Swing | None
    from_s: float
    to_s: float
    samples: int


@dataclass(frozen=True)
class Settling:
    """The answer with all that was seen. settle_s counts from the judged episode's beginning; strays are capture
    times."""

    verdict: Verdict
    target: Limits | None
    judged: Episode | None = None
    settle_s: float | None = None
    settle_uncertainty_s: float | None = None
    strays: tuple[float, ...] = ()
    steady: Steady | None = None
    episodes: tuple[Episode, ...] = ()
    stops: tuple[Stop, ...] = ()
    extras: tuple[Extra, ...] = ()
    remarks: tuple[str, ...] = ()


def settle(view: View, sheet: Sheet, target: Limits | None) -> Settling:
    """Judge the last idle episode of at least idle.hold_s with at least idle.least_samples.

    target: the speed window in rpm, None when nobody said. Yes needs every part to be a yes: settled, warm, stopped,
    no stall; the vehicle sheet's own limits at idle as well (checks.extras). An unknown pedal is only said.
    Cannot tell: no engine speed, no episode long enough, no target, no coolant or vehicle speed in the capture.
    """
    speed = engine_speed(view)
    if speed is None:
        return Settling(Verdict("settle", Outcome.CANNOT_TELL, "no engine speed in the capture"), target)
    found, halts = idle_episodes(view, sheet), engine_stops(view, sheet)
    remarks = _remarks(next(iter(pedal.shown(view)), None), found, halts, speed)
    judged = _last_long_enough(found, speed, sheet)
    if judged is None:
        return Settling(_no_episode(found, halts, sheet), target, episodes=found, stops=halts, remarks=remarks)
    return _judge(view, sheet, target, judged, found, halts, remarks, speed)


def _last_long_enough(found: Sequence[Episode], speed: Channel, sheet: Sheet) -> Episode | None:
    least_s, least = sheet.number("idle.hold_s") or 0.0, sheet.number("idle.least_samples") or 0.0
    return next(
        (
            one
            for one in reversed(found)
            if one.duration_s >= least_s and len(between(speed, one.from_s, one.to_s)) >= least
        ),
        None,
    )


def _no_episode(found: Sequence[Episode], halts: Sequence[Stop], sheet: Sheet) -> Verdict:
    stall = next((halt for halt in halts if halt.kind == "stalled"), None)
    if stall is not None:
        return Verdict("settle", Outcome.NO, stalled(stall), (stop_evidence(stall),))
    longest = max((one.duration_s for one in found), default=0.0)
    return Verdict(
        "settle",
        Outcome.CANNOT_TELL,
        f"no idle lasted long enough to be judged: the longest {longest:.0f} s of the "
        f"{sheet.number('idle.hold_s') or 0:g} s asked",
    )


def _judge(
    view: View,
    sheet: Sheet,
    target: Limits | None,
    judged: Episode,
    found: tuple[Episode, ...],
    halts: tuple[Stop, ...],
    remarks: tuple[str, ...],
    speed: Channel,
) -> Settling:
    samples = without_tail(
        between(speed, judged.from_s, judged.to_s), target if judged.ended != "capture-end" else None
    )
    when = settled(samples, target) if target is not None else Settled(None)
    by_eye = [name for name in ("coolant_temperature", "vehicle_speed") if lacks(view, (name,))]
    warm, warm_from_s = warm_part(view.channels.get("coolant_temperature"), sheet, judged)
    span_from_s = max(judged.from_s if when.at_s is None else when.at_s, warm_from_s)
    stay = between(samples, span_from_s, np.inf) if when.at_s is not None else None
    steady = _steady(stay, samples, sheet.number("idle.hold_s") or 0.0)
    stopped = stopped_part(view.channels.get("vehicle_speed"), sheet, span_from_s, judged.to_s)
    parts = (
        _speed_part(samples, when, span_from_s, target, sheet, steady),
        stall_part(halts, judged, speed),
        *(part for name, part in (("coolant_temperature", warm), ("vehicle_speed", stopped)) if name not in by_eye),
    )
    more = extras(view, sheet, steady.from_s, steady.to_s)
    children = (*parts, *hunting_part(steady.hunting, sheet), *(one.verdict for one in more if one.verdict is not None))
    outcome = combine(child.outcome for child in children)
    reasons = _sentence(outcome, children, by_eye)
    settle_s = None if when.at_s is None else when.at_s - judged.from_s
    return Settling(
        Verdict("settle", outcome, reasons, children=children),
        target,
        judged,
        settle_s,
        None if when.at_s is None else when.uncertainty_s,
        when.strays,
        steady,
        found,
        halts,
        more,
        remarks,
    )


def _sentence(outcome: Outcome, children: Sequence[Verdict], by_eye: Sequence[str]) -> str:
    """Why: every part that has the whole's outcome; of a yes, the speed's own and the names of the rest."""
    deciding = [child for child in children if child.outcome is outcome]
    if outcome is Outcome.YES:
        said = [
            deciding[0].reason,
            "also yes: " + ", ".join(child.id.replace("_", " ").replace("no-", "no ") for child in deciding[1:]),
        ]
    else:
        said = [child.reason for child in deciding]
    return "; ".join(said + [f"the module has no {name.replace('_', ' ')}: confirm by eye" for name in by_eye])


def _speed_part(
    samples: Channel, when: Settled, from_s: float, target: Limits | None, sheet: Sheet, steady: Steady
) -> Verdict:
    """Inside the window from some moment on, and then for idle.hold_s with idle.least_samples."""
    if target is None:
        return Verdict("speed", Outcome.CANNOT_TELL, "no target idle speed: give --target and --tolerance or a sheet")
    least_s, least = sheet.number("idle.hold_s") or 0.0, sheet.number("idle.least_samples") or 0.0
    stay = between(samples, from_s, np.inf)
    counted = stay.take(~np.isin(stay.time_s, when.strays))
    evidence = (worst(counted if when.at_s is not None and len(counted) else samples, target),)
    if when.at_s is None:
        return Verdict(
            "speed",
            Outcome.NO,
            f"engine speed did not stay at {target.describe()} "
            f"(mean {steady.mean_rpm:.0f}, {steady.min_rpm:.0f} to {steady.max_rpm:.0f} rpm)",
            evidence,
        )
    stay_s = float(samples.time_s[-1]) - from_s
    if stay_s < least_s and exits(between(samples, float(samples.time_s[-1]) - least_s, np.inf), target) > 1:
        return Verdict(
            "speed",
            Outcome.NO,
            f"engine speed keeps leaving {target.describe()} ({steady.min_rpm:.0f} to {steady.max_rpm:.0f} rpm)",
            evidence,
        )
    if stay_s < least_s or len(stay) < least:
        return Verdict(
            "speed",
            Outcome.CANNOT_TELL,
            f"the warm idle stayed at {target.describe()} for only "
            f"{max(stay_s, 0.0):.1f} s with {len(stay)} samples (asked {least_s:g} s and {least:g})",
            evidence,
        )
    return Verdict(
        "speed",
        Outcome.YES,
        f"engine speed stayed at {target.describe()} for {stay_s:.0f} s (mean {steady.mean_rpm:.0f} rpm)",
        evidence,
    )


def _later_part(episode: Channel) -> Channel:
    begin_s, end_s = float(episode.time_s[0]), float(episode.time_s[-1])
    part = between(episode, end_s - min(UNSETTLED_LAST_S, (end_s - begin_s) / 2), end_s)
    return part if len(part) >= 2 else episode


def _steady(stay: Channel | None, episode: Channel, least_s: float) -> Steady:
    """Over the stay when it is as long as asked, else over the episode's later part: its last 60 s, and of a short one
    its second half, so that the flare of a start does not count as swing."""
    if stay is not None and len(stay) > 1 and stay.time_s[-1] - stay.time_s[0] >= least_s:
        return _measured(stay)
    return _measured(_later_part(episode))


def _measured(over: Channel) -> Steady:
    return Steady(
        float(over.value.mean()),
        float(over.value.std()),
        float(over.value.min()),
        float(over.value.max()),
        drift_per_min(over),
        swing(over),
        float(over.time_s[0]),
        float(over.time_s[-1]),
        len(over),
    )


def _remarks(
    presser: Channel | None, found: Sequence[Episode], halts: Sequence[Stop], speed: Channel
) -> tuple[str, ...]:
    """What must be said whatever the verdict."""
    said = [] if presser is not None else ["pedal unknown: the capture shows no pedal position"]
    interval_s = median_interval_s(speed) or 0.0
    if interval_s > slowest_interval_s():
        said.append(f"engine speed was read every {interval_s:.1f} s: too slow to name a swing's frequency")
    said += [
        f"the engine stopped itself at {halt.time_s:.1f} s and restarted by itself at {halt.restarted_s:.1f} s, "
        "which is not a stall"
        for halt in halts
        if halt.kind == "stopped-itself" and halt.restarted_s is not None
    ]
    said += [f"the engine was switched off at {halt.time_s:.1f} s" for halt in halts if halt.kind == "switched-off"]
    if found and found[0].began == "capture-start":
        said.append("the capture begins with the engine already idling, so that settling may have begun before it")
    return tuple(said)
