"""What may be chosen on the page: captures and drills of one folder, by their number in a list made here.

A browser never names a path. What is no capture or drill by its name, or lies outside of the folder (a link, too), is
not in the list.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from relearn.capture import READERS
from relearn.capture.files import format_suffix

DRILL = ".toml"
MOST = 500
STOPS = re.compile(rb"""[ \t]*\[\[[ \t]*["']?stop["']?[ \t]*\]\]""")


@dataclass(frozen=True)
class Choosable:
    """A file of the folder. name: as it is shown, from the folder on."""

    path: Path
    name: str
    is_drill: bool


def choosable(folder: Path) -> tuple[Choosable, ...]:
    """The first MOST files below the folder that may be chosen, by name."""
    root = folder.resolve()
    found = [path for path in sorted(folder.rglob("*")) if _lies_in(path, root)]
    named = [Choosable(path, path.relative_to(folder).as_posix(), path.suffix.lower() == DRILL) for path in found]
    return tuple(one for one in named if (is_drill(one.path) if one.is_drill else format_suffix(one.path) in READERS))[
        :MOST
    ]


def _lies_in(path: Path, root: Path) -> bool:
    """Whether it is a file within this folder. Where nobody may look, it is not."""
    try:
        return path.is_file() and path.resolve().is_relative_to(root)
    except OSError:
        return False


def is_drill(path: Path) -> bool:
    """Whether a TOML file is meant as a drill: it has stops. One that may not be read is none."""
    try:
        with path.open("rb") as file:
            return any(STOPS.match(line) for line in file)
    except OSError:
        return False
