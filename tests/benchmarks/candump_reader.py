"""How fast is the candump reader? Run it by hand: `python tests/benchmarks/candump_reader.py`.

Writes a log of ten minutes of an invented busy bus (2,000 broadcast frames and 50 requests with their answers a second,
1.26 million frames) into a temporary folder, reads it with relearn's reader and with python-can's, and prints frames a
second of both, their ratio, what merely counting the lines costs, and the peak memory of each reader beyond its imports.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

SECONDS, BROADCAST, REQUESTS = 600, 2000, 50
FRAMES = SECONDS * (BROADCAST + 2 * REQUESTS)
TRIES = 3


def write_log(path: Path) -> None:
    """Identifiers from 020 to 7F6 with lengths of 1 to 8, mostly 8, and mode 01 requests and answers between them."""
    rng = random.Random(1)
    broadcast = [(rng.choice((*range(0x20, 0x7DF, 13), 0x7C0, 0x7D8, 0x7F1, 0x7F6)), rng.choice((8, 8, 8, 8, 8, 6, 4, 2, 1)))
                 for _ in range(80)]
    with path.open("w") as file:
        for tick in range(SECONDS * REQUESTS):
            start = 1_700_000_000 + tick / REQUESTS
            lines = [(identifier, rng.randbytes(length)) for identifier, length in rng.choices(broadcast, k=BROADCAST // REQUESTS)]
            lines[7:7] = [(0x7DF, bytes((2, 1, 12, 0, 0, 0, 0, 0)))]
            lines[12:12] = [(0x7E8, bytes((4, 0x41, 12)) + rng.randbytes(2) + b"\xaa" * 3)]
            for place, (identifier, data) in enumerate(lines):
                file.write(f"({start + place * 0.0004:.6f}) can0 {identifier:03X}#{data.hex().upper()}\n")


def count_lines(path: Path) -> int:
    """The floor: every byte looked at once for newlines."""
    with path.open("rb") as file:
        return sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(1 << 20), b""))


def read_ours(path: Path) -> int:
    from relearn.capture import candump

    return candump.read(path).total_frames


def read_python_can(path: Path) -> int:
    from can import CanutilsLogReader

    return sum(1 for _ in CanutilsLogReader(path))


READERS: dict[str, Callable[[Path], int]] = {"lines": count_lines, "ours": read_ours, "python-can": read_python_can}


def measure(name: str, path: Path) -> None:
    """Runs in a process of its own: prints the best time and the memory that reading added to the imports."""
    read = READERS[name]
    little = path.with_name("little.log")
    little.write_bytes(path.read_bytes()[:4600].rpartition(b"\n")[0] + b"\n")
    read(little)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    best = min(timed(read, path) for _ in range(TRIES if name != "python-can" else 1))
    print(best, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)


def timed(read: Callable[[Path], int], path: Path) -> float:
    begun = time.perf_counter()
    frames = read(path)
    spent = time.perf_counter() - begun
    if frames != FRAMES:
        raise SystemExit(f"{frames} frames read of {FRAMES}")
    return spent


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bus.log"
        write_log(path)
        print(f"{FRAMES:,} frames, {path.stat().st_size / 2**20:.0f} MiB")
        spent = {}
        for name in READERS:
            words = subprocess.run([sys.executable, __file__, name, str(path)], check=True, capture_output=True, text=True)
            spent[name], memory = map(float, words.stdout.split())
            print(f"{name:11} {FRAMES / spent[name]:12,.0f} frames/s  {spent[name]:7.3f} s  {memory:6.1f} MiB more memory")
        print(f"ratio to python-can's reader: {spent['python-can'] / spent['ours']:.1f}")
        print(f"ratio to counting the lines:  {spent['ours'] / spent['lines']:.1f} times as long")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        measure(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
