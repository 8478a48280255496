"""Same car, new calibration, the ordered one? Two captures' identifications compared, module by module."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from relearn.j1979.identity import vin_check
from relearn.j1979.records import Identity
from relearn.verdict import Evidence, Outcome, Verdict, combine

LEAST_SUFFIX = 6  # a shorter ending in common says nothing


@dataclass(frozen=True)
class ModuleIdentity:
    """One module before and after; empty tuples where it was not read."""

    module: str
    name: str
    calibrations_before: tuple[str, ...]
    calibrations_after: tuple[str, ...]
    verification_before: tuple[str, ...]
    verification_after: tuple[str, ...]
    verdict: Verdict


@dataclass(frozen=True)
class Comparison:
    """The verdict, the VIN of each capture, and every module that answered in either."""

    verdict: Verdict
    vin_before: str | None
    vin_after: str | None
    modules: tuple[ModuleIdentity, ...]


def compare(
    before: Sequence[Identity], after: Sequence[Identity], engine: str | None, expected: str | None
) -> Comparison:
    """Yes when the VIN is the same and well formed, the engine module's calibration and verification number changed,
    and to `expected` where one was ordered. Other modules are compared too: unchanged ones are as they should be, and a
    module whose calibration changed must have a changed verification number as well.

    engine: the module that was programmed; None means any one that changed. An identification that was not read in
    both captures is a cannot tell. A match by suffix is accepted and said.
    """
    names = dict.fromkeys(one.module for one in (*before, *after) if one.item in ("calibration", "verification_number"))
    modules = tuple(_module(name, before, after, name == engine or len(names) == 1, expected) for name in names)
    children = (_same_vin(before, after), *(one.verdict for one in modules))
    if not any(one.module == engine or len(names) == 1 for one in modules):
        children = (*children, _any_changed(modules, expected))
    outcome = combine(child.outcome for child in children)
    reason = "; ".join(child.reason for child in children if child.outcome is outcome)
    verdict = Verdict("identity", outcome, reason, children=children)
    return Comparison(verdict, read_vin(before, engine), read_vin(after, engine), modules)


def newest(read: Sequence[Identity], module: str, item: str) -> Identity | None:
    """The newest read-out of one item from one module; None when it was never read."""
    found = [one for one in read if one.module == module and one.item == item]
    return max(found, key=lambda one: one.time_s) if found else None


def latest(read: Sequence[Identity], module: str, item: str) -> tuple[str, ...]:
    """The values of the newest read-out; empty when it was never read."""
    found = newest(read, module, item)
    return found.values if found is not None else ()


def vins(read: Sequence[Identity]) -> Mapping[str, Identity]:
    """The newest VIN read-out of each module that gave one."""
    given = sorted(
        (one for one in read if one.item == "vin" and one.values and one.values[0]), key=lambda one: one.time_s
    )
    return {one.module: one for one in given}


def read_vin(read: Sequence[Identity], engine: str | None) -> str | None:
    """The engine module's VIN, else any module's."""
    given = vins(read)
    found = given.get(engine or "") or next(iter(given.values()), None)
    return found.values[0] if found is not None else None


def _same_vin(before: Sequence[Identity], after: Sequence[Identity]) -> Verdict:
    """One and the same well-formed VIN in every module that gave one, before and after."""
    old, new = vins(before), vins(after)
    evidence = tuple(
        _read_out(f"VIN of {one.module} {when}", one)
        for when, given in (("before", old), ("after", new))
        for one in given.values()
    )
    if not old or not new:
        return Verdict(
            "vin", Outcome.CANNOT_TELL, f"no VIN was read {'after' if old else 'before'} the write", evidence
        )
    changed = [name for name in old if name in new and old[name].values[0] != new[name].values[0]]
    if changed:
        said = "; ".join(
            f"the VIN of {name} is {new[name].values[0]} now and was {old[name].values[0]}" for name in changed
        )
        return Verdict("vin", Outcome.NO, said, evidence)
    distinct = dict.fromkeys(one.values[0] for one in (*old.values(), *new.values()))
    if len(distinct) > 1:
        return Verdict("vin", Outcome.NO, f"the modules do not agree on the VIN: {', '.join(distinct)}", evidence)
    vin = next(iter(distinct))
    check = vin_check(vin)
    if check.outcome is Outcome.NO:
        return Verdict("vin", Outcome.NO, f"VIN {vin}: {check.reason.rstrip('.')}", evidence)
    return Verdict("vin", Outcome.YES, f"same VIN {vin} ({check.reason.rstrip('.')})", evidence)


def _read_out(subject: str, one: Identity) -> Evidence:
    """What was read, when, and in which frame."""
    return Evidence(subject, ", ".join(one.values), None, one.time_s, one.time_s, 1, one.frame, one.frame)


def _module(
    module: str, before: Sequence[Identity], after: Sequence[Identity], programmed: bool, expected: str | None
) -> ModuleIdentity:
    ids = latest(before, module, "calibration"), latest(after, module, "calibration")
    sums = latest(before, module, "verification_number"), latest(after, module, "verification_number")
    judge = _programmed if programmed else _bystander
    verdict = judge(module, ids, (_computed(sums[0]), _computed(sums[1])), expected)
    verdict = replace(verdict, evidence=tuple(_read_outs(module, before, after)))
    name = next(iter(latest(after, module, "name") or latest(before, module, "name")), "")
    return ModuleIdentity(module, name, *ids, *sums, verdict)


Pair = tuple[tuple[str, ...], tuple[str, ...]]


def _computed(sums: tuple[str, ...]) -> tuple[str, ...]:
    """Verification numbers, '' for one of zeros only: a module that has not computed it yet (from memory)."""
    return tuple("" if set(one) == {"0"} else one for one in sums)


def _read_outs(module: str, before: Sequence[Identity], after: Sequence[Identity]) -> Iterator[Evidence]:
    for item in ("calibration", "verification_number"):
        for when, read in (("before", before), ("after", after)):
            found = newest(read, module, item)
            if found is not None:
                yield _read_out(f"{item.replace('_', ' ')} {when}", found)


def _programmed(module: str, ids: Pair, sums: Pair, expected: str | None) -> Verdict:
    """The module that was written: its calibration must have changed, to the ordered one, and its verification number
    with it."""
    parts = [_changed(f"{module} calibration", ids), _changed(f"{module} verification number", sums)]
    parts += [_in_step(module, ids, sums)] if _comparable(ids, sums) else []
    parts += [_ordered(module, ids[1], expected)] if expected is not None else []
    outcome = combine(part.outcome for part in parts)
    reason = "; ".join(part.reason for part in parts if part.outcome is outcome)
    return Verdict(module, outcome, reason, children=tuple(parts))


def _comparable(ids: Pair, sums: Pair) -> bool:
    """As many verification numbers as calibrations, before and after, so that each belongs to one."""
    return len({len(one) for one in (*ids, *sums)}) == 1 and all(all(one) for one in (*ids, *sums))


def _in_step(module: str, ids: Pair, sums: Pair) -> Verdict:
    """Each calibration's verification number changed when it did, and only then."""
    what = f"{module} calibrations with their verification numbers"
    for old_id, new_id, old_sum, new_sum in zip(*ids, *sums, strict=True):
        if old_id != new_id and old_sum == new_sum:
            return Verdict(
                what, Outcome.NO, f"{module} has the new calibration {new_id} with the old verification number"
            )
        if old_id == new_id and old_sum != new_sum:
            return Verdict(
                what, Outcome.NO, f"{module} has the old calibration {new_id} with a new verification number"
            )
    return Verdict(what, Outcome.YES, f"{what} agree")


