//! Words that the keeper taught: heard like this, meant like that.

use crate::{
    State, gather,
    guard::{Hand, go, told},
    say, shell,
    shell::Place,
};
use axum::{Extension, Form, extract::State as Extract, http::StatusCode, response::Response};
use maud::{Markup, html};
use serde::Deserialize;

/// Lists the learned words.
pub async fn page(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let (frame, words, names) = gather::on(&state, |state| {
        let store = state.store();
        let names: Vec<String> = store.birds()?.into_iter().map(|b| b.details.name).collect();
        Ok((gather::frame(store, Place::Words, "Words")?, store.learned_words()?, names))
    })
    .await?;
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { "Words" } p { "What the ear mistakes again and again can be taught once." } }
            form.leaf method="post" action="/words" {
                h2 { "Teach a word" }
                div.fields {
                    div { label for="heard" { "When I hear" } input #heard name="heard" required maxlength="80" autocomplete="off"; }
                    div { label for="meaning" { "take it to mean" } input #meaning name="meaning" required maxlength="80" list="meanings" autocomplete="off"; }
                }
                button.main { "Remember" }
                datalist #meanings { @for name in &names { option value=(name) {} } @for list in [note::FOODS, note::BEHAVIOURS, note::EQUIPMENT, note::PARTS] { @for word in list { option value=(word) {} } } }
            }
            @if words.is_empty() {
                (shell::empty("No words learned yet", html! { p { "When you correct an entry under Confirm, you are asked whether to remember it: when I say “quill”, I mean quail. What you keep stands here, and can be forgotten again." } }))
            } @else {
                section.leaf {
                    table.book {
                        caption { (say::count(words.len(), "word")) " learned" }
                        thead { tr { th scope="col" { "Heard" } th scope="col" { "Means" } th scope="col" { "Taught" } th scope="col" { span.aside { "Forget" } } } }
                        tbody { @for w in &words { tr {
                            th scope="row" { "“" (w.heard) "”" }
                            td data-of="Means" { div { (w.meaning) } }
                            td data-of="Taught" { div { (say::date(w.at.date_naive())) ", " (w.by) } }
                            td { form method="post" action="/words/forget" { input type="hidden" name="heard" value=(w.heard); button.no aria-label={ "Forget “" (w.heard) "”" } { "Forget" } } }
                        } } }
                    }
                }
            }
        },
    ))
}

/// A word to learn.
#[derive(Debug, Deserialize)]
pub struct Lesson {
    heard: String,
    meaning: String,
    #[serde(default)]
    back: String,
}

/// Learns a word.
pub async fn learn(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(lesson): Form<Lesson>,
) -> Response {
    let (heard, meaning) = (lesson.heard.trim().to_lowercase(), lesson.meaning.trim().to_owned());
    if heard.is_empty() || meaning.is_empty() || heard.chars().count() > 80 || meaning.chars().count() > 80 {
        return told(
            StatusCode::UNPROCESSABLE_ENTITY,
            "Give the words heard and what they mean, up to eighty letters each",
        );
    }
    let done = gather::on(&state, move |state| {
        state.store().learn_word(&heard, &meaning, &hand.who)?;
        state.shared.workshop.words_changed();
        Ok(())
    })
    .await;
    match done {
        // Only pages of our own are gone back to.
        Ok(()) => go(if lesson.back == "/confirm" { "/confirm" } else { "/words" }),
        Err(answer) => answer,
    }
}

/// A word to forget.
#[derive(Debug, Deserialize)]
pub struct Forget {
    heard: String,
}

/// Forgets a word.
pub async fn forget(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(word): Form<Forget>,
) -> Response {
    let done = gather::on(&state, move |state| {
        state.store().forget_word(&word.heard, &hand.who)?;
        state.shared.workshop.words_changed();
        Ok(())
    })
    .await;
    match done {
        Ok(()) => go("/words"),
        Err(answer) => answer,
    }
}
