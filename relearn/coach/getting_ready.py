"""Getting ready: each measured precondition as it is now, and what is seen by eye."""

from __future__ import annotations

from relearn.analysis.ready import ready
from relearn.channels import Channel, between, fresh_within_s, median_interval_s, plausible_only
from relearn.checks.settling import drift_per_min
from relearn.checks.step_place import PRESSES
from relearn.checks.timeline import CHANNELS, PEDAL
from relearn.checks.view import View
from relearn.coach.standing import Standing
from relearn.coach.told import Told
from relearn.findings.advice import EyeRow, HeldRow
from relearn.findings.answers import PreconditionRow, ReadyFindings, WarmUpDoc
from relearn.findings.base import wall_clock
from relearn.procedures.sheets import Sheet
from relearn.procedures.steps import planned_steps
from relearn.recording import Recording

NOT_READY = {"no": "Not ready", "cannot tell": "Not known yet"}
LEAST_HZ = 8.0  # a press peaks for about 0.15 s (checks/step_patterns.py)
RATE_OVER_S = 10.0
TREND_S = 60.0  # coolant is read in whole degrees and rises some of them in a minute


def getting_ready(recording: Recording, seen: View, standing: Standing, sheet: Sheet) -> Told:
    """The fields of Advice of this stage; the verdict is that of `relearn ready` on the recording up to now."""
    found = ready(recording, standing.relearn, sheet, seen.module or None) if recording.modules else None
    if found is None:
        return Told(verdict="cannot tell", reasons=("no module has answered",), say="Switch the ignition on.")
    eye = eye_rows(found, standing)
    return Told(
        verdict=found.verdict,
        reasons=found.reasons,
        preconditions=tuple(_row(one, _channel(found, one, seen), seen.end_s) for one in found.preconditions),
        warm_up=warm_up(found.warm_up),
        by_eye=eye,
        say=_say(found, eye),
        notes=pedal_too_slow(seen, standing.relearn, sheet),
    )


def eye_rows(found: ReadyFindings, standing: Standing) -> tuple[EyeRow, ...]:
    """What is seen by eye, with the time at which somebody confirmed it."""
    when = {one.item: wall_clock(one.time_s) for one in standing.confirmed}
    return tuple(EyeRow(id=one.id, text=one.text, why=one.why, confirmed=when.get(one.id)) for one in found.by_eye)


def warm_up(made: WarmUpDoc | None) -> str:
    """When coolant will be ready, in words; nothing when it is."""
    if made is None:
        return ""
    if made.reach_s is None or not made.trusted:
        return f"when coolant reaches {made.target_c:g} °C cannot be told yet: {made.reason}"
    between_s = (
        f" ({made.low_s:.0f} to {made.high_s:.0f} s)" if made.low_s is not None and made.high_s is not None else ""
    )
    return f"coolant reaches {made.target_c:g} °C in about {made.reach_s:.0f} s{between_s}"


def _say(found: ReadyFindings, eye: tuple[EyeRow, ...]) -> str:
    unseen = [one for one in eye if one.confirmed is None]
    wrong = [one for one in found.preconditions if one.verdict != "yes"]
    if wrong:
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        known = next((one for one in wrong if one.verdict == "no"), wrong[0])
        return f"{NOT_READY[known.verdict]}: {_said(known)}{more}."
    if unseen:
        return f"Look, and confirm with Enter: {unseen[0].text}."
    return "Ready. Go on to the steps with n."


def _said(one: PreconditionRow) -> str:
    """The precondition and why; of 'ignition on: the module answers' only what comes first."""
    return f"{one.text.split(':')[0]}: {one.reason}"


def pedal_too_slow(seen: View, relearn: str, sheet: Sheet) -> tuple[str, ...]:
    """Said where a relearn has presses and the pedal is read too seldom to count them."""
    presses = [one for one in planned_steps(relearn, sheet) if PRESSES in one.shows]
    pedal = next((seen.channels[one] for one in CHANNELS[PEDAL] if one in seen.channels), None)
    recent = between(pedal, seen.end_s - RATE_OVER_S, seen.end_s) if pedal is not None else None
    interval_s = median_interval_s(recent) if recent is not None else None
    if not presses or interval_s is None or interval_s <= 1 / LEAST_HZ:
        return ()
    return (
        f"the pedal is read only {1 / interval_s:.1f} times a second: the {presses[0].id} cannot be counted at this "
        "rate, so that the steps cannot become a yes",
    )


def _channel(found: ReadyFindings, row: PreconditionRow, seen: View) -> Channel | None:
    """The channel that decided a row; None where it was no channel (a list of codes, the silence between answers)."""
    part = next(one for one in found.parts if one.id == row.id)
    return seen.channels.get(part.evidence[0].subject) if part.evidence else None


def _row(row: PreconditionRow, channel: Channel | None, now_s: float) -> HeldRow:
    fresh = channel is not None and len(channel) and now_s - float(channel.time_s[-1]) <= fresh_within_s(channel)
    return HeldRow(
        id=row.id,
        text=row.text,
        verdict=row.verdict,
        value=_number(row) if channel is None else float(channel.value[-1]) if fresh else None,
        unit=row.unit,
        limits=row.limits,
        low_open=row.low_open,
        margin=row.margin if fresh or (channel is None and row.verdict != "cannot tell") else None,
        trend_per_min=trend_per_min(channel, now_s) if channel is not None and fresh else None,
        reason=row.reason,
        standing=row.standing,
    )


def _number(row: PreconditionRow) -> float | None:
    """What a row that no channel decided shows, as long as it is fresh enough to be judged."""
    return float(row.value) if isinstance(row.value, int | float) and row.verdict != "cannot tell" else None


def trend_per_min(channel: Channel, now_s: float) -> float | None:
    """The change of the last TREND_S in a minute, None over less than 2 s."""
    recent = plausible_only(between(channel, now_s - TREND_S, now_s))
    slope = drift_per_min(recent) if len(recent) > 2 else None
    return None if slope is None else round(slope, 6)
