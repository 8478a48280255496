"""What stands in for judging where a worker must die, fail or take its time. As a program it surveys slowly until it is
interrupted."""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace
from functools import partial
from pathlib import Path

from relearn.cli.survey import stoppable
from relearn.survey import pool
from relearn.survey.columns import Row
from relearn.survey.find import Found, captures_below
from relearn.survey.judge import judge, unreadable_row
from relearn.survey.questions import Asked
from relearn.survey.run import survey
from tests.survey.demo import settle


def work(found: Found, asked: Asked) -> Row:
    """By the file's name: 'deadly' ends the process, 'odd' raises, 'unseen' is not there, 'slow' takes a minute,
    'threads' says how many it may take; the others are done at once, and say in which process."""
    if found.file.startswith("deadly"):
        os._exit(9)
    if found.file.startswith("odd"):
        raise ZeroDivisionError("nobody thought of this")
    if found.file.startswith("unseen"):
        return judge(replace(found, path=f"{found.path}.gone.log"), asked)
    if found.file.startswith("slow"):
        time.sleep(60)
    said = os.environ.get(pool.THREADS[1], "") if found.file.startswith("threads") else str(os.getpid())
    return unreadable_row(found, asked, said, "done", "0" * 64)


def main(folder: Path, out: Path) -> None:
    ask = settle()
    crew = partial(pool.judged, asked=ask, workers=2, work=work)
    with stoppable(out) as tally:

        def step(row: Row, was_there: bool) -> None:
            tally(row, was_there)
            print(row["file"], row["reason"], flush=True)

        captures = captures_below([folder]).captures
        tally.total = len(captures)
        survey(captures, ask, crew, out, step)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
