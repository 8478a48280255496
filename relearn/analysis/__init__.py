"""Every question, from a recording and a sheet to the document that answers it. The one page to read first.

    plan.plan(events, sheet)                    which relearns, in what order
    show.show(recording)                        what a capture holds
    ready.ready(recording, relearn, sheet)      is the car ready now
    steps.steps(recording, relearn, sheet)      were the steps done, in time
    settle.settle(recording, sheet)             did the idle settle
    supply.supply(recording, sheet)             was the supply held
    identity.identity(before, after)            same car, new calibration
    air.air(recording, sheet)                   is the engine breathing as it meters
    compare.compare(before, after, sheet)       two idles side by side
    job.job(path)                               all of it for one job file

A recording comes from `recording.read(path)`, a sheet from `procedures.sheets`. Nothing is imported here, so that a
command loads only what its own question needs.
"""
