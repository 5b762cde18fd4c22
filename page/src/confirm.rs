//! Confirming: each note's words with the quoted spans marked, what was read from them, and the keeper's word on it.
//!
//! Works by touch, by keys, and without script. One tap confirms what is clear; what bears a flag that
//! could hurt a bird is left out of "confirm all" and wants its own tap.

use crate::{
    State,
    fields::{self, Typed},
    gather,
    guard::{Hand, IntoAnswer, blocking, go, told},
    quote, say, shell,
    shell::{Place, icon},
};
use axum::{
    Extension, Form,
    extract::{Path, Query, State as Extract},
    http::StatusCode,
    response::{IntoResponse, Response},
};
use chrono::NaiveDate;
use maud::{Markup, html};
use note::{Entry, EntryId, Flag, NoteId, Units, Value};
use serde::Deserialize;
use store::{ActId, Card, Decision, Pairing, StoreError, Undoable, Waiting};

/// Notes shown at once; the rest follow when these are done.
const CARDS: u64 = 12;
/// What the address may carry.
#[derive(Debug, Default, Deserialize)]
pub struct Asked {
    /// Uploads just taken.
    taken: Option<usize>,
    /// Offers to remember: the words heard.
    heard: Option<String>,
    /// Offers to remember: what they mean.
    means: Option<String>,
}

/// Shows what waits.
pub async fn page(Extract(state): Extract<State>, Query(asked): Query<Asked>) -> Result<Markup, Response> {
    let (frame, view) = gather::on(&state, |state| {
        let store = state.store();
        let counts = store.counts()?;
        let view = View {
            measures: gather::measures(store)?,
            birds: store.birds()?.into_iter().map(|b| b.details.name).collect(),
            cards: store.waiting(0, CARDS)?,
            undoable: store.undoable(1)?.into_iter().next(),
            busy: counts.jobs,
            held: state.shared.workshop.held(),
            failed: counts.failed,
            waiting: counts.waiting as usize,
            today: gather::today(),
            asked,
            trouble: None,
        };
        Ok((gather::frame(store, Place::Confirm, "Confirm")?, view))
    })
    .await?;
    Ok(shell::page(&frame, view.draw()))
}

/// What the page shows.
struct View {
    measures: gather::Measures,
    birds: Vec<String>,
    cards: Vec<Card>,
    undoable: Option<Undoable>,
    busy: u64,
    held: bool,
    failed: u64,
    waiting: usize,
    today: NaiveDate,
    asked: Asked,
    trouble: Option<(String, String)>,
}

impl View {
    fn draw(&self) -> Markup {
        html! {
            header {
                h1 { "Confirm" }
                p { @if self.waiting == 0 { "Nothing waits for your word." } @else {
                    (say::count(self.waiting, "entry")) " wait" @if self.waiting == 1 { "s" } " for your word. Only what you confirm counts." } }
            }
            ul.calls { (self.news()) }
            @for card in &self.cards { (self.card(card)) }
            @if self.cards.is_empty() && self.busy == 0 { (nothing_waits()) }
            @if !self.cards.is_empty() { (keys()) }
            (fields::lists())
        }
    }

    /// What was just done, with the way back; what is being read; what offers itself to be remembered.
    fn news(&self) -> Markup {
        html! {
            @if let Some(n) = self.asked.taken {
                li.call.good { (crate::ring::enamel("vert")) div { strong data-news { (if n == 1 { "Taken in: 1 original is".into() } else { format!("Taken in: {n} originals are") }) " safe on this machine." } } }
            }
            @if let Some(last) = &self.undoable {
                li.call.good.act {
                    (crate::ring::enamel("vert"))
                    div {
                        div { strong data-news { (say::capital(&last.what)) } p { (last.by) ", " (say::moment(last.at, self.today)) } }
                        form method="post" action="/undo" data-quick { input type="hidden" name="act" value=(last.act.0); button data-key="undo" { (icon("M9 7L4 12l5 5M4 12h10a6 6 0 0 1 6 6")) "Undo" } }
                    }
                }
            }
            @if let (Some(heard), Some(means)) = (&self.asked.heard, &self.asked.means) { (remember(heard, means)) }
            @if self.busy > 0 { (shell::reading(self.busy, self.held)) }
            @if self.failed > 0 {
                li.call.warn { (crate::ring::enamel("or")) div { strong { (self.failed) " could not be read" } p { "The originals are safe. " a href="/evidence" { "See which, and why" } } } }
            }
        }
    }

