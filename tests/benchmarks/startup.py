"""How soon is there an answer? Run it by hand: `python tests/benchmarks/startup.py`.

Starts each command in a process of its own, in turn with `python -c "import click"`, and prints the best of seven by
the clock, in seconds, and as a ratio to that import. Aims: --help within 3 times of it, ready within 1.0 s.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

CAPTURE = str(Path(__file__).parents[2] / "captures" / "demo-ready-idle.log")
ASKED = ("--for", "idle-air-volume", "--sheet", "demo-car")
TRIES = 7
FLOOR = 'python -c "import click"'
COMMANDS: dict[str, Sequence[str]] = {
    "python -c pass": ("-c", "pass"),
    FLOOR: ("-c", "import click"),
    "import relearn": ("-c", "import relearn"),
    "import numpy, pydantic, rich": ("-c", "import numpy, pydantic.main, rich.console, rich.table"),
    "import pandas": ("-c", "import pandas"),
    "relearn --help": ("-m", "relearn", "--help"),
    "relearn ready --help": ("-m", "relearn", "ready", "--help"),
    "relearn ready FILE": ("-m", "relearn", "ready", CAPTURE, *ASKED),
    "relearn settle FILE": ("-m", "relearn", "settle", CAPTURE, "--sheet", "demo-car"),
    "relearn show FILE": ("-m", "relearn", "show", CAPTURE),
}


def spent_s(words: Sequence[str]) -> float:
    begun = time.perf_counter()
    ran = subprocess.run([sys.executable, *words], capture_output=True)
    if ran.returncode not in (0, 1, 3):
        raise SystemExit(ran.stderr.decode(errors="replace"))
    return time.perf_counter() - begun


def main() -> None:
    rounds = [{name: spent_s(words) for name, words in COMMANDS.items()} for _ in range(TRIES)]
    best = {name: min(one[name] for one in rounds) for name in COMMANDS}
    print(f"Python {sys.version.split()[0]} on {sys.platform}, best of {TRIES}")
    for name, seconds in best.items():
        print(f"{name:30} {seconds:6.3f} s  {seconds / best[FLOOR]:5.1f} times")


if __name__ == "__main__":
    main()
