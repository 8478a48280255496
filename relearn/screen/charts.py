"""Which charts the page has, from `data/charts.toml`, and whose limits their bands are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

from pydantic import Field

from relearn.j1979.names import known
from relearn.procedures.loader import procedure
from relearn.procedures.packaged import Row, Text, read
from relearn.procedures.sheets import Sheet
from relearn.report.words import words
from relearn.verdict import Limits

FILE = Path(__file__).with_name("data") / "charts.toml"
IDLES = "engine-idling"
Ends = tuple[float | None, float | None]


class Chart(Row):
    """One chart. names: of each channel on the page, where the channel's own is too long for it. The band is what the
    relearn asks of a channel; around: a target and its tolerance, for a relearn that asks for an idle; limits: a fact
    that holds for every relearn. least: the axis spans at least so much, so that noise looks like noise."""

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


def band(chart: Chart, sheet: Sheet, relearn: str | None) -> Limits | None:
    """The limits drawn as a band: by this sheet, for this relearn, or for an idle where None is asked about. None where
    nothing is said."""
    asked = {one.channel: one for one in procedure(relearn).preconditions} if relearn is not None else {}
    precondition = next((asked[name] for name in chart.channels if name in asked), None)
    if chart.around and (relearn is None or (precondition is not None and precondition.check == IDLES)):
        return sheet.around(*chart.around)
    limits = precondition.limits if precondition is not None else chart.limits
    return sheet.limits(limits) if limits else None


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
    """Where a band begins and ends; where none at all is asked it is the line of the zero."""
    if limits is None:
        return None
    return (0.0, 0.0) if (limits.low, limits.high) == (None, 0) else (limits.low, limits.high)


def legend(limits: Limits | None) -> str:
    """What a band is, in words; '' without one."""
    return limits.describe() if limits is not None else ""
