"""How fast are the readers? By hand: `python tests/benchmarks/readers.py [--minutes 10] [--only log,asc] [--linear]`.

Writes an invented busy bus (2,000 broadcast frames and 50 requests with their answers a second: 1.26 million frames in
ten minutes) in every format into a temporary folder. For each format, each in a process of its own: relearn's reader;
the same and the whole `ready` judgement; what a user would take instead, python-can's reader with cantools decoding the
broadcast (for MF4, asammdf taking the frames as arrays); and the floor, counting the lines or reading the bytes. Prints
the best time by the clock, frames a second by it, how many times as long as our reader and as our `ready` that is,
processor time (the hash is found beside the rest, on a second processor; on a busy machine only this one says anything)
and the memory added to that after the imports. Everything is measured in up to three processes, in turn: one can be
half as fast again as the next, by where its memory lies. With --linear: 1, 10 and 100 times the input.
"""

from __future__ import annotations

import argparse
import gzip
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

BROADCAST, REQUESTS = 2000, 50
IDENTIFIERS = (*range(0x20, 0x7DF, 13), 0x7C0, 0x7D8, 0x7F1, 0x7F6)
LENGTHS = (8, 8, 8, 8, 8, 6, 4, 2, 1)
FORMATS = ("log", "log.gz", "asc", "trc", "csv", "blf", "mf4")
BY_PYTHON_CAN = ("asc", "trc", "csv", "blf")
TRIES = {"floor": 5, "read": 5, "ready": 5, "python-can": 2, "python-can+cantools": 1, "asammdf": 2}
ROUNDS = {"floor": 3, "read": 3, "ready": 3, "python-can": 2, "python-can+cantools": 1, "asammdf": 3}
MIB = 1 << 20


def bus(seconds: int, broadcast: int = BROADCAST) -> Iterator[tuple[float, int, bytes]]:
    """Time, identifier and data: identifiers from 020 to 7F6, most of 8 bytes, mode 01 asked and answered between."""
    rng = random.Random(1)
    kinds = [(rng.choice(IDENTIFIERS), rng.choice(LENGTHS)) for _ in range(80)]
    for tick in range(seconds * REQUESTS):
        chosen = rng.choices(kinds, k=broadcast // REQUESTS)
        frames = [(identifier, rng.randbytes(length)) for identifier, length in chosen]
        frames.insert(7, (0x7DF, bytes((2, 1, 12, 0, 0, 0, 0, 0))))
        frames.insert(12, (0x7E8, bytes((4, 0x41, 12)) + rng.randbytes(2) + b"\xaa" * 3))
        for place, (identifier, data) in enumerate(frames):
            yield round(1_700_000_000 + tick / REQUESTS + place * 0.0168 / len(frames), 6), identifier, data


def write(folder: Path, seconds: int, formats: tuple[str, ...], broadcast: int = BROADCAST) -> None:
    """The bus in these formats: by python-can's writers, but candump text by hand and MF4 by asammdf, for speed."""
    import can

    with ExitStack() as stack:
        writers = [stack.enter_context(can.Logger(folder / f"bus.{one}")) for one in formats if one in BY_PYTHON_CAN]
        log = stack.enter_context((folder / "bus.log").open("w"))
        for time_s, identifier, data in bus(seconds, broadcast):
            log.write(f"({time_s:.6f}) can0 {identifier:03X}#{data.hex().upper()}\n")
            if writers:
                message = can.Message(time_s, identifier, False, channel=0, data=data)
                for writer in writers:
                    writer(message)
    if "log.gz" in formats:
        with (folder / "bus.log").open("rb") as plain, gzip.open(folder / "bus.log.gz", "wb", 6) as packed:
            shutil.copyfileobj(plain, packed)
    if "mf4" in formats:
        write_mf4(folder)
    names = {identifier for _, identifier, _ in bus(1)}
    (folder / "bus.dbc").write_text(
        'VERSION ""\nBU_: X\n'
        + "".join(
            f'BO_ {one} M{one}: 8 X\n SG_ S{one} : 0|8@1+ (0.5,0) [0|0] "" X\n'
            f' SG_ T{one} : 8|16@1+ (1,-40) [0|0] "" X\n'
            for one in sorted(names)
        )
    )


def write_mf4(folder: Path) -> None:
    import numpy as np
    from asammdf import MDF, Signal
    from asammdf.blocks.v4_blocks import SourceInformation
    from asammdf.blocks.v4_constants import BUS_TYPE_CAN, SOURCE_BUS
    from can.io.mf4 import STD_DTYPE

    from relearn.capture import Keep, load

    frames = load(folder / "bus.log", Keep(frozenset(range(0x800)))).frames
    assert frames is not None
    records = np.zeros(len(frames), STD_DTYPE)
    for name, column in (("ID", frames.identifier), ("DLC", frames.length), ("DataLength", frames.length)):
        records[f"CAN_DataFrame.{name}"] = column
    records["CAN_DataFrame.DataBytes"][:, :8] = frames.data
    source = SourceInformation(source_type=SOURCE_BUS, bus_type=BUS_TYPE_CAN)
    with MDF(version="4.10") as log:
        log.append(Signal(records, frames.time_s, name="CAN_DataFrame", source=source))
        log.save(folder / "bus.mf4", compression=2)


def floor(path: Path) -> None:
    with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
        sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(MIB), b""))


