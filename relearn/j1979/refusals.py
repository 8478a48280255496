"""What a module means when it refuses: the response code's name."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

PATH = Path(__file__).with_name("refusals.toml")
PENDING = 0x78


def meaning(code: int) -> str:
    """The response code in words; its number where the standards name none."""
    return _names().get(code, f"response code {code:02X}")


@cache
def _names() -> Mapping[int, str]:
    names = tomllib.loads(PATH.read_text(encoding="utf-8"))
    return {int(code, 16): str(name) for code, name in names.items()}
