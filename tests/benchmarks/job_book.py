"""How fast is the job book? Run it by hand: `python tests/benchmarks/job_book.py`.

Writes a book of ten thousand invented jobs into a temporary folder and lists it: inside this process, and as a command
of its own in each of its forms, with the command's start in it. Prints the best of five, in seconds by the clock.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

from relearn.findings.record import BookRow
from relearn.jobs import book
from relearn.jobs.book import Wanted

JOBS, TRIES = 10_000, 5
FIRST = datetime(2026, 1, 1, tzinfo=UTC)
ONE = "TD000042"
COMMANDS = (("--version",), ("jobs",), ("jobs", "--json"), ("jobs", "--csv"), ("jobs", "--vin", ONE))


def made_up(number: int) -> BookRow:
    when = (FIRST + timedelta(hours=number)).isoformat()
    texts = {one.name: f"text {number}" for one in fields(BookRow)}
    given = {"id": f"{number:016x}", "started": when, "changed": when, "verdict": "yes", "lines": 20, "head": "0" * 64}
    return BookRow(**{**texts, **given, "vin": f"30ZDEML28TD{number:06d}"})  # type: ignore[arg-type]


def best(deed: Callable[[], object]) -> float:
    spent = []
    for _ in range(TRIES):
        begun = time.perf_counter()
        deed()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobs.sqlite3"
        book.put(path, map(made_up, range(JOBS)))
        print(f"{JOBS:,} jobs, {path.stat().st_size / 2**20:.1f} MiB")
        print(f"all, in this process    {best(partial(book.listed, path, Wanted())):6.3f} s")
        print(f"one VIN, in this process{best(partial(book.listed, path, Wanted(vin=ONE))):6.3f} s")
        for words in COMMANDS:
            command = [sys.executable, "-m", "relearn", *words, *(("--book", str(path)) if words[0] == "jobs" else ())]
            spent = best(partial(subprocess.run, command, check=True, capture_output=True))
            print(f"relearn {' '.join(words):22}  {spent:6.3f} s")


if __name__ == "__main__":
    main()
