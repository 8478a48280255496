"""ASAM MDF 4 bus logs, through python-can and asammdf, which is large and an extra."""

from __future__ import annotations

import gc
import importlib.util
import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import can

from relearn.capture import files
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
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
    damage = (*DAMAGE, *_errors(path))
    with _asammdf_hushed():
        try:
            reader = can.MF4Reader(files.open_binary(path) if files.is_gzipped(path) else path)
        except damage as error:
            reason = unreadable(path, error)
        else:
            return read_binary(path, reader, keep, damage=damage)
        gc.collect()  # the half-made object goes now, while nobody hears it
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
