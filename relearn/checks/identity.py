"""Same car, new calibration, the ordered one? Two captures' identifications compared, module by module."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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
    old_vin, new_vin = _vin(before), _vin(after)
    names = dict.fromkeys(one.module for one in (*before, *after) if one.item in ("calibration", "verification_number"))
    modules = tuple(_module(name, before, after, name == engine or len(names) == 1, expected) for name in names)
    children = (_same_vin(old_vin, new_vin), *(one.verdict for one in modules))
    if not any(one.module == engine or len(names) == 1 for one in modules):
        children = (*children, _any_changed(modules, expected))
    outcome = combine(child.outcome for child in children)
    reason = "; ".join(child.reason for child in children if child.outcome is outcome)
    return Comparison(Verdict("identity", outcome, reason, children=children), old_vin, new_vin, modules)


def latest(read: Sequence[Identity], module: str, item: str) -> tuple[str, ...]:
    """The newest read-out of one item from one module; empty when it was never read."""
    found = [one for one in read if one.module == module and one.item == item]
    return max(found, key=lambda one: one.time_s).values if found else ()


def _vin(read: Sequence[Identity]) -> str | None:
    """The newest VIN any module gave."""
    found = [one for one in read if one.item == "vin" and one.values and one.values[0]]
    return max(found, key=lambda one: one.time_s).values[0] if found else None


def _same_vin(before: str | None, after: str | None) -> Verdict:
    evidence = (Evidence("vin before", before), Evidence("vin after", after))
    if before is None or after is None:
        when = "before" if before is None else "after"
        return Verdict("vin", Outcome.CANNOT_TELL, f"no VIN was read {when} the write", evidence)
    if before != after:
        return Verdict("vin", Outcome.NO, f"the VIN is {after} now and was {before}", evidence)
    check = vin_check(after)
    if check.outcome is Outcome.NO:
        return Verdict("vin", Outcome.NO, f"VIN {after}: {check.reason.rstrip('.')}", evidence)
    return Verdict("vin", Outcome.YES, f"same VIN {after} ({check.reason.rstrip('.')})", evidence)


def _module(
    module: str, before: Sequence[Identity], after: Sequence[Identity], programmed: bool, expected: str | None
) -> ModuleIdentity:
    old_ids, new_ids = latest(before, module, "calibration"), latest(after, module, "calibration")
    old_sums, new_sums = latest(before, module, "verification_number"), latest(after, module, "verification_number")
    judge = _programmed if programmed else _bystander
    verdict = judge(module, (old_ids, new_ids), (old_sums, new_sums), expected)
    name = next(iter(latest(after, module, "name") or latest(before, module, "name")), "")
    return ModuleIdentity(module, name, old_ids, new_ids, old_sums, new_sums, verdict)


Pair = tuple[tuple[str, ...], tuple[str, ...]]


def _evidence(ids: Pair, sums: Pair) -> tuple[Evidence, ...]:
    named = zip(
        ("calibration before", "calibration after", "verification before", "verification after"),
        (*ids, *sums),
        strict=True,
    )
    return tuple(Evidence(name, ", ".join(values) or None) for name, values in named)


def _programmed(module: str, ids: Pair, sums: Pair, expected: str | None) -> Verdict:
    """The module that was written: its calibration must have changed, to the ordered one."""
    parts = [_changed(f"{module} calibration", ids), _changed(f"{module} verification number", sums)]
    parts += [_ordered(module, ids[1], expected)] if expected is not None else []
    outcome = combine(part.outcome for part in parts)
    reason = "; ".join(part.reason for part in parts if part.outcome is outcome)
    return Verdict(module, outcome, reason, _evidence(ids, sums), tuple(parts))


def _bystander(module: str, ids: Pair, sums: Pair, expected: str | None) -> Verdict:
    """Another module: staying as it was is right; changing one of calibration and verification number alone is not, and
    one that was read on only one side of the write cannot tell."""
    evidence = _evidence(ids, sums)
    if any(bool(before) != bool(after) for before, after in (ids, sums)):
        return Verdict(
            module, Outcome.CANNOT_TELL, f"{module} was not read in full on both sides of the write", evidence
        )
    if all((*ids, *sums)) and (ids[0] == ids[1]) != (sums[0] == sums[1]):
        now = "new calibration with the old" if ids[0] != ids[1] else "old calibration with a new"
        return Verdict(module, Outcome.NO, f"{module} has the {now} verification number", evidence)
    same = "is as it was" if ids[0] == ids[1] and sums[0] == sums[1] else "changed as well"
    return Verdict(module, Outcome.YES, f"{module} was not the one programmed and {same}", evidence)


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
    if expected.strip() in after:
        return Verdict(what, Outcome.YES, f"{what} {expected} is in the module")
    match = next((one for one in after if _same_by_suffix(one, expected.strip())), None)
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
