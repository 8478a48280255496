"""Scenarios become files: candump logs, meter tables, broadcast logs. The same bytes on every run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from relearn.practice import broadcast, polling
from relearn.practice import scenario as scenarios
from relearn.practice.engine import Engine, load
from relearn.practice.meter import table
from relearn.practice.scenario import Scenario
from relearn.practice.transport import Sent

INTERFACE = "can0"


def asked(engine: Engine, scenario: Scenario) -> Iterator[str]:
    """A log of questions and answers."""
    return log(scenario, polling.record(engine, scenario))


def unasked(engine: Engine, scenario: Scenario) -> Iterator[str]:
    """A log of what the modules broadcast."""
    return log(scenario, broadcast.record(engine, scenario))


def log(scenario: Scenario, sent: Iterable[Sent]) -> Iterator[str]:
    """Frames as lines of `candump -l`: wall clock with microseconds, interface, identifier and data in hex."""
    start_us = scenario.start_us()
    for frame in sent:
        seconds, micros = divmod(start_us + frame.time_us, 1_000_000)
        identifier = f"{frame.identifier:08X}" if frame.extended else f"{frame.identifier:03X}"
        yield f"({seconds}.{micros:06d}) {INTERFACE} {identifier}#{frame.data.hex().upper()}"


KINDS: Mapping[str, Callable[[Engine, Scenario], Iterator[str]]] = {
    "asked": asked,
    "broadcast": unasked,
    "meter": table,
}


def content(scenario: Scenario) -> bytes:
    """The bytes of one capture."""
    lines = KINDS[scenario.kind](load(scenario.engine), scenario)
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def write(folder: Path, scenario: Scenario) -> Path:
    """Write one capture."""
    path = folder / scenario.file
    path.write_bytes(content(scenario))
    return path


def differs(folder: Path, scenario: Scenario) -> bool:
    """Whether the file is missing or holds anything but what a fresh run writes."""
    path = folder / scenario.file
    return not path.is_file() or path.read_bytes() != content(scenario)


def every() -> Iterator[Scenario]:
    """All packaged scenarios of which a capture is written."""
    return (scenarios.scenario(name) for name in scenarios.written())
