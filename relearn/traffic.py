"""When each module spoke and when it was asked: what tells an ignition that is off from a recording that paused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from relearn.capture.frames import Frames
from relearn.capture.keep import FUNCTIONAL_11, FUNCTIONAL_29, REQUESTS_29, is_answer, is_diagnostic, is_request
from relearn.capture.keep import module_name as name_of

FLOW_CONTROL = 3  # N_PCI type of ISO 15765-2
NEVER = np.empty(0)

Times = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Traffic:
    """One module's part of a conversation. Times: seconds from capture start, ascending.

    answered_s: everything it sent; frame: the frame of each. asked_s: requests to it, or to every module, of a kind
    that it has answered in this capture; none where the capture shows no requests. others_s: whatever other modules
    sent.
    """

    answered_s: Times
    frame: NDArray[np.int64]
    asked_s: Times = field(default_factory=lambda: NEVER)
    others_s: Times = field(default_factory=lambda: NEVER)


def traffic(frames: Frames) -> Mapping[str, Traffic]:
    """Of every module that answered, by its name; frames that are not diagnostic change nothing."""
    seen = frames.take(is_diagnostic(frames.identifier, frames.extended))
    answers = seen.take(is_answer(seen.identifier, seen.extended))
    requests = seen.take(is_request(seen.identifier, seen.extended) & (seen.data[:, 0] >> 4 != FLOW_CONTROL))
    return {name_of(int(one)): _of(int(one), answers, requests) for one in np.unique(answers.identifier)}


def heard(times_s: Sequence[Times], frames: Sequence[NDArray[np.int64]], asked_s: Times = NEVER) -> Traffic:
    """Of values that came without answers (broadcast, a table). asked_s: when a value was looked for in vain."""
    every_s, first = np.unique(np.concatenate([NEVER, *times_s]), return_index=True)
    return Traffic(every_s, np.concatenate([np.empty(0, np.int64), *frames])[first], asked_s)


def _of(identifier: int, answers: Frames, requests: Frames) -> Traffic:
    mine = answers.identifier == identifier
    to_me = requests.take(np.isin(requests.identifier, _asked_at(identifier)))
    answered_s = answers.time_s[mine]
    return Traffic(
        answered_s, answers.number[mine], to_me.time_s[_answerable(to_me, answered_s)], answers.time_s[~mine]
    )


def _asked_at(identifier: int) -> tuple[int, int]:
    """Where a module is asked: with all others, and alone (ISO 15765-4: 7E0 for 7E8, 18DAxxF1 for 18DAF1xx)."""
    if identifier > 0x7FF:
        return FUNCTIONAL_29, REQUESTS_29 | (identifier & 0xFF) << 8
    return FUNCTIONAL_11, identifier - 8


def _answerable(requests: Frames, answered_s: Times) -> NDArray[np.bool_]:
    """Requests whose very bytes the module has answered at some time: its silence to others means nothing."""
    before = np.append(np.searchsorted(answered_s, requests.time_s), len(answered_s))
    got = before[1:] > before[:-1]
    kind = np.ascontiguousarray(requests.data[:, :8]).view(np.uint64).ravel()
    return np.isin(kind, np.unique(kind[got]))  # few kinds are many requests, and looked for quickly
