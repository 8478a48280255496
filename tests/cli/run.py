"""Run the command line in process, as the console script does: errors become a sentence on stderr and exit code 2."""

from __future__ import annotations

import contextlib
import io
import sys
from dataclasses import dataclass
from pathlib import Path

from relearn.cli import main

CAPTURES = Path(__file__).parents[2] / "captures"
VERDICTS = {0: "yes", 1: "no", 3: "cannot tell"}


@dataclass(frozen=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def verdict(self) -> str:
        return VERDICTS[self.code]


def relearn(*words: object) -> Ran:
    """One command, with its exit code and what it printed."""
    out, err, argv = io.StringIO(), io.StringIO(), sys.argv
    sys.argv = ["relearn", *map(str, words)]
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as ended:
        return Ran(int(ended.code or 0), out.getvalue(), err.getvalue())
    finally:
        sys.argv = argv
    return Ran(0, out.getvalue(), err.getvalue())
