//! The page that is in the hand in the field: one large ring to speak into, a camera, and what waits.
//!
//! The same bytes whoever asks, so that a phone can keep it for where there is no signal; nothing of
//! the record is in it. Birds' names come separately.

use crate::{
    State, gather,
    guard::{blocking, go},
    shell,
    shell::{Frame, Place, icon},
};
use axum::{Form, Json, extract::State as Extract, http::StatusCode, response::Response};
use maud::{Markup, html};
use serde::Deserialize;

/// Answers that home is here.
pub async fn alive() -> StatusCode {
    StatusCode::NO_CONTENT
}

/// The links that do not fit below.
pub async fn more(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let frame = gather::on(&state, |state| gather::frame(state.store(), Place::More, "More")).await?;
    Ok(shell::page(&frame, shell::more()))
}

/// The birds' names, for the choice of bird on a phone.
pub async fn birds(Extract(state): Extract<State>) -> Result<Json<serde_json::Value>, Response> {
    let names = gather::on(&state, |state| {
        Ok(state.store().birds()?.into_iter().map(|b| b.details.name).collect::<Vec<_>>())
    })
    .await?;
    Ok(Json(serde_json::json!({ "birds": names })))
}

/// How much waits and how much is being read, for the page that waits on it.
pub async fn waiting(Extract(state): Extract<State>) -> Result<Json<serde_json::Value>, Response> {
    let counts = gather::on(&state, |state| state.store().counts()).await?;
    Ok(Json(serde_json::json!({ "waiting": counts.waiting, "busy": counts.jobs, "failed": counts.failed })))
}

/// Whether reading is to be held up.
#[derive(Debug, Deserialize)]
pub struct Hold {
    hold: String,
}

/// Holds up the reading of what is queued, or lets it go on.
pub async fn hold(Extract(state): Extract<State>, Form(asked): Form<Hold>) -> Response {
    let held = asked.hold == "yes";
    let workshop = state.shared.workshop.clone();
    match blocking(move || workshop.hold(held)).await {
        Ok(()) => go("/confirm"),
        Err(answer) => answer,
    }
}

/// The recorder.
pub async fn note() -> Markup {
    let frame = Frame { place: Place::Note, title: "Speak a note".into(), waiting: 0 };
    shell::page(
        &frame,
        html! {
            header { h1 { "Speak a note" } p { "“Sedge, nine twelve, two and a half chicks, flew well, eight to the fist.”" } }
            div.desk {
                section.leaf.record aria-label="Recorder" {
                    button.rec #rec type="button" aria-pressed="false" hidden data-js {
                        svg viewBox="0 0 200 200" aria-hidden="true" focusable="false" { circle.outer cx="100" cy="100" r="96" {} path.level #level d="" {} circle.inner cx="100" cy="100" r="74" {} }
                        span { "Speak" }
                        b.clock #clock aria-hidden="true" { "0:00" }
                    }
                    p #deaf role="alert" hidden {}
                    input.aside #photo type="file" accept="image/*" capture="environment" multiple hidden data-js;
                    label.press.wide-press hidden data-js for="photo" { (icon("M4 7h4l2-3h4l2 3h4v12H4zM12 10a3 3 0 1 0 .01 0")) "Photograph the scale" }
                    label.tickbox hidden data-js { input #free type="checkbox"; "Hands free: starts when you speak, ends when you are quiet" }
                    div.across hidden data-js { label for="bird" { "Bird in hand" } select #bird { option value="" { "as said in the note" } } }
                    p.home-state #home role="status" hidden data-js {}
                    details hidden data-js data-fallback {
                        summary { "A recording, or written words" }
                        label for="file" { "Choose a recording" } input #file type="file" accept="audio/*" multiple;
                        form #write { label for="words" { "Or write the note" } textarea #words maxlength="5000" {} button { "Keep it" } }
                    }
                    form method="post" action="/intake" enctype="multipart/form-data" data-nojs {
                        div.fields {
                            div { label for="s" { "Recording" } input #s name="sound" type="file" accept="audio/*" capture multiple; }
                            div { label for="p" { "Photo of the scale" } input #p name="photo" type="file" accept="image/*" capture="environment" multiple; }
                            div { label for="w" { "Or write the note" } textarea #w name="words" maxlength="5000" {} }
                        }
                        button.main { "Send" }
                    }
                }
                section.leaf hidden data-js aria-label="Kept here" {
                    h2 { "Kept here" }
                    button #hold type="button" aria-pressed="false" hidden { "Stop sending" }
                    p #none { "Nothing waits. What you speak or photograph is kept here first, and let go only when home has it on its disk." }
                    ul.queue #queue {}
                }
            }
        },
    )
}
