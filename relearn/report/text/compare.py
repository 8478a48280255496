"""Two idles side by side, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType

from relearn.findings.compare import CodesChange, CompareFindings, IdleSide, LevelDoc, StateChange
from relearn.report.text.parts import heading, indented, line, origin, row, table, troubles
from relearn.report.words import span, spread, words


def compare(document: CompareFindings) -> Iterable[RenderableType]:
    """What changed first, then both sides; nothing in it is a verdict."""
    changed = [words(one.id) for one in document.readings if one.changed == "yes"]
    changed += [words(one.id) for one in document.states if one.changed == "yes"]
    yield from line(f"{document.before.source.file} → {document.after.source.file}, idle side by side", 0)
    yield from line(f"changed by more than its spread: {', '.join(changed) or 'nothing that could be compared'}")
    for name, side in (("before", document.before), ("after", document.after)):
        yield from _side(name, side)
    yield from line(f"limits: {document.sheet}")
    yield from _readings(document)
    yield from line(document.rule)
    yield from _monitors(document.monitors)
    yield from _codes(document.codes)
    yield from troubles(
        (*document.before.faults, *document.after.faults),
        (*document.notes, *_said("before", document.before), *_said("after", document.after)),
    )


def _side(name: str, side: IdleSide) -> Iterable[RenderableType]:
    idle = side.missing if side.judged_s is None else f"judged idle {span(*side.judged_s)}"
    yield from line(f"{name}: {idle}")
    yield from origin(side.source)


def _said(name: str, side: IdleSide) -> Iterable[str]:
    return (f"{name}: {note}" for note in side.notes)


def _readings(document: CompareFindings) -> Iterable[RenderableType]:
    made = table("reading", "before", "after", "differs", "spread", "changed", numbers=(1, 2, 3, 4))
    for one in document.readings:
        ends = (_level(one.before), _level(one.after))
        row(made, _named(one.id, one.unit), *ends, _figure(one.difference, "+"), _figure(one.spread), one.changed)
    for state in document.states:
        row(made, words(state.id), state.before or "–", state.after or "–", "", "", state.changed)
    yield indented(made)


def _named(name: str, unit: str) -> str:
    return f"{words(name)}, {unit}" if unit else words(name)


def _level(one: LevelDoc | None) -> str:
    return "–" if one is None else spread(one.mean, one.sd)


def _figure(value: float | None, sign: str = "") -> str:
    return "–" if value is None else f"{value:{sign}.3g}"


def _monitors(monitors: Sequence[StateChange]) -> Iterable[RenderableType]:
    """Those that changed, one line each; then those that did not, less what the module has not got."""
    yield heading("Monitors")
    if not monitors:
        yield from line("not read in either capture")
    for one in monitors:
        if one.changed != "no":
            yield from line(f"{words(one.id)}: {one.before or 'not read'} → {one.after or 'not read'}")
    same = [words(one.id) for one in monitors if one.changed == "no" and one.after != "not supported"]
    if same:
        yield from line(f"as before: {', '.join(same)}")


def _codes(codes: Sequence[CodesChange]) -> Iterable[RenderableType]:
    yield heading("Codes")
    if not codes:
        yield from line("not read in either capture")
    for one in codes:
        yield from line(f"{one.kind} in {one.module}: {_listed(one.before)} → {_listed(one.after)}{_difference(one)}")


def _difference(one: CodesChange) -> str:
    if one.gained is None or one.lost is None:
        return "; gained and lost cannot be told"
    said = [f"{word} {', '.join(held)}" for word, held in (("gained", one.gained), ("lost", one.lost)) if held]
    return "".join(f"; {part}" for part in said)


def _listed(held: Sequence[str] | None) -> str:
    return "not read" if held is None else ", ".join(held) or "none"
