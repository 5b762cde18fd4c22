//! The day book: a bird's days as a table, with the chart of her weight above it.

use crate::{State, gather, say, shell, shell::Place};
use advise::chart::Sheet;
use axum::{
    extract::{Query, State as Extract},
    response::Response,
};
use chrono::{Days, NaiveDate};
use maud::{Markup, PreEscaped, html};
use note::{BirdId, Kind, Units, Value};
use serde::Deserialize;
use std::collections::BTreeMap;
use store::{Bird, Record, Span, State as Standing};

/// Days shown when no span is asked for.
const USUAL_DAYS: u64 = 28;

/// Which bird, from when to when.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Asked {
    /// Her id.
    pub bird: Option<String>,
    /// First day, "2026-11-01".
    pub from: Option<String>,
    /// Last day, inside.
    pub to: Option<String>,
}

/// One day of a bird, put together for the table.
#[derive(Clone, Debug)]
pub struct Row {
    /// The date.
    pub day: NaiveDate,
    /// Confirmed entries of the day, in order.
    pub records: Vec<Record>,
}

impl Row {
    /// The day's weights, as read.
    pub fn weights(&self) -> impl Iterator<Item = &Record> {
        self.records.iter().filter(|r| r.entry.kind() == Kind::Weight)
    }
    fn first_grams(&self) -> Option<f64> {
        self.weights().next().and_then(net_grams)
    }
    /// Everything of some kinds, in words.
    pub fn words(&self, kinds: &[Kind], units: Units) -> Vec<String> {
        self.records
            .iter()
            .filter(|r| kinds.contains(&r.entry.kind()))
            .map(|r| say::value(&r.entry.value, units))
            .collect()
    }
}

/// The weight of a record without what the bird wears, grams.
pub fn net_grams(record: &Record) -> Option<f64> {
    match (&record.entry.value, &record.net) {
        (Value::Weight(_), Some(net)) => Some(net.bird_g),
        (Value::Weight(w), None) => Some(w.grams.get()),
        _ => None,
    }
}

/// Groups confirmed records by their day, newest day first.
pub fn rows(records: Vec<Record>) -> Vec<Row> {
    let mut days: BTreeMap<NaiveDate, Vec<Record>> = BTreeMap::new();
    for record in records.into_iter().filter(|r| r.state == Standing::Confirmed) {
        days.entry(record.entry.at.date_naive()).or_default().push(record);
    }
    days.into_iter().rev().map(|(day, records)| Row { day, records }).collect()
}

/// Shows the day book of one bird.
pub async fn page(Extract(state): Extract<State>, Query(asked): Query<Asked>) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let frame = gather::frame(store, Place::Book, "Day book")?;
        let birds = store.all_birds()?;
        let here = asked.bird.as_deref().and_then(|id| birds.iter().find(|b| b.id.as_str() == id));
        let Some(bird) = here.or(birds.iter().find(|b| b.gone.is_none())).or(birds.first()).cloned() else {
            return Ok((frame, no_bird()));
        };
        let units = gather::measures(store)?.of_bird(&bird);
        let span = usual_span(&asked);
        let rows = rows(store.records(&bird.id, span)?);
        let chart = chart(state, &bird, span, rows.is_empty())?;
        Ok((frame, draw(&bird, &birds, &asked, span, &rows, &chart, units)))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

/// The span asked for, else the last four weeks.
pub fn usual_span(asked: &Asked) -> Span {
    let span = gather::span(
        asked.from.as_deref().filter(|t| !t.is_empty()),
        asked.to.as_deref().filter(|t| !t.is_empty()),
    );
    if span.from.is_none() && span.to.is_none() {
        return Span { from: gather::now().checked_sub_days(Days::new(USUAL_DAYS)), to: None };
    }
    span
}

/// The chart of a bird's weight in a span.
pub fn chart(state: &State, bird: &Bird, span: Span, empty: bool) -> store::Result<Markup> {
    if empty {
        return Ok(html! {});
    }
    let days = state.store().days(&bird.id, span)?;
    let links: Vec<Option<String>> =
        days.iter().map(|d| Some(format!("#d{}", d.at.format("%Y-%m-%d")))).collect();
    let mut of = bird.for_advice();
    of.units = gather::measures(state.store())?.of_bird(bird);
    let settings = gather::advice_settings(state.store())?;
    Ok(both(|sheet| advise::chart::weight(&of, &days, &links, &settings, sheet)))
}

/// A chart drawn for the desk and paper, and once more for the hand; the style sheet shows one of them.
pub fn both(draw: impl Fn(Sheet) -> String) -> Markup {
    html! {
        figure.chart.at-desk { (PreEscaped(draw(Sheet::Desk))) }
        figure.chart.in-hand { (PreEscaped(draw(Sheet::Hand))) }
    }
}

