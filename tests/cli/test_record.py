"""`relearn record` as its user meets it, at a played car in counted time."""

from __future__ import annotations

import io
import os
import signal
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from relearn.bus import clock as clocks
from relearn.bus import wire
from relearn.bus.address import Address
from relearn.bus.answering import Answering, Car, Spoken
from relearn.bus.frame import Frame
from relearn.bus.source import Notice, Status
from relearn.bus.wire import Interface
from relearn.capture import load as capture_of
from relearn.cli.bus_options import adapter
from relearn.cli.progress import Progress, last_values
from relearn.cli.record import wanted_channels
from relearn.cli.until import until
from relearn.errors import ChoiceError
from relearn.j1979 import dbc
from relearn.practice.engine import load
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import scenario
from relearn.procedures.sheets import generic
from relearn.recording import read
from tests.bus.simulated import START_S, CountedBus, CountedClock
from tests.bus.steady import Steady, stray
from tests.bus.test_session import Mute
from tests.bus.test_wire import Broken
from tests.cli.run import CAPTURES, Ran, relearn

PEDAL = "accelerator-closed-position"


class Played:
    """A scenario that begins when the recording does."""

    def __init__(self, name: str) -> None:
        played = scenario(name)
        self._car = PlayedCar(load(played.engine), played)

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        return self._car.says(payload, to, now_s - START_S)


