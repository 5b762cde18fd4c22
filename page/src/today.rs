//! Today: each bird's weight against her band, what to feed tonight, what waits, what calls for a look.

use crate::{
    State,
    gather::{self, Now},
    say, shell,
    shell::{Place, icon},
};
use axum::{extract::State as Extract, response::Response};
use chrono::NaiveDate;
use maud::{Markup, html};
use note::{Alert, Ration, Severity, Units};
use store::Counts;

/// Birds shown at length; the rest stand one to a line.
const CARDS: usize = 12;

/// Shows the day.
pub async fn page(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let (frame, view) = gather::on(&state, |state| {
        let store = state.store();
        let mut birds = gather::birds_now(state)?;
        by_need(&mut birds);
        let view = View {
            measures: gather::measures(store)?,
            birds,
            counts: store.counts()?,
            scales: store.scale_warnings()?,
            today: gather::today(),
        };
        Ok((gather::frame(store, Place::Today, "Today")?, view))
    })
    .await?;
    Ok(shell::page(&frame, view.draw()))
}

/// What the page shows.
struct View {
    measures: gather::Measures,
    birds: Vec<Now>,
    counts: Counts,
    scales: Vec<String>,
    today: NaiveDate,
}

impl View {
    fn draw(&self) -> Markup {
        html! {
            header { h1 { "Today" } p { (say::date(self.today)) } }
            @if self.birds.is_empty() { (first_bird()) } @else {
                @let calls = self.calls();
                @if !calls.is_empty() { ul.calls aria-label="What calls for a look" { @for call in &calls { (call) } } }
                @let (near, far) = self.birds.split_at(self.birds.len().min(CARDS));
                div.birds { @for bird in near { (card(bird, self.measures.of_bird(&bird.bird), self.today)) } }
                @if !far.is_empty() { section.leaf { (lines(far, &self.measures, "The others, by what calls for a look")) } }
                p.caution { (advise::caution::GENERAL) }
            }
        }
    }

    /// What concerns the whole house: what waits, what failed, scales that are off.
    fn calls(&self) -> Vec<Markup> {
        let mut calls = Vec::new();
        if self.counts.waiting > 0 {
            let words = say::count(self.counts.waiting as usize, "entry");
            calls.push(html! {
                li.call.look {
                    (crate::ring::enamel("azure"))
                    div { strong { (words) " wait" @if self.counts.waiting == 1 { "s" } " for your word" } p { a.lone href="/confirm" { "Look through and confirm" } } }
                }
            });
        }
        if self.counts.jobs > 0 {
            let words = say::count(self.counts.jobs as usize, "original");
            calls.push(shell::call(
                Severity::Look,
                &format!("{words} being read now"),
                "They appear under Confirm when they are ready.",
            ));
        }
        if self.counts.failed > 0 {
            calls.push(html! {
                li.call.warn {
                    (crate::ring::enamel("or"))
                    div { strong { (self.counts.failed) " could not be read" } p { "The originals are safe. " a href="/evidence" { "See which, and why" } } }
                }
            });
        }
        calls.extend(self.scales.iter().map(|why| shell::call(Severity::Warn, "Scale", why)));
        calls
    }
}

/// One bird's card.
fn card(now: &Now, units: Units, today: NaiveDate) -> Markup {
    let ring = now.ring();
    let bird = &now.bird;
    let who = describe(now);
    html! {
        section.leaf.bird aria-label=(bird.details.name) {
            div.who {
                h2 { a href={ "/birds/" (bird.id) } { (bird.details.name) } }
                @if !who.is_empty() { p.small { (who) } }
                @if now.last.is_some() { (ring.standing(units)) } @else { p.verdict { "Not weighed yet" } p { a.lone href="/note" { "Speak her weight" } } }
            }
            (ring.draw(units))
            div.rest {
                @if let (Some(grams), Some(last)) = (now.grams(), &now.last) {
                    p { span.fig { (say::mass(grams, units)) } ", " time datetime=(last.at.to_rfc3339()) { (say::moment(last.at, today)) }
                        @if bird.details.furniture_g().is_some_and(|g| g > 0.0) { ", what is worn taken off" }
                        @if let Some(line) = now.day.as_ref().and_then(|day| flying(day, units)) { ". " (line) } "." }
                }
                @if let Some(advice) = &now.advice {
                    (alerts(advice.alerts.iter().filter(|a| a.severity > Severity::Look)))
                    @if let Some(ration) = &advice.ration { (tonight(ration, units, "h3")) }
                    (looks(&advice.alerts))
                    @if advice.alerts.iter().any(|a| a.severity == Severity::Stop) { p.caution { (advise::caution::STOP) } }
                }
            }
        }
    }
}

