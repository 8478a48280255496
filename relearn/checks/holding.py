"""Did a channel stay inside its limits, on fresh data, for as long as asked? The one rule all preconditions share.

At a moment `at_s` the rule looks at the last `hold_s`:
  cannot tell  no sample at all; the newest is older than `channels.fresh_within_s`
  no           any measurement in the window is outside the limits
  cannot tell  a sample in the window is implausible; a gap longer than fresh_within_s; the window is not covered from
               its start (the first sample there comes later than one and a half usual intervals, and later than 0.5 s)
  yes          otherwise
`spans` gives every moment with a yes at once, from the same rule.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, between, fresh_within_s, implausible, median_interval_s, plausible_only
from relearn.verdict import Evidence, Limits, Outcome, Verdict, figure

Spans = tuple[tuple[float, float], ...]
LEAST_START_SLACK_S = 0.5


@dataclass(frozen=True)
class Pace:
    """What a channel's own sampling allows: how long a gap may be, and how late the first sample of a window may come
    when nothing earlier covers it."""

    gap_s: float
    start_s: float

    @classmethod
    def of(cls, channel: Channel) -> Pace:
        """From the whole channel, so that every moment of a capture is judged alike."""
        return cls(fresh_within_s(channel), max(LEAST_START_SLACK_S, 1.5 * (median_interval_s(channel) or 0.0)))


def held(name: str, channel: Channel | None, limits: Limits, at_s: float, hold_s: float) -> Verdict:
    """The rule above at one moment; the evidence is the measurement nearest to (or furthest beyond) its limit."""
    past = between(channel, -np.inf, at_s) if channel is not None else None
    if channel is None or past is None or not len(past):
        return Verdict(name, Outcome.CANNOT_TELL, "not in the capture", (Evidence(name, limits=limits),))
    pace, newest = Pace.of(channel), past.take(slice(-1, None))
    window = between(past, at_s - hold_s, at_s)
    decides = worst(window if len(window) else newest, limits)
    age_s = at_s - float(newest.time_s[0])
    if age_s > pace.gap_s:
        return Verdict(
            name,
            Outcome.CANNOT_TELL,
            f"the newest sample is {age_s:.1f} s old (at most {pace.gap_s:.1f} s)",
            (decides,),
        )
    earlier = past.take(past.time_s < at_s - hold_s).take(slice(-1, None))
    gap = _gap(window, earlier, limits, at_s - hold_s, pace)
    return _judged(name, window, limits, decides, gap)


def _judged(name: str, window: Channel, limits: Limits, decides: Evidence, gap: str | None) -> Verdict:
    measured = plausible_only(window)
    outside = int((~inside(measured, limits)).sum())
    if outside:
        why = f"{_beside(decides, limits)} ({outside} of {len(window)} samples)"
        return Verdict(name, Outcome.NO, why, (decides,))
    if len(measured) < len(window):
        broken = _broken(window, limits)
        why = f"{_shown(broken, window.unit)} is no measurement but a broken circuit"
        return Verdict(name, Outcome.CANNOT_TELL, why, (broken,))
    if gap is not None:
        return Verdict(name, Outcome.CANNOT_TELL, gap, (decides,))
    return Verdict(name, Outcome.YES, f"{limits.describe()} throughout", (decides,))


def _beside(decides: Evidence, limits: Limits) -> str:
    """A value outside its limits, beside them. A count is asked to be none at all."""
    value, wanted = _shown(decides, limits.unit), limits.describe()
    return f"{value}, asked {wanted}" if wanted == "none" else f"{value} is not {wanted}"


def _shown(evidence: Evidence, unit: str) -> str:
    return f"{figure(evidence.value)} {unit}".strip() if isinstance(evidence.value, int | float) else "–"


def _broken(window: Channel, limits: Limits) -> Evidence:
    """The newest value that is no measurement."""
    value = float(window.value[implausible(window)][-1])
    return replace(evidence_of(window.name, window, value, limits), measured=False)


def _gap(window: Channel, earlier: Channel, limits: Limits, from_s: float, pace: Pace) -> str | None:
    """Why good samples do not cover the window, None when they do. earlier: the last sample before it, or none."""
    gap_s = float(np.diff(window.time_s).max(initial=0.0))
    if gap_s > pace.gap_s:
        return f"a gap of {gap_s:.1f} s without samples"
    first_s = float(window.time_s[0]) if len(window) else None
    if len(earlier) and good(earlier, limits)[0] and (first_s is None or first_s - earlier.time_s[0] <= pace.gap_s):
        return None
    if first_s is None:
        return "no samples in the window"
    late_s = first_s - from_s
    return None if late_s <= pace.start_s else f"no samples in the first {late_s:.1f} s of the window"


def inside(channel: Channel, limits: Limits) -> NDArray[np.bool_]:
    """True for each value inside the limits (verdict.Limits.holds, for a whole array)."""
    ok = ~np.isnan(channel.value)
    if limits.low is not None:
        ok &= (channel.value > limits.low) if limits.low_open else (channel.value >= limits.low)
    return ok & (channel.value <= limits.high) if limits.high is not None else ok


def good(channel: Channel, limits: Limits) -> NDArray[np.bool_]:
    """True for each sample that is a measurement and inside the limits."""
    return inside(channel, limits) & ~implausible(channel)


def worst(channel: Channel, limits: Limits) -> Evidence:
    """The sample with the smallest margin, with the span of all of them; implausible ones only if there is no other."""
    measured = plausible_only(channel)
    shown = measured if len(measured) else channel
    margins = [limits.margin(float(value)) for value in shown.value]
    found = evidence_of(channel.name, channel, float(shown.value[int(np.argmin(margins))]), limits)
    return replace(found, measured=len(measured) > 0)


def evidence_of(subject: str, channel: Channel, value: float, limits: Limits) -> Evidence:
    """A value that a channel's samples gave, with their time span, number and frames."""
    return Evidence(
        subject,
        value,
        limits,
        float(channel.time_s[0]),
        float(channel.time_s[-1]),
        len(channel),
        int(channel.frame[0]),
        int(channel.frame[-1]),
    )