    fn card(&self, card: &Card) -> Markup {
        let clear = card.waiting.iter().filter(|w| !wants_own_look(w)).count();
        let held = card.waiting.len() - clear;
        html! {
            article.leaf.note aria-label={ "Note of " (self.when(card)) } {
                header {
                    h2 { (say::capital(&self.when(card))) }
                    p.small { (origin(card)) }
                }
                div { (quote::words(card)) }
                ol.slips { @for (nr, waiting) in card.waiting.iter().enumerate() { (self.slip(card, waiting, nr + 1)) } }
                @if let (Some(note), true) = (&card.note, card.waiting.len() > 1) {
                    div.all {
                        form method="post" action={ "/confirm/note/" (note.id) } data-quick {
                            @for waiting in card.waiting.iter().filter(|w| !wants_own_look(w)) { input type="hidden" name="entry" value=(waiting.proposed.id); }
                            @if clear > 0 { button.main data-key="all" { (icon("M4 13l5 5L20 6")) "Confirm " (if held == 0 { "all" } else { "the other" }) " " (clear) } }
                        }
                        @if held > 0 { p.small { (held) " marked " (if held == 1 { "entry wants its" } else { "entries want their" }) " own look first." } }
                    }
                }
            }
        }
    }

    fn when(&self, card: &Card) -> String {
        let at = card.note.as_ref().map(|n| n.at).or(card.photo.as_ref().map(|p| p.at));
        at.map(|at| say::moment(at, self.today)).unwrap_or_default()
    }

    fn slip(&self, card: &Card, waiting: &Waiting, nr: usize) -> Markup {
        let id = &waiting.proposed.id;
        let entry = &waiting.proposed.entry;
        let units = self.measures.of(entry.bird.as_deref());
        let here = format!("e-{id}");
        let trouble = self.trouble.as_ref().filter(|(at, _)| at == id.as_str()).map(|(_, why)| why);
        html! {
            li.slip id=(here) tabindex="0" aria-label=(say::entry(entry, units)) {
                h3 {
                    span.nr aria-hidden="true" { (nr) }
                    span.kind { (say::title(&entry.value)) @if let Some(bird) = &entry.bird { ", " (bird) } }
                }
                p.figure { (say::value(&entry.value, units)) }
                @if let Some(net) = &waiting.net { p.small { "Scale " (say::mass(net.read_g, units)) ", less " (say::worn(net.furniture_g, units)) " worn: the bird " (say::mass(net.bird_g, units)) } }
                @if !entry.quote.is_empty() { blockquote { "“" (entry.quote) "”" } }
                p.small { (say::capital(say::sureness(entry.confidence)))
                    @if at_differs(card, entry) { ", for " (say::moment(entry.at, self.today)) }
                    @if entry.bird.is_none() && !matches!(entry.value, Value::Weather(_)) { ", bird not told" } }
                @if !entry.flags.is_empty() { p { @for flag in &entry.flags { span.flag { (flag_words(*flag)) } " " } } }
                @if let Some(why) = trouble { p role="alert" { strong { (why) } } }
                @if let Some(pairing) = &waiting.pairing { (shown(pairing, id, entry, units)) }
                (self.acts(card, waiting, nr, trouble.is_some()))
            }
        }
    }

    fn acts(&self, card: &Card, waiting: &Waiting, nr: usize, open: bool) -> Markup {
        let id = &waiting.proposed.id;
        let entry = &waiting.proposed.entry;
        let units = self.measures.of(entry.bird.as_deref());
        let what = say::entry(entry, units);
        let differs = waiting.pairing.as_ref().is_some_and(|p| p.agrees == Some(false));
        html! {
            div.acts {
                form method="post" action={ "/confirm/entry/" (id) "/accept" } data-quick {
                    button.main.grow data-key="confirm" aria-label={ (if differs { "Keep what I said: " } else { "Confirm " }) (what) } { (icon("M4 13l5 5L20 6")) @if differs { "Keep what I said" } @else { "Confirm" } }
                }
                @if let (Some(note), Some((from, to))) = (&card.note, quote::heard_at(card, entry)) {
                    button.hear.side type="button" data-js hidden data-src={ "/sound/" (note.id) } data-from=(from) data-to=(to) aria-label={ "Hear “" (entry.quote) "”" } { (icon("M5 9v6h4l5 4V5L9 9zM17 9a4 4 0 0 1 0 6")) "Hear" }
                    noscript { audio controls preload="none" src={ "/sound/" (note.id) "#t=" (from) "," (to) } {} }
                }
                form method="post" action={ "/confirm/entry/" (id) "/reject" } data-quick {
                    button.no.side data-key="reject" aria-label={ "Reject " (what) } { (icon("M6 6l12 12M18 6L6 18")) "Reject" }
                }
            }
            details open[open] {
                summary { "Change" span.aside { " " (what) } }
                form method="post" action={ "/confirm/entry/" (id) "/correct" } data-quick {
                    (fields::inputs(entry, &format!("f{nr}-{id}"), &self.birds, units))
                    button.main { "Confirm as changed" }
                }
            }
        }
    }
}

