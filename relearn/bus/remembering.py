"""A conversation becomes modules that remember it: what each said of every thing, when, and after how long."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from statistics import median

import numpy as np
from numpy.typing import NDArray

from relearn.bus.conversation import Answered, Asked, Conversation, converse, parts
from relearn.bus.made_masks import made_masks
from relearn.bus.module import Entry, Memory, Module
from relearn.bus.refusing import REFUSED
from relearn.bus.segments import FRAME
from relearn.bus.things import is_value, things
from relearn.bus.waking import asked_in_vain, waking
from relearn.capture.frames import Frames
from relearn.capture.keep import is_answer, module_name
from relearn.traffic import traffic

UNTIMED_S = 0.010  # an answer takes about this long: common practice, no source
UNTIMED = f"no question shows how long its answers took, {UNTIMED_S * 1000:.0f} ms are taken"

Remembered = dict[bytes, list[Entry]]
Answers = Mapping[Asked, set[bytes]]


def modules(frames: Frames) -> tuple[tuple[Module, ...], tuple[str, ...]]:
    """The modules that answer on any of a capture's buses, lowest identifier first, and what is not as it was captured.
    A further bus's module whose identifier is taken already is left out and told."""
    found: dict[int, Module] = {}
    notes: list[str] = []
    for bus in np.unique(frames.bus):
        here = frames.take(frames.bus == bus)
        for module, said in _on_one_bus(here):
            if module.identifier in found:
                said = [f"a second {module_name(module.identifier)}, of interface {bus + 1}, is left out"]
            found.setdefault(module.identifier, module)
            notes += said
    return tuple(found[one] for one in sorted(found)), tuple(notes)


def _on_one_bus(frames: Frames) -> Iterator[tuple[Module, list[str]]]:
    talk, heard = converse(frames), traffic(frames)
    questions_s = np.array([asked.time_s for asked in talk.asked])
    for identifier in sorted({said.module for said in talk.answered}):
        vain_s = asked_in_vain(heard[module_name(identifier)], questions_s)
        yield _module(identifier, talk, vain_s, _padding(frames, identifier))


def _module(identifier: int, talk: Conversation, vain_s: NDArray[np.float64], padding: int) -> tuple[Module, list[str]]:
    mine = [said for said in talk.answered if said.module == identifier]
    awake = waking(np.array(sorted(said.asked.time_s if said.asked else said.time_s for said in mine)), vain_s)
    memory, answered = _remembered(mine)
    for asked in talk.asked:
        if asked.to.answers in (None, identifier) and awake.at(asked.time_s) is not None:
            _note_unanswered(memory, asked, answered)
    usual_s = _usual_s(memory)
    notes = [*_make_masks(memory), *((UNTIMED,) if usual_s is None else ())]
    kept = {thing: Memory(sorted(entries, key=_time_s), is_value(thing)) for thing, entries in memory.items()}
    module = Module(identifier, kept, awake, UNTIMED_S if usual_s is None else usual_s, padding)
    return module, [f"{module_name(identifier)}: {note}" for note in notes]


def _make_masks(memory: Remembered) -> Iterator[str]:
    """Put the masks that nobody asked for into its memory, and tell so."""
    seen = {thing for thing, entries in memory.items() if any(one.data is not None for one in entries)}
    for thing, data in made_masks(seen, memory.keys()).items():
        memory[thing].append(Entry(0.0, data))
        yield f"nobody asked for support mask {thing.hex(' ').upper()}, it is made from what was seen"


def _usual_s(memory: Remembered) -> float | None:
    """How long its answers take; None where no question is seen."""
    delays_s = [one.delay_s for entries in memory.values() for one in entries if one.delay_s is not None]
    return median(delays_s) if delays_s else None


def _remembered(said: Iterable[Answered]) -> tuple[Remembered, Answers]:
    """What one module said of each thing, and which things it answered of each question."""
    memory: Remembered = defaultdict(list)
    answered: dict[Asked, set[bytes]] = defaultdict(set)
    pending_s: dict[Asked, tuple[float, ...]] = {}
    for one in said:
        if one.pending:
            if one.asked is not None:
                pending_s[one.asked] = (*pending_s.get(one.asked, ()), one.time_s - one.asked.time_s)
            continue
        for thing, entry in _entries(one, pending_s.pop(one.asked, ()) if one.asked else ()):
            memory[thing].append(entry)
            if one.asked is not None:
                answered[one.asked].add(thing)
    for asked, waits_s in pending_s.items():  # it asked for patience, and nothing came of it
        for thing in things(asked.question):
            memory[thing].append(Entry(asked.time_s, delay_s=waits_s[-1], pending_s=waits_s))
            answered[asked].add(thing)
    return memory, answered


def _entries(said: Answered, pending_s: tuple[float, ...]) -> Iterator[tuple[bytes, Entry]]:
    time_s = said.asked.time_s if said.asked else said.time_s
    delay_s = said.time_s - said.asked.time_s if said.asked else None
    if said.payload[0] == REFUSED:
        asked = things(said.asked.question) if said.asked else ()
        yield from ((thing, Entry(time_s, None, said.payload, delay_s, pending_s)) for thing in asked)
        return
    for thing, data in parts(said).items():
        yield thing, Entry(time_s, data, None, delay_s, pending_s)


def _note_unanswered(memory: Remembered, asked: Asked, answered: Answers) -> None:
    """A question to a module that was there: what it did not answer of it, of all that it ever answers."""
    for thing in {*things(asked.question), asked.question} & memory.keys() - answered.get(asked, set()):
        memory[thing].append(Entry(asked.time_s))


def _padding(frames: Frames, identifier: int) -> int:
    """What fills the rest of its single frames; 00 where none has a rest."""
    mine = (frames.identifier == identifier) & is_answer(frames.identifier, frames.extended)
    rows = np.flatnonzero(mine & (frames.length == FRAME) & (frames.data[:, 0] < FRAME - 1))
    return int(frames.data[rows[0], FRAME - 1]) if len(rows) else 0x00


def _time_s(entry: Entry) -> float:
    return entry.time_s
