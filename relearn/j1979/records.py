"""What answers say, as plain frozen records. Times: seconds from capture start. Frames: Frames.number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from relearn.faults import Fault
from relearn.j1979.series import Series

Item = Literal["vin", "calibration", "verification_number", "name"]
CodeKind = Literal["stored", "pending", "permanent"]

MASKS = frozenset(range(0x00, 0x100, 0x20))


@dataclass(frozen=True)
class RawParameter:
    """Bytes that no row of the table explains, kept as they came.

    service: as it was asked, 0x01 or 0x22. identifier: parameter, infotype or data identifier; -1 if the
    answer had none. count: answers like it; first_hex, last_hex: the bytes after the identifier in the first
    and last of them, to the answer's end.
    """

    module: str
    service: int
    identifier: int
    count: int
    first_hex: str
    last_hex: str
    first_frame: int
    last_frame: int


@dataclass(frozen=True)
class Support:
    """Which parameters a module says it has. asked: bases of the ranges answered (0x00 for 01–20, …)."""

    asked: frozenset[int]
    supported: frozenset[int]

    def says(self, pid: int) -> bool | None:
        """True or False as the module's masks say; None where no mask says anything about this parameter.

        A range whose own mask was never answered is still a no if a lower mask says that there is no such
        mask.
        """
        if pid == 0:
            return True if 0 in self.asked else None
        base = (pid - 1) // 0x20 * 0x20
        if base in self.asked:
            return pid in self.supported
        return False if base and self.says(base) is False else None


@dataclass(frozen=True)
class Identity:
    """One read-out of who a module is. values: as sent, without padding; '' where all of it was padding."""

    module: str
    item: Item
    values: tuple[str, ...]
    time_s: float
    frame: int


@dataclass(frozen=True)
class Codes:
    """One answer to a request for trouble codes; an empty tuple is a module that says it has none."""

    module: str
    kind: CodeKind
    codes: tuple[str, ...]
    time_s: float
    frame: int


@dataclass(frozen=True)
class Refusal:
    """Requests for a service that a module refused for one reason (ISO 14229-1 response code)."""

    module: str
    service: int
    code: int
    meaning: str
    count: int
    first_s: float
    first_frame: int


@dataclass(frozen=True)
class FreezeFrame:
    """The last read-out of one freeze frame, channel name to value. Never part of the live series.

    code: the trouble code that stored it, None if it was not read. A module that says no code stored one
    (0000) has no freeze frame, and none is made of its other answers. time_s: of the newest answer it is made
    of.
    """

    module: str
    frame_number: int
    values: Mapping[str, float]
    code: str | None
    time_s: float


@dataclass(frozen=True, eq=False)
class Answers:
    """Everything that the modules of a capture said. modules: all that answered anything, refusals
    included, lowest identifier first.

    pending_count: how often a module asked for patience (response code 78), which is no refusal.
    """

    modules: tuple[str, ...]
    series: tuple[Series, ...]
    raw: tuple[RawParameter, ...]
    support: Mapping[str, Support]
    identity: tuple[Identity, ...]
    codes: tuple[Codes, ...]
    refusals: tuple[Refusal, ...]
    freeze_frames: tuple[FreezeFrame, ...]
    pending_count: int
    faults: tuple[Fault, ...]

    def renamed(self, names: Mapping[str, str]) -> Answers:
        """The same answers with modules called otherwise; names not in the mapping stay."""
        if not names:
            return self
        parts: dict[str, Any] = {
            name: tuple(replace(one, module=names.get(one.module, one.module)) for one in getattr(self, name))
            for name in ("series", "raw", "identity", "codes", "refusals", "freeze_frames", "faults")
        }
        modules = tuple(names.get(name, name) for name in self.modules)
        support = {names.get(name, name): one for name, one in self.support.items()}
        return replace(self, modules=modules, support=support, **parts)

    def joined(self, other: Answers) -> Answers:
        """These answers and another bus's."""
        parts: dict[str, Any] = {
            field.name: getattr(self, field.name) + getattr(other, field.name)
            for field in fields(self)
            if field.name != "support"
        }
        return replace(self, support={**self.support, **other.support}, **parts)
