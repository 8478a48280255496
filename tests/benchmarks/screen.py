"""How soon does the page show it? Run it by hand: `python -m tests.benchmarks.screen`.

A pretend module on a bus of this machine (udp_multicast) answers the page's own polling; its engine speed counts up by
one with each answer, so that each sample is known again by what the page shows. A browser notes, frame by frame, when
it has drawn what. Prints, as measured: from a sample on the bus to the first frame that shows it or a later one (aim:
200 ms); from the last answer of a module that falls silent to the words that say so (aim: 2 s); and from choosing a
capture of an hour, the demo idle again and again, to its first drawn frame (aim: 2 s), beside a capture of a minute.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import can
from playwright.sync_api import Browser

from relearn.bus.answering import Answering
from relearn.bus.clock import MachineClock
from relearn.bus.frame import Frame
from relearn.bus.wire import send
from tests.bus.pretend import Module, zeros
from tests.cli.run import CAPTURES
from tests.screen.browser import chromium, opened
from tests.screen.raw import free_udp_port
from tests.screen.served import served

GROUP = "239.74.163.2"
SUPPORTED = frozenset({0x01, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x10, 0x11, 0x42, 0x49})
SPEED, FIRST_RPM, RPM_BITS = 0x0C, 600, 4  # SAE J1979: a quarter of a revolution each bit
WATCHED_S, HOUR_S = 30.0, 3600.0
NOTES = """
window.seen = []; window.trouble = 0; window.drawn = 0;
const note = () => {
  const number = document.querySelector('.strip .number'), state = document.querySelector('.top .state');
  const text = number ? number.textContent.trim() : '';
  if (text && (!seen.length || seen.at(-1)[1] !== text)) seen.push([Date.now() / 1000, text]);
  trouble = state && state.textContent.trim() ? trouble || Date.now() / 1000 : 0;
  if (!drawn && document.querySelector('.strips[data-drawn]')) drawn = Date.now() / 1000;
  requestAnimationFrame(note);
};
requestAnimationFrame(note);
"""


class Car(threading.Thread):
    """The module. said_s: when each engine speed went out, by its revolutions per minute."""

    def __init__(self, port: int) -> None:
        super().__init__(daemon=True)
        self._bus = can.Bus(interface="udp_multicast", channel=GROUP, port=port, hop_limit=0)
        self._answering, self._clock = Answering(Module(SUPPORTED, data=self._data)), MachineClock()
        self._rpm, self._coming, self.over = FIRST_RPM, list[int](), False
        self.said_s: dict[int, float] = {}

    def run(self) -> None:
        while not self.over:
            due_s = self._answering.due_s()
            message = self._bus.recv(0.02 if due_s is None else max(due_s - self._clock.now_s(), 0.0))
            if message is not None and not message.is_error_frame:
                frame = Frame(self._clock.now_s(), message.arbitration_id, message.is_extended_id, bytes(message.data))
                self._answering.hear(frame)
            for reply in self._answering.speak(self._clock.now_s()):
                send(self._bus, reply, self._clock.now_s())
                self.said_s.update(dict.fromkeys(self._coming, time.time()))
                self._coming.clear()
        self._bus.shutdown()

    def _data(self, pid: int, now_s: float) -> bytes:
        if pid != SPEED:
            return zeros(pid, now_s)
        self._rpm += 1
        self._coming.append(self._rpm)
        return (self._rpm * RPM_BITS).to_bytes(2, "big")


@contextmanager
def answering(port: int) -> Iterator[Car]:
    car = Car(port)
    car.start()
    try:
        yield car
    finally:
        car.over = True
        car.join()


def live(browser: Browser, folder: Path) -> tuple[Sequence[float], float]:
    """Each sample's time to the page, and how long a silence was unsaid."""
    port = free_udp_port()
    bus = ("--interface", "udp_multicast", "--channel", GROUP, "--option", f"port={port}", "--option", "hop_limit=0")
    with answering(port) as car, served(*bus, "--out", folder / "live.log", cwd=folder) as server:
        page = opened(browser, server.url, NOTES)
        page.wait_for_function("seen.length > 20 && !trouble")
        begun_s = time.time()
        page.wait_for_timeout(WATCHED_S * 1e3)
        seen = [(at_s, int(text)) for at_s, text in page.evaluate("seen") if text.isdigit()]
        said = [(at_s, rpm) for rpm, at_s in car.said_s.items() if begun_s < at_s < begun_s + WATCHED_S - 1.0]
        car.over = True
        car.join()
        page.wait_for_function("trouble")
        return [shown_s(rpm, seen) - at_s for at_s, rpm in said], page.evaluate("trouble") - max(car.said_s.values())


def shown_s(rpm: int, seen: Sequence[tuple[float, int]]) -> float:
    """When the page first showed this sample or one behind it."""
    return next(at_s for at_s, shown in seen if shown >= rpm)


def hour(path: Path) -> int:
    """The demo idle, again and again for an hour; its frames."""
    lines = [line.split(" ", 1) for line in (CAPTURES / "demo-ready-idle.log").read_text("ascii").splitlines()]
    times = [float(stamp.strip("()")) for stamp, _ in lines]
    lasts_s = times[-1] - times[0] + 0.01
    with path.open("w", encoding="ascii") as out:
        for turn in range(round(HOUR_S / lasts_s)):
            out.writelines(
                f"({at_s + turn * lasts_s:.6f}) {rest}\n" for at_s, (_, rest) in zip(times, lines, strict=True)
            )
    return len(lines) * round(HOUR_S / lasts_s)


def started(browser: Browser, folder: Path, name: str) -> float:
    """From choosing a capture on the page to its first drawn frame, in a program and a browser that have shown nothing
    yet."""
    with served(folder, cwd=folder) as server:
        page = opened(browser, server.url, NOTES)
        page.get_by_role("button", name=name).wait_for()
        begun_s = time.time()
        page.get_by_role("button", name=name).click()
        page.wait_for_function("drawn")
        return float(page.evaluate("drawn")) - begun_s


def main() -> None:
    with tempfile.TemporaryDirectory() as made, chromium() as browser:
        folder = Path(made)
        frames = hour(folder / "hour.log")
        shutil.copy(CAPTURES / "stall.log", folder / "minute.log")
        begun_s = {name: started(browser, folder, f"{name}.log") for name in ("minute", "hour")}
        samples, silence_s = live(browser, folder)
    at = statistics.quantiles(samples, n=20)
    print(f"{len(samples)} samples in {WATCHED_S:.0f} s; an hour of {frames} frames")
    print(f"sample to page, median      {statistics.median(samples) * 1e3:6.0f} ms  aim 200")
    print(f"sample to page, 95 of 100   {at[-1] * 1e3:6.0f} ms")
    print(f"sample to page, longest     {max(samples) * 1e3:6.0f} ms")
    print(f"silence to its words        {silence_s * 1e3:6.0f} ms  aim 2000")
    print(f"start of the hour's capture {begun_s['hour'] * 1e3:6.0f} ms  aim 2000")
    print(f"start of a minute's capture {begun_s['minute'] * 1e3:6.0f} ms")


if __name__ == "__main__":
    main()
