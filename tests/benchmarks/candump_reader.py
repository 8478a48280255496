"""How fast is the candump reader? Run it by hand: `python tests/benchmarks/candump_reader.py`.

Writes ten minutes of an invented busy bus (2,000 broadcast frames and 50 requests with their answers a second, 1.26
million frames) into a temporary folder and reads it with relearn's reader and with python-can's, each in a process of
its own. Prints frames a second of processor time, their ratio, what counting lines costs, and the peak memory added.
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
TRIES = {"lines": 10, "ours": 20, "python-can": 2}
IDENTIFIERS = (*range(0x20, 0x7DF, 13), 0x7C0, 0x7D8, 0x7F1, 0x7F6)
LENGTHS = (8, 8, 8, 8, 8, 6, 4, 2, 1)


def write_log(path: Path) -> None:
    """Identifiers from 020 to 7F6, most of them 8 bytes long, and mode 01 requests and answers between them."""
    rng = random.Random(1)
    broadcast = [(rng.choice(IDENTIFIERS), rng.choice(LENGTHS)) for _ in range(80)]
    with path.open("w") as file:
        for tick in range(SECONDS * REQUESTS):
            start = 1_700_000_000 + tick / REQUESTS
            chosen = rng.choices(broadcast, k=BROADCAST // REQUESTS)
            lines = [(identifier, rng.randbytes(length)) for identifier, length in chosen]
            lines.insert(7, (0x7DF, bytes((2, 1, 12, 0, 0, 0, 0, 0))))
            lines.insert(12, (0x7E8, bytes((4, 0x41, 12)) + rng.randbytes(2) + b"\xaa" * 3))
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
    """In a process of its own: print the best and the first time, and the memory that reading added to the imports."""
    little = path.with_name("little.log")
    little.write_text("(1700000000.000000) can0 7E8#04410C0BB8AAAAAA\n" * 100)
    READERS[name](little)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    spent = [timed(READERS[name], path) for _ in range(TRIES[name])]
    print(min(spent), spent[0], (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)


def timed(read: Callable[[Path], int], path: Path) -> float:
    begun = time.process_time()
    frames = read(path)
    spent = time.process_time() - begun
    if frames != FRAMES:
        raise SystemExit(f"{frames} frames read of {FRAMES}")
    return spent


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bus.log"
        write_log(path)
        print(f"{FRAMES:,} frames, {path.stat().st_size / 2**20:.0f} MiB")
        best = {}
        for name in READERS:
            command = [sys.executable, __file__, name, str(path)]
            words = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
            best[name], first, memory = map(float, words)
            print(
                f"{name:11} {FRAMES / best[name]:12,.0f} frames/s   best {best[name]:6.3f} s, first {first:6.3f} s"
                f"   {memory:5.1f} MiB more"
            )
        print(
            f"ours is {best['python-can'] / best['ours']:.0f} times as fast as python-can's reader, "
            f"and takes {best['ours'] / best['lines']:.1f} times as long as counting the lines"
        )


if __name__ == "__main__":
    if len(sys.argv) == 3:
        measure(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
