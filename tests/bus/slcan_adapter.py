"""A serial CAN adapter with a pretend car behind it, on a pseudo-terminal: the public LAWICEL ("slcan") text protocol.

S0 to S8 bitrate, O open, L open for listening, C close; tiiildd… and Tiiiiiiiildd… a frame with identifier, length and
data in hex; each command ends in CR and is answered by CR (z CR, Z CR for a frame taken), BEL for one not understood.
"""

from __future__ import annotations

import os
import select
from collections.abc import Callable
from threading import Event, Thread

from relearn.bus.answering import Answering, Car
from relearn.bus.clock import MachineClock
from relearn.bus.frame import Frame
from relearn.bus.speech import Reply

OK, BELL = b"\r", b"\a"


class Adapter:
    """name: the device to open. commands: what it was told, without frames."""

    def __init__(self, car: Car) -> None:
        import tty

        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.name = os.ttyname(self._slave)
        self.commands: list[str] = []
        self.frames = 0
        self._car, self._clock = Answering(car), MachineClock()
        self._open, self._rest, self._ended = False, b"", Event()
        self._thread = Thread(target=self._work, daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """The device is gone from one moment to the next."""
        self._ended.set()
        self._thread.join()
        for descriptor in (self._master, self._slave):
            if descriptor >= 0:
                os.close(descriptor)
        self._master = self._slave = -1

    def _work(self) -> None:
        while not self._ended.is_set():
            ready, _, _ = select.select([self._master], [], [], self._wait_s())
            if ready:
                *commands, self._rest = (self._rest + os.read(self._master, 4096)).split(b"\r")
                for command in commands:
                    os.write(self._master, self._told(command.decode("ascii")))
            for reply in self._car.speak(self._clock.now_s()):
                os.write(self._master, text(reply))

    def _wait_s(self) -> float:
        due_s = self._car.due_s()
        return 0.02 if due_s is None else min(max(due_s - self._clock.now_s(), 0.0), 0.02)

    def _told(self, command: str) -> bytes:
        if command[:1] in ("t", "T"):
            return self._frame(command)
        self.commands.append(command)
        known: dict[str, Callable[[], None]] = {"O": self._opened, "L": self._opened, "C": self._closed}
        if command in known:
            known[command]()
        return OK if command in ("", *known) or command[0] == "S" else BELL

    def _frame(self, command: str) -> bytes:
        extended, digits = command[0] == "T", 8 if command[0] == "T" else 3
        data = bytes.fromhex(command[digits + 2 :])
        if not self._open or len(data) != int(command[digits + 1]):
            return BELL
        self.frames += 1
        self._car.hear(Frame(self._clock.now_s(), int(command[1 : 1 + digits], 16), extended, data))
        return b"Z\r" if extended else b"z\r"

    def _opened(self) -> None:
        self._open = True

    def _closed(self) -> None:
        self._open = False


def text(reply: Reply) -> bytes:
    """A frame as the adapter hands it on."""
    head = f"T{reply.identifier:08X}" if reply.extended else f"t{reply.identifier:03X}"
    return f"{head}{len(reply.data)}{reply.data.hex().upper()}\r".encode("ascii")
