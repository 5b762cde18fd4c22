//! Reports as pages made to be printed: day book, sheet for the vet, sheet for the inspector.
//!
//! Absent: how a PDF is set; the workshop prints it.

use crate::{
    Order, Report, State,
    book::{self, Asked},
    gather,
    guard::{Hand, told},
    say, shell,
    shell::Place,
};
use axum::{
    Extension,
    extract::{Path, Query, State as Extract},
    http::{StatusCode, header},
    response::{IntoResponse, Response},
};
use chrono::{Days, NaiveDate};
use maud::{Markup, html};
use note::{BirdId, Kind, Units, Value};
use serde::Deserialize;
use std::collections::BTreeMap;
use store::{Bird, Record, Span, State as Standing};

/// Days that a report tells of when none are asked for.
const USUAL_DAYS: u64 = 28;
/// The same for the vet's sheet: long enough to see a trend.
const VET_DAYS: u64 = 42;
/// The same for the inspector's sheet: equipment of a year; events and identity know no span.
const INSPECTOR_DAYS: u64 = 365;

/// What each report is called, where it opens, and what is in it.
const REPORTS: &[(&str, Report, &str, &str)] = &[
    (
        "day-book",
        Report::DayBook,
        "Day book",
        "Every day with weights, food, flying, remarks, photo proof with times and hashes; corrections shown as corrections.",
    ),
    ("vet", Report::Vet, "Sheet for the vet", "One bird on one page: trend, food, signs, dates."),
    (
        "inspector",
        Report::Inspector,
        "Sheet for the inspector",
        "Identity, ring or chip, origin, permits, equipment and scale checks, dated events. Local forms and local law decide what must be shown.",
    ),
];

/// Offers the reports.
pub async fn page(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let (frame, birds) = gather::on(&state, |state| {
        Ok((gather::frame(state.store(), Place::Reports, "Reports")?, state.store().all_birds()?))
    })
    .await?;
    if birds.is_empty() {
        return Ok(shell::page(
            &frame,
            html! { header { h1 { "Reports" } } (shell::empty("No bird yet", html! { p { "Reports are made of confirmed days: a day book, a sheet for the vet, a sheet for the inspector." } p { a.press.main href="/birds/new" { "Enter a bird" } } })) },
        ));
    }
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { "Reports" } p { "As a PDF to send or keep, or as a page to read and print." } }
            form method="get" action="/reports/day-book" {
                div.leaf { div.fields {
                    div { label for="bird" { "Bird" } select #bird name="bird" { option value="" { "every bird" } @for b in &birds { option value=(b.id) { (b.details.name) @if b.gone.is_some() { " (gone)" } } } } }
                    div { label for="from" { "From" } input #from name="from" type="date"; }
                    div { label for="to" { "To" } input #to name="to" type="date"; }
                } p.small { "Left empty, the last four weeks; the vet’s sheet shows six, the inspector’s a year." } }
                @for (name, _, title, what) in REPORTS {
                    section.leaf {
                        h2 { (title) } p { (what) }
                        @if *name == "vet" { label for="question" { "What you would ask" } input #question name="question" maxlength="500" autocomplete="off"; }
                        div.acts {
                            button.main.grow formaction={ "/reports/" (name) ".pdf" } aria-label={ (title) ", PDF" } { "PDF" }
                            button.grow formaction={ "/reports/" (name) } aria-label={ (title) ", to read" } { "To read" }
                        }
                    }
                }
            }
        },
    ))
}

/// What a PDF is asked for with.
#[derive(Debug, Default, Deserialize)]
pub struct Ordered {
    #[serde(default)]
    bird: String,
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
    #[serde(default)]
    question: String,
}

/// Sends a report as PDF.
pub async fn pdf(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(name): Path<String>,
    Query(asked): Query<Ordered>,
) -> Response {
    let kind = name.strip_suffix(".pdf").and_then(|name| REPORTS.iter().find(|r| r.0 == name));
    let Some((name, report, title, _)) = kind else {
        return told(StatusCode::NOT_FOUND, "There is no such report");
    };
    let mut days = [None, None];
    for (day, text) in days.iter_mut().zip([asked.from.trim(), asked.to.trim()]) {
        if !text.is_empty() {
            *day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
            if day.is_none() {
                return told(StatusCode::UNPROCESSABLE_ENTITY, &format!("“{text}” is no date"));
            }
        }
    }
    let [from, to] = days;
    // Empty means the usual span, as on the page to read.
    let last = to.unwrap_or_else(gather::today);
    let usual = match report {
        Report::DayBook => USUAL_DAYS,
        Report::Vet => VET_DAYS,
        Report::Inspector => INSPECTOR_DAYS,
    };
    let from = from.or_else(|| last.checked_sub_days(Days::new(usual)));
    if from.is_some_and(|from| from > last) {
        return told(StatusCode::UNPROCESSABLE_ENTITY, "The first day comes after the last");
    }
    let bird = Some(asked.bird.trim()).filter(|id| !id.is_empty()).map(BirdId::new);
    if *report == Report::Vet && bird.is_none() {
        return told(StatusCode::UNPROCESSABLE_ENTITY, "The vet’s sheet is for one bird: choose which");
    }
    let question = Some(asked.question.trim().to_owned()).filter(|q| !q.is_empty());
    let order = Order {
        report: *report,
        bird: bird.clone(),
        from,
        to: Some(last),
        keeper: hand.who.keeper,
        question,
    };
    let made = gather::on(&state, move |state| {
        let of = bird.map(|id| state.store().bird(&id)).transpose()?.map(|b| b.details.name);
        Ok((of, state.shared.workshop.print(&order)))
    })
    .await;
    match made {
        Ok((of, Ok(bytes))) => {
            let of: String = of
                .map(|of| of.chars().filter(|c| c.is_ascii_alphanumeric()).collect::<String>())
                .filter(|of| !of.is_empty())
                .map(|of| format!("{of}-"))
                .unwrap_or_default();
            let file = format!("inline; filename=\"{of}{name}-{last}.pdf\"");
            (
                [(header::CONTENT_TYPE, "application/pdf".to_owned()), (header::CONTENT_DISPOSITION, file)],
                bytes,
            )
                .into_response()
        }
        // Mostly there is nothing in the days asked for.
        Ok((_, Err(why))) => {
            told(StatusCode::UNPROCESSABLE_ENTITY, &format!("{title}: {}", why.trim_end_matches('.')))
        }
        Err(answer) => answer,
    }
}

