"""Judge engine relearns from recorded standard OBD-II data: what is needed, is the car ready, did the idle settle.

The names of `relearn.library` are those of `relearn`. It is imported when one of them is first asked for, so that the
command line starts without it.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from relearn.library import *  # noqa: F403
else:  # hidden from type checkers, which would take it for a promise of any name

    def __getattr__(name: str) -> object:
        if name.startswith("__") and name != "__all__":  # what Python itself looks for, in every module
            raise AttributeError(f"module 'relearn' has no attribute '{name}'")
        library = importlib.import_module("relearn.library")
        names = [*library.__all__, "__version__"]
        if name not in ("__all__", *names):
            raise AttributeError(f"module 'relearn' has no attribute '{name}'")
        return names if name == "__all__" else getattr(library, name)

    def __dir__() -> list[str]:
        return sorted({*globals(), *__getattr__("__all__")})
