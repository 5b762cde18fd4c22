-- The journal: the one truth. Lines are added and never touched again.
CREATE TABLE journal (
    seq       INTEGER PRIMARY KEY,
    prev      BLOB NOT NULL CHECK (length(prev) = 32),       -- hash of the line before; zeros on the first
    bird      TEXT,                                          -- the bird that the line is about, if one
    bird_prev BLOB CHECK (bird_prev IS NULL OR length(bird_prev) = 32), -- hash of that bird's line before
    body      TEXT NOT NULL,                                 -- one JSON object
    hash      BLOB NOT NULL CHECK (length(hash) = 32)        -- of all the above
) STRICT;
CREATE INDEX journal_of_bird ON journal (bird, seq) WHERE bird IS NOT NULL;

CREATE TRIGGER journal_keeps_lines BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'a journal line is never changed'); END;
CREATE TRIGGER journal_loses_no_line BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'a journal line is never deleted'); END;
CREATE TRIGGER journal_has_no_gap BEFORE INSERT ON journal
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM journal)
BEGIN SELECT RAISE(ABORT, 'a journal line follows the last one'); END;

-- Housekeeping: no part of the record, and not in the journal.
CREATE TABLE keeping (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE device (
    id      TEXT PRIMARY KEY,
    name    TEXT NOT NULL,
    keeper  TEXT NOT NULL,
    secret  TEXT NOT NULL UNIQUE,                            -- SHA-256 of the cookie's secret
    paired  TEXT NOT NULL,
    seen    TEXT,
    revoked TEXT
) STRICT;

CREATE TABLE pairing_code (
    secret  TEXT PRIMARY KEY,                                -- SHA-256 of the code
    expires INTEGER NOT NULL                                 -- Unix milliseconds
) STRICT, WITHOUT ROWID;

CREATE TABLE job (
    id        INTEGER PRIMARY KEY,
    kind      TEXT NOT NULL,
    subject   TEXT NOT NULL,
    tries     INTEGER NOT NULL DEFAULT 0,
    not_before INTEGER NOT NULL DEFAULT 0,                   -- Unix milliseconds
    taken_until INTEGER NOT NULL DEFAULT 0,                  -- Unix milliseconds
    trouble   TEXT,
    UNIQUE (kind, subject)
) STRICT;
