"""ASAM MDF 4 bus logs, through asammdf, which is large and an extra.

Its arrays are taken as they are (mf4_events.py); a file with anything odd in it is read message by message, through
python-can.
"""

from __future__ import annotations

import gc
import importlib.util
import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import can

from relearn.capture import files
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.odd import Odd
from relearn.capture.pythoncan import DAMAGE, Errors, read_binary, unreadable
from relearn.errors import CaptureError

MAGIC = (b"MDF     4.", b"UnFinMF 4.")  # ASAM MDF 4, identification block: file and format identifiers
ID_BYTES = 64
UNPACKERS = {"isal.igzip_lib": "IsalError", "deflate": "DeflateError", "zstd": "Error"}


def read(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of an MF4 bus log. CaptureError besides the usual: asammdf is not installed."""
    with files.open_binary(path) as file:
        head = file.read(ID_BYTES)
    if len(head) < ID_BYTES or not head.startswith(MAGIC):
        raise CaptureError("is no MDF 4 file", path=path, remedy="check the file, or give it its own format's suffix")
    damage: Errors = (Odd, *DAMAGE, *_errors(path))
    with _asammdf_hushed():
        try:
            return _by_columns(path, keep)
        except damage:
            gc.collect()  # the half-made object goes now, while nobody hears it
        return _by_messages(path, keep, damage)  # what is wrong, if anything, is said here


def _by_columns(path: Path, keep: Keep) -> Capture:
    """Read as asammdf's arrays. Odd, or what asammdf raises: something that _by_messages should judge."""
    import asammdf

    from relearn.capture import mf4_events

    source = _unpacked(path) if files.is_gzipped(path) else path
    # what it prepares for databases by itself would cost one more reading of all data
    with asammdf.MDF(source, process_bus_logging=False) as log:  # type: ignore[call-arg]
        start_s = log.header.start_time.timestamp()
        groups = [list(mf4_events.read(log, group, start_s, keep)) for group in range(len(log.groups))]
    found = [group for group in groups if group]
    if not found:
        raise Odd
    return mf4_events.capture(path, found)


def _unpacked(path: Path) -> BytesIO:
    with files.open_binary(path) as file:
        return BytesIO(file.read())


def _by_messages(path: Path, keep: Keep, damage: Errors) -> Capture:
    """Read message by message."""
    try:
        reader = can.MF4Reader(files.open_binary(path) if files.is_gzipped(path) else path)
    except damage as error:
        reason = unreadable(path, error)
    else:
        return read_binary(path, reader, keep, damage=damage)
    gc.collect()
    raise reason


def _errors(path: Path) -> Errors:
    """What asammdf raises on a damaged file, and the unpackers below it, as far as they are installed."""
    try:
        from asammdf.blocks.utils import MdfException
    except ImportError:
        raise CaptureError(
            "is an MF4 file, and what reads those is not installed",
            path=path,
            remedy='install it with pip install "relearn[mf4]"',
        ) from None
    found = [module for module in UNPACKERS if importlib.util.find_spec(module.partition(".")[0])]
    unpackers = [getattr(importlib.import_module(module), UNPACKERS[module]) for module in found]
    return (MdfException, RuntimeError, *unpackers)


@contextmanager
def _asammdf_hushed() -> Iterator[None]:
    """On a damaged file asammdf logs, and its half-made object ends with a traceback; nothing else is hushed."""
    usual, logger = sys.unraisablehook, logging.getLogger("asammdf")
    level = logger.level

    def hook(complaint: sys.UnraisableHookArgs) -> None:
        if getattr(complaint.object, "__qualname__", "") != "MDF4.__del__":
            usual(complaint)

    sys.unraisablehook = hook
    logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        sys.unraisablehook = usual
        logger.setLevel(level)
