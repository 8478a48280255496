"""How fast is a survey? Run it by hand: `python tests/benchmarks/survey.py [CAPTURES]`.

Writes a thousand captures of one minute into a temporary folder: the last minute of three demo captures, each with
times of its own and a little noise on the engine speed, so that no two have the same content. Surveys them with one
process and with two, each in a command of its own, and once more with all rows there already. Prints captures per
second by the clock, the speed-up, and the peak memory of the largest process. The start of the processes is in it.
"""

from __future__ import annotations

import os
import platform
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).parents[2] / "captures"
NAMES = ("demo-after.log", "demo-ready-idle.log", "hunting.log")
CAPTURES, LENGTH_S, APART_S = 1000, 60.0, 3600
TO_MIB = 2**20 if sys.platform == "darwin" else 2**10  # getrusage tells bytes there, KiB elsewhere
SPEED = "7E8#04410C"  # the answer to 01 0C: two bytes of quarter revolutions per minute (SAE J1979)
Line = tuple[float, str]


def last_minute(path: Path) -> list[Line]:
    """Seconds from the minute's begin, and the rest of each candump line."""
    lines = [line.split(") ", 1) for line in path.read_text(encoding="ascii").splitlines()]
    times_s = [float(stamp[1:]) for stamp, _ in lines]
    begin_s = times_s[-1] - LENGTH_S
    return [(at_s - begin_s, rest) for at_s, (_, rest) in zip(times_s, lines, strict=True) if at_s >= begin_s]


def noisy(rest: str, rng: random.Random) -> str:
    """An engine speed that differs by up to 2 rpm; any other frame as it is."""
    place = rest.find(SPEED)
    if place < 0:
        return rest
    begin = place + len(SPEED)
    raw = max(0, int(rest[begin : begin + 4], 16) + rng.randint(-8, 8)) if int(rest[begin : begin + 4], 16) else 0
    return f"{rest[:begin]}{raw:04X}{rest[begin + 4 :]}"


def write_captures(folder: Path, count: int) -> None:
    minutes = [last_minute(DEMO / name) for name in NAMES]
    for number in range(count):
        rng, start_s = random.Random(number), 1_700_000_000 + number * APART_S
        lines = (f"({start_s + at_s:.6f}) {noisy(rest, rng)}\n" for at_s, rest in minutes[number % len(minutes)])
        (folder / f"{number:05}.log").write_text("".join(lines), encoding="ascii")


def survey(folder: Path, out: Path, workers: int) -> tuple[float, float]:
    """Seconds by the clock, and the peak memory of the largest process in MiB, of one command."""
    asked = ("--for", "settle", "--sheet", "demo-car")
    words = ["survey", str(folder), *asked, "--out", str(out), "--workers", str(workers)]
    begun = time.perf_counter()
    subprocess.run([sys.executable, __file__, "as-command", *words], check=True, stdout=subprocess.DEVNULL)
    spent = time.perf_counter() - begun
    return spent, float(out.with_suffix(".memory").read_text())


def as_command(words: list[str]) -> None:
    """The command; then the peak memory of it and of its processes is left beside its table."""
    from relearn.cli import main

    sys.argv = ["relearn", *words]
    try:
        main()
    finally:
        peaks = (resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        Path(words[words.index("--out") + 1]).with_suffix(".memory").write_text(f"{max(peaks) / TO_MIB:.1f}")


def main(count: int) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "captures"
        folder.mkdir()
        write_captures(folder, count)
        size = sum(one.stat().st_size for one in folder.iterdir()) / 2**20
        print(f"{count:,} captures of {LENGTH_S:.0f} s, {size:.0f} MiB; {os.cpu_count()} cores, {platform.machine()}")
        print(f"{'':22}{'captures/s':>12}{'s':>8}{'times one':>12}{'peak MiB':>10}")
        one_s = line("one process", count, survey(folder, Path(place) / "rows1.csv", 1))
        line("two processes", count, survey(folder, Path(place) / "rows2.csv", 2), one_s)
        line("all there already", count, survey(folder, Path(place) / "rows2.csv", 2), one_s)


def line(name: str, count: int, spent: tuple[float, float], one_s: float | None = None) -> float:
    """One line of the table; the seconds that it tells."""
    spent_s, memory_mib = spent
    times = f"{(one_s or spent_s) / spent_s:.2f}"
    print(f"{name:22}{count / spent_s:12.1f}{spent_s:8.1f}{times:>12}{memory_mib:10.0f}", flush=True)
    return spent_s


if __name__ == "__main__":
    if sys.argv[1:2] == ["as-command"]:
        as_command(sys.argv[2:])
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else CAPTURES)