fn origin(card: &Card) -> String {
    match (&card.note, &card.photo) {
        (Some(note), _) => {
            let how = if note.evidence.is_some() { "Spoken" } else { "Written" };
            let long = note.audio_s.map(|s| format!(", {} seconds", s.round())).unwrap_or_default();
            let done =
                if card.decided > 0 { format!(", {} decided already", card.decided) } else { String::new() };
            format!("{how} by {} on {}{long}{done}", note.keeper, note.device)
        }
        (None, Some(photo)) => format!("Photo of the scale without a note, from {}", photo.device),
        (None, None) => String::new(),
    }
}

/// Entries with these flags are never swept up in "confirm all".
pub fn wants_own_look(waiting: &Waiting) -> bool {
    let entry = &waiting.proposed.entry;
    let marked = [Flag::ImplausibleWeight, Flag::DiffersFromPhoto, Flag::AmbiguousNumber];
    entry.flags.iter().any(|f| marked.contains(f))
        || waiting.pairing.as_ref().is_some_and(|p| p.agrees == Some(false))
        || (entry.bird.is_none() && !matches!(entry.value, Value::Weather(_)))
}

fn flag_words(flag: Flag) -> &'static str {
    match flag {
        Flag::ImplausibleWeight => "far from her last weight",
        Flag::UnitAssumed => "no unit said",
        Flag::BirdAssumed => "bird not named",
        Flag::MisheardWord => "word misheard",
        Flag::CorrectedInSpeech => "you corrected yourself",
        Flag::LowSpeechConfidence => "hard to hear",
        Flag::DiffersFromPhoto => "scale shows another weight",
        Flag::AmbiguousNumber => "number can be read two ways",
    }
}

fn at_differs(card: &Card, entry: &Entry) -> bool {
    card.note.as_ref().is_none_or(|n| n.at != entry.at)
}

/// The photo beside the weight: the display cut out, the whole picture, and both readings where they differ.
fn shown(pairing: &Pairing, id: &EntryId, entry: &Entry, units: Units) -> Markup {
    let photo = &pairing.photo;
    let src = format!("/picture/{}", photo.id);
    let seen = photo.reading.as_ref();
    let place = seen.and_then(|r| r.place);
    let differs = pairing.agrees == Some(false);
    html! {
        div.shown {
            figure class=[differs.then_some("differs")] {
                @if let Some(b) = place {
                    svg viewBox={ (b.x) " " (b.y) " " (b.width.max(1)) " " (b.height.max(1)) } role="img" aria-label="The scale’s display, cut out of the photo" { image href=(src) {} }
                } @else { img src=(src) alt="The photo of the scale" loading="lazy"; }
                figcaption {
                    @match seen.and_then(|r| r.reading.as_deref()) {
                        Some(reading) => { "The scale shows " strong { (reading) @if let Some(unit) = seen.and_then(|r| r.unit) { " " (unit_word(unit)) } } ", " (say::sureness(seen.map_or(0.0, |r| r.confidence))) },
                        None => "The display could not be read",
                    }
                }
            }
            @if place.is_some() { figure { img src=(src) alt="The whole photo" loading="lazy"; figcaption { a href={ "/evidence/photo/" (photo.id) } { "The original" } } } }
        }
        @if let (true, Some(grams), Value::Weight(said)) = (differs, seen.and_then(|r| r.grams), &entry.value) {
            p { strong { "You said " (say::mass(said.grams.get(), units)) "; the scale shows " (say::mass(grams.get(), units)) "." } " Look at the picture: which is right?" }
            div.acts { form method="post" action={ "/confirm/entry/" (id) "/scale" } data-quick { button.grow { "Take the scale’s " (say::mass(grams.get(), units)) } } }
        }
    }
}