def read(path: Path) -> None:
    from relearn.capture import load

    load(path)


def ready(path: Path) -> None:
    from relearn.analysis.ready import ready as judge
    from relearn.procedures.sheets import generic
    from relearn.recording import read as read_recording

    judge(read_recording(path), "idle-air-volume", generic())


def python_can(path: Path) -> None:
    import can

    with can.LogReader(path) as reader:
        for _ in reader:
            pass


def python_can_and_cantools(path: Path) -> None:
    import can
    import cantools

    database = cantools.database.load_file(path.parent / "bus.dbc")
    with can.LogReader(path) as reader:
        for message in reader:
            database.decode_message(message.arbitration_id, bytes(message.data), allow_truncated=True)


def asammdf(path: Path) -> None:
    from asammdf import MDF

    with MDF(path) as log:
        log.get("CAN_DataFrame", 0)


DEEDS: dict[str, Callable[[Path], None]] = {
    "floor": floor,
    "read": read,
    "ready": ready,
    "python-can": python_can,
    "python-can+cantools": python_can_and_cantools,
    "asammdf": asammdf,
}


def measure(deed: str, path: Path, little: Path) -> None:
    """In a process of its own: print the best times by clock and processor, and the MiB added to the imports."""
    DEEDS[deed](little)
    before, spent = peak_mib(), []
    for _ in range(TRIES[deed]):
        clock, processor = time.perf_counter(), time.process_time()
        DEEDS[deed](path)
        spent.append((time.perf_counter() - clock, time.process_time() - processor))
    print(*(min(times) for times in zip(*spent, strict=True)), peak_mib() - before)


