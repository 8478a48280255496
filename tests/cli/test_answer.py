"""`relearn answer` and `relearn replay` as their user meets them."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path

import can
import pytest

from tests.cli.run import CAPTURES, relearn

END = "demo-ready-pedal.log"


@pytest.fixture
def channel(request: pytest.FixtureRequest) -> str:
    """A bus inside this process, of this test alone."""
    return str(request.node.name)


@pytest.fixture
def tester(channel: str) -> Iterator[can.BusABC]:
    """Somebody else on that bus."""
    with can.Bus(interface="virtual", channel=channel) as bus:
        yield bus


def on(channel: str) -> tuple[str, ...]:
    return "--interface", "virtual", "--channel", channel


def test_a_capture_answers_until_it_is_over(channel: str, tester: can.BusABC) -> None:
    over, heard = threading.Event(), []

    def ask() -> None:
        while not over.is_set():
            tester.send(can.Message(arbitration_id=0x7DF, data=bytes.fromhex("0201420000000000"), is_extended_id=False))
            if (said := tester.recv(0.05)) is not None:
                heard.append(said.data[:3].hex())

    asking = threading.Thread(target=ask)
    asking.start()
    ran = relearn("answer", CAPTURES / END, *on(channel), "--from", 20, "--speed", 20)
    over.set()
    asking.join()
    assert ran.code == 0
    said = " ".join(ran.out.split())  # lines break where the path's length says
    assert "module 7E8, VIN 30ZDEML28TD000001" in said
    assert "Never on a bus with a car or a module on it" in said
    assert "is over: the car is silent" in said
    assert set(heard) == {"044142"}
    (answered,) = map(int, re.findall(r"^(\d+) questions answered$", ran.out, re.MULTILINE))
    assert answered >= len(heard) > 0


@pytest.mark.parametrize("command", ["answer", "replay"])
def test_neither_begins_on_a_bus_in_use(command: str, channel: str, tester: can.BusABC) -> None:
    over = threading.Event()

    def talk() -> None:
        while not over.wait(0.01):
            tester.send(can.Message(arbitration_id=0x3A0, data=b"\x01", is_extended_id=False))

    talking = threading.Thread(target=talk)
    talking.start()
    ran = relearn(command, CAPTURES / END, *on(channel))
    over.set()
    talking.join()
    assert ran.code == 2
    assert "the bus is in use: 3A0#01 was heard" in ran.err
    assert tester.recv(0) is None


def test_a_replay_runs_to_its_end(channel: str, tester: can.BusABC) -> None:
    ran = relearn("replay", CAPTURES / END, *on(channel), "--from", 24.5, "--speed", 10)
    heard = []
    while (said := tester.recv(0)) is not None:
        heard.append(f"{said.arbitration_id:03X}#{said.data.hex().upper()}")
    source = [line.split()[2] for line in (CAPTURES / END).read_text(encoding="ascii").splitlines()]
    assert ran.code == 0
    assert heard == source[-len(heard) :]
    assert f"{len(heard)} of {len(heard)} frames replayed" in ran.out
    assert len(heard) > 10


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("answer", "no-such.log"), "does not exist"),
        (("answer", "no-such-scenario"), "scenarios are air-leak, cold, demo-after"),
        (("answer", CAPTURES / "sagging-supply.csv"), "table of values"),
        (("answer", CAPTURES / "passive-broadcast.log"), "no module answers in it"),
        (("answer", "sagging-supply"), "nobody is asked anything"),
        (("answer", "demo-before", "--from", "9999"), "lasts 75.0 s"),
        (("answer", "no-such.toml"), "cannot be read"),
        (("replay", CAPTURES / "sagging-supply.csv"), "table of values"),
        (("replay", CAPTURES / "cold.log", "--from", "9999"), "earlier --from"),
        (("answer", "demo-before", "--speed", "0"), "--speed"),
        (("answer", "demo-before", "--interface", "no_such"), "cannot be opened"),
    ],
    ids=lambda value: " ".join(getattr(word, "name", str(word)) for word in value) if isinstance(value, tuple) else "",
)
def test_what_cannot_be_played_is_one_sentence(words: tuple[object, ...], why: str) -> None:
    ran = relearn(*words)
    assert ran.code == 2
    assert why in ran.err
    assert "Traceback" not in ran.err


def test_a_scenario_that_does_not_hold_together(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('title = "x"\nmodules = ["gearbox"]\n', encoding="utf-8")
    ran = relearn("answer", path)
    assert ran.code == 2
    assert "mine.toml, key '" in ran.err
