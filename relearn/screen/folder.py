"""What may be chosen on the page: captures and drills of one folder, by their number in a list made here.

A browser never names a path. What is no capture or drill by its name, or lies outside of the folder (a link, too), is
not in the list.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from relearn.capture import READERS
from relearn.capture.files import format_suffix

DRILL = ".toml"
MOST = 500


@dataclass(frozen=True)
class Choosable:
    """A file of the folder. name: as it is shown, from the folder on."""

    path: Path
    name: str
    is_drill: bool


def choosable(folder: Path) -> tuple[Choosable, ...]:
    """The first MOST files below the folder that may be chosen, by name."""
    root = folder.resolve()
    found = [path for path in sorted(folder.rglob("*")) if path.is_file() and path.resolve().is_relative_to(root)]
    named = [Choosable(path, path.relative_to(folder).as_posix(), path.suffix.lower() == DRILL) for path in found]
    return tuple(one for one in named if (is_drill(one.path) if one.is_drill else format_suffix(one.path) in READERS))[
        :MOST
    ]


def is_drill(path: Path) -> bool:
    """Whether a TOML file is meant as a drill: it has stops."""
    with path.open(encoding="utf-8", errors="replace") as file:
        return any(line.strip() == "[[stop]]" for line in file)
