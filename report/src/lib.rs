//! Confirmed records as pages for paper: the day book, the vet's sheet and the inspector's sheet, as PDF and as HTML.
//!
//! Pure: records in, bytes out, and the same records give the same bytes. The PDF is tagged for screen readers and fit
//! for the archive (PDF/A-2a, PDF/UA-1), and holds only the letters of Noto Sans: Latin, Greek and Cyrillic. The HTML
//! fetches nothing and prints any alphabet. Absent on purpose: files, SQL, the clock, where a record came from, and any
//! particular authority's form: local law and local forms decide what must be shown.

mod common;
mod day_book;
mod html;
mod input;
mod inspector;
mod pdf;
mod plot;
mod sheet;
mod vet;
mod words;

pub use input::{
    BirdRecord, Correction, DayBook, Event, EventKind, Identity, InspectorSheet, Occasion, Permit,
    PhotoProof, Record, Seal, VetSheet, Withdrawal,
};

/// Occurs when a report cannot be made. The records themselves are untouched.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReportError {
    /// The typeface in the program is broken.
    #[error(
        "The typeface inside the program cannot be read. Nothing was lost; print the page from the browser, or install the program again."
    )]
    Typeface,
    /// The PDF did not pass its own checks.
    #[error(
        "The PDF could not be written in the form that archives and screen readers need. Nothing was lost; print the page from the browser instead."
    )]
    Refused,
    /// Neither entries nor birds fall into the span.
    #[error(
        "Nothing was confirmed in these days, so there is nothing to print. Choose other days, or confirm what waits."
    )]
    Empty,
}

/// Writes a day book as PDF.
pub fn day_book(book: &DayBook) -> Result<Vec<u8>, ReportError> {
    if day_book::is_empty(book) {
        return Err(ReportError::Empty);
    }
    pdf::write(&day_book::compose(book))
}

/// Writes a day book as an HTML page for print.
pub fn day_book_html(book: &DayBook) -> String {
    html::page(&day_book::compose(book))
}

/// Writes a vet's sheet as a PDF of one page; older days and signs give way to make it fit.
pub fn vet_sheet(vet: &VetSheet) -> Result<Vec<u8>, ReportError> {
    for (days, signs) in [(21, 14), (14, 12), (14, 8), (10, 8), (7, 6), (5, 4), (3, 3)] {
        let sheet = vet::compose(vet, days, signs);
        if pdf::pages(&sheet)? == 1 {
            return pdf::write(&sheet);
        }
    }
    pdf::write(&vet::compose(vet, 3, 1))
}

/// Writes a vet's sheet as an HTML page for print.
pub fn vet_sheet_html(vet: &VetSheet) -> String {
    html::page(&vet::compose(vet, 14, 12))
}

/// Writes an inspector's sheet as PDF.
pub fn inspector_sheet(inspection: &InspectorSheet) -> Result<Vec<u8>, ReportError> {
    pdf::write(&inspector::compose(inspection))
}

/// Writes an inspector's sheet as an HTML page for print.
pub fn inspector_sheet_html(inspection: &InspectorSheet) -> String {
    html::page(&inspector::compose(inspection))
}
