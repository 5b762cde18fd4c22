//! A report as PDF: laid out by hand on A4, tagged for screen readers, fit for the archive (PDF/A-2a and PDF/UA-1).

mod flow;
mod font;
mod write;

pub(crate) use write::{pages, write};
