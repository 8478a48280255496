"""Which charts the page has, from `data/charts.toml`, and whose limits their bands are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

from pydantic import Field

from relearn.j1979.names import known
from relearn.procedures.packaged import Row, Text, read
from relearn.procedures.sheets import Sheet
from relearn.report.words import words
from relearn.verdict import Limits

FILE = Path(__file__).with_name("data") / "charts.toml"
Ends = tuple[float | None, float | None]


class Chart(Row):
    """One chart. names: of each channel on the page, where the channel's own is too long for it. limits or around: the
    fact, or the target and its tolerance, drawn as a band. least: the axis spans at least so much, so that noise
    looks like noise."""

    title: Text
    unit: str
    channels: tuple[str, ...] = Field(min_length=1)
    names: tuple[Text, ...] = ()
    height: float = Field(gt=0.0)
    least: float = Field(gt=0.0)
    limits: str | None = None
    around: tuple[str, str] | None = None

    def named(self) -> Mapping[str, str]:
        """What each channel is called."""
        names = self.names or tuple(words(name) for name in self.channels)
        return dict(zip(self.channels, names, strict=True))

    def only(self, channels: tuple[str, ...]) -> Chart:
        """The same of some of its channels."""
        return self.model_copy(update={"channels": channels, "names": tuple(self.named()[name] for name in channels)})


class Charts(Row):
    """The file."""

    chart: tuple[Chart, ...] = Field(min_length=1)


@cache
def charts() -> tuple[Chart, ...]:
    """All of them, from top to bottom."""
    return read(Charts, FILE).chart


def having(names: Iterable[str]) -> tuple[Chart, ...]:
    """The charts of which at least one channel is there, with those channels only; all where none is there yet."""
    there = set(names)
    found = [one.only(kept) for one in charts() if (kept := tuple(name for name in one.channels if name in there))]
    return tuple(found) or charts()


def band(chart: Chart, sheet: Sheet) -> Limits | None:
    """The limits drawn as a band by this sheet; None where it says nothing."""
    return sheet.around(*chart.around) if chart.around else sheet.limits(chart.limits) if chart.limits else None


def windows(chart: Chart) -> list[Ends | None]:
    """Outside of which a value of each channel is a broken circuit and no measurement; None where nobody knows."""
    return [known()[name].plausible if name in known() else None for name in chart.channels]


def shown(several: Sequence[Chart]) -> list[dict[str, object]]:
    """What the browser needs to know of them to draw the first line."""
    return [
        {
            "title": one.title,
            "unit": one.unit,
            "height": one.height,
            "least": one.least,
            "series": list(one.named().values()),
        }
        for one in several
    ]


def ends(limits: Limits | None) -> Ends | None:
    """Where a band begins and ends."""
    return (limits.low, limits.high) if limits is not None else None


def legend(limits: Limits | None) -> str:
    """What a band is, in words; '' without one."""
    return limits.describe() if limits is not None else ""