fn unit_word(unit: note::MassUnit) -> &'static str {
    match unit {
        note::MassUnit::G => "g",
        note::MassUnit::Kg => "kg",
        note::MassUnit::Oz => "oz",
        note::MassUnit::Lb => "lb",
        note::MassUnit::LbOz => "lb oz",
    }
}

fn remember(heard: &str, means: &str) -> Markup {
    html! {
        li.call.look {
            (crate::ring::enamel("azure"))
            div {
                strong { "Remember this?" }
                p { "When I hear “" (heard) "”, take it to mean “" (means) "”." }
                form method="post" action="/words" data-quick {
                    input type="hidden" name="heard" value=(heard); input type="hidden" name="meaning" value=(means); input type="hidden" name="back" value="/confirm";
                    button { "Remember" } " " a.press href="/confirm" { "No" }
                }
            }
        }
    }
}

fn nothing_waits() -> Markup {
    shell::empty(
        "All is decided",
        html! {
            p { "Speak or write a note, or photograph the scale. What was understood comes here: the words it came from are marked, and you can hear exactly those." }
            p { a.press.main href="/note" { "Speak a note" } }
        },
    )
}

fn keys() -> Markup {
    html! {
        details.noprint {
            summary { "Keys" }
            p { "They work while an entry has the frame around it; the Tab key gets you there." }
            ul.keys {
                @for (key, what) in [("J", "next entry"), ("K", "entry before"), ("Enter", "confirm"), ("A", "confirm all of the note"), ("X", "reject"), ("E", "change"), ("P", "hear the words"), ("U", "undo the last")] {
                    li { kbd { (key) } " " (what) }
                }
            }
        }
    }
}

/// What is chosen of a note.
pub type Pairs = Vec<(String, String)>;

/// Confirms the entries of a note that were shown as clear.
pub async fn accept_note(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(note): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let chosen: Vec<EntryId> =
        pairs.into_iter().filter(|(k, _)| k == "entry").map(|(_, v)| EntryId::new(v)).collect();
    decide(state, hand, move |store| {
        let card = store.card(&NoteId::new(note))?;
        // Only what still waits and needs no own look, whatever the form says.
        let ready = card.waiting.iter().filter(|w| chosen.contains(&w.proposed.id) && !wants_own_look(w));
        Ok(ready.map(|w| Decision::accept(&w.proposed.id)).collect())
    })
    .await
}

/// Confirms one entry as it stands.
pub async fn accept(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(entry): Path<String>,
) -> Response {
    decide(state, hand, move |store| {
        let id = EntryId::new(entry);
        let record = store.record(&id)?;
        if record.entry.bird.is_none() && !matches!(record.entry.value, Value::Weather(_)) {
            return Err(StoreError::Refused("choose the bird first, under Change".into()));
        }
        Ok(vec![Decision::accept(&id)])
    })
    .await
}

/// Rejects one entry.
pub async fn reject(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(entry): Path<String>,
) -> Response {
    decide(state, hand, move |_| Ok(vec![Decision::reject(&EntryId::new(entry), "")])).await
}

/// Confirms a weight as the scale shows it instead of as it was said.
pub async fn take_scale(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(entry): Path<String>,
) -> Response {
    decide(state, hand, move |store| {
        let id = EntryId::new(entry);
        let record = store.record(&id)?;
        let reading = record.pairing.and_then(|p| p.photo.reading);
        let (Some(reading), Value::Weight(said)) = (reading, &record.entry.value) else {
            return Err(StoreError::Refused("there is no photo with a weight beside this entry".into()));
        };
        let Some(grams) = reading.grams else {
            return Err(StoreError::Refused("the scale's display could not be read".into()));
        };
        let value = Value::Weight(note::Weight { grams, unit: reading.unit.or(said.unit) });
        Ok(vec![Decision::correct(&id, Entry { value, ..record.entry.clone() })])
    })
    .await
}

