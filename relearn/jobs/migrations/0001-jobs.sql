-- One row for each job. Every column can be made again from the job's folder.
CREATE TABLE job (
    id                 TEXT PRIMARY KEY,           -- given to the job when it was started
    folder             TEXT NOT NULL,              -- where it was last worked in
    title              TEXT NOT NULL,
    vin                TEXT NOT NULL,              -- '' where none is known
    workshop           TEXT NOT NULL,
    technician         TEXT NOT NULL,
    customer           TEXT NOT NULL,
    vehicle            TEXT NOT NULL,
    "order"            TEXT NOT NULL,
    events             TEXT NOT NULL,              -- separated by commas
    calibration_before TEXT NOT NULL,
    calibration_after  TEXT NOT NULL,
    started            TEXT NOT NULL,              -- ISO 8601 with its zone, as in the record
    started_unix_s     REAL NOT NULL,              -- the same, to sort and compare by
    changed            TEXT NOT NULL,              -- the record's last line
    verdict            TEXT NOT NULL CHECK (verdict IN ('yes', 'no', 'cannot tell')),
    reason             TEXT NOT NULL,
    next               TEXT NOT NULL,
    lines              INTEGER NOT NULL            -- how far the record goes
        CHECK (typeof(lines) = 'integer' AND lines >= 1),
    head               TEXT NOT NULL               -- what its last line hashes to
        CHECK (length(head) = 64 AND head NOT GLOB '*[^0-9a-f]*')
);

CREATE INDEX job_by_start ON job (started_unix_s DESC, id);