/// Birds one to a line, for houses with many.
pub fn lines(birds: &[Now], measures: &gather::Measures, caption: &str) -> Markup {
    html! {
        table.book {
            caption { (caption) }
            thead { tr { th scope="col" { "Bird" } th.nr scope="col" { "Weight" } th scope="col" { "Stands" } th scope="col" { "Tonight" } } }
            tbody { @for now in birds {
                @let units = measures.of_bird(&now.bird);
                @let called = now.advice.as_ref().and_then(|a| a.alerts.iter().find(|a| a.severity > Severity::Look));
                tr {
                    th scope="row" { a href={ "/birds/" (now.bird.id) } { (now.bird.details.name) } }
                    td.nr data-of="Weight" { div { @if let Some(grams) = now.grams() { (say::mass(grams, units)) } @else { "none yet" } } }
                    td data-of="Stands" { div { @if let Some(a) = called { strong { (severity_word(a.severity)) ": " } (a.why) } @else { (now.ring().verdict(units).unwrap_or_else(|| "no band yet".into())) } } }
                    td data-of="Tonight" { div { @if let Some(ration) = now.advice.as_ref().and_then(|a| a.ration.as_ref()) { (food(ration, units)) } @else { "not worked out" } } }
                }
            } }
        }
    }
}

/// Puts first what calls for a look, then goes by name.
pub fn by_need(birds: &mut [Now]) {
    let need = |now: &Now| {
        now.advice
            .as_ref()
            .and_then(|a| a.alerts.iter().map(|a| a.severity).max())
            .filter(|s| *s > Severity::Look)
    };
    birds.sort_by_key(|now| std::cmp::Reverse(need(now)));
}

/// Calls of a bird, one below the other.
pub fn alerts<'a>(alerts: impl Iterator<Item = &'a Alert>) -> Markup {
    let alerts: Vec<&Alert> = alerts.collect();
    html! {
        @if !alerts.is_empty() { ul.calls { @for a in alerts { (shell::call(a.severity, severity_word(a.severity), &a.why)) } } }
    }
}

/// What is worth a look but presses nobody: folded away, so that what to feed stands first.
fn looks(all: &[Alert]) -> Markup {
    let looks: Vec<&Alert> = all.iter().filter(|a| a.severity == Severity::Look).collect();
    html! {
        @if !looks.is_empty() { details.looks { summary { "Worth a look" span.count.quiet { (looks.len()) } } ul { @for a in &looks { li { (a.why) } } } } }
    }
}

/// Species and sex, in a few words.
pub fn describe(now: &Now) -> String {
    let d = &now.bird.details;
    [d.species.clone(), d.sex.clone()].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The word of a severity.
pub fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "Stop",
        Severity::Warn => "Take care",
        Severity::Look => "Look",
    }
}

fn flying(day: &note::Day, units: Units) -> Option<String> {
    let mut parts = Vec::new();
    parts.extend(day.response.map(|r| format!("Answered {}", say::grade(r.get()))));
    if let Some(f) = &day.flights {
        parts.extend(f.count.map(|n| say::count(n as usize, "flight")));
        parts.extend(f.longest_m.map(|m| format!("longest {}", say::length(m, units))));
    }
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// What to feed, in words.
fn food(ration: &Ration, units: Units) -> String {
    let items: Vec<String> =
        ration.items.iter().map(|p| say::portion(&p.item, p.count, None, p.grams, units)).collect();
    if items.is_empty() { "Nothing more".into() } else { items.join(" + ") }
}

/// Tonight's ration, what is expected of it, what held it, and the caution; `level` is its heading's.
pub fn tonight(ration: &Ration, units: Units, level: &str) -> Markup {
    html! {
        div.tonight {
            @if level == "h2" { h2 { "Tonight" } } @else { h3 { "Tonight" } }
            p.figure { (food(ration, units)) }
            p { "About " (say::trim(ration.kcal, 0)) " kcal, to weigh about " span.fig { (say::about(ration.expected_g, units)) }
                " tomorrow (" (say::about(ration.low_g, units)) " to " (say::about(ration.high_g, units)) ")." }
            @if !ration.held_by.is_empty() { p { "Held by: " (ration.held_by.join("; ")) "." } }
            details { summary { "Before you feed" } p.caution { (advise::caution::RATION) } p.caution { (advise::caution::HANDLER) } }
        }
    }
}

fn first_bird() -> Markup {
    shell::empty(
        "No bird yet",
        html! {
            p { "This page will show each bird’s weight on her ring, what to feed tonight, and what calls for a look." }
            ol {
                li { "Enter a bird: her name, and her floor if your vet has set one." }
                li { "Weigh her and say it aloud: “Sedge, nine hundred and twelve grams, two and a half chicks.”" }
                li { "Look at what was understood, and confirm it. Only what you confirm counts." }
            }
            p { a.press.main href="/birds/new" { (icon("M12 5v14M5 12h14")) "Enter a bird" } }
        },
    )
}
