//! Letting phones in and shutting them out: the QR picture, the exchange of its code, and the page
//! that walks through trusting this machine.

use crate::{
    State, gather,
    guard::{COOKIE, Door, Hand, go, told},
    lan, shell,
    shell::{Frame, Place},
};
use axum::{
    Extension, Form,
    extract::{Path, Query, State as Extract},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;
use std::{
    sync::Mutex,
    time::{Duration, Instant},
};

/// Seconds that a code in a QR picture is good for.
const CODE_LASTS_S: u32 = 600;
/// A phone's cookie lasts this long, seconds: 400 days, the longest that browsers keep one.
const COOKIE_LASTS_S: u32 = 400 * 86_400;

/// How phones reach this machine.
#[derive(Clone, Debug)]
pub struct Phones {
    /// Names and addresses of this machine in the house.
    pub names: Vec<String>,
    /// Where phones come in, "https://192.168.1.20:7469".
    pub url: String,
    /// Where a phone learns to trust this machine, plain.
    pub porch_url: String,
    /// The authority's certificate, PEM.
    pub ca_pem: String,
    /// Its fingerprint, to compare by eye.
    pub fingerprint: String,
}

/// Wrong codes lately: after ten in ten minutes no code is looked at.
#[derive(Debug, Default)]
pub struct Tries(Mutex<Vec<Instant>>);

impl Tries {
    const MOST: usize = 10;
    const WITHIN: Duration = Duration::from_secs(600);

    fn too_many(&self) -> bool {
        let mut tries = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        tries.retain(|t| t.elapsed() < Self::WITHIN);
        tries.len() >= Self::MOST
    }
    fn missed(&self) {
        self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push(Instant::now());
    }
}

/// Draws a QR picture of a text.
pub fn qr(text: &str) -> Markup {
    use qrcode::{EcLevel, QrCode, render::svg};
    match QrCode::with_error_correction_level(text, EcLevel::M) {
        Ok(code) => {
            let drawn = code.render::<svg::Color<'_>>().min_dimensions(240, 240).quiet_zone(true).build();
            // The renderer writes an XML head, which has no place inside a page.
            let at = drawn.find("<svg").unwrap_or(0);
            html! { div.code role="img" aria-label="QR picture of the address" { (PreEscaped(&drawn[at..])) } }
        }
        Err(_) => html! { p.hash { (text) } },
    }
}

/// Draws a QR picture of a text for a terminal; the text itself where it is too long for one.
pub fn qr_text(text: &str) -> String {
    use qrcode::render::unicode::Dense1x2;
    match qrcode::QrCode::new(text) {
        // Light modules are drawn bright, since most terminals are dark.
        Ok(code) => code.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build(),
        Err(_) => text.to_owned(),
    }
}

/// Shows a fresh code, once; at the desk only.
pub async fn show_code(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
) -> Result<Markup, Response> {
    if !hand.desk {
        return Err(told(StatusCode::FORBIDDEN, "Phones are let in at the desk only"));
    }
    let Some(phones) = state.shared.phones.clone() else {
        return Err(told(
            StatusCode::CONFLICT,
            "The page is not open to phones: start it with `varvel serve --lan`",
        ));
    };
    let (frame, code) = gather::on(&state, |state| {
        Ok((
            gather::frame(state.store(), Place::Settings, "Let a phone in")?,
            state.store().new_pairing_code(CODE_LASTS_S)?,
        ))
    })
    .await?;
    let address = format!("{}/pair?code={code}", phones.url);
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { "Let a phone in" } p { "This picture works once, for ten minutes. Show it to nobody else." } }
            div.pair {
                section.leaf {
                    h2 { "1. Trust this machine, once for each phone" }
                    p { "Point the phone’s camera here and follow what it says." }
                    (qr(&format!("{}/trust", phones.porch_url)))
                    p.hash { (phones.porch_url) "/trust" }
                    p { "The fingerprint that the phone shows must be this one:" }
                    p.hash { (phones.fingerprint) }
                }
                section.leaf {
                    h2 { "2. Let it in" }
                    p { "Then point the camera here." }
                    (qr(&address))
                    details { summary { "No camera?" } p { "Type this into the phone’s browser:" } p.hash { (address) } }
                }
            }
            p { a.press href="/settings" { "Done" } }
        },
    ))
}

/// The code in an address.
#[derive(Debug, Deserialize)]
pub struct Code {
    #[serde(default)]
    code: String,
}

