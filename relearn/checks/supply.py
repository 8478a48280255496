"""Was the supply held inside its window, without sags and surges?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, between, fresh_within_s, implausible, longest_gap_s, plausible_only
from relearn.checks.holding import worst
from relearn.verdict import Evidence, Limits, Outcome, Verdict

SOURCES = ("battery_voltage", "control_module_voltage")  # a meter at the battery sees more than the module does
LAST_S = 60.0
LEAST_SAMPLES = 10
LEAST_SPAN_S = 10.0


@dataclass(frozen=True)
class Excursion:
    """One stretch outside the window. depth_v: how far the worst sample lay beyond the limit."""

    kind: str
    start_s: float
    length_s: float
    worst_v: float
    depth_v: float
    samples: int
    first_frame: int
    last_frame: int


@dataclass(frozen=True)
class Steadiness:
    """The last minute (or what there is of it): mean, spread and range of the supply."""

    span_s: float
    mean_v: float
    sd_v: float
    min_v: float
    max_v: float
    samples: int


@dataclass(frozen=True)
class Supply:
    """The verdict, every sag and surge, the share of time inside the window (0 to 1) and the last minute."""

    verdict: Verdict
    channel: str | None
    sags: tuple[Excursion, ...] = ()
    surges: tuple[Excursion, ...] = ()
    share_inside: float | None = None
    last_minute: Steadiness | None = None


def source(channels: Mapping[str, Channel]) -> Channel | None:
    """The channel to judge: a meter's battery voltage, else the module's own voltage."""
    return next((channels[name] for name in SOURCES if name in channels and len(channels[name])), None)


def supply(channel: Channel | None, window: Limits, end_s: float) -> Supply:
    """Yes when every sample lies inside the window (ends included) from first to last without a gap.

    no           any plausible sample outside
    cannot tell  no voltage, fewer than ten samples or ten seconds, an implausible reading, a gap longer than
    channels.fresh_within_s, or
                 the newest sample older than that at the end of the capture
    """
    if channel is None:
        return Supply(
            Verdict(
                "supply", Outcome.CANNOT_TELL, "no supply voltage in the capture", (Evidence("supply", limits=window),)
            ),
            None,
        )
    measured = plausible_only(channel)
    sags, surges = excursions(measured, window, "sag"), excursions(measured, window, "surge")
    outcome, reason = _judged(channel, measured, sags, surges, window, end_s)
    verdict = Verdict("supply", outcome, reason, (worst(channel, window),))
    return Supply(verdict, channel.name, sags, surges, share_inside(measured, window), steadiness(measured))


def _judged(
    channel: Channel,
    measured: Channel,
    sags: tuple[Excursion, ...],
    surges: tuple[Excursion, ...],
    window: Limits,
    end_s: float,
) -> tuple[Outcome, str]:
    if sags or surges:
        return Outcome.NO, _named(sags, surges)
    gap_s, limit_s = max(longest_gap_s(channel) or 0.0, end_s - float(channel.time_s[-1])), fresh_within_s(channel)
    if len(measured) < len(channel):
        return Outcome.CANNOT_TELL, f"{int(implausible(channel).sum())} readings are no voltage a module can run on"
    if len(channel) < LEAST_SAMPLES:
        return Outcome.CANNOT_TELL, f"only {len(channel)} voltage samples (at least {LEAST_SAMPLES})"
    if gap_s > limit_s:
        return Outcome.CANNOT_TELL, f"{gap_s:.1f} s without a voltage sample (at most {limit_s:.1f} s)"
    span_s = float(channel.time_s[-1] - channel.time_s[0])
    if span_s < LEAST_SPAN_S:
        return Outcome.CANNOT_TELL, f"only {span_s:.1f} s of voltage (at least {LEAST_SPAN_S:.0f} s)"
    return Outcome.YES, f"{channel.name.replace('_', ' ')} stayed at {window.describe()} for {span_s:.0f} s"


def _named(sags: tuple[Excursion, ...], surges: tuple[Excursion, ...]) -> str:
    both = (*sags, *surges)
    worst = max(both, key=lambda one: one.depth_v)
    counts = [
        f"{len(found)} {word}{'s' if len(found) > 1 else ''}"
        for found, word in ((sags, "sag"), (surges, "surge"))
        if found
    ]
    return (
        f"{' and '.join(counts)}; the worst reached {worst.worst_v:.3f} V at {worst.start_s:.1f} s "
        f"and lasted {worst.length_s:.1f} s"
    )


def excursions(channel: Channel, window: Limits, kind: str) -> tuple[Excursion, ...]:
    """The stretches below the window (kind 'sag') or above it ('surge').

    A stretch runs from its first sample outside to the next sample that is not, or to the last sample there is.
    """
    depth = _beyond(channel.value, window, kind)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], depth > 0, [False])).astype(np.int8)))
    return tuple(_excursion(channel, depth, kind, int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True))


def _beyond(value_v: NDArray[np.float64], window: Limits, kind: str) -> NDArray[np.float64]:
    limit_v = window.low if kind == "sag" else window.high
    if limit_v is None:
        return np.zeros(len(value_v))
    return limit_v - value_v if kind == "sag" else value_v - limit_v


def _excursion(channel: Channel, depth: NDArray[np.float64], kind: str, first: int, after: int) -> Excursion:
    worst = first + int(np.argmax(depth[first:after]))
    until = min(after, len(channel) - 1)
    return Excursion(
        kind,
        float(channel.time_s[first]),
        float(channel.time_s[until] - channel.time_s[first]),
        float(channel.value[worst]),
        float(depth[worst]),
        after - first,
        int(channel.frame[first]),
        int(channel.frame[after - 1]),
    )


def share_inside(channel: Channel, window: Limits) -> float | None:
    """Share of the time inside the window, each sample standing until the next; a gap too long to be bridged counts on
    neither side. None with fewer than two samples."""
    if len(channel) < 2 or channel.time_s[-1] <= channel.time_s[0]:
        return None
    ok = (_beyond(channel.value, window, "sag") <= 0) & (_beyond(channel.value, window, "surge") <= 0)
    lengths_s = np.diff(channel.time_s)
    lengths_s = np.where(lengths_s <= fresh_within_s(channel), lengths_s, 0.0)
    return float((lengths_s * ok[:-1]).sum() / lengths_s.sum()) if lengths_s.any() else None


def steadiness(channel: Channel) -> Steadiness | None:
    """Of the samples in the 60 s before the last one; None without samples."""
    if not len(channel):
        return None
    last = between(channel, float(channel.time_s[-1]) - LAST_S, np.inf)
    return Steadiness(
        float(last.time_s[-1] - last.time_s[0]),
        float(last.value.mean()),
        float(last.value.std()),
        float(last.value.min()),
        float(last.value.max()),
        len(last),
    )