def peak_mib() -> float:
    """Linux counts KiB, macOS bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)


def measured(deed: str, path: Path, little: Path) -> tuple[float, float, float]:
    command = [sys.executable, __file__, "--measure", deed, str(path), str(little)]
    ran = subprocess.run(command, check=True, capture_output=True, text=True)
    clock, processor, memory = map(float, ran.stdout.split()[-3:])
    return clock, processor, memory


def best(deeds: tuple[str, ...], path: Path, little: Path) -> dict[str, tuple[float, float, float]]:
    """The least of each, over the rounds."""
    found: dict[str, list[tuple[float, float, float]]] = {deed: [] for deed in deeds}
    for round_ in range(max(ROUNDS.values())):
        for deed in deeds:
            if round_ < ROUNDS[deed]:
                found[deed].append(measured(deed, path, little))
    return {deed: (min(a), min(b), min(c)) for deed, (a, b, c) in ((d, zip(*s, strict=True)) for d, s in found.items())}


def others(name: str) -> tuple[str, ...]:
    return ("asammdf",) if name == "mf4" else ("python-can", "python-can+cantools")


def written(folder: Path, seconds: int, formats: tuple[str, ...], broadcast: int = BROADCAST) -> None:
    """In a process of its own: a process begins with the peak memory of the one that started it."""
    command = [sys.executable, __file__, "--write", str(folder), str(seconds), ",".join(formats), str(broadcast)]
    subprocess.run(command, check=True)


def table(folder: Path, little: Path, formats: tuple[str, ...], frames: int) -> None:
    print(f"{frames:,} frames; {os.cpu_count()} processors; {sys.platform}, Python {sys.version.split()[0]}")
    for name in formats:
        path, small = folder / f"bus.{name}", little / f"bus.{name}"
        print(f"{name}: {path.stat().st_size / MIB:.0f} MiB")
        found = best(("floor", "read", "ready", *others(name)), path, small)
        for deed, (clock, processor, memory) in found.items():
            ratios = " ".join(f"{clock / found[ours][0]:7.1f} x {ours}" for ours in ("read", "ready"))
            print(
                f"  {deed:20} {clock:8.3f} s {frames / clock:12,.0f} frames/s {ratios}"
                f"  {processor:7.3f} s of processors  {memory:6.1f} MiB",
                flush=True,
            )


def linearity(folder: Path, formats: tuple[str, ...], seconds: int) -> None:
    print("linearity: microseconds of processor a frame at 1, 10 and 100 times the input, `ready` included")
    for factor in (1, 10, 100):
        here = folder / str(factor)
        here.mkdir()
        written(here, seconds * factor, formats)
        for name in formats:
            _, spent, memory = measured("ready", here / f"bus.{name}", folder / "1" / f"bus.{name}")
            frames = seconds * factor * (BROADCAST + 2 * REQUESTS)
            print(f"  {factor:4} x {name:7} {spent / frames * 1e6:7.3f} us  {memory:6.1f} MiB", flush=True)
        if factor > 1:
            shutil.rmtree(here)


def broadcast_alone(folder: Path, formats: tuple[str, ...], seconds: int) -> None:
    print(f"memory: {seconds * REQUESTS} requests and answers among more and more broadcast frames, `ready` included")
    for broadcast in (BROADCAST // 10, BROADCAST, BROADCAST * 10):
        here = folder / f"broadcast{broadcast}"
        here.mkdir()
        written(here, seconds, formats, broadcast)
        for name in formats:
            _, _, memory = measured("ready", here / f"bus.{name}", folder / "1" / f"bus.{name}")
            print(f"  {seconds * broadcast:10,} broadcast frames  {name:7} {memory:6.1f} MiB", flush=True)
        shutil.rmtree(here)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--minutes", type=float, default=10)
    asked.add_argument("--only", default=",".join(FORMATS), help="formats, separated by commas")
    asked.add_argument("--linear", action="store_true", help="only the tables of 1, 10 and 100 times")
    asked.add_argument("--measure", nargs=3, help=argparse.SUPPRESS)
    asked.add_argument("--write", nargs=4, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.write:
        write(Path(given.write[0]), int(given.write[1]), tuple(given.write[2].split(",")), int(given.write[3]))
        return
    if given.measure:
        measure(given.measure[0], Path(given.measure[1]), Path(given.measure[2]))
        return
    formats, seconds = tuple(given.only.split(",")), round(given.minutes * 60)
    with tempfile.TemporaryDirectory() as name:
        folder, little = Path(name), Path(name) / "little"
        little.mkdir()
        if given.linear:
            linearity(folder, formats, 6)
            broadcast_alone(folder, formats, 30)
            return
        written(folder, seconds, formats)
        written(little, 1, formats)
        table(folder, little, formats, seconds * (BROADCAST + 2 * REQUESTS))


if __name__ == "__main__":
    main()
