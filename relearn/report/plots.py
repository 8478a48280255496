"""Plots of a capture as one inline SVG: channels under each other on one time axis, limits as bands, the judged span
hatched and bracketed. Made to be read on grey paper. Nothing here judges; no pyplot, no global figure."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from itertools import pairwise
from statistics import median
from xml.etree import ElementTree

import matplotlib
import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from relearn.findings.base import Range
from relearn.findings.job import Trace
from relearn.report.words import plain, window

WIDTH_IN, PANEL_IN, AXIS_IN = 7.1, 1.0, 0.45  # 7.1 inches fit between the margins of both A4 and Letter
MOST_LETTERS = 48
MOST_DRAWN = 1e12  # no reading of a car comes near; beyond, axis labels make no sense
FEW = 200  # so few samples are drawn as points too
GAP_S, GAP_INTERVALS = 15.0, 10.0  # a line is not drawn across a longer silence
INK, BAND, EDGE, QUIET = "#1d2733", "#dfe7e1", "#5b7264", "#8a939c"
LOOK = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.size": 8.0,
    "axes.titlesize": 8.0,
    "axes.labelsize": 8.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": QUIET,
    "axes.linewidth": 0.6,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.titlelocation": "left",
    "hatch.linewidth": 0.4,
    "axes.formatter.useoffset": False,
}
SVG, XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
ElementTree.register_namespace("", SVG)
ElementTree.register_namespace("xlink", XLINK)


def drawable(trace: Trace) -> bool:
    """At least one sample, and every number of a size that an axis can show."""
    numbers = (*trace.time_s, *trace.value, *(trace.judged_s or ()))
    return bool(trace.time_s) and all(abs(one) <= MOST_DRAWN for one in numbers)


def chapter_svg(traces: Sequence[Trace], salt: str) -> str:
    """One <svg> element for inline use, '' where no trace is drawable.

    salt: a word of its own for each picture of a page; it keeps identifiers apart, and the same traces and salt give
    the same bytes. Text stays text, escaped.
    """
    shown = [trace for trace in traces if drawable(trace)]
    if not shown:
        return ""
    with matplotlib.style.context(["default", {**LOOK, "svg.hashsalt": salt}]), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # the reader's own font draws the text, not ours
        return _inline(_figure(shown), ", ".join(f"{_title(one)} against time" for one in shown))


def _figure(traces: Sequence[Trace]) -> Figure:
    figure = Figure(figsize=(WIDTH_IN, PANEL_IN * len(traces) + AXIS_IN), layout="constrained")
    panels = figure.subplots(len(traces), 1, sharex=True, squeeze=False)[:, 0]
    for axes, trace in zip(panels, traces, strict=True):
        _panel(axes, trace)
    times_s = [one_s for trace in traces for one_s in (*trace.time_s, *judged(trace))]
    first_s, last_s = min(times_s), max(times_s)
    edge_s = max(0.01 * (last_s - first_s), 0.5)
    panels[-1].set_xlim(first_s - edge_s, last_s + edge_s)
    panels[-1].set_xlabel("seconds since the start of the capture")
    _bracket(panels[0], traces[0])
    figure.align_ylabels(list(panels))
    return figure


def _panel(axes: Axes, trace: Trace) -> None:
    low, high = view(trace)
    axes.set_ylim(low, high)
    _band(axes, trace.limits, low, high)
    _span(axes, trace)
    time_s, value = broken_at_gaps(trace.time_s, trace.value)
    axes.plot(
        time_s,
        value,
        color=INK,
        linewidth=0.9,
        zorder=3,
        solid_joinstyle="round",
        marker="." if len(trace.time_s) <= FEW else "",
        markersize=2.0,
    )
    axes.set_ylabel(_short(trace.unit))
    axes.set_title(f"{_title(trace)}   {said(trace)}", pad=4.0)
    axes.locator_params(axis="y", nbins=5)


def view(trace: Trace) -> tuple[float, float]:
    """Lowest and highest value to show: all samples and both limits, with some air, little of it below zero for what is
    never negative."""
    ends = [*trace.value, *(end for end in trace.limits if end is not None and abs(end) <= MOST_DRAWN)]
    air = 0.08 * (max(ends) - min(ends)) or max(0.05 * abs(ends[0]), 0.5)
    low = min(ends) - air
    return (max(low, -0.2 * air) if min(ends) >= 0 else low), max(ends) + air


def said(trace: Trace) -> str:
    """The limits in words, for the panel's title."""
    if trace.limits == (None, None):
        return "(no limit applied)"
    return f"(band: {window(trace.limits, _short(trace.unit), trace.low_open)})"


