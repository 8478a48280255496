"""What the fast readers do with a file that is not as usual: nothing. They leave it to python-can's reader."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


class Odd(Exception):
    """Something in a file that its fast reader does not judge; no error that a user meets."""


def need(usual: NDArray[np.bool_]) -> None:
    """Odd unless everything is as usual."""
    if not usual.all():
        raise Odd
