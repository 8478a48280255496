"""Judge engine relearns from recorded standard OBD-II data: what is needed, is the car ready, did the idle settle.

The functions of `relearn.library` go by the names below. They are imported when one is first asked for, so that the
command line starts without them.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from relearn.library import (
        Recording,
        RelearnError,
        Sheet,
        air,
        compare,
        identity,
        load,
        load_sheet,
        plan,
        ready,
        series,
        settle,
        show,
        steps,
        supply,
        write_samples,
    )

__all__ = [
    "Recording",
    "RelearnError",
    "Sheet",
    "__version__",
    "air",
    "compare",
    "identity",
    "load",
    "load_sheet",
    "plan",
    "ready",
    "series",
    "settle",
    "show",
    "steps",
    "supply",
    "write_samples",
]
__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"module 'relearn' has no attribute '{name}'")
    return getattr(importlib.import_module("relearn.library"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
