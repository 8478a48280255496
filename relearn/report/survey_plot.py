"""The distributions of a survey as one picture: verdicts, then a histogram for each number, in greys and hatches that
stay apart on paper. Nothing here judges; no pyplot, no global figure."""

from __future__ import annotations

import io
import math
import os
import textwrap
import warnings
from pathlib import Path

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from relearn.errors import ChoiceError
from relearn.findings.survey import Spread, Standing, SurveyFindings
from relearn.report.plots import INK, LOOK, QUIET, WIDTH_IN
from relearn.report.words import number, plain, words

PANEL_IN, COLUMNS, DPI = 1.6, 2, 150
TITLE_LETTERS = 46  # so many fit above a panel
TICKS = 5
ALONE = 4.0  # a bin of width 1 takes an eighth of the panel
FORMATS = {".svg": "svg", ".png": "png"}
FILLS: dict[Standing, tuple[str, str]] = {
    "yes": ("#dfe7e1", ""),
    "cannot tell": ("#ffffff", "...."),
    "no": ("#5b7264", ""),
    "unreadable": ("#ffffff", "////"),
}


def check(path: Path) -> None:
    """ChoiceError unless a picture can be written there: the suffix says which, and nothing is written over."""
    if path.suffix.lower() not in FORMATS:
        raise ChoiceError(f"a picture is written as {' or '.join(FORMATS)}", path=path, remedy="name it so")
    if path.exists():
        raise ChoiceError("this file exists, and nothing is written over", path=path, remedy="name another picture")
    if not path.parent.is_dir():
        raise ChoiceError("there is no folder for this file", path=path, remedy="make it, or name another picture")
    if not os.access(path.parent, os.W_OK):
        raise ChoiceError("cannot be written", path=path, remedy="name another picture")


def picture(document: SurveyFindings, suffix: str) -> bytes:
    """The picture as the bytes of a file with this suffix; the same document gives the same bytes."""
    with matplotlib.style.context(["default", {**LOOK, "svg.hashsalt": "survey"}]), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a name in letters that the font lacks is shown as boxes
        file, kind = io.BytesIO(), FORMATS[suffix.lower()]
        metadata = {"Date": None} if kind == "svg" else {"Software": None}
        _figure(document).savefig(file, format=kind, dpi=DPI, metadata=metadata)
    return file.getvalue()


def _figure(document: SurveyFindings) -> Figure:
    across = math.ceil(len(document.spreads) / COLUMNS)
    figure = Figure(figsize=(WIDTH_IN, PANEL_IN * across + 1.4), layout="constrained")
    grid = figure.add_gridspec(across + 1, COLUMNS, height_ratios=[0.5, *[1.0] * across])
    _verdicts(figure.add_subplot(grid[0, :]), document)
    for place, spread in enumerate(document.spreads):
        _histogram(figure.add_subplot(grid[1 + place // COLUMNS, place % COLUMNS]), spread, document.captures)
    met = [one.verdict for one in document.verdicts if one.count]
    figure.legend(handles=[_patch(verdict) for verdict in met], loc="outside lower center", ncols=4, frameon=False)
    return figure


def _verdicts(axes: Axes, document: SurveyFindings) -> None:
    """One bar, divided; each piece with its count."""
    asked = f"{document.question} for {document.relearn}" if document.relearn else document.question
    axes.set_title(plain(f"{asked}: {document.captures} captures"))
    left = 0
    for one in document.verdicts:
        fill, hatch = FILLS[one.verdict]
        axes.barh(
            0, one.count, left=left, height=0.7, color=fill, hatch=hatch, edgecolor=INK, linewidth=0.6, clip_on=False
        )
        left += one.count
    axes.set_xlim(0, max(left, 1))
    axes.xaxis.set_major_locator(MaxNLocator(TICKS, integer=True))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(", ".join(f"{one.count} {one.verdict}" for one in document.verdicts if one.count))


def _histogram(axes: Axes, spread: Spread, captures: int) -> None:
    """Captures per bin, the verdicts on top of each other; and how many of all have such a number."""
    widths = [high - low for low, high in zip(spread.edges[:-1], spread.edges[1:], strict=True)]
    below = [0] * len(widths)
    for verdict, counts in spread.counts.items():
        fill, hatch = FILLS[verdict]
        axes.bar(
            spread.edges[:-1],
            counts,
            widths,
            below,
            align="edge",
            color=fill,
            hatch=hatch,
            edgecolor=INK,
            linewidth=0.4,
        )
        below = [low + one for low, one in zip(below, counts, strict=True)]
    if spread.name == "worst_margin" and spread.edges[0] < 0 < spread.edges[-1]:
        axes.axvline(0, color=QUIET, linewidth=0.8, linestyle=(0, (5, 3)))
    title = words(spread.words)
    axes.set_title(textwrap.fill(title[:1].upper() + title[1:], TITLE_LETTERS))
    axes.set_xlabel(f"{plain(spread.unit)} ({sum(map(sum, spread.counts.values()))} of {captures} captures)".strip())
    axes.set_ylabel("captures")
    axes.yaxis.set_major_locator(MaxNLocator(TICKS, integer=True))
    _ticks(axes, spread.edges)


def _ticks(axes: Axes, edges: tuple[float, ...]) -> None:
    """Few enough to stay apart; below bins of whole numbers those; a single value stands alone, in a narrow bar."""
    middle, whole = (edges[0] + edges[-1]) / 2, edges[0] % 1 == 0.5 and edges[1] - edges[0] == 1
    axes.xaxis.set_major_locator(MaxNLocator(TICKS, integer=whole))
    if len(edges) == 2:
        axes.set_xlim(middle - ALONE, middle + ALONE)
        axes.set_xticks([middle], [number(middle)])


def _patch(verdict: Standing) -> Patch:
    fill, hatch = FILLS[verdict]
    return Patch(facecolor=fill, hatch=hatch, edgecolor=INK, linewidth=0.6, label=verdict)
