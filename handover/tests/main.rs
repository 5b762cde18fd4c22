//! Files that travel. One binary; a module per matter: `history` hand-over files out and in, and what was
//! tampered with; `table` spreadsheets in and tables out; `place` pictures without their place; `calendar`.

mod calendar;
mod history;
mod place;
mod table;
