-- The view: made from the journal alone, line by line, and made anew whenever its form changes.
CREATE TABLE bird (
    seq         INTEGER PRIMARY KEY,
    id          TEXT NOT NULL UNIQUE,
    name        TEXT NOT NULL,
    details     TEXT NOT NULL,                               -- JSON
    gone        TEXT,
    from_keeper TEXT,
    added       TEXT NOT NULL
) STRICT;

CREATE TABLE bird_event (
    seq   INTEGER PRIMARY KEY,
    bird  TEXT NOT NULL,
    at    TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    kind  TEXT NOT NULL,
    text  TEXT NOT NULL,
    by    TEXT NOT NULL
) STRICT;
CREATE INDEX bird_event_of ON bird_event (bird, at_ms);

CREATE TABLE keeper (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;

CREATE TABLE evidence (
    seq        INTEGER PRIMARY KEY,
    sha256     TEXT NOT NULL UNIQUE,
    bytes      INTEGER NOT NULL,
    kind       TEXT NOT NULL,
    media_type TEXT,
    name       TEXT,
    received   TEXT NOT NULL
) STRICT;

CREATE TABLE note (
    seq       INTEGER PRIMARY KEY,
    id        TEXT NOT NULL UNIQUE,
    sha256    TEXT,
    text      TEXT,
    at        TEXT NOT NULL,
    at_ms     INTEGER NOT NULL,
    taken     TEXT,
    bird      TEXT,
    keeper    TEXT NOT NULL,
    device    TEXT NOT NULL,
    received  TEXT NOT NULL,
    stage     TEXT NOT NULL,
    trouble   TEXT,
    heard_seq INTEGER,                                       -- the journal line with the transcript
    audio_s   REAL,
    model     TEXT
) STRICT;
CREATE UNIQUE INDEX note_of_sound ON note (sha256) WHERE sha256 IS NOT NULL;
CREATE INDEX note_by_time ON note (at_ms);
CREATE INDEX note_failed ON note (stage) WHERE stage = 'failed';

CREATE TABLE photo (
    seq         INTEGER PRIMARY KEY,
    id          TEXT NOT NULL UNIQUE,
    sha256      TEXT NOT NULL UNIQUE,
    at          TEXT NOT NULL,
    at_ms       INTEGER NOT NULL,
    taken       TEXT NOT NULL,
    orientation INTEGER NOT NULL,
    bird        TEXT,
    keeper      TEXT NOT NULL,
    device      TEXT NOT NULL,
    received    TEXT NOT NULL,
    stage       TEXT NOT NULL,
    trouble     TEXT,
    reading     TEXT,                                        -- JSON
    place       TEXT,                                        -- JSON; private
    alone       INTEGER NOT NULL DEFAULT 0                   -- 1: parted by hand, not paired again by itself
) STRICT;
CREATE INDEX photo_by_time ON photo (at_ms);
CREATE INDEX photo_failed ON photo (stage) WHERE stage = 'failed';

CREATE TABLE entry (
    seq     INTEGER PRIMARY KEY,
    id      TEXT NOT NULL UNIQUE,
    n       INTEGER NOT NULL,                                -- its place in the note
    note    TEXT,
    photo   TEXT,
    bird    TEXT,
    said_bird TEXT,                                          -- the bird as proposed
    kind    TEXT NOT NULL,
    state   TEXT NOT NULL,
    at_ms   INTEGER NOT NULL,
    said    TEXT NOT NULL,                                   -- JSON, as proposed
    now     TEXT,                                            -- JSON, as corrected
    by      TEXT,
    decided TEXT,
    reason  TEXT,
    another TEXT                                             -- the keeper whose record it was taken from
) STRICT;
CREATE INDEX entry_confirmed ON entry (bird, at_ms) WHERE state = 'confirmed';
CREATE INDEX entry_weighed ON entry (bird, at_ms) WHERE state = 'confirmed' AND kind = 'weight';
CREATE INDEX entry_weather ON entry (at_ms) WHERE state = 'confirmed' AND kind = 'weather';
CREATE INDEX entry_waiting ON entry (note, photo) WHERE state = 'waiting';
CREATE INDEX entry_weight ON entry (at_ms) WHERE kind = 'weight';
CREATE INDEX entry_of_bird ON entry (bird, at_ms);
CREATE INDEX entry_of_note ON entry (note) WHERE note IS NOT NULL;
CREATE INDEX entry_of_photo ON entry (photo) WHERE photo IS NOT NULL;

CREATE TABLE decision (
    seq    INTEGER PRIMARY KEY,
    act    INTEGER NOT NULL,
    entry  TEXT NOT NULL,
    state  TEXT NOT NULL,                                    -- what the entry became
    now    TEXT,                                             -- JSON, as corrected
    bird   TEXT,
    by     TEXT NOT NULL,
    at     TEXT NOT NULL,
    reason TEXT,
    undone INTEGER                                           -- the line that took it back
) STRICT;
CREATE INDEX decision_of ON decision (entry, seq);
CREATE INDEX decision_act ON decision (act);

CREATE TABLE pair (
    photo   TEXT PRIMARY KEY,
    entry   TEXT NOT NULL UNIQUE,
    by_hand INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE word (
    heard   TEXT PRIMARY KEY,
    meaning TEXT NOT NULL,
    by      TEXT NOT NULL,
    at      TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE setting (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL                                      -- JSON
) STRICT, WITHOUT ROWID;

CREATE TABLE scale_check (
    seq     INTEGER PRIMARY KEY,
    scale   TEXT NOT NULL,
    known_g REAL NOT NULL,
    shown_g REAL NOT NULL,
    at      TEXT NOT NULL,
    at_ms   INTEGER NOT NULL,
    by      TEXT NOT NULL
) STRICT;

-- Counts kept up to date, because counting millions of rows takes longer than a page may.
CREATE TABLE tally (
    what TEXT PRIMARY KEY,
    n    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO tally (what, n)
VALUES ('note', 0), ('photo', 0), ('waiting', 0), ('confirmed', 0), ('rejected', 0), ('withdrawn', 0);
CREATE TRIGGER tally_notes AFTER INSERT ON note
BEGIN UPDATE tally SET n = n + 1 WHERE what = 'note'; END;
CREATE TRIGGER tally_photos AFTER INSERT ON photo
BEGIN UPDATE tally SET n = n + 1 WHERE what = 'photo'; END;
CREATE TRIGGER tally_entries AFTER INSERT ON entry
BEGIN UPDATE tally SET n = n + 1 WHERE what = NEW.state; END;
CREATE TRIGGER tally_states AFTER UPDATE OF state ON entry WHEN OLD.state <> NEW.state
BEGIN
    UPDATE tally SET n = n - 1 WHERE what = OLD.state;
    UPDATE tally SET n = n + 1 WHERE what = NEW.state;
END;

-- Words to search: a note under its own line's number, a confirmed remark under its own.
CREATE VIRTUAL TABLE search USING fts5 (text, tokenize = 'porter unicode61');
