"""The idle watched until it settles: what is still missing, and how long yet."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import numpy as np

from relearn.analysis.common import engine_module, view
from relearn.analysis.settle import settle, target
from relearn.channels import between
from relearn.checks.holding import inside
from relearn.checks.idle import engine_speed, idle_episodes
from relearn.checks.settling import settled
from relearn.checks.step_progress import since
from relearn.checks.view import View
from relearn.coach.standing import Standing
from relearn.coach.told import Told
from relearn.findings.advice import IdleNow
from relearn.findings.answers import SettleFindings
from relearn.findings.base import TextLine
from relearn.j1979.series import Series
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording

CURRENT_S = 2.0  # an older engine speed is not what the engine does now
BEFORE_START_S = 5.0  # of what led to the last start


def idling(
    recording: Recording, seen: View, standing: Standing, sheet: Sheet, found: SettleFindings | None = None
) -> Told:
    """The fields of Advice of this stage; the verdict is that of `relearn settle` on the data since it began.

    found: the idle as `judge` found it a moment ago; judged here without it. What counts on is of now all the same, and
    a yes needs an idle that is still inside its window.
    """
    found = judge(recording, standing, sheet) if found is None else found
    idle = _now(found, since(seen, _judged_from_s(seen, _began_s(recording, standing), sheet)), sheet)
    if found.verdict == "yes" and idle.left_s != 0.0:
        return Told(verdict="cannot tell", reasons=("it is to be judged once more",), idle=idle, say=_say(found, idle))
    return Told(verdict=found.verdict, reasons=found.reasons[:1], idle=idle, say=_say(found, idle))


def judge(recording: Recording, standing: Standing, sheet: Sheet) -> SettleFindings:
    """The idle since the stage began. It takes longer the longer it idles: some tenths of a second and more."""
    module = engine_module(recording, None)
    since_s = _judged_from_s(view(recording, module), _began_s(recording, standing), sheet)
    return settle(_since(recording, since_s), sheet, module or None)


def _began_s(recording: Recording, standing: Standing) -> float:
    return standing.since_s - (recording.start_unix_s or 0.0)


def _judged_from_s(seen: View, since_s: float, sheet: Sheet) -> float:
    """From when on the idle is judged: since the stage began, and of several starts of the engine the last one, with
    what led to it, so that a stall is seen. Nothing before it can become a yes, and judging it all takes its time."""
    speed = engine_speed(since(seen, since_s))
    if speed is None:
        return since_s
    running = inside(speed, sheet.need("engine.running_rpm"))
    starts = np.flatnonzero(running[1:] & ~running[:-1])
    return max(since_s, float(speed.time_s[starts[-1]]) - BEFORE_START_S) if len(starts) else since_s


def _since(recording: Recording, since_s: float) -> Recording:
    """The recording without values older than that."""
    return replace(recording, series=tuple(cut for one in recording.series if len(cut := _later(one, since_s))))


def _later(one: Series, since_s: float) -> Series:
    later = one.time_s >= since_s
    return replace(one, time_s=one.time_s[later], value=one.value[later], frame=one.frame[later])


def _now(found: SettleFindings, seen: View, sheet: Sheet) -> IdleNow:
    speed, window = engine_speed(seen), target(sheet)
    asked_s = sheet.number("idle.hold_s") or 0.0
    age_s = seen.end_s - float(speed.time_s[-1]) if speed is not None else None
    current = age_s is not None and age_s <= CURRENT_S
    held_s = _held_s(seen, sheet) if current else None
    return IdleNow(
        speed_rpm=float(speed.value[-1]) if speed is not None and current else None,
        age_s=None if age_s is None else round(age_s, 1),
        window=window.describe() if window is not None else "",
        held_s=held_s,
        asked_s=asked_s,
        left_s=None if held_s is None else round(max(0.0, asked_s - held_s), 1),
        missing=tuple(
            TextLine(id=one.id, text=one.id.replace("_", " ").replace("-", " "), why=one.reason)
            for one in found.parts
            if one.verdict != "yes" and one.id != "settle"
        ),
    )


def _held_s(seen: View, sheet: Sheet) -> float | None:
    """How long the newest idle has stayed inside its window; None while it does not idle or is outside."""
    speed, window = engine_speed(seen), target(sheet)
    idle = next(reversed(idle_episodes(seen, sheet)), None)
    if speed is None or window is None or idle is None or idle.ended != "capture-end":
        return None
    samples = between(speed, idle.from_s, idle.to_s)
    at_s = settled(samples, window).at_s if len(samples) else None
    return None if at_s is None else round(float(samples.time_s[-1]) - at_s, 2)


def _say(found: SettleFindings, idle: IdleNow) -> str:
    if found.verdict == "yes" and idle.left_s == 0.0:
        return "The idle has settled."
    if not idle.window:
        return "No target idle speed is known, so this cannot become a yes: give a vehicle sheet, or go on with n."
    if idle.speed_rpm is None:
        how_long = "yet" if idle.age_s is None else f"for {idle.age_s:.0f} s"
        return f"The engine speed is not read {how_long}: whether it idles as it should cannot be told."
    if idle.held_s is None:
        return f"Let it idle, foot off the pedal: the speed is not inside {idle.window}."
    if idle.left_s:
        return f"Let it idle, foot off the pedal, for {ceil(idle.left_s)} s more."
    return f"Let it idle, foot off the pedal: {found.reasons[0]}."
