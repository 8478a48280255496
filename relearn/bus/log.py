"""A recording on its way to the disk: candump's log text, whole lines at a time, never over another file."""

from __future__ import annotations

import os
from pathlib import Path

from relearn.bus.frame import Frame
from relearn.disk import sync, sync_folder, write
from relearn.errors import CaptureError, ChoiceError

SUFFIX = ".log"
KEEP_S = 0.5  # so that with a slow disk and a long wait for an answer it is still less than a second
INTERFACE = "can0"  # candump names the interface; a recording has one
ERROR_FLAG = 0x20000000  # CAN_ERR_FLAG of linux/can.h
BUS_ERROR = 0x80  # CAN_ERR_BUSERROR of linux/can/error.h; what an error frame is when the adapter does not say


class Log:
    """One new file. ChoiceError: another suffix than .log, or a file of this name is there."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = os.fdopen(_created(path), "wb", buffering=0)
        self._lines: list[str] = []
        self._kept_s = 0.0
        self._size = 0
        sync_folder(path.parent)

    def witness(self, frame: Frame) -> None:
        """One frame more."""
        self._lines.append(line(frame))

    def keep(self, now_s: float) -> None:
        """To the disk, if that is due: half a second after the last time. CaptureError: the disk does not take it."""
        if now_s - self._kept_s >= KEEP_S:
            self._kept_s = now_s
            self._flush()

    def close(self) -> None:
        """All of it to the disk. CaptureError as above; after one, nothing is left to be written."""
        if self._file.closed:
            return
        try:
            self._flush()
        finally:
            self._file.close()

    def _flush(self) -> None:
        lines, self._lines = self._lines, []
        if not lines:
            return
        whole = "".join(lines).encode("ascii")
        try:
            write(self._file.fileno(), whole)
            sync(self._file.fileno())
        except OSError as wrong:
            self._give_up()
            raise CaptureError(
                f"the disk does not take the recording ({wrong.strerror})",
                path=self.path,
                remedy="what it holds until now is whole; make room, and record on into another file",
            ) from wrong
        self._size += len(whole)

    def _give_up(self) -> None:
        """Cut what was written of a line that did not fit, and end."""
        self._lines = []
        try:
            self._file.truncate(self._size)
        finally:
            self._file.close()


def line(frame: Frame) -> str:
    """A frame as `candump -l` writes it: '(1700000000.123456) can0 7E8#0341…', '##0' before the data of CAN FD."""
    if frame.error:
        identifier = f"{ERROR_FLAG | (frame.identifier or BUS_ERROR):08X}"
    else:
        identifier = f"{frame.identifier:08X}" if frame.extended else f"{frame.identifier:03X}"
    fd = "#0" if len(frame.data) > 8 else ""
    return f"({frame.time_s:.6f}) {INTERFACE} {identifier}#{fd}{frame.data.hex().upper()}\n"


def check(path: Path) -> None:
    """ChoiceError: a path that no recording may have. For whoever wants to know it before an adapter is opened."""
    if path.suffix.lower() != SUFFIX:
        raise ChoiceError(
            f"has the suffix '{path.suffix}', and a recording is written as candump text",
            path=path,
            remedy=f"give it a name that ends in {SUFFIX}",
        )
    if path.exists():
        raise _taken(path)


def _created(path: Path) -> int:
    check(path)
    try:
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    except FileExistsError:
        raise _taken(path) from None


def _taken(path: Path) -> ChoiceError:
    return ChoiceError(
        "is there already, and a recording is never written over another", path=path, remedy="choose another name"
    )
