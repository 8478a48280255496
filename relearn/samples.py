"""The tidy table of every decoded value. The only place its columns are spelt."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from relearn.capture.files import GZIP_DAMAGE, first_line, format_suffix, open_binary
from relearn.errors import CaptureError
from relearn.j1979.series import Series

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("time_s", "module", "channel", "value", "unit", "frame")
MF4_PROGRAM = b"relearn "  # who wrote the file: bytes 16 to 23 of an MDF 4 file (ASAM MDF, identification block)
PARQUET_MAGIC = b"PAR1"  # ends the file, behind the footer and its length in four bytes (Apache Parquet format)


def is_export(path: Path) -> bool:
    """Whether relearn wrote this file of a recording's samples: CSV (as it was, or saved again by a spreadsheet) and
    MF4, either of them gzipped too, and Parquet.

    A CSV whose columns were renamed or moved is not recognised, nor is an MF4 that another program saved again. False
    for what cannot be read: whoever reads it next says why.
    """
    suffix = format_suffix(path)
    try:
        return suffix in _SIGNS and path.is_file() and _SIGNS[suffix](path)
    except (OSError, CaptureError, *GZIP_DAMAGE):
        return False


def header(path: Path) -> str:
    """The first line of a CSV in lower case, with commas and without quotes, however a spreadsheet saved it again."""
    return first_line(path).replace('"', "").replace(";", ",").replace("\t", ",")


def _own_csv(path: Path) -> bool:
    return header(path) == ",".join(COLUMNS)


def _own_mf4(path: Path) -> bool:
    with open_binary(path) as file:
        return file.read(24)[16:] == MF4_PROGRAM


def _own_parquet(path: Path) -> bool:
    """By the names of the columns in its footer, without the library that reads it."""
    with path.open("rb") as file:
        file.seek(-8, os.SEEK_END)
        length, magic = int.from_bytes(file.read(4), "little"), file.read(4)
        if magic != PARQUET_MAGIC:
            return False
        file.seek(-8 - length, os.SEEK_END)
        footer = file.read(length)
    return all(name.encode() in footer for name in COLUMNS)


_SIGNS: Mapping[str, Callable[[Path], bool]] = {".csv": _own_csv, ".mf4": _own_mf4, ".parquet": _own_parquet}


def tidy(series: Iterable[Series]) -> pd.DataFrame:
    """One row per value: time_s (from capture start), module, channel, value, unit, frame (1-based number in the file).

    Rows are in time order; equal times keep the order of `series`. No series gives an empty table with the columns.
    """
    import pandas as pd  # long to import, and no verdict needs the table

    parts = [part for part in series if len(part.time_s)]
    lengths = [len(part.time_s) for part in parts]
    table = pd.DataFrame(
        {
            "time_s": _joined([part.time_s for part in parts], np.float64),
            "module": _repeated([part.module for part in parts], lengths),
            "channel": _repeated([part.signal.name for part in parts], lengths),
            "value": _joined([part.value for part in parts], np.float64),
            "unit": _repeated([part.signal.unit for part in parts], lengths),
            "frame": _joined([part.frame for part in parts], np.int64),
        },
        columns=list(COLUMNS),
    )
    return table.sort_values("time_s", kind="stable", ignore_index=True)


def _joined(arrays: list[np.ndarray], dtype: type) -> np.ndarray:
    return np.concatenate(arrays) if arrays else np.empty(0, dtype)


def _repeated(words: list[str], lengths: list[int]) -> pd.Categorical:
    """Each word repeated; categorical, so that a million rows cost a byte each."""
    import pandas as pd

    distinct = sorted(set(words))
    codes = np.repeat([distinct.index(word) for word in words], lengths) if words else np.empty(0, np.int64)
    return pd.Categorical.from_codes(codes.astype(np.int64), categories=pd.Index(distinct, dtype=object))
