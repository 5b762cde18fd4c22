//! Reports as pages made to be printed: day book, sheet for the vet, sheet for the inspector.
//!
//! Absent: PDF files; the browser's own print makes one.

use crate::{
    State,
    book::{self, Asked},
    gather,
    guard::told,
    say, shell,
    shell::Place,
};
use axum::{
    extract::{Query, State as Extract},
    http::StatusCode,
    response::Response,
};
use chrono::Days;
use maud::{Markup, PreEscaped, html};
use note::{BirdId, Kind, Units, Value};
use store::{Bird, Record, Span, State as Standing};

/// Offers the reports.
pub async fn page(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let (frame, birds) = gather::on(&state, |state| {
        Ok((gather::frame(state.store(), Place::Reports, "Reports")?, state.store().all_birds()?))
    })
    .await?;
    let Some(first) = birds.first().map(|b| b.id.clone()) else {
        return Ok(shell::page(
            &frame,
            html! { header { h1 { "Reports" } } (shell::empty("No bird yet", html! { p { "Reports are made of confirmed days: a day book, a sheet for the vet, a sheet for the inspector." } })) },
        ));
    };
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { "Reports" } p { "Each opens as a page made to be printed, or kept as a PDF by the browser’s own print." } }
            div.pair {
                @for (action, title, what) in [
                    ("/reports/day-book", "Day book", "Every day with weights, food, flying, remarks, photo proof with times and hashes; corrections shown as corrections."),
                    ("/reports/vet", "Sheet for the vet", "One page: trend, food, signs, dates."),
                    ("/reports/inspector", "Sheet for the inspector", "Identity, ring or chip, origin, permits, equipment and scale checks, dated events."),
                ] {
                    form.leaf method="get" action=(action) {
                        h2 { (title) } p { (what) }
                        div.fields {
                            @let id = action.trim_start_matches("/reports/");
                            div { label for={ (id) "-b" } { "Bird" } select id={ (id) "-b" } name="bird" { @for b in &birds { option value=(b.id) selected[b.id == first] { (b.details.name) @if b.gone.is_some() { " (gone)" } } } } }
                            div { label for={ (id) "-f" } { "From" } input id={ (id) "-f" } name="from" type="date"; }
                            div { label for={ (id) "-t" } { "To" } input id={ (id) "-t" } name="to" type="date"; }
                        }
                        button.main { "Open" }
                    }
                }
            }
        },
    ))
}

struct Sheet {
    bird: Bird,
    span: Span,
    records: Vec<Record>,
    units: Units,
    chart: String,
}