/// Asks the phone's keeper for a name; only the press uses the code up, so that a preview does not.
pub async fn page(Extract(state): Extract<State>, Query(code): Query<Code>) -> Response {
    if state.door == Door::Desk {
        return go("/settings");
    }
    let frame = Frame { place: Place::Stranger, title: "Let this phone in".into(), waiting: 0 };
    shell::page(&frame, html! {
        header { h1 { "Let this phone in" } }
        form.leaf method="post" action="/pair" {
            input type="hidden" name="code" value=(code.code);
            div.fields {
                div { label for="name" { "A name for this phone" } input #name name="name" required maxlength="40" value="phone"; }
                div { label for="keeper" { "Who carries it" } input #keeper name="keeper" required maxlength="60" autocomplete="name"; }
            }
            p { "The name of who carries it stands beside all that is confirmed on it." }
            button.main { "Let it in" }
        }
    })
    .into_response()
}

/// What a phone sends to be let in.
#[derive(Debug, Deserialize)]
pub struct Exchange {
    code: String,
    name: String,
    keeper: String,
}

/// Exchanges a code for a phone's own cookie.
pub async fn exchange(Extract(state): Extract<State>, Form(asked): Form<Exchange>) -> Response {
    if state.door != Door::Phones {
        return told(StatusCode::FORBIDDEN, "The desk needs no code");
    }
    if state.shared.tries.too_many() {
        return told(
            StatusCode::TOO_MANY_REQUESTS,
            "Too many wrong codes. Wait ten minutes, then make a new picture at the desk",
        );
    }
    let (name, keeper) = (asked.name.trim().to_owned(), asked.keeper.trim().to_owned());
    if name.is_empty()
        || keeper.is_empty()
        || name.chars().count() > 40
        || keeper.chars().count() > 60
        || asked.code.len() > 128
    {
        return told(StatusCode::UNPROCESSABLE_ENTITY, "Give the phone a name and say who carries it");
    }
    match gather::on(&state, move |state| state.store().pair_device(&asked.code, &name, &keeper)).await {
        Ok(Some((_, secret))) => {
            let cookie = format!(
                "{COOKIE}={secret}; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age={COOKIE_LASTS_S}"
            );
            let mut answer = go("/note");
            match HeaderValue::from_str(&cookie) {
                Ok(cookie) => {
                    answer.headers_mut().insert(header::SET_COOKIE, cookie);
                    answer
                }
                Err(_) => told(StatusCode::INTERNAL_SERVER_ERROR, "The phone’s key could not be sent"),
            }
        }
        Ok(None) => {
            state.shared.tries.missed();
            told(
                StatusCode::FORBIDDEN,
                "That code is used, too old or wrong. Make a new picture at the desk: Settings, Phones",
            )
        }
        Err(answer) => answer,
    }
}

/// Shuts a phone out; at the desk only.
pub async fn revoke(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(device): Path<String>,
) -> Response {
    if !hand.desk {
        return told(StatusCode::FORBIDDEN, "Phones are shut out at the desk only");
    }
    match gather::on(&state, move |state| state.store().revoke_device(&device)).await {
        Ok(()) => go("/settings#phones"),
        Err(answer) => answer,
    }
}

/// Walks through trusting this machine.
pub async fn trust(Extract(state): Extract<State>, headers: HeaderMap) -> Response {
    let Some(phones) = &state.shared.phones else {
        return told(
            StatusCode::NOT_FOUND,
            "The page is not open to phones: start it with `varvel serve --lan`",
        );
    };
    let agent = headers.get(header::USER_AGENT).and_then(|v| v.to_str().ok()).unwrap_or_default();
    let apple = ["iPhone", "iPad", "Macintosh"].iter().any(|name| agent.contains(name));
    let frame = Frame { place: Place::Stranger, title: "Trust this machine".into(), waiting: 0 };
    shell::page(&frame, html! {
        header { h1 { "Trust this machine" } p { "Once for each phone, so that it may use its microphone here and nobody can listen in." } }
        div.leaf {
            p { "Your machine has made a certificate of its own. It is good for addresses inside your house only: it can vouch for no shop, no bank and no other site." }
            p { a.press.main href="/trust/varvel.crt" download="varvel.crt" { "Fetch the certificate" } }
            p { "Check that its SHA-256 fingerprint is the one shown at the desk:" }
            p.hash { (phones.fingerprint) }
        }
        div.pair {
            details.leaf open[apple] {
                summary { "iPhone and iPad" }
                ol {
                    li { "Fetch the certificate with Safari and allow the download of the profile." }
                    li { "Open Settings: “Profile Downloaded” stands near the top. Install it." }
                    li { "Open Settings, General, About, Certificate Trust Settings, and switch it on for Varvel." }
                    li { "Go back to the desk and point the camera at the second picture." }
                }
            }
            details.leaf open[!apple] {
                summary { "Android" }
                ol {
                    li { "Fetch the certificate." }
                    li { "Open Settings and search for “CA certificate”; install the file from your downloads. The phone warns that somebody could listen in: that is you." }
                    li { "Go back to the desk and point the camera at the second picture." }
                }
            }
        }
        div.leaf {
            h2 { "Rather not?" }
            p { "Then record with the phone’s own recorder and send the files: recordings and photos are taken in without a microphone. The way to take the certificate away again is the same settings page." }
            p { a.press href={ (phones.url) "/note" } { "To the page" } }
        }
    })
    .into_response()
}

/// Sends the authority's certificate.
pub async fn authority(Extract(state): Extract<State>) -> Response {
    match &state.shared.phones {
        Some(phones) => (
            [
                (header::CONTENT_TYPE, "application/x-x509-ca-cert"),
                (header::CONTENT_DISPOSITION, "attachment; filename=\"varvel.crt\""),
            ],
            lan::der(&phones.ca_pem),
        )
            .into_response(),
        None => {
            told(StatusCode::NOT_FOUND, "The page is not open to phones: start it with `varvel serve --lan`")
        }
    }
}