fn draw(
    bird: &Bird,
    birds: &[Bird],
    asked: &Asked,
    span: Span,
    rows: &[Row],
    chart: &Markup,
    units: Units,
) -> Markup {
    let date = |m: Option<store::Moment>| m.map(|m| m.format("%Y-%m-%d").to_string()).unwrap_or_default();
    html! {
        header { h1 { "Day book" } p { (bird.details.name) @if let Some(gone) = bird.gone { ", " (gone) } ", " (days_words(span)) } }
        details.leaf.ask open[rows.is_empty()] {
            summary { @if birds.len() > 1 { "Another bird, other days" } @else { "Other days" } }
            form method="get" action="/book" {
                div.fields {
                    (pick(birds, &bird.id))
                    div { label for="from" { "From" } input #from name="from" type="date" value=(date(span.from)); }
                    div { label for="to" { "To" } input #to name="to" type="date" value=(asked.to.clone().unwrap_or_default()); }
                }
                div.acts { button.main { "Show" } }
            }
        }
        @if rows.is_empty() {
            (shell::empty("No confirmed days in this span", html! { p { "A day appears here once something of it is confirmed. " a href="/confirm" { "See what waits" } ", or choose an earlier first day above." } }))
        } @else {
            div.leaf { (chart) (table(rows, units))
                div.acts.noprint { a.press href={ "/birds/" (bird.id) } { (bird.details.name) } a.press href={ "/reports/day-book?bird=" (bird.id) } { "To print" } } }
        }
    }
}

/// Says a span in words: "the last four weeks", "1 Oct 2026 to 3 Nov 2026".
fn days_words(span: Span) -> String {
    let day = |m: store::Moment| m.format("%-d %b %Y").to_string();
    let last = span.to.and_then(|m| m.checked_sub_days(Days::new(1))).map(day);
    match (span.from, last) {
        (Some(from), Some(last)) => format!("{} to {last}", day(from)),
        (Some(from), None) => format!("since {}", day(from)),
        (None, Some(last)) => format!("until {last}"),
        (None, None) => "all days".into(),
    }
}

/// A choice of bird.
pub fn pick(birds: &[Bird], chosen: &BirdId) -> Markup {
    html! { div {
        label for="bird" { "Bird" }
        select #bird name="bird" { @for b in birds { option value=(b.id) selected[b.id == *chosen] { (b.details.name) @if b.gone.is_some() { " (gone)" } } } }
    } }
}

/// The days as a table; on a narrow hand, each day a slip.
pub fn table(rows: &[Row], units: Units) -> Markup {
    html! {
        table.book {
            caption { "Days, newest first" }
            thead { tr { th scope="col" { "Day" } th.nr scope="col" { "Weight" } th.nr scope="col" { "Change" } th scope="col" { "Food" } th scope="col" { "Flying" } th scope="col" { "Answer" } th scope="col" { "Seen and done" } } }
            tbody {
                @for (i, row) in rows.iter().enumerate() {
                    @let before = rows[i + 1..].iter().find_map(Row::first_grams);
                    tr id={ "d" (row.day) } {
                        th scope="row" { (say::date(row.day)) }
                        (cell("Weight", true, weights(row, before, units)))
                        (cell("Change", true, change(row.first_grams(), before, units)))
                        (cell("Food", false, list(&row.words(&[Kind::Food], units))))
                        (cell("Flying", false, list(&row.words(&[Kind::Flights, Kind::Quarry, Kind::Training], units))))
                        (cell("Answer", false, list(&row.words(&[Kind::Response], units))))
                        (cell("Seen and done", false, list(&row.words(&[Kind::Behaviour, Kind::Condition, Kind::Equipment, Kind::Weather, Kind::Remark], units))))
                    }
                }
            }
        }
    }
}

fn cell(of: &str, number: bool, content: Option<Markup>) -> Markup {
    html! { td class=[number.then_some("nr")] data-of=[content.is_some().then_some(of)] { @if let Some(content) = content { div { (content) } } } }
}

fn weights(row: &Row, before: Option<f64>, units: Units) -> Option<Markup> {
    let weights: Vec<&Record> = row.weights().collect();
    (!weights.is_empty()).then(|| html! {
        @for (i, record) in weights.iter().enumerate() {
            @if i > 0 { br; }
            @if let Some(grams) = net_grams(record) { a href={ "/evidence/entry/" (record.id) } aria-label={ (say::mass(grams, units)) ", where it comes from" } { (say::mass(grams, units)) } }
            @if record.proposed.is_some() { " " abbr title="corrected by hand" { "c" } }
            @if record.pairing.is_some() { " " abbr title="with photo" { "p" } }
        }
        @if let Some(words) = change(row.first_grams(), before, units) { span.hand.small { " " (words) } }
    })
}

fn change(now: Option<f64>, before: Option<f64>, units: Units) -> Option<Markup> {
    let (now, before) = (now?, before?);
    Some(html! { (say::change(now - before, units)) })
}

fn list(words: &[String]) -> Option<Markup> {
    (!words.is_empty()).then(|| html! { (words.join("; ")) })
}

fn no_bird() -> Markup {
    html! {
        header { h1 { "Day book" } }
        (shell::empty("No bird yet", html! {
            p { "The day book shows each day of a bird: weight, food, flying, how she answered, and what was seen, with the chart of her weight." }
            p { a.press.main href="/birds/new" { "Enter a bird" } }
        }))
    }
}