def _bystander(module: str, ids: Pair, sums: Pair, expected: str | None) -> Verdict:
    """Another module: staying as it was is right; changing one of calibration and verification number alone is not, and
    one that was read on only one side of the write cannot tell."""
    if any(any(before) != any(after) for before, after in (ids, sums)):
        reason = f"{module} was not read in full on both sides of the write"
        return Verdict(module, Outcome.CANNOT_TELL, reason)
    if _comparable(ids, sums) and (part := _in_step(module, ids, sums)).outcome is Outcome.NO:
        return Verdict(module, Outcome.NO, part.reason)
    same = "is as it was" if ids[0] == ids[1] and sums[0] == sums[1] else "changed as well"
    return Verdict(module, Outcome.YES, f"{module} was not the one programmed and {same}")


def _changed(what: str, pair: Pair) -> Verdict:
    before, after = pair
    if not any(before) or not any(after):
        return Verdict(
            what, Outcome.CANNOT_TELL, f"{what} was not read {'before' if not any(before) else 'after'} the write"
        )
    if before == after:
        return Verdict(what, Outcome.NO, f"{what} is unchanged ({', '.join(after)})")
    if len(before) == len(after) and all(_same_by_suffix(a, b) for a, b in zip(before, after, strict=True)):
        return Verdict(what, Outcome.NO, f"{what} is unchanged but for a prefix ({', '.join(after)})")
    return Verdict(what, Outcome.YES, f"{what} changed from {', '.join(before)} to {', '.join(after)}")


def _ordered(module: str, after: Sequence[str], expected: str) -> Verdict:
    """The ordered calibration is among those read; equal, or equal but for a prefix that one read-out carries."""
    what = f"{module} ordered calibration"
    if not any(after):
        return Verdict(what, Outcome.CANNOT_TELL, f"{what} {expected}: no calibration was read after the write")
    wanted = expected.strip()
    if wanted.upper() in [one.upper() for one in after]:
        return Verdict(what, Outcome.YES, f"{what} {expected} is in the module")
    match = next((one for one in after if _same_by_suffix(one.upper(), wanted.upper())), None)
    if match is not None:
        return Verdict(
            what,
            Outcome.YES,
            f"{what} {expected} matches {match} by suffix (one read-out has a prefix the "
            "other lacks: common practice, no source)",
        )
    return Verdict(what, Outcome.NO, f"{what} {expected} is not in the module, which reads {', '.join(after)}")


def _same_by_suffix(one: str, other: str) -> bool:
    """One is the other with something in front; the shared ending must be at least six characters."""
    shorter, longer = sorted((one, other), key=len)
    return len(shorter) >= LEAST_SUFFIX and shorter != longer and longer.endswith(shorter)


def _any_changed(modules: Sequence[ModuleIdentity], expected: str | None) -> Verdict:
    """Where nobody knows which module was programmed: one of them must have changed, to the ordered calibration."""
    tried: Mapping[str, Verdict] = {
        one.module: _programmed(
            one.module,
            (one.calibrations_before, one.calibrations_after),
            (one.verification_before, one.verification_after),
            expected,
        )
        for one in modules
    }
    best = next((verdict for verdict in tried.values() if verdict.outcome is Outcome.YES), None)
    if best is not None:
        return best
    if not tried:
        return Verdict("calibration", Outcome.CANNOT_TELL, "no module gave its identification in both captures")
    return Verdict(
        "calibration",
        combine(verdict.outcome for verdict in tried.values()),
        "; ".join(verdict.reason for verdict in tried.values()),
    )
