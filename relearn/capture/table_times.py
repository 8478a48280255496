"""The time column of a table: which one it is, what is written in it, and seconds from its start."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from relearn.capture.assemble import YEAR_2000_S

F64 = NDArray[np.float64]
DAY_S = 86_400
UNITS_S = {
    "s": 1.0,
    "sec": 1.0,
    "secs": 1.0,
    "second": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "milliseconds": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "min": 60.0,
    "mins": 60.0,
    "minutes": 60.0,
    "h": 3600.0,
}
UNIX_UNITS = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds", 1e-9: "nanoseconds"}
YEAR_2100_S = 4_102_444_800

_TIME = re.compile(r"(date|device|gps)?time(stamps?)?|timestamps?|elapsed|date|clock")
_SECONDS = re.compile(r"t|s|secs?|seconds?|log|total")  # such a header is a time only if it says nothing else
# parameters of SAE J1979 that count time since something happened are values, not the table's time
_NO_TIME = re.compile(r"run|running|since|with|mil|lamp|codes?|injection|engine|idle|warm|ignition")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_CLOCK = re.compile(r"(?:\S.*?[ T])?(?P<h>\d{1,3}):(?P<m>\d{2}):(?P<s>\d{2}(?:[.,]\d+)?)(?: ?(?P<half>[AaPp])[Mm])?")
_MINUTES = re.compile(r"(?P<m>\d{1,4}):(?P<s>\d{2}[.,]\d+)")


@dataclass(frozen=True, eq=False)
class Times:
    """Seconds of each row from some zero, NaN where a cell is not understood; how they were read.

    zero_unix_s: the wall clock of that zero, None when the times are no wall clock.
    """

    seconds: F64
    zero_unix_s: float | None
    notes: tuple[str, ...] = ()


def is_time(header: str) -> bool:
    """Does a header name a time: time, timestamp, elapsed, seconds, date, clock, t? 'Run time' is a value instead."""
    words = _words(header)
    if any(map(_NO_TIME.fullmatch, words)):
        return False
    return any(map(_TIME.fullmatch, words)) or (bool(words) and all(map(_SECONDS.fullmatch, words)))


def _words(header: str) -> list[str]:
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header)
    return re.findall(r"[a-zµ]+", spaced.lower())


def unit_s(header: str) -> float | None:
    """The unit a time's header names, in seconds: 'Time (ms)' and 'time_ms' give 0.001; None if it names none."""
    return next((UNITS_S[word] for word in reversed(_words(header)) if word in UNITS_S), None)


def read(header: str, cells: Sequence[str], numbers: Sequence[float | None]) -> Times:
    """The times in a column. Of the ways to write times, the one that fits most cells is used for all."""
    zone = UTC if {"utc", "gmt"} & set(_words(header)) else None
    ways = (_from_numbers(header, numbers), _from_dates(cells, zone), _from_clock(cells))
    return max(ways, key=lambda times: int(np.count_nonzero(~np.isnan(times.seconds))))


def is_date(cell: str) -> bool:
    """Is a cell a date without a time of day? Any date: its parts may stand in any order."""
    return bool(re.fullmatch(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}", cell))


def _from_numbers(header: str, numbers: Sequence[float | None]) -> Times:
    """Numbers in the header's unit; without one, Unix time if they are as large as that, else seconds.

    Without a unit and with a first time before the year 2000, nothing tells seconds from anything else: a note says so.
    """
    values = np.array([np.nan if value is None else value for value in numbers], np.float64)
    zero = float(np.floor(np.nanmin(values))) if np.isfinite(values).any() else 0.0  # near it a float is exact enough
    unit = unit_s(header)
    named = unit if unit is not None else _unix_unit_s(zero)
    seconds = (values - zero) * (named or 1.0)
    zero_s = zero * (named or 1.0)
    notes = () if unit is not None else (f"The time column '{header}' names no unit; {_assumed(named)} assumed.",)
    return Times(seconds, zero_s if zero_s >= YEAR_2000_S else None, notes)


def _unix_unit_s(first: float) -> float | None:
    """The unit in which a first time is a Unix time between the years 2000 and 2100; None if there is none."""
    return next((size for size in UNIX_UNITS if YEAR_2000_S <= first * size < YEAR_2100_S), None)


def _assumed(unix_unit_s: float | None) -> str:
    return f"{UNIX_UNITS[unix_unit_s]} since 1970 are" if unix_unit_s else "seconds are"


def _from_dates(cells: Sequence[str], zone: tzinfo | None) -> Times:
    """Dates with times of day as ISO 8601 writes them. Without a zone, this computer's is taken."""
    moments = [_moment(cell.replace("/", "-"), zone) for cell in cells]
    known = [moment.astimezone() for moment in moments if moment]
    if not known:
        return Times(np.full(len(cells), np.nan), None)
    seconds = [(moment.astimezone() - known[0]).total_seconds() if moment else np.nan for moment in moments]
    zoned = all(moment.tzinfo for moment in moments if moment)
    note = "Its dates have no time zone; this computer's is assumed."
    return Times(np.array(seconds, np.float64), known[0].timestamp(), () if zoned else (note,))


def _moment(cell: str, zone: tzinfo | None) -> datetime | None:
    if not _DATE.match(cell) or ":" not in cell:
        return None
    try:
        moment = datetime.fromisoformat(cell)
        moment = moment if moment.tzinfo or not zone else moment.replace(tzinfo=zone)
        moment.astimezone()  # the first and last days there are cannot be told in every zone
    except (ValueError, OverflowError):
        return None
    return moment


def _from_clock(cells: Sequence[str]) -> Times:
    """Times of day, or elapsed hours, minutes and seconds; a date before them is not used, as its parts may be swapped.

    A fall of more than half a day is midnight going by.
    """
    seconds = np.array([_clock_s(cell) for cell in cells], np.float64)
    known = np.flatnonzero(~np.isnan(seconds))
    midnights = np.concatenate([[0], np.cumsum(np.diff(seconds[known]) < -DAY_S / 2)])[: len(known)]
    seconds[known] += DAY_S * midnights
    return Times(seconds, None)


def _clock_s(cell: str) -> float:
    found = _CLOCK.fullmatch(cell) or _MINUTES.fullmatch(cell)
    if not found:
        return np.nan
    parts = found.groupdict()
    hour = int(parts.get("h") or 0)
    if half := parts.get("half"):
        hour = hour % 12 + (12 if half in "pP" else 0)
    return hour * 3600 + int(parts["m"]) * 60 + float(parts["s"].replace(",", "."))


def spread(seconds: F64) -> tuple[F64, tuple[str, ...]]:
    """Rising times; where they are whole seconds that repeat, the rows of each are spread evenly inside it.

    Also the note that says so. Two rows of second 5 get 5.0 and 5.5.
    """
    _, first, place, count = np.unique(seconds, return_index=True, return_inverse=True, return_counts=True)
    if count.max() == 1 or np.any(seconds % 1):
        return seconds, ()
    rank = np.arange(len(seconds)) - first[place]
    note = f"Its times are whole seconds, up to {count.max()} rows in one; they were spread evenly inside each second."
    return seconds + rank / count[place], (note,)