/// Confirms one entry after the keeper's change.
pub async fn correct(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(entry): Path<String>,
    Form(typed): Form<Typed>,
) -> Response {
    let done = gather::on(&state, move |state| {
        let store = state.store();
        let id = EntryId::new(entry);
        let was = store.record(&id)?.entry;
        let birds: Vec<String> = store.birds()?.into_iter().map(|b| b.details.name).collect();
        let now = match fields::read(&was, &typed, &birds, gather::measures(store)?.of(was.bird.as_deref())) {
            Ok(now) => now,
            Err(why) => return Ok(Err((id, why))),
        };
        let decision = if now == was { Decision::accept(&id) } else { Decision::correct(&id, now.clone()) };
        match store.decide(&[decision], &hand.who) {
            Ok(_) | Err(StoreError::AlreadyDecided { same: true, .. }) => {}
            Err(error) => return Err(error),
        }
        Ok(Ok(fields::learnable(&was, &now).map(|means| (fields::heard(&was), means))))
    })
    .await;
    match done {
        Ok(Ok(None)) => go("/confirm"),
        Ok(Ok(Some((heard, means)))) => {
            let asked = serde_json::json!({ "heard": heard, "means": means });
            go(&format!("/confirm?{}", query(&asked)))
        }
        Ok(Err((id, why))) => again(state, id, why).await,
        Err(answer) => answer,
    }
}

/// Shows the page once more with what was wrong beside the entry.
async fn again(state: State, id: EntryId, why: String) -> Response {
    let drawn = gather::on(&state, move |state| {
        let store = state.store();
        let counts = store.counts()?;
        let view = View {
            measures: gather::measures(store)?,
            birds: store.birds()?.into_iter().map(|b| b.details.name).collect(),
            cards: store.waiting(0, CARDS)?,
            undoable: None,
            busy: counts.jobs,
            held: state.shared.workshop.held(),
            failed: counts.failed,
            waiting: counts.waiting as usize,
            today: gather::today(),
            asked: Asked::default(),
            trouble: Some((id.to_string(), why)),
        };
        Ok(shell::page(&gather::frame(store, Place::Confirm, "Confirm")?, view.draw()))
    })
    .await;
    match drawn {
        Ok(page) => (StatusCode::UNPROCESSABLE_ENTITY, page).into_response(),
        Err(answer) => answer,
    }
}

/// Writes pairs as the query of an address.
fn query(pairs: &serde_json::Value) -> String {
    let escape = |text: &str| {
        text.bytes()
            .map(|b| if b.is_ascii_alphanumeric() { char::from(b).to_string() } else { format!("%{b:02X}") })
            .collect::<String>()
    };
    let pairs = pairs.as_object().into_iter().flatten();
    pairs
        .map(|(k, v)| format!("{k}={}", escape(v.as_str().unwrap_or_default())))
        .collect::<Vec<_>>()
        .join("&")
}

/// What is taken back.
#[derive(Debug, Deserialize)]
pub struct Act {
    act: i64,
}

/// Takes back a decision.
pub async fn undo(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(act): Form<Act>,
) -> Response {
    match gather::on(&state, move |state| state.store().undo(ActId(act.act), &hand.who)).await {
        Ok(_) => go("/confirm"),
        Err(answer) => answer,
    }
}

async fn decide(
    state: State,
    hand: Hand,
    choose: impl FnOnce(&store::Store) -> store::Result<Vec<Decision>> + Send + 'static,
) -> Response {
    let work = move || -> store::Result<()> {
        let decisions = choose(state.store())?;
        if decisions.is_empty() {
            return Ok(());
        }
        state.store().decide(&decisions, &hand.who).map(|_| ())
    };
    match blocking(work).await {
        // The same thumb twice, or two phones of one mind: it is done, and done once.
        Ok(Ok(()) | Err(StoreError::AlreadyDecided { same: true, .. })) => go("/confirm"),
        Ok(Err(StoreError::AlreadyDecided { state, by, .. })) => told(
            StatusCode::CONFLICT,
            &format!(
                "{by} has already {} this entry; nothing was changed. If that was wrong, undo it first",
                decided(state)
            ),
        ),
        Ok(Err(error)) => error.answer(),
        Err(broken) => broken,
    }
}

fn decided(state: store::State) -> &'static str {
    match state {
        store::State::Confirmed => "confirmed",
        store::State::Rejected => "rejected",
        _ => "decided on",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn an_address_carries_any_words() {
        assert_eq!(query(&serde_json::json!({"heard": "quill & <b>"})), "heard=quill%20%26%20%3Cb%3E");
    }
}
