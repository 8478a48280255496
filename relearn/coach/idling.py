"""The idle watched until it settles: what is still missing, and how long yet."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from relearn.analysis.settle import settle, target
from relearn.channels import between
from relearn.checks.idle import engine_speed
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


def idling(recording: Recording, seen: View, standing: Standing, sheet: Sheet) -> Told:
    """The fields of Advice of this stage; the verdict is that of `relearn settle` on the data since it began."""
    since_s = standing.since_s - (recording.start_unix_s or 0.0)
    found = settle(_since(recording, since_s), sheet, seen.module or None)
    idle = _now(found, since(seen, since_s), sheet)
    return Told(verdict=found.verdict, reasons=found.reasons[:1], idle=idle, say=_say(found, idle))


def _since(recording: Recording, since_s: float) -> Recording:
    """The recording without values older than that."""
    return replace(recording, series=tuple(cut for one in recording.series if len(cut := _later(one, since_s))))


def _later(one: Series, since_s: float) -> Series:
    later = one.time_s >= since_s
    return replace(one, time_s=one.time_s[later], value=one.value[later], frame=one.frame[later])


def _now(found: SettleFindings, seen: View, sheet: Sheet) -> IdleNow:
    speed, window = engine_speed(seen), target(sheet)
    asked_s = sheet.number("idle.hold_s") or 0.0
    held_s = _held_s(found, seen, sheet)
    return IdleNow(
        speed_rpm=float(speed.value[-1]) if speed is not None else None,
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


def _held_s(found: SettleFindings, seen: View, sheet: Sheet) -> float | None:
    """How long the newest idle has stayed inside its window; None while it does not idle or is outside."""
    speed, window = engine_speed(seen), target(sheet)
    idle = found.episodes[-1] if found.episodes else None
    if speed is None or window is None or idle is None or idle.ended != "capture-end":
        return None
    samples = between(speed, idle.from_s, idle.to_s)
    at_s = settled(samples, window).at_s if len(samples) else None
    return None if at_s is None else round(float(samples.time_s[-1]) - at_s, 2)


def _say(found: SettleFindings, idle: IdleNow) -> str:
    if found.verdict == "yes":
        return "The idle has settled."
    if not idle.window:
        return "No target idle speed is known, so this cannot become a yes: give a vehicle sheet, or go on with n."
    if idle.held_s is None:
        return f"Let it idle, foot off the pedal: the speed is not inside {idle.window}."
    if idle.left_s:
        return f"Let it idle, foot off the pedal, for {ceil(idle.left_s)} s more."
    return f"Let it idle, foot off the pedal: {found.reasons[0]}."