async fn sheet(
    state: &State,
    asked: Asked,
    title: &'static str,
    usual_days: u64,
    draw: impl FnOnce(&State, &Sheet) -> store::Result<Markup> + Send + 'static,
) -> Result<Markup, Response> {
    let Some(id) = asked.bird.clone().map(BirdId::new) else {
        return Err(told(StatusCode::UNPROCESSABLE_ENTITY, "Choose a bird for the report"));
    };
    let (frame, content) = gather::on(state, move |state| {
        let store = state.store();
        let bird = store.bird(&id)?;
        let given = gather::span(asked.from.as_deref().filter(|t| !t.is_empty()), asked.to.as_deref().filter(|t| !t.is_empty()));
        let span = if given.from.is_none() && usual_days > 0 { Span { from: gather::now().checked_sub_days(Days::new(usual_days)), ..given } } else { given };
        let records = store.records(&bird.id, span)?;
        let chart = book::chart(state, &bird, span, records.is_empty())?;
        let units = gather::measures(store)?.of_bird(&bird);
        let sheet = Sheet { bird, span, records, units, chart };
        let content = html! {
            header { h1 { (title) ": " (sheet.bird.details.name) } p { (span_words(sheet.span)) ", printed " (say::date(gather::today())) } }
            div.acts.noprint { button type="button" data-print { "Print" } a.press href="/reports" { "Other reports" } }
            div.leaf.print { (draw(state, &sheet)?) }
        };
        Ok((gather::frame(store, Place::Reports, title)?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

fn span_words(span: Span) -> String {
    let from =
        span.from.map_or("from the first day".into(), |m| format!("from {}", say::date(m.date_naive())));
    let to = span
        .to
        .and_then(|m| m.checked_sub_days(Days::new(1)))
        .map_or("until today".into(), |m| format!("until {}", say::date(m.date_naive())));
    format!("{from} {to}")
}

/// The day book, to print.
pub async fn day_book(
    Extract(state): Extract<State>,
    Query(asked): Query<Asked>,
) -> Result<Markup, Response> {
    sheet(&state, asked, "Day book", 0, |_, sheet| {
        let rows = book::rows(sheet.records.clone());
        let corrected: Vec<&Record> = sheet.records.iter().filter(|r| r.proposed.is_some() && r.state == Standing::Confirmed).collect();
        let proven: Vec<&Record> = sheet.records.iter().filter(|r| r.pairing.is_some() && r.state == Standing::Confirmed).collect();
        Ok(html! {
            figure.chart { (PreEscaped(&sheet.chart)) }
            (book::table(&rows, sheet.units))
            @if !proven.is_empty() { section {
                h2 { "Photo proof" }
                @for r in proven { @if let Some(p) = &r.pairing { p { (say::date(r.entry.at.date_naive())) ", " (say::value(&r.entry.value, sheet.units)) ": photo of " (p.photo.at.to_rfc3339()) @if let Some(reading) = p.photo.reading.as_ref().and_then(|x| x.reading.as_deref()) { ", shows " (reading) } br; span.hash { (p.photo.evidence) } } } }
            } }
            @if !corrected.is_empty() { section {
                h2 { "Corrections" }
                ul { @for r in corrected { @if let Some(was) = &r.proposed { li { (say::date(r.entry.at.date_naive())) ": read as " (say::value(&was.value, sheet.units)) ", corrected to " (say::value(&r.entry.value, sheet.units)) @if let Some(by) = &r.by { " by " (by) } @if let Some(why) = &r.reason { @if !why.is_empty() { " (" (why) ")" } } } } } }
            } }
        })
    })
    .await
}

/// The sheet for the vet: one page.
pub async fn vet(Extract(state): Extract<State>, Query(asked): Query<Asked>) -> Result<Markup, Response> {
    sheet(&state, asked, "For the vet", 42, |state, sheet| {
        let now = gather::bird_now(state, sheet.bird.clone())?;
        let events = state.store().bird_events(&sheet.bird.id)?;
        let rows = book::rows(sheet.records.clone());
        let signs: Vec<&Record> = sheet.records.iter().filter(|r| r.state == Standing::Confirmed && matches!(r.entry.value, Value::Condition(_) | Value::Behaviour(_) | Value::Remark(_))).collect();
        let units = sheet.units;
        Ok(html! {
            (identity(&sheet.bird, units))
            @if let Some(advice) = &now.advice { p {
                @if let Some(t) = advice.trend { "Trend " (say::mass(t.grams, units)) ", " (say::change(t.per_day_g, units)) " a day. " }
                @for a in &advice.alerts { strong { (a.why) } " " }
            } }
            figure.chart { (PreEscaped(&sheet.chart)) }
            section { h2 { "Food, last ten days" } ul { @for row in rows.iter().take(10) { li { (say::date(row.day)) ": " (row.words(&[Kind::Food], units).join("; ")) @if row.words(&[Kind::Food], units).is_empty() { "not noted" } } } } }
            section { h2 { "Signs and remarks" } @if signs.is_empty() { p { "None noted." } } ul { @for r in signs.iter().rev().take(30) { li { (say::date(r.entry.at.date_naive())) ": " (say::value(&r.entry.value, units)) @if !r.entry.quote.is_empty() { " (“" (r.entry.quote) "”)" } } } } }
            section { h2 { "Vet and other events" } ul { @for e in events.iter().rev() { li { (say::date(e.at.date_naive())) ": " (e.kind) @if !e.text.is_empty() { ", " (e.text) } } } } }
            p.caution { "From the keeper’s own confirmed notes; weights are from the keeper’s scale. No finding of a vet is replaced by it." }
        })
    })
    .await
}

/// The sheet for the inspector, in general form.
pub async fn inspector(
    Extract(state): Extract<State>,
    Query(asked): Query<Asked>,
) -> Result<Markup, Response> {
    sheet(&state, asked, "For the inspector", 0, |state, sheet| {
        let store = state.store();
        let events = store.bird_events(&sheet.bird.id)?;
        let checks = store.scale_checks(20)?;
        let kit: Vec<&Record> = sheet.records.iter().filter(|r| r.state == Standing::Confirmed && r.entry.kind() == Kind::Equipment).collect();
        let units = sheet.units;
        Ok(html! {
            (identity(&sheet.bird, units))
            section { h2 { "Dated events" } @if events.is_empty() { p { "None entered." } }
                table.book { thead { tr { th scope="col" { "Day" } th scope="col" { "Event" } th scope="col" { "Particulars" } th scope="col" { "Entered by" } } }
                    tbody { @for e in &events { tr { th scope="row" { (say::date(e.at.date_naive())) } td data-of="Event" { div { (e.kind) } } td data-of="Particulars" { div { (e.text) } } td data-of="Entered by" { div { (e.by) } } } } } } }
            section { h2 { "Equipment" } @if kit.is_empty() { p { "None noted in this span." } } ul { @for r in kit { li { (say::date(r.entry.at.date_naive())) ": " (say::value(&r.entry.value, units)) } } } }
            section { h2 { "Scale checks" } @if checks.is_empty() { p { "None noted." } } ul { @for c in checks { li { (say::date(c.at.date_naive())) ", " (c.scale) ": " (say::mass(c.known_g.get(), units)) " showed " (say::mass(c.shown_g.get(), units)) ", by " (c.by) } } } }
            p.caution { "This is a general form. Local forms and local law decide what an inspector must be shown. " (advise::caution::LAW) }
        })
    })
    .await
}

fn identity(bird: &Bird, units: Units) -> Markup {
    let d = &bird.details;
    let or_none = |v: &Option<String>| v.clone().unwrap_or_else(|| "not entered".into());
    html! {
        section { h2 { "Identity" }
            dl.plain {
                dt { "Name" } dd { (d.name) }
                dt { "Species" } dd { (or_none(&d.species)) }
                dt { "Sex" } dd { (or_none(&d.sex)) }
                dt { "Hatched" } dd { (or_none(&d.hatched)) }
                dt { "Ring" } dd { (or_none(&d.ring)) }
                dt { "Microchip" } dd { (or_none(&d.chip)) }
                dt { "Origin" } dd { (or_none(&d.origin)) }
                dt { "Permits" } dd { (or_none(&d.permits)) }
                dt { "Floor set" } dd { (d.floor_g.map_or("not set".into(), |g| say::mass(g, units))) }
                @if let Some(gone) = bird.gone { dt { "Stands" } dd { (gone) } }
            }
        }
    }
}