def spans(channel: Channel, limits: Limits, hold_s: float, end_s: float) -> Spans:
    """Every moment up to end_s at which `held` says yes, as closed spans in time order.

    A run of good samples without a long gap, beginning at a and followed by nothing good after b, gives yes from the
    moment its window is covered until the last sample goes stale or the next bad one arrives.
    """
    if not len(channel):
        return ()
    ok, pace = good(channel, limits), Pace.of(channel)
    joined = ok[1:] & ok[:-1] & (np.diff(channel.time_s) <= pace.gap_s)
    first = np.flatnonzero(ok & ~np.append(False, joined))
    last = np.flatnonzero(ok & ~np.append(joined, False))
    previous_s = np.append(-np.inf, channel.time_s)[first]
    following_s = np.append(channel.time_s, np.inf)[last + 1]
    begun_s, ended_s = channel.time_s[first], channel.time_s[last]
    covered_s = np.maximum(begun_s - pace.start_s, np.nextafter(previous_s, np.inf))
    from_s = np.maximum(begun_s, covered_s + hold_s)
    until_s = np.minimum(np.minimum(ended_s + pace.gap_s, np.nextafter(following_s, -np.inf)), end_s)
    some = until_s > from_s
    return tuple(zip(from_s[some].tolist(), until_s[some].tolist(), strict=True))


def as_sampled(found: Spans, channel: Channel, end_s: float) -> Spans:
    """Spans of a channel as they are told afterwards: each ends with its last sample, unless it reaches end_s. Behind
    that sample the rule went on saying yes only because nothing newer had come yet."""
    last = np.searchsorted(channel.time_s, [b for _, b in found], "right") - 1
    ends_s = [b if b >= end_s else float(channel.time_s[k]) for (_, b), k in zip(found, last, strict=True)]
    return tuple((a, b) for (a, _), b in zip(found, ends_s, strict=True) if b > a)


def common(several: list[Spans]) -> Spans:
    """The spans that lie in every one of several; of nothing at all, none."""
    if not several:
        return ()
    shared = several[0]
    for other in several[1:]:
        shared = tuple((max(a, c), min(b, d)) for a, b in shared for c, d in other if min(b, d) > max(a, c))
    return shared


def union(several: list[Spans]) -> Spans:
    """The moments that lie in any of several spans, joined where they touch."""
    joined: list[tuple[float, float]] = []
    for a, b in sorted(span for found in several for span in found):
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return tuple(joined)