struct Sheet {
    bird: Bird,
    records: Vec<Record>,
    units: Units,
    chart: Markup,
}

async fn sheet(
    state: &State,
    asked: Asked,
    title: &'static str,
    usual_days: u64,
    draw: impl Fn(&State, &Sheet) -> store::Result<Markup> + Send + 'static,
) -> Result<Markup, Response> {
    let id = asked.bird.clone().filter(|id| !id.is_empty()).map(BirdId::new);
    let (frame, content) = gather::on(state, move |state| {
        let store = state.store();
        let birds = match &id {
            Some(id) => vec![store.bird(id)?],
            None => store.all_birds()?,
        };
        let given = gather::span(asked.from.as_deref().filter(|t| !t.is_empty()), asked.to.as_deref().filter(|t| !t.is_empty()));
        let span = if given.from.is_none() { Span { from: given.to.unwrap_or_else(gather::now).checked_sub_days(Days::new(usual_days)), ..given } } else { given };
        let whose = match birds.as_slice() { [one] => one.details.name.clone(), all => say::count(all.len(), "bird") };
        let (measures, alone) = (gather::measures(store)?, birds.len() == 1);
        let mut sheets = Vec::new();
        for bird in birds {
            let records = store.records(&bird.id, span)?;
            let chart = book::chart(state, &bird, span, records.is_empty())?;
            let units = measures.of_bird(&bird);
            let sheet = Sheet { bird, records, units, chart };
            sheets.push(html! { div.leaf.print { @if !alone { h2.whose { (sheet.bird.details.name) } } (draw(state, &sheet)?) } });
        }
        let content = html! {
            header { h1 { (title) ": " (whose) } p { (span_words(span)) ", printed " (say::date(gather::today())) } }
            div.acts.noprint { button.main type="button" data-print data-js hidden { "Print" } a.press href="/reports" { "Other reports" } }
            @for sheet in &sheets { (sheet) }
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
    sheet(&state, asked, "Day book", USUAL_DAYS, |_, sheet| {
        let rows = book::rows(sheet.records.clone());
        let corrected: Vec<&Record> = sheet.records.iter().filter(|r| r.proposed.is_some() && r.state == Standing::Confirmed).collect();
        let proven: Vec<&Record> = sheet.records.iter().filter(|r| r.pairing.is_some() && r.state == Standing::Confirmed).collect();
        Ok(html! {
            (sheet.chart)
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
    sheet(&state, asked, "For the vet", VET_DAYS, |state, sheet| {
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
            (sheet.chart)
            section { h2 { "Food, last ten days" } ul { @for row in rows.iter().take(10) { li { (say::date(row.day)) ": " (row.words(&[Kind::Food], units).join("; ")) @if row.words(&[Kind::Food], units).is_empty() { "not noted" } } } } }
            section { h2 { "Signs and remarks" } @if signs.is_empty() { p { "None noted." } } ul { @for (what, days) in seen(&signs, units) { li { (what) ": " (days) } } } }
            section { h2 { "Vet and other events" } ul { @for e in events.iter().rev() { li { (say::date(e.at.date_naive())) ": " (e.kind) @if !e.text.is_empty() { ", " (e.text) } } } } }
            p.caution { "From the keeper’s own confirmed notes; weights are from the keeper’s scale. No finding of a vet is replaced by it." }
        })
    })
    .await
}

/// What was seen, each once with its days: a vet reads "keen" once, not on every day.
fn seen(records: &[&Record], units: Units) -> Vec<(String, String)> {
    let mut by_word: BTreeMap<String, Vec<NaiveDate>> = BTreeMap::new();
    for r in records {
        by_word.entry(say::value(&r.entry.value, units)).or_default().push(r.entry.at.date_naive());
    }
    let mut all: Vec<_> = by_word.into_iter().collect();
    all.sort_by_key(|(_, days)| std::cmp::Reverse(days.iter().max().copied()));
    all.into_iter()
        .map(|(word, days)| {
            let last = days.iter().max().copied().unwrap_or_default();
            let words = if days.len() == 1 {
                say::date(last)
            } else {
                format!("{} times, last on {}", days.len(), say::date(last))
            };
            (word, words)
        })
        .collect()
}

/// The sheet for the inspector, in general form.
pub async fn inspector(
    Extract(state): Extract<State>,
    Query(asked): Query<Asked>,
) -> Result<Markup, Response> {
    sheet(&state, asked, "For the inspector", INSPECTOR_DAYS, |state, sheet| {
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
