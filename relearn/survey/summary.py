"""A survey's rows counted and spread: the document that is shown, and drawn."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from relearn import __version__
from relearn.findings.survey import (
    FileRow,
    MarginRow,
    NumberRow,
    ReasonRow,
    Spread,
    Standing,
    SurveyFindings,
    ValueRow,
    VerdictCount,
)
from relearn.survey.columns import KEY_NUMBERS, UNREADABLE, UNTOLD, Column, Row
from relearn.survey.questions import Asked
from relearn.survey.table import frame

SLOWEST = 5
BINS = 20
MOST_MARGINS = 4  # of so many parts the spread of the margins is drawn, those met most often
STANDINGS: tuple[Standing, ...] = ("yes", "no", UNTOLD, UNREADABLE)


def summary(
    rows: Sequence[Row], asked: Asked, folders: Sequence[str], kept: int, table: str | None, notes: Sequence[str] = ()
) -> SurveyFindings:
    """Counts by verdict and reason, worst margins, key numbers and how they spread, slow and unreadable files."""
    rows_of = frame(rows, asked.question)
    numbers = [one for one in KEY_NUMBERS[asked.question] if one.number and rows_of[one.name].notna().any()]
    return SurveyFindings(
        question=asked.question,
        relearn=asked.relearn or None,
        sheet=asked.sheet.title,
        version=__version__,
        folders=tuple(folders),
        table=table,
        captures=len(rows),
        kept=kept,
        verdicts=tuple(_counts(rows_of)),
        reasons=tuple(_reasons(rows_of)),
        margins=tuple(_margins(rows_of)),
        numbers=tuple(_number(rows_of[one.name].dropna(), one) for one in numbers),
        values=tuple(_values(rows_of, asked.question)),
        spreads=(*(_spread(rows_of, one) for one in numbers), *_margin_spreads(rows_of)),
        slowest=tuple(_slowest(rows_of)),
        unreadable=tuple(_unreadable(rows_of)),
        notes=(*notes, *_remarks(rows_of)),
    )


def _counts(rows: pd.DataFrame) -> Iterable[VerdictCount]:
    for verdict in STANDINGS:
        count = int((rows["verdict"] == verdict).sum())
        yield VerdictCount(verdict=verdict, count=count, share=round(count / len(rows), 4) if len(rows) else 0.0)


def _reasons(rows: pd.DataFrame) -> Iterable[ReasonRow]:
    """Those met most often first, within each verdict; never by a reason's numbers."""
    for verdict in STANDINGS:
        here = rows[rows["verdict"] == verdict]
        for part, count in here["decided_by"].value_counts(sort=True).items():
            first = here[here["decided_by"] == part].iloc[0]
            yield ReasonRow(
                verdict=verdict,
                decided_by=str(part),
                count=int(count),
                reason=first["reason"],
                folder=first["folder"],
                file=first["file"],
            )


def _margins(rows: pd.DataFrame) -> Iterable[MarginRow]:
    """By part, since margins in different units do not compare; those met most often first."""
    for part, unit, here in _by_part(rows):
        worst = here.nsmallest(1, "worst_margin").iloc[0]
        yield MarginRow(
            part=part,
            unit=unit,
            count=len(here),
            worst=float(worst["worst_margin"]),
            median=float(here["worst_margin"].median()),
            folder=worst["folder"],
            file=worst["file"],
        )


def _by_part(rows: pd.DataFrame) -> list[tuple[str, str, pd.DataFrame]]:
    have = rows[rows["worst_margin"].notna()]
    groups = [
        (str(part), str(unit), here) for (part, unit), here in have.groupby(["worst_margin_of", "worst_margin_unit"])
    ]
    return sorted(groups, key=lambda group: (-len(group[2]), group[0], group[1]))


def _number(values: pd.Series[float], column: Column) -> NumberRow:
    return NumberRow(
        name=column.name,
        words=column.words,
        unit=column.unit,
        count=len(values),
        low=float(values.min()),
        median=float(values.median()),
        high=float(values.max()),
    )


def _values(rows: pd.DataFrame, question: str) -> Iterable[ValueRow]:
    """Of every key text that has words: what it says, those met most often first."""
    for column in (one for one in KEY_NUMBERS[question] if not one.number and one.words):
        said = rows.loc[rows[column.name] != "", column.name]
        for value, count in said.value_counts(sort=True).items():
            yield ValueRow(name=column.name, words=column.words, value=str(value), count=int(count))


def _remarks(rows: pd.DataFrame) -> Iterable[str]:
    """What the counts alone do not show."""
    faulty = int((rows["faults"] > 0).sum())
    if faulty:
        yield f"with faults in the file or on the bus (counted in the column faults): {_captures(faulty)}"
    again = int(rows.loc[rows["sha256"] != "", "sha256"].duplicated().sum())
    if again:
        yield f"the same content as another capture, and counted again: {_captures(again)}"


def _captures(count: int) -> str:
    return f"{count} capture{'s' if count > 1 else ''}"


def _margin_spreads(rows: pd.DataFrame) -> Iterable[Spread]:
    for part, unit, here in _by_part(rows)[:MOST_MARGINS]:
        yield _spread(here, Column("worst_margin", unit, f"margin of {part}, where it is the worst"))


def _spread(rows: pd.DataFrame, column: Column) -> Spread:
    have = rows[rows[column.name].notna()]
    values = have[column.name].to_numpy(np.float64)
    edges = _edges(values)
    return Spread(
        name=column.name,
        words=column.words,
        unit=column.unit,
        edges=tuple(float(one) for one in edges),
        counts={
            verdict: tuple(int(one) for one in np.histogram(values[have["verdict"] == verdict], edges)[0])
            for verdict in STANDINGS
            if (have["verdict"] == verdict).any()
        },
    )


def _edges(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """A bin for each of a few whole numbers; else twenty equal bins from the lowest to the highest."""
    low, high = float(values.min()), float(values.max())
    if high == low or (high - low <= BINS and bool((values == np.floor(values)).all())):
        return np.arange(low, high + 2) - 0.5
    return np.linspace(low, high, BINS + 1)


def _slowest(rows: pd.DataFrame) -> Iterable[FileRow]:
    for _, one in rows[rows["judged_in_s"].notna()].nlargest(SLOWEST, "judged_in_s").iterrows():
        yield FileRow(folder=one["folder"], file=one["file"], judged_in_s=float(one["judged_in_s"]))


def _unreadable(rows: pd.DataFrame) -> Iterable[FileRow]:
    for _, one in rows[rows["verdict"] == UNREADABLE].iterrows():
        yield FileRow(folder=one["folder"], file=one["file"], reason=one["reason"])
