//! The few files of the page, inside the binary, each under a name with its own hash.

use axum::{
    extract::Path,
    http::{HeaderName, StatusCode, header},
    response::{IntoResponse, Response},
};
use sha2::{Digest, Sha256};
use std::sync::LazyLock;

const CSS: &str = include_str!("../assets/varvel.css");
const JS: &str = include_str!("../assets/varvel.js");
const EAR: &str = include_str!("../assets/ear.js");
const WORKER: &str = include_str!("../assets/sw.js");
const ICON: &str = include_str!("../assets/icon.svg");
const ICON_192: &[u8] = include_bytes!("../assets/icon-192.png");
const ICON_512: &[u8] = include_bytes!("../assets/icon-512.png");

static TAG: LazyLock<String> = LazyLock::new(|| {
    let mut hash = Sha256::new();
    for part in [CSS, JS, EAR, WORKER] {
        hash.update(part.as_bytes());
    }
    hash.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect()
});

/// Address of the style sheet.
pub fn css_url() -> String {
    format!("/a/{}/varvel.css", *TAG)
}
/// Address of the script.
pub fn js_url() -> String {
    format!("/a/{}/varvel.js", *TAG)
}
/// Address of the recorder's audio worklet.
pub fn ear_url() -> String {
    format!("/a/{}/ear.js", *TAG)
}

/// Serves a file of the page; names with an old hash get the present file.
pub async fn file(Path((_tag, name)): Path<(String, String)>) -> Response {
    match name.as_str() {
        "varvel.css" => lasting("text/css; charset=utf-8", CSS),
        "varvel.js" => lasting("text/javascript; charset=utf-8", JS),
        "ear.js" => lasting("text/javascript; charset=utf-8", EAR),
        _ => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Serves the service worker, with the addresses of this build's files written in.
pub async fn worker() -> Response {
    let body = WORKER.replace("@TAG@", &TAG);
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8"), (header::CACHE_CONTROL, "no-cache")], body)
        .into_response()
}

/// Serves the drawn icon.
pub async fn icon() -> Response {
    short("image/svg+xml", ICON)
}
/// Serves the icon for a phone's home screen.
pub async fn icon_192() -> Response {
    short("image/png", ICON_192)
}
/// Serves the large icon.
pub async fn icon_512() -> Response {
    short("image/png", ICON_512)
}

/// Serves the manifest that makes the page installable.
pub async fn manifest() -> Response {
    let body = serde_json::json!({
        "name": "Varvel", "short_name": "Varvel", "id": "/", "start_url": "/note", "scope": "/", "display": "standalone",
        "description": "A falconer's spoken notes, weighed and confirmed",
        "background_color": "#f7f6f0", "theme_color": "#f7f6f0", "lang": "en-GB",
        "icons": [
            {"src": "/icon.svg", "sizes": "any", "type": "image/svg+xml"},
            {"src": "/icon-192.png", "sizes": "192x192", "type": "image/png", "purpose": "any"},
            {"src": "/icon-512.png", "sizes": "512x512", "type": "image/png", "purpose": "any maskable"}
        ],
        "shortcuts": [
            {"name": "Speak a note", "url": "/note"}, {"name": "Confirm", "url": "/confirm"}
        ]
    });
    short("application/manifest+json", body.to_string())
}

fn lasting(kind: &'static str, body: &'static str) -> Response {
    let headers: [(HeaderName, &str); 2] =
        [(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "public, max-age=31536000, immutable")];
    (headers, body).into_response()
}
fn short(kind: &'static str, body: impl IntoResponse) -> Response {
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "public, max-age=86400")], body).into_response()
}
