"""A job that keeps its own record: what was done, in which order, with which captures, and that nothing was changed.

    folder.py     the folder: lock, adding to it so that a kill or a power cut leaves it whole, going on afterwards
    record.py     the lines of record.jsonl and the chain that holds them together
    verify.py     which line or file was changed, removed or reordered
    sequence.py   pure: plan and record give where every stage stands and which is next
    refusals.py   pure: what stands against a step now
    begin.py, work.py   start, add, confirm: what each command does
    next.py       the one thing to do now
    status.py     where a job stands, as documents; and the job file that its record amounts to
    book.py       the technician's job book, one row for each job; entry.py makes a row from the job's folder alone

A folder holds job.toml (readable, editable), record.jsonl (only ever added to), record.head (how far it goes),
record.lock, captures/, and sheet.toml where a vehicle sheet was given.
"""
