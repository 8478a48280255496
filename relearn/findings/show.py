"""The document of what a capture holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from relearn.findings.base import Document, FaultDoc, Source


class ChannelRow(Document):
    """One channel of one module: how much of it there is and what it did. states: names of a bit-coded value's
    numbers."""

    module: str
    channel: str
    unit: str
    samples: int
    rate_hz: float | None
    first: float
    last: float
    min: float
    max: float
    first_state: str | None = None
    last_state: str | None = None
    longest_gap_s: float | None


class RawRow(Document):
    """Bytes that no table explains, as they came."""

    module: str
    service: str
    identifier: str
    count: int
    first: str
    last: str


class CodesDoc(Document):
    """Newest lists of trouble codes; None where a list was never read, which is not the same as no codes."""

    stored: tuple[str, ...] | None = None
    pending: tuple[str, ...] | None = None
    permanent: tuple[str, ...] | None = None


class ModuleRow(Document):
    """One module that answered and what it says of itself."""

    module: str
    name: str | None
    vin: str | None
    calibrations: tuple[str, ...]
    verification_numbers: tuple[str, ...]
    supported: tuple[str, ...]
    codes: CodesDoc


class RefusalRow(Document):
    """Requests that a module refused."""

    module: str
    service: str
    code: str
    meaning: str
    count: int
    first_s: float


class FreezeRow(Document):
    """One freeze frame: values stored with a code, never part of the live channels."""

    module: str
    frame_number: int
    code: str | None
    values: Mapping[str, float]


class ShowFindings(Document):
    """What a capture holds. Judges nothing. vin, calibrations, lamp and monitors are the engine module's; codes are
    every module's together, and each module's own in its row."""

    kind: Literal["show"] = "show"
    source: Source
    duration_s: float
    start: str | None
    frames: int
    modules: tuple[ModuleRow, ...]
    channels: tuple[ChannelRow, ...]
    vin: str | None
    vin_check: str | None
    calibrations: tuple[str, ...]
    verification_numbers: tuple[str, ...]
    codes: CodesDoc
    lamp: bool | None
    monitors: Mapping[str, str]
    freeze_frames: tuple[FreezeRow, ...]
    unknown: tuple[RawRow, ...]
    refused: tuple[RefusalRow, ...]
    response_pending: int
    faults: tuple[FaultDoc, ...]
    notes: tuple[str, ...]
