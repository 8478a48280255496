"""A survey's rows as a pandas table, that as CSV or Parquet, and back. It is written beside the file, then put in its
place, so that a kill leaves the old rows or the new ones."""

from __future__ import annotations

import csv
import errno
import importlib.util
import io
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pandas as pd
from filelock import FileLock, Timeout

from relearn.cells import guarded, unguarded
from relearn.errors import ChoiceError
from relearn.jobs.durable import replace
from relearn.survey.columns import ASKED, KEY_NUMBERS, LAST, Row, columns
from relearn.survey.questions import Asked

NUMBERS = frozenset(one.name for several in (*KEY_NUMBERS.values(), LAST) for one in several if one.number)


def frame(rows: Iterable[Row], question: str) -> pd.DataFrame:
    """The table: text columns hold strings ('' for nothing), number columns floats (NaN for nothing)."""
    named = columns(question)
    table = pd.DataFrame([dict(row) for row in rows], columns=[one.name for one in named])
    return table.astype({one.name: "float64" if one.number else "object" for one in named})


def rows_of(table: pd.DataFrame, question: str) -> tuple[Row, ...]:
    """The rows of a table again. ValueError where its columns are not those of the question."""
    named = columns(question)
    if list(table.columns) != [one.name for one in named]:
        raise ValueError("other columns")
    texts = {one.name: table[one.name].fillna("").astype(str) for one in named if not one.number}
    numbers = {one.name: table[one.name].astype("float64") for one in named if one.number}
    cells = pd.DataFrame({**texts, **numbers}).astype("object")
    return tuple(cells.where(cells.notna(), None).to_dict("records"))  # type: ignore[arg-type]


def write(path: Path, rows: Iterable[Row], question: str) -> None:
    """All rows in place of what the file held. Of a link, in place of what the file held that it leads to."""
    replace(_real(path), WRITERS[path.suffix.lower()](frame(rows, question)))


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """The only survey that writes this file. ChoiceError: another one is at it, whose rows would be lost."""
    real = _real(path)
    lock = FileLock(real.with_name(f"{real.name}.lock"), timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise ChoiceError(
            "another survey is writing this file", path=path, remedy="wait until it has ended, or name another"
        ) from None
    try:
        yield
    finally:
        Path(lock.lock_file).unlink(missing_ok=True)
        lock.release()


def read(path: Path, asked: Asked) -> tuple[Row, ...]:
    """The rows of an earlier survey, none where there is no file yet.

    ChoiceError: the file is something else, or a survey in which something else was asked (columns.ASKED): its rows
    would be lost.
    """
    if not path.exists():
        return ()
    try:
        rows = rows_of(READERS[path.suffix.lower()](path), asked.question)
    except (ValueError, TypeError, csv.Error) as wrong:  # what csv, pandas and pyarrow raise on no such table
        raise ChoiceError(
            f"this file is there and is no table of a survey for {asked.question}, and nothing is written over",
            path=path,
            remedy="name another with --out",
        ) from wrong
    for name, words in ASKED.items():
        if any(row[name] != asked.marks[name] for row in rows):
            raise ChoiceError(
                f"this file holds a survey with another {words}, and nothing is written over",
                path=path,
                remedy="name another file with --out, or remove this one",
            )
    return rows


def check(path: Path) -> None:
    """ChoiceError unless a table can be written there, as far as that can be known before."""
    if path.suffix.lower() not in WRITERS:
        raise ChoiceError(f"a table is written as {' or '.join(WRITERS)}", path=path, remedy="name it so with --out")
    real = _real(path)
    if real.is_dir() or not real.parent.is_dir():
        raise ChoiceError("there is no folder for this file", path=path, remedy="make it, or name another with --out")
    if real.exists() and not real.is_file():
        raise ChoiceError("is a pipe or a device, and no file", path=path, remedy="name another with --out")
    try:
        _probe(real)
    except OSError as wrong:
        why = (wrong.strerror or str(wrong)).lower()
        raise ChoiceError(f"cannot be written ({why})", path=path, remedy="name another with --out") from None
    if path.suffix.lower() == ".parquet" and importlib.util.find_spec("pyarrow") is None:
        raise ChoiceError(
            "is a Parquet file, and what writes those is not installed",
            path=path,
            remedy='install it with pip install "relearn[parquet]", or write .csv',
        )


def _real(path: Path) -> Path:
    """The file itself, where the path is a link to it."""
    return Path(os.path.realpath(path))


def _probe(path: Path) -> None:
    """OSError where this file cannot be made, or may not be replaced. Leaves nothing behind."""
    if path.exists() and not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    part = path.with_name(f"{path.name}.part")  # as durable.replace writes it
    part.unlink(missing_ok=True)
    part.touch(exist_ok=False)
    part.unlink()


def _csv(table: pd.DataFrame) -> bytes:
    """Lines end as RFC 4180 has it, so that a line end of any kind inside a text is quoted. Text that a spreadsheet
    would take for a formula stands behind an apostrophe; numbers stay numbers."""
    texts = {name: table[name].map(guarded) for name in table.columns if name not in NUMBERS}
    return table.assign(**texts).to_csv(index=False, lineterminator="\r\n").encode("utf-8")


def _parquet(table: pd.DataFrame) -> bytes:
    file = io.BytesIO()
    table.to_parquet(file, engine="pyarrow", index=False)
    return file.getvalue()


def _from_csv(path: Path) -> pd.DataFrame:
    """Text stays as it is written: a module '7E8' is no number and 'NA' is a name, whatever pandas would guess. What
    guards it against spreadsheets is taken off again."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        header, *lines = (line for line in csv.reader(file) if line)
    if any(len(line) != len(header) for line in lines):
        raise ValueError("a line is cut off or has cells to spare")
    cells = pd.DataFrame(lines, columns=header, dtype="object")
    numbers = [name for name in header if name in NUMBERS]
    texts = {name: cells[name].map(unguarded) for name in header if name not in NUMBERS}
    return cells.assign(**texts, **{name: cells[name].replace("", "nan") for name in numbers})


def _from_parquet(path: Path) -> pd.DataFrame:
    return pd.read_parquet(path, engine="pyarrow")


WRITERS: Mapping[str, Callable[[pd.DataFrame], bytes]] = {".csv": _csv, ".parquet": _parquet}
READERS: Mapping[str, Callable[[Path], pd.DataFrame]] = {".csv": _from_csv, ".parquet": _from_parquet}
