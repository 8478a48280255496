"""The cells of a CSV file: which characters, which delimiter, where the headers stand, which rows are whole.

Comma, semicolon or tab; quoted cells; UTF-8 or UTF-16 with their marks, else Windows' western characters; remarks above
the headers; a row of units below them; trailing delimiters; rows that are cut off or have cells to spare.
"""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass
from pathlib import Path

from relearn.capture import assemble, files
from relearn.capture.assemble import Tally
from relearn.capture.table_times import is_time
from relearn.errors import CaptureError
from relearn.faults import Fault

DELIMITERS = "\t;,"
MOST_BYTES = 256 << 20  # days of values; cells take many times as much memory, and a packed file does not show its size
HEADER_ROWS = 30  # the headers are looked for in so many first rows
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_BYTE_ORDER_MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


@dataclass(frozen=True)
class Grid:
    """The cells below the headers, column by column, and each row's line. Cells are stripped; blank ones are ''.

    times: which columns have a time's header.
    decimal_comma: may a comma stand for the decimal point, as the columns are not separated by commas?
    """

    headers: tuple[str, ...]
    columns: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    times: tuple[int, ...]
    decimal_comma: bool

    def numbers(self, place: int) -> list[float | None]:
        """A column's numbers, None where a cell holds none."""
        read = {cell: number(cell, decimal_comma=self.decimal_comma) for cell in set(self.columns[place])}
        return [read[cell] for cell in self.columns[place]]


def number(cell: str, *, decimal_comma: bool) -> float | None:
    """The number in a cell. None for anything else: no signs for thousands, no 'inf', no unit behind it."""
    text = cell.replace(",", ".") if decimal_comma and "." not in cell else cell
    return float(text) if NUMBER.fullmatch(text) else None


def grid(path: Path) -> tuple[Grid, list[Fault]]:
    """The cells of a CSV file and the faults of its rows.

    CaptureError: no text, no table, no time column, no row below the headers.
    """
    text = _text(path)
    delimiter, (header, *rows) = _split(path, text)
    times = [is_time(cell) for cell in header[1]]
    headers, rows = _with_units(header[1], rows, decimal_comma=delimiter != ",")
    rows, faults = _whole(rows, len(headers), finished=text.endswith(("\n", "\r")))
    if not rows:
        raise CaptureError("has headers but no row of values", path=path, remedy="record again")
    columns = list(zip(*(cells for _, cells in rows), strict=True))
    used = [place for place, column in enumerate(columns) if headers[place] or any(column)]
    return Grid(
        headers=tuple(headers[place] or f"column {place + 1}" for place in used),
        columns=tuple(columns[place] for place in used),
        lines=tuple(line for line, _ in rows),
        times=tuple(new for new, place in enumerate(used) if times[place]),
        decimal_comma=delimiter != ",",
    ), faults


def _text(path: Path) -> str:
    try:
        with files.open_binary(path) as file:
            raw = file.read(MOST_BYTES + 1)
    except files.GZIP_DAMAGE as error:
        raise files.broken_gzip(path, error) from error
    if len(raw) > MOST_BYTES:
        size = f"{MOST_BYTES >> 20} MiB"
        raise CaptureError(f"holds more than {size} of text", path=path, remedy="cut it into shorter recordings")
    encoding = next((name for mark, name in _BYTE_ORDER_MARKS.items() if raw.startswith(mark)), "utf-8")
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", "replace")
    if "\0" in text:
        raise CaptureError("is no text", path=path, remedy="check the file, or give it its own format's suffix")
    return text


_Rows = list[tuple[int, list[str]]]


def _split(path: Path, text: str) -> tuple[str, _Rows]:
    """The delimiter that finds most headers, and all rows from the headers on, with their lines."""
    best: tuple[int, str, _Rows] = (0, "", [])
    for delimiter in DELIMITERS:
        rows = _rows(path, text, delimiter)
        place = _header_place(rows)
        if place is not None and len(rows[place][1]) > best[0]:
            best = (len(rows[place][1]), delimiter, rows[place:])
    if not best[2]:
        raise _no_time_column(path, text)
    return best[1], best[2]


def _rows(path: Path, text: str, delimiter: str) -> _Rows:
    """Rows of stripped cells with the line each begins at, without blank rows."""
    reader = csv.reader(text.splitlines(keepends=True), delimiter=delimiter)
    rows, line = [], 1
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            rows += [(line, stripped)] if any(stripped) else []
            line = reader.line_num + 1
    except csv.Error as error:
        raise CaptureError(
            f"is no table ({error})", path=path, line=reader.line_num, remedy="check that it is a CSV file"
        ) from error
    return rows


def _header_place(rows: _Rows) -> int | None:
    """Of the first rows with at least two filled cells, one of them a time's header, the fullest: remarks are short."""
    filled = {
        place: sum(map(bool, cells)) for place, (_, cells) in enumerate(rows[:HEADER_ROWS]) if any(map(is_time, cells))
    }
    best = max(filled, key=filled.__getitem__, default=None)
    return best if best is not None and filled[best] >= 2 else None


def _no_time_column(path: Path, text: str) -> CaptureError:
    first = next((line.strip() for line in text.splitlines() if line.strip()), "")
    shown = first if len(first) <= 60 else f"{first[:57]}..."
    return CaptureError(
        f"has no time column: its first line is '{shown}'",
        path=path,
        remedy="put a row of headers first and name the time column with its unit, such as 'time [s]'",
    )


def _with_units(headers: list[str], rows: _Rows, *, decimal_comma: bool) -> tuple[list[str], _Rows]:
    """Headers joined with a row of units below them, where there is one: no digit below a time's header, no number."""
    units = [*(rows[0][1] if rows else []), *[""] * len(headers)][: len(headers)]
    dated = any(re.search(r"\d", unit) for header, unit in zip(headers, units, strict=True) if is_time(header))
    if not any(units) or dated or any(number(unit, decimal_comma=decimal_comma) is not None for unit in units):
        return headers, rows
    bare = [unit.strip("[]() ") for unit in units]
    return [f"{header} [{unit}]" if unit else header for header, unit in zip(headers, bare, strict=True)], rows[1:]


def _whole(rows: _Rows, width: int, *, finished: bool) -> tuple[_Rows, list[Fault]]:
    """Rows of exactly `width` cells: short ones are filled up; a longer one, and a last one cut off, is a fault."""
    cut_off = bool(rows) and not finished and len(rows[-1][1]) < width
    spare = [line for line, cells in rows if any(cells[width:])]
    faults = assemble.line_faults(Tally.of(spare)) + (assemble.cut_off_fault(rows[-1][0]) if cut_off else [])
    whole = rows[:-1] if cut_off else rows
    return [(line, (cells + [""] * width)[:width]) for line, cells in whole if not any(cells[width:])], faults
