//! One SQLite file, the evidence folder and the append-only journal.