def broken_at_gaps(time_s: Sequence[float], value: Sequence[float]) -> tuple[list[float], list[float]]:
    """Times and values with a NaN in every gap longer than 15 s and ten times the median interval, where nothing is
    known and no line belongs."""
    steps = [later - sooner for sooner, later in pairwise(time_s)]
    longest_s = max(GAP_S, GAP_INTERVALS * median(steps)) if steps else GAP_S
    times, values = list(time_s[:1]), list(value[:1])
    for step, at_s, one in zip(steps, time_s[1:], value[1:], strict=True):
        if step > longest_s:
            times, values = [*times, at_s], [*values, float("nan")]
        times.append(at_s)
        values.append(one)
    return times, values


def _band(axes: Axes, limits: Range, low: float, high: float) -> None:
    """The limits: a pale band with a dashed line at each end there is. An open side runs to the panel's edge."""
    if limits == (None, None):
        return
    bottom, top = limits
    axes.axhspan(
        low if bottom is None else bottom, high if top is None else top, facecolor=BAND, edgecolor="none", zorder=1
    )
    for end in (one for one in limits if one is not None):
        axes.axhline(end, color=EDGE, linewidth=0.7, linestyle=(0, (5, 3)), zorder=2)


def judged(trace: Trace) -> tuple[float, ...]:
    """The judged span as far as the capture holds it: (from_s, to_s), or () for none."""
    return () if trace.judged_s is None else (max(trace.judged_s[0], 0.0), trace.judged_s[1])


def _span(axes: Axes, trace: Trace) -> None:
    """The judged span: hatched, so that it shows without colour."""
    if span := judged(trace):
        axes.axvspan(*span, facecolor="none", edgecolor=QUIET, hatch="///", linewidth=0.6, zorder=2)


def _bracket(axes: Axes, trace: Trace) -> None:
    """A bracket over the judged span of the first panel, with its name."""
    if not (span := judged(trace)):
        return
    axes.set_title(axes.get_title(loc="left"), pad=16.0)
    from_s, to_s = span
    across = axes.get_xaxis_transform()
    axes.plot(
        [from_s, from_s, to_s, to_s],
        [1.02, 1.07, 1.07, 1.02],
        transform=across,
        color=INK,
        linewidth=0.9,
        clip_on=False,
        scalex=False,
        scaley=False,
    )
    first_s, last_s = axes.get_xlim()
    edge_s = 0.03 * (last_s - first_s)  # half the word's width, so that it never runs over the panel's ends
    middle_s = min(max((from_s + to_s) / 2, first_s + edge_s), last_s - edge_s)
    axes.text(
        middle_s,
        1.09,
        "judged",
        transform=across,
        horizontalalignment="center",
        verticalalignment="bottom",
        fontsize=7.0,
    )


def _title(trace: Trace) -> str:
    """A channel's title as it begins a line."""
    return _short(trace.title[:1].upper() + trace.title[1:])


def _short(text: str) -> str:
    """Printable, and no longer than a panel is wide."""
    shown = plain(text)
    return shown if len(shown) <= MOST_LETTERS else f"{shown[: MOST_LETTERS - 1]}…"


def _inline(figure: Figure, label: str) -> str:
    """The figure as an <svg> element that scales with the page and shares it with others.

    Identifiers that nothing refers to are dropped, since every picture has the same; so is the style sheet inside,
    which would reach the whole page.
    """
    file = io.StringIO()
    metadata = {"Date": None, "Creator": None, "Format": None, "Type": None}
    FigureCanvasSVG(figure).print_figure(file, format="svg", metadata=metadata)
    root = ElementTree.fromstring(file.getvalue())
    used = set(re.findall(r"#([\w-]+)", file.getvalue()))
    for parent in list(root.iter()):
        if parent.get("id") not in used:
            parent.attrib.pop("id", None)
        for style in [child for child in parent if child.tag == f"{{{SVG}}}style"]:
            parent.remove(style)
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    root.attrib |= {"role": "img", "aria-label": label, "stroke-linejoin": "round", "stroke-linecap": "butt"}
    return ElementTree.tostring(root, encoding="unicode")
