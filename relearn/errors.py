"""What can go wrong with what a user hands in. A bad car is a verdict; only bad input is an error.

    RelearnError          base: one plain sentence, exit code 2
    ├── CaptureError      a capture or table file that cannot be used (file, maybe line)
    ├── SheetError        a vehicle sheet, signal map or job file that cannot be used (file, maybe key)
    │   └── MapError      a map that names nothing of this capture
    ├── ProcedureError    packaged procedure or parameter data that does not hold together (file, key)
    ├── ChoiceError       options that do not fit the file: an unknown module, a relearn nobody knows
    ├── BusError          an adapter or bus that cannot be opened or is gone; something that must not be said on one
    └── JobError          a job folder, its record or the job book that cannot be used, or a step refused in its order

Each is built from what is wrong, where, and what to do, so no caller formats text of its own.
"""

from __future__ import annotations

from pathlib import Path


class RelearnError(Exception):
    """One sentence: where, what is wrong, what to do."""

    def __init__(
        self, what: str, *, path: Path | str | None = None, line: int | None = None, key: str | None = None, remedy: str
    ) -> None:
        self.what, self.path, self.line, self.key, self.remedy = what, path, line, key, remedy
        super().__init__(f"{self._where()}{what}; {remedy}.")

    def _where(self) -> str:
        parts = [
            str(self.path) if self.path is not None else "",
            f"line {self.line}" if self.line is not None else "",
            f"key '{self.key}'" if self.key is not None else "",
        ]
        where = ", ".join(part for part in parts if part)
        return f"{where}: " if where else ""


class CaptureError(RelearnError):
    """The capture cannot be used: empty, no capture at all, no answers in it, time runs backwards, an extra is
    missing."""


class SheetError(RelearnError):
    """A vehicle sheet, signal map or job file cannot be used: unreadable, not TOML, an unknown key, a value out of
    range."""


class MapError(SheetError):
    """A signal map is for other files: the capture has nothing that it names."""


class ProcedureError(RelearnError):
    """Packaged data does not hold together: an unknown key, check, fact or relearn; an order that runs in a circle."""


class ChoiceError(RelearnError):
    """The options do not fit: no such module in the capture, no such relearn, two options that exclude each other."""


class BusError(RelearnError):
    """The bus: no such interface, an adapter that is not there or was unplugged, a car where none may be, a sentence
    that would be no reading question."""


class JobError(RelearnError):
    """A job folder cannot be used: no job in it, a record that was changed, another command at work in it, a disk that
    does not take it; a step that the job's order refuses; a job book that cannot be read."""
