"""Every question, from a recording and a sheet to the document that answers it. The one page to read first.

    plan(events, sheet)                     which relearns, in what order
    show(recording)                         what a capture holds
    ready(recording, relearn, sheet)        is the car ready now
    settle(recording, sheet)                did the idle settle
    supply(recording, sheet)                was the supply held
    identity(before, after)                 same car, new calibration
    air(recording, sheet)                   is the engine breathing as it meters
    job(path)                               all of it for one job file
"""

from relearn.analysis.air import air
from relearn.analysis.identity import identity
from relearn.analysis.job import job
from relearn.analysis.plan import plan
from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.show import show
from relearn.analysis.supply import supply

__all__ = ["air", "identity", "job", "plan", "ready", "settle", "show", "supply"]