class Bench:
    """A counted bus in the place of the adapter, and what the command does at it."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, out: Path) -> None:
        self.clock, self.out = CountedClock(), out
        self.bus: Any = None
        self._patch = monkeypatch
        monkeypatch.setattr(clocks, "MachineClock", lambda: self.clock)

    def at(self, *cars: Car, bus: type[CountedBus] = CountedBus) -> Bench:
        self.bus = bus(self.clock, *(Answering(one) for one in cars))
        self._patch.setattr(wire, "opened", lambda interface: self.bus)
        return self

    def record(self, *words: object) -> Ran:
        return relearn("record", self.out, *words)

    def after(self, seconds: float, do: Any) -> None:
        """Something that happens so many seconds after the start."""
        asleep, pending = self.clock.now_s, [do]

        def now_s() -> float:
            if pending and asleep() >= START_S + seconds:
                pending.pop()()
            return asleep()

        self.clock.now_s = now_s  # type: ignore[method-assign]


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Bench:
    return Bench(monkeypatch, tmp_path / "out.log")


def test_so_many_seconds(bench: Bench) -> None:
    ran = bench.at(Steady()).record("--until", 10)
    assert ran.code == 0
    assert "heard from 7E8" in ran.out
    assert f"next: relearn show {bench.out}" in ran.out
    assert 10.0 <= read(bench.out).duration_s < 15.0


def test_what_to_mind_is_said_before_anything_else(bench: Bench) -> None:
    said = " ".join(bench.at(Steady()).record("--until", 2).err.split())
    for words in ("fans can start unasked", "engine is hot", "carbon monoxide", "car can move", "only reads"):
        assert words in said


def test_until_ready_ends_when_it_is(bench: Bench) -> None:
    ran = bench.at(Played("demo-ready-pedal")).record("--for", PEDAL, "--sheet", "demo-car", "--until", "ready")
    assert ran.code == 0
    assert "ready: CANNOT TELL" in ran.err and "ready: YES" in ran.err
    assert f"next: relearn ready {bench.out} --for {PEDAL} --sheet demo-car" in ran.out
    assert relearn("ready", bench.out, "--for", PEDAL, "--sheet", "demo-car").code == 0


def test_ended_before_it_was_ready_is_no_yes(bench: Bench) -> None:
    bench.at(Played("low-voltage")).after(20.0, lambda: os.kill(os.getpid(), signal.SIGINT))
    ran = bench.record("--for", "idle-air-volume", "--sheet", "demo-car", "--until", "ready")
    assert ran.code == 1
    assert "ready: NO (supply)" in ran.err and " V " in ran.err
    assert "ended before it was a yes: ready: NO (supply)" in ran.out
    assert relearn("ready", bench.out, "--for", "idle-air-volume", "--sheet", "demo-car").code == 1


def test_until_settled(bench: Bench) -> None:
    ran = bench.at(Played("demo-after")).record("--until", "settled", "--sheet", "demo-car")
    assert ran.code == 0, ran.err
    assert "settled: YES" in ran.err
    assert relearn("settle", bench.out, "--sheet", "demo-car").code == 0


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_asked_to_end(bench: Bench, name: str) -> None:
    number = getattr(signal, name, None)
    if number is None:
        pytest.skip("not on this system")
    before = signal.getsignal(number)
    bench.at(Steady()).after(10.0, lambda: os.kill(os.getpid(), number))
    ran = bench.record("--for", PEDAL)
    assert ran.code == 0
    assert f"next: relearn ready {bench.out} --for {PEDAL}" in ran.out
    assert signal.getsignal(number) == before
    recording = read(bench.out)
    assert [one.item for one in recording.identity].count("vin") == 2
    assert recording.duration_s < 15.0


def test_asked_twice_it_ends_at_once_and_whole(bench: Bench) -> None:
    for seconds in (12.0, 13.5):
        bench.at(Steady()).after(seconds, lambda: os.kill(os.getpid(), signal.SIGINT))
    ran = bench.record()
    assert ran.code == 0
    assert "ended at once" in ran.err
    assert 11.5 < read(bench.out).duration_s < 12.5  # its first word comes 1.5 s after the start


def test_a_signal_that_was_ignored_stays_ignored(bench: Bench) -> None:
    number = getattr(signal, "SIGHUP", None)
    if number is None:
        pytest.skip("not on this system")
    before = signal.signal(number, signal.SIG_IGN)
    try:
        bench.at(Steady()).after(5.0, lambda: os.kill(os.getpid(), number))
        bench.record("--until", 10)
    finally:
        signal.signal(number, before)
    assert read(bench.out).duration_s >= 10.0


def test_nobody_answers(bench: Bench) -> None:
    ran = bench.at().record("--until", 5)
    assert ran.code == 2
    assert "nobody answers yet" in ran.err
    assert ran.err.splitlines()[-1].startswith(f"relearn: {bench.out}: nobody was heard")
    assert "ending: identity" not in ran.err


def test_another_tester_writes(bench: Bench) -> None:
    bench.at(Steady())
    for number in range(1000):
        bench.bus.put(stray(number * 0.02, 0x7E0, bytes.fromhex("21AAAAAAAAAAAAAA")))
    ran = bench.record("--for", "idle-air-volume", "--until", 12)
    assert ran.code == 2
    assert not bench.bus.sent
    assert "another tester is at work" in ran.err
    assert "another tester was at work" in ran.err.splitlines()[-1] and "--listen" in ran.err.splitlines()[-1]
    assert "ending: identity" not in ran.err


def test_the_adapter_is_lost(bench: Bench) -> None:
    bench.at(Steady(), bus=Broken).after(10.0, lambda: setattr(bench.bus, "hearing", OSError(19, "No such device")))
    ran = bench.record()
    assert ran.code == 2
    assert "next: relearn show" in ran.out
    assert "no longer answers" in ran.err.splitlines()[-1]
    assert read(bench.out).samples["time_s"].max() > 8.0


def test_listening_with_a_database_says_nothing(bench: Bench) -> None:
    bench.at(bus=Mute)
    database = Path(__file__).parents[2] / "dbc_examples" / "broadcast.dbc"
    frames = capture_of(CAPTURES / "passive-broadcast.log", dbc.keep_for(dbc.database(database))).frames
    assert frames is not None
    columns = (frames.time_s + START_S, frames.identifier, frames.extended, frames.length, frames.data)
    for time_s, identifier, extended, length, data in zip(*columns, strict=True):
        bench.bus.put(Frame(float(time_s), int(identifier), bool(extended), bytes(data[:length])))
    ran = bench.record("--listen", "--dbc", database, "--until", frames.time_s[-1] + 3)
    assert ran.code == 0, ran.err
    assert not bench.bus.sent
    recorded = read(bench.out, database).samples
    assert set(recorded["channel"]) == set(read(CAPTURES / "passive-broadcast.log", database).samples["channel"])
    assert f"next: relearn show {bench.out} --dbc {database}" in ran.out
    assert " identifiers\n" in ran.out and "no module heard" not in ran.out
    assert "ending: identity" not in ran.err


def test_listening_to_a_bus_that_is_still(bench: Bench) -> None:
    ran = bench.at(bus=Mute).record("--listen", "--until", 5)
    assert ran.code == 2
    assert "nothing is on the bus yet" in ran.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--until", "never"), "none of its choices"),
        (("--until", "nan"), "none of its choices"),
        (("--until", "-3"), "none of its choices"),
        (("--until", "ready"), "name it with --for"),
        (("--for", "nonsense"), "nonsense"),
        (("--for", "vin-write"), "choose one of accelerator-closed-position"),
        (("--for", "immobilizer-registration"), "shows nothing in scan data"),
        (("--dbc", "a.dbc"), "add --listen"),
        (("--listen", "--map", "a.toml"), "with --dbc"),
        (("--listen", "--dbc", "nowhere.dbc"), "nowhere.dbc"),
        (("--option", "fast"), "KEY=VALUE"),
        (("--sheet", "nowhere.toml"), "nowhere.toml"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_opened(bench: Bench, words: tuple[str, ...], says: str) -> None:
    ran = bench.at(Steady()).record(*words)
    assert ran.code == 2
    assert ran.err.count("\n") == 1 and says in ran.err
    assert not bench.out.exists() and not bench.bus.sent


def test_a_file_that_is_there_is_left_alone(bench: Bench) -> None:
    bench.out.write_text("mine")
    ran = bench.at(Steady()).record("--until", 2)
    assert (ran.code, bench.out.read_text(), bench.bus.sent) == (2, "mine", [])


@pytest.mark.parametrize(
    ("text", "value"),
    [("a=1", 1), ("a=0x1F", 31), ("a=0.5", 0.5), ("a=true", True), ("a=False", False), ("a=COM3", "COM3"), ("a=", "")],
)
def test_an_option_is_what_it_looks_like(text: str, value: object) -> None:
    assert adapter("slcan", None, None, (text,)) == Interface("slcan", options={"a": value})


def test_settled_needs_more_than_a_pedal_relearn_reads() -> None:
    sheet = generic()
    pedal = wanted_channels(PEDAL, until(None, PEDAL, sheet), sheet)
    both = wanted_channels(PEDAL, until("settled", PEDAL, sheet), sheet)
    assert set(pedal) < set(both)
    with pytest.raises(ChoiceError, match="nonsense"):
        wanted_channels("nonsense", until(None, None, sheet), sheet)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_in_a_terminal_one_line_is_drawn_over_and_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.get_terminal_size", lambda fallback: os.terminal_size((40, 24)))
    stream = Terminal()
    progress = Progress(stream)
    status = Status(63.0, 1000, 20.6, 0.994, 0.1, ("7E8",), None)
    progress.show(status, "", None, "engine speed 812 rpm · coolant temperature 62 °C")
    progress.notice(Notice(START_S, "back", "7E8 answers\x1b[2J again"))
    progress.show(status, "", None, "")
    progress.end()
    drawn = stream.getvalue().split("\r")
    assert drawn[1] == "63 s  21/s (99 %)  engine speed 812 rpm"
    assert drawn[2].strip() == "" and len(drawn[2]) == len(drawn[1])
    assert drawn[3].endswith("7E8 answers\\x1b[2J again\n")
    assert all(len(one) < 40 for one in drawn[1:3])
    assert drawn[-1] == ""


def test_the_line_holds_in_80_columns_what_is_read_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.get_terminal_size", lambda fallback: os.terminal_size((80, 24)))
    recording = read(CAPTURES / "demo-ready-idle.log")
    judged = until("ready", "idle-air-volume", generic()).judge(recording)  # type: ignore[misc]
    stream = Terminal()
    Progress(stream).show(Status(1263.0, 1000, 20.6, 1.0, 0.1, ("7E8",), None), "ready", judged, last_values(recording))
    drawn = stream.getvalue()
    for part in ("1263 s  21/s (100 %)  ready: ", " rpm  ", " °C  ", " V  ", "pedal "):
        assert part in drawn
    assert len(drawn.strip()) <= 79


def test_a_value_is_shown_only_while_it_is_fresh() -> None:
    recording = read(CAPTURES / "demo-ready-idle.log")
    assert "–" not in last_values(recording)
    late = replace(recording, duration_s=recording.duration_s + 20.0)
    assert last_values(late) == "– rpm  – °C  – V  pedal – %"
