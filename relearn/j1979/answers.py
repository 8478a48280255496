"""From diagnostic messages to what the modules said. Only answers count; requests may be missing."""

from __future__ import annotations

import numpy as np

from relearn.capture.keep import module_name
from relearn.isotp import Messages
from relearn.j1979 import folding
from relearn.j1979.records import Answers, Codes, FreezeFrame, Identity, RawParameter, Refusal, Support
from relearn.j1979.services import READERS, unknown_service
from relearn.j1979.split import joined

__all__ = ["Answers", "Codes", "FreezeFrame", "Identity", "RawParameter", "Refusal", "Support", "read"]


def read(messages: Messages) -> Answers:
    """All answers of a capture, each service by its own reader, each module on its own.

    Nothing is dropped in silence: what cannot be read is in `raw` or `faults`. A value is never taken from an
    answer of a wrong length. Times are those of the messages, frames the last frame of each.
    """
    rows = np.flatnonzero(messages.answer & (messages.length > 0))
    service = messages.payload[messages.start[rows]]
    found = [READERS.get(int(byte), unknown_service)(messages, rows[service == byte]) for byte in np.unique(service)]
    samples = joined([one.samples for one in found])
    return Answers(
        modules=tuple(module_name(int(one)) for one in np.unique(messages.identifier[rows])),
        series=folding.series(messages, samples),
        support=folding.support(messages, samples),
        pending_count=sum(one.pending_count for one in found),
        raw=tuple(raw for one in found for raw in one.raw),
        identity=tuple(said for one in found for said in one.identity),
        codes=tuple(said for one in found for said in one.codes),
        refusals=tuple(refusal for one in found for refusal in one.refusals),
        freeze_frames=tuple(frame for one in found for frame in one.freeze_frames),
        faults=tuple(fault for one in found for fault in one.faults),
    )
