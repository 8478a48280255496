"""What a capture holds, as a document; nothing is judged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from relearn.analysis.common import LAMP, engine_module, fault_docs, source, view
from relearn.channels import Channel, by_name, longest_gap_s, median_interval_s
from relearn.checks.identity import latest
from relearn.checks.view import View
from relearn.findings.base import wall_clock
from relearn.findings.show import ChannelRow, CodesDoc, FreezeRow, ModuleRow, RawRow, RefusalRow, ShowFindings
from relearn.j1979.identity import vin_check
from relearn.j1979.monitors import monitor_states
from relearn.j1979.records import Codes, FreezeFrame, RawParameter, Refusal
from relearn.j1979.table import signals
from relearn.recording import Recording


def show(recording: Recording, module: str | None = None) -> ShowFindings:
    """Everything the capture holds; `module` narrows the channels, lamp and monitors to one module."""
    engine = engine_module(recording, module)
    channels = {name: by_name(recording.series, name) for name in recording.modules}
    shown = [engine] if module is not None else list(recording.modules)
    last = {name: float(channel.value[-1]) for name, channel in channels.get(engine, {}).items()}
    vin = next(
        (values[0] for name in (engine, *recording.modules) if (values := latest(recording.identity, name, "vin"))),
        None,
    )
    return ShowFindings(
        source=source(recording, engine or None),
        duration_s=round(recording.duration_s, 6),
        start=wall_clock(recording.start_unix_s),
        frames=recording.total_frames,
        modules=tuple(_module(recording, name) for name in recording.modules),
        channels=tuple(_row(channel) for name in shown for channel in channels[name].values()),
        vin=vin,
        vin_check=vin_check(vin).reason if vin is not None else None,
        calibrations=latest(recording.identity, engine, "calibration"),
        verification_numbers=latest(recording.identity, engine, "verification_number"),
        codes=codes_doc(recording.codes),
        lamp=lamp(view(recording, engine)),
        monitors=monitor_states(last),
        freeze_frames=tuple(_freeze(one) for one in recording.freeze_frames),
        unknown=tuple(_raw(one) for one in recording.raw),
        refused=tuple(_refusal(one) for one in recording.refusals),
        response_pending=recording.pending_count,
        faults=fault_docs(recording.faults),
        notes=recording.notes,
    )


def lamp(seen: View) -> bool | None:
    """Is the one malfunction lamp commanded on, by any module's newest answer; None where it was never read."""
    own = [seen.channels[LAMP]] if LAMP in seen.channels else []
    read = [bool(one.value[-1]) for one in (*own, *seen.other_lamps) if len(one)]
    return any(read) if read else None


def codes_doc(codes: Sequence[Codes]) -> CodesDoc:
    """The newest list of each kind from every module, each code once; None for a kind that was never read."""
    return CodesDoc(
        stored=_newest(codes, "stored"), pending=_newest(codes, "pending"), permanent=_newest(codes, "permanent")
    )


def _newest(codes: Sequence[Codes], kind: str) -> tuple[str, ...] | None:
    newest = {one.module: one.codes for one in sorted(codes, key=lambda one: one.time_s) if one.kind == kind}
    return tuple(dict.fromkeys(code for _, held in sorted(newest.items()) for code in held)) if newest else None


def _module(recording: Recording, name: str) -> ModuleRow:
    support = recording.support.get(name)
    names = latest(recording.identity, name, "name")
    vins = latest(recording.identity, name, "vin")
    return ModuleRow(
        module=name,
        name=names[0] if names else None,
        vin=vins[0] if vins else None,
        calibrations=latest(recording.identity, name, "calibration"),
        verification_numbers=latest(recording.identity, name, "verification_number"),
        supported=tuple(f"{pid:02X}" for pid in sorted(support.supported)) if support is not None else (),
        codes=codes_doc([one for one in recording.codes if one.module == name]),
    )


def _row(channel: Channel) -> ChannelRow:
    interval_s = median_interval_s(channel)
    known = channel.value[~np.isnan(channel.value)]
    values = known if len(known) else np.zeros(1)
    return ChannelRow(
        module=channel.module,
        channel=channel.name,
        unit=channel.unit,
        samples=len(channel),
        rate_hz=_maybe(1.0 / interval_s if interval_s else None),
        first=_rounded(values[0]),
        last=_rounded(values[-1]),
        min=_rounded(values.min()),
        max=_rounded(values.max()),
        first_state=_state(channel.name, values[0]),
        last_state=_state(channel.name, values[-1]),
        longest_gap_s=_maybe(longest_gap_s(channel)),
    )


def _rounded(value: float) -> float:
    return round(float(value), 6)


def _maybe(value: float | None) -> float | None:
    return _rounded(value) if value is not None else None


def _state(name: str, value: float) -> str | None:
    signal = signals().get(name)
    return signal.states.get(int(value), f"state {value:g}") if signal is not None and signal.states else None


def _raw(one: RawParameter) -> RawRow:
    width = 4 if one.service == 0x22 else 2
    identifier = f"{one.identifier:0{width}X}" if one.identifier >= 0 else ""
    return RawRow(
        module=one.module,
        service=f"{one.service:02X}",
        identifier=identifier,
        count=one.count,
        first=one.first_hex,
        last=one.last_hex,
    )


def _refusal(one: Refusal) -> RefusalRow:
    return RefusalRow(
        module=one.module,
        service=f"{one.service:02X}",
        code=f"{one.code:02X}",
        meaning=one.meaning,
        count=one.count,
        first_s=_rounded(one.first_s),
    )


def _freeze(one: FreezeFrame) -> FreezeRow:
    return FreezeRow(
        module=one.module,
        frame_number=one.frame_number,
        code=one.code,
        values={name: _rounded(value) for name, value in one.values.items()},
    )
