"""One channel of one module over time, as the answers carried it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.j1979.table import Signal

BROADCAST, TABLE = "broadcast", "table"  # what stands in a module's place for signals of a database or a table


@dataclass(frozen=True, eq=False)
class Series:
    """The samples of one signal from one module, in the order they were received.

    time_s: float64, seconds from capture start. value: float64 in `signal.unit`; a bit-coded signal keeps its
    number, named by `signal.states`. frame: int64, number of the frame that completed each answer.
    """

    module: str
    signal: Signal
    time_s: NDArray[np.float64]
    value: NDArray[np.float64]
    frame: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.time_s)
