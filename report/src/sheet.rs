//! A report before it has a form: headings, facts, tables and figures. HTML and PDF are both made from this.

use crate::plot::Plot;

/// How a run of words looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    Plain,
    Strong,
    /// Of less weight: units, sources, names.
    Faint,
    /// No longer counts.
    Struck,
    /// Small, for hashes.
    Fine,
    /// To be looked at first.
    Alarm,
}

/// Words of one look.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Run {
    pub text: String,
    pub look: Look,
}

pub(crate) fn run(look: Look, text: impl Into<String>) -> Run {
    Run { text: text.into(), look }
}

pub(crate) fn plain(text: impl Into<String>) -> Vec<Run> {
    vec![run(Look::Plain, text)]
}

/// Puts lists of runs in one line with a separator between those that are not empty.
pub(crate) fn joined(parts: Vec<Vec<Run>>, separator: &str) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    for part in parts.into_iter().filter(|part| !part.is_empty()) {
        if !out.is_empty() {
            out.push(run(Look::Plain, separator));
        }
        out.extend(part);
    }
    out
}

/// A column of a table.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Column {
    pub head: &'static str,
    /// Its part of the width, in any measure.
    pub share: f32,
    pub right: bool,
}

pub(crate) const fn column(head: &'static str, share: f32) -> Column {
    Column { head, share, right: false }
}

pub(crate) const fn number(head: &'static str, share: f32) -> Column {
    Column { head, share, right: true }
}

/// Rows under heads.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    /// What the table holds, for those who hear it.
    pub says: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Vec<Run>>>,
}

/// One piece of a report.
#[derive(Clone, Debug)]
pub(crate) enum Block {
    /// A heading; level 2 is a bird or a part, level 3 a part of it.
    Heading(u8, String),
    Text(Vec<Run>),
    /// Labels with their values, set side by side.
    Facts(Vec<(&'static str, Vec<Run>)>),
    Table(Table),
    Figure(Plot),
    /// A sentence that must not be overlooked.
    Caution(String),
    /// The rest begins on a page of its own.
    PageBreak,
    /// Places to sign and date by hand.
    Signature(Vec<&'static str>),
}

/// A whole report.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub title: String,
    pub subtitle: String,
    /// Who made it and when.
    pub made: String,
    /// Stands small on each page.
    pub running: String,
    pub keeper: String,
    pub made_at: chrono::DateTime<chrono::FixedOffset>,
    pub blocks: Vec<Block>,
}
