"""The tidy table of every decoded value. The only place its columns are spelt."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from relearn.j1979.series import Series

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("time_s", "module", "channel", "value", "unit", "frame")


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
