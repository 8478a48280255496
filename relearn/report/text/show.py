"""What a capture holds, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType

from relearn.findings.show import ChannelRow, ModuleRow, ShowFindings
from relearn.report.text.parts import heading, indented, line, row, table, troubles
from relearn.report.words import number, who, words

MONITOR_BITS = ("_monitor_supported", "_monitor_status")


def show(document: ShowFindings) -> Iterable[RenderableType]:
    """Identity first, then codes and monitors, channels, and everything odd."""
    when = document.start or "no wall-clock time"
    yield from line(f"{document.source.file}: {document.duration_s:.1f} s from {when}, {document.frames} frames", 0)
    yield from line(f"SHA-256 {document.source.sha256}")
    yield from line(f"VIN {document.vin or 'not read'}{f' ({document.vin_check})' if document.vin_check else ''}")
    for module in document.modules:
        yield from _module(module)
    yield from _state(document)
    yield from _channels(document.channels)
    yield from _odd(document)
    yield from troubles(document.faults, document.notes)


def _module(module: ModuleRow) -> Iterable[RenderableType]:
    named = f" {module.name}" if module.name else ""
    calibrations = ", ".join(module.calibrations) or "not read"
    sums = ", ".join(module.verification_numbers) or "not read"
    yield from line(f"{who(module.module)}{named}: calibration {calibrations}, verification {sums}")


def _state(document: ShowFindings) -> Iterable[RenderableType]:
    for kind in type(document.codes).model_fields:
        yield from line(f"{kind} codes: {_codes(document, kind)}")
    lamp = {None: "not read", True: "on", False: "off"}[document.lamp]
    yield from line(f"malfunction lamp: {lamp}")
    states: dict[str, list[str]] = {}
    for monitor, state in document.monitors.items():
        states.setdefault(state, []).append(monitor.replace("_", " "))
    for state, monitors in states.items():
        yield from line(f"monitors {state}: {', '.join(monitors)}")


def _codes(document: ShowFindings, kind: str) -> str:
    """The codes with the module that holds each; 'none' and 'not read' are told apart."""
    if getattr(document.codes, kind) is None:
        return "not read"
    held = [(code, module.module) for module in document.modules for code in getattr(module.codes, kind) or ()]
    return ", ".join(f"{code} ({module})" for code, module in held) or "none"


def _channels(rows: Sequence[ChannelRow]) -> Iterable[RenderableType]:
    """A table for each module; the monitors' bits are told above in words and only counted here."""
    for module in dict.fromkeys(one.module for one in rows):
        mine = [one for one in rows if one.module == module]
        shown = [one for one in mine if not one.channel.endswith(MONITOR_BITS)]
        yield heading(f"Channels of {who(module).removeprefix('module ')}")
        made = table("channel", "n", "per s", "first", "last", "min", "max", "gap s", numbers=tuple(range(1, 8)))
        for one in shown:
            row(made, *_cells(one))
        yield indented(made)
        if len(mine) > len(shown):
            yield from line(f"and {len(mine) - len(shown)} bits of the monitors above; --json lists them")


def _cells(one: ChannelRow) -> tuple[str, ...]:
    unit = f", {one.unit}" if one.unit else ""
    ends = (one.first_state or number(one.first), one.last_state or number(one.last))
    reach = ("", "") if one.first_state else (number(one.min), number(one.max))
    return (
        f"{words(one.channel)}{unit}",
        str(one.samples),
        f"{one.rate_hz:.2g}" if one.rate_hz else "–",
        *ends,
        *reach,
        f"{one.longest_gap_s:.2g}" if one.longest_gap_s is not None else "–",
    )


def _odd(document: ShowFindings) -> Iterable[RenderableType]:
    if document.unknown:
        yield heading("Bytes nothing explains")
    for raw in document.unknown:
        yield from line(
            f"{raw.module} service {raw.service} {raw.identifier}: {raw.count} times, "
            f"first {raw.first or '(empty)'}, last {raw.last or '(empty)'}"
        )
    if document.refused or document.response_pending:
        yield heading("Refused or put off")
    for one in document.refused:
        yield from line(f"{one.module} refused service {one.service} {one.count} times: {one.meaning} ({one.code})")
    if document.response_pending:
        yield from line(f"asked for patience (response pending) {document.response_pending} times")
    for frame in document.freeze_frames:
        values = ", ".join(f"{name} {number(value)}" for name, value in frame.values.items())
        code = frame.code or "code not read"
        yield from line(f"freeze frame {frame.frame_number} of {frame.module} ({code}): {values}")
