"""Did the idle settle? The last idle episode long enough is judged: inside target ± tolerance, then 20 s and more of
it, warm, stopped, pedal released, and no stall in it or after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from relearn.channels import Channel, between, median_interval_s
from relearn.checks import pedal
from relearn.checks.extras import Extra, extras
from relearn.checks.hunting import slowest_interval_s
from relearn.checks.idle import engine_speed, engine_stops, idle_episodes, last_long_enough, none_long_enough
from relearn.checks.idle_parts import hunting_part, stall_part, stopped_part, stopped_words, warm_part
from relearn.checks.idle_speed import Asked, Steady, speed_part, steadiness
from relearn.checks.settling import Settled, settled, without_tail
from relearn.checks.view import View, lacks
from relearn.events import Episode, Stop
from relearn.procedures.sheets import Sheet
from relearn.verdict import Limits, Outcome, Verdict, combine

SHORT_PRESS_S = 1.0  # a blip of the pedal lasts about as long


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
    judged = last_long_enough(found, speed, sheet)
    if judged is None:
        return Settling(
            _no_episode(found, halts, sheet, view.end_s), target, episodes=found, stops=halts, remarks=remarks
        )
    return _judge(view, sheet, target, judged, found, halts, remarks, speed)


def _no_episode(found: Sequence[Episode], halts: Sequence[Stop], sheet: Sheet, end_s: float) -> Verdict:
    """A stall is a no however short the idle was; otherwise nothing was long enough to tell."""
    part = stall_part(halts, -np.inf, end_s)
    if part.outcome is Outcome.NO:
        return Verdict("settle", Outcome.NO, part.reason, part.evidence)
    return Verdict("settle", Outcome.CANNOT_TELL, none_long_enough(found, sheet))


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
    asked = Asked(target, sheet.number("idle.hold_s") or 0.0, sheet.number("idle.least_samples") or 0.0)
    steady = steadiness(samples, when, span_from_s, asked)
    speed_verdict = speed_part(samples, when, span_from_s, asked, steady)
    stopped = stopped_part(view.channels.get("vehicle_speed"), sheet, span_from_s, judged.to_s)
    parts = (
        speed_verdict,
        stall_part(halts, judged.from_s, view.end_s),
        *(part for name, part in (("coolant_temperature", warm), ("vehicle_speed", stopped)) if name not in by_eye),
    )
    more = extras(view, sheet, steady.from_s, steady.to_s)
    children = (*parts, *hunting_part(steady.hunting, sheet), *(one.verdict for one in more if one.verdict is not None))
    outcome = combine(child.outcome for child in children)
    reasons = _sentence(outcome, children, by_eye)
    settle_s, uncertainty_s = _settle_s(when, judged) if speed_verdict.outcome is Outcome.YES else (None, None)
    return Settling(
        Verdict("settle", outcome, reasons, children=children),
        target,
        judged,
        settle_s,
        uncertainty_s,
        when.strays,
        steady,
        found,
        halts,
        more,
        remarks,
    )


def _settle_s(when: Settled, judged: Episode) -> tuple[float, float]:
    """From the episode's beginning to the moment, and how far off sampling may put either end."""
    begin_s = 0.0 if judged.since_s is None else judged.from_s - judged.since_s
    return (when.at_s or judged.from_s) - judged.from_s, max(when.uncertainty_s, begin_s)


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


def _remarks(
    presser: Channel | None, found: Sequence[Episode], halts: Sequence[Stop], speed: Channel
) -> tuple[str, ...]:
    """What must be said whatever the verdict: what is unknown, what was read too seldom, every stop of the engine."""
    said = [] if presser is not None else ["pedal unknown: the capture shows no pedal position"]
    press_s, interval_s = median_interval_s(presser) if presser is not None else None, median_interval_s(speed) or 0.0
    if press_s is not None and press_s > SHORT_PRESS_S:
        said.append(f"the pedal was read every {press_s:.1f} s: a shorter press would not be seen")
    if interval_s > slowest_interval_s():
        said.append(
            f"engine speed was read every {interval_s:.2f} s: a swing faster than {0.5 / interval_s:.2f} Hz "
            "can look like a slower one"
        )
    said += [stopped_words(halt) for halt in halts]
    if found and found[0].began == "capture-start":
        said.append("the capture begins with the engine already idling, so that settling may have begun before it")
    return tuple(said)
