//! Who may come in, and how long they may stay.
//!
//! Every request passes here first: bounded in number and time, for this host only, from this page
//! only where it would change something, and on the phones' door with the cookie of a paired phone.

use crate::{State, shell};
use axum::{
    body::Body,
    extract::{Request, State as Extract},
    http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header},
    middleware::Next,
    response::{IntoResponse, Response},
};
use maud::html;
use std::{
    collections::HashMap,
    sync::Mutex,
    time::{Duration, Instant},
};
use store::{Device, Who};

/// Where a request comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Door {
    /// The loopback address: whoever sits at this machine.
    Desk,
    /// The house's network, over TLS: paired phones only.
    Phones,
    /// The house's network, plain: nothing but how to trust this machine.
    Porch,
}

/// The cookie's name; the prefix ties it to this host, over TLS (RFC 6265bis).
pub const COOKIE: &str = "__Host-varvel";

/// Who sent a request.
#[derive(Clone, Debug)]
pub struct Hand {
    /// Keeper and device, as the journal takes them.
    pub who: Who,
    /// Whether this is the desk.
    pub desk: bool,
}

/// When each phone was last noted as seen, so that not every request writes.
#[derive(Debug, Default)]
pub struct Seen(Mutex<HashMap<String, Instant>>);

impl Seen {
    fn due(&self, id: &str) -> bool {
        let mut seen = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let due = seen.get(id).is_none_or(|t| t.elapsed() > Duration::from_secs(60));
        if due {
            seen.insert(id.to_owned(), Instant::now());
        }
        due
    }
}

/// Answers in plain words.
pub fn refuse(status: StatusCode, words: &str) -> Response {
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], words.to_owned()).into_response()
}

/// Lets a request through, or says why not.
pub async fn guard(Extract(state): Extract<State>, request: Request, next: Next) -> Response {
    let uploads = request.uri().path().starts_with("/intake");
    let limits = &state.shared.limits;
    let patience = if uploads { limits.upload } else { limits.page };
    let path = request.uri().path().to_owned();
    let mut answer = match tokio::time::timeout(patience, admit(&state, request, next)).await {
        Ok(answer) => answer,
        Err(_) => refuse(
            StatusCode::REQUEST_TIMEOUT,
            "That took too long. What came whole is kept; try the rest again.",
        ),
    };
    head(answer.headers_mut(), state.door, &path);
    answer
}

async fn admit(state: &State, mut request: Request, next: Next) -> Response {
    let Ok(_place) = state.shared.gate.acquire().await else {
        return refuse(
            StatusCode::SERVICE_UNAVAILABLE,
            "This machine is shutting down. Nothing was lost; try again later.",
        );
    };
    let headers = request.headers();
    if !right_host(state, headers, request.uri()) {
        return refuse(
            StatusCode::MISDIRECTED_REQUEST,
            "This is not the name of this machine. Open the address that Varvel printed.",
        );
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD) && !from_here(state.door, headers) {
        return refuse(StatusCode::FORBIDDEN, "This was sent from another page and was not done.");
    }
    let hand = match state.door {
        Door::Desk => match desk(state).await {
            Ok(who) => Hand { who, desk: true },
            Err(answer) => return answer,
        },
        Door::Porch => {
            if !matches!(request.uri().path(), "/trust" | "/trust/varvel.crt" | "/icon.svg")
                && !request.uri().path().starts_with("/a/")
            {
                return (StatusCode::SEE_OTHER, [(header::LOCATION, "/trust")]).into_response();
            }
            stranger()
        }
        Door::Phones => match phone(state, headers).await {
            Ok(Some(device)) => Hand { who: Who::new(device.keeper, device.name), desk: false },
            Ok(None) if open_to_strangers(request.uri().path()) => stranger(),
            Ok(None) => return unknown_phone(headers),
            Err(answer) => return answer,
        },
    };
    request.extensions_mut().insert(hand);
    next.run(request).await
}

fn stranger() -> Hand {
    Hand { who: Who::new("", ""), desk: false }
}

/// What a phone may see before it is paired: nothing of the record.
fn open_to_strangers(path: &str) -> bool {
    matches!(
        path,
        "/pair"
            | "/trust"
            | "/trust/varvel.crt"
            | "/icon.svg"
            | "/icon-192.png"
            | "/icon-512.png"
            | "/manifest.webmanifest"
    ) || path.starts_with("/a/")
}

async fn desk(state: &State) -> Result<Who, Response> {
    let store = state.store().clone();
    let keeper = blocking(move || -> store::Result<Option<String>> {
        let set =
            store.setting("keeper")?.and_then(|v| v.as_str().map(str::to_owned)).filter(|k| !k.is_empty());
        Ok(set.or(store.keepers()?.into_iter().next()))
    });
    let keeper = keeper.await?.map_err(IntoAnswer::answer)?;
    Ok(Who::new(keeper.unwrap_or_else(|| "keeper".into()), "desk"))
}

async fn phone(state: &State, headers: &HeaderMap) -> Result<Option<Device>, Response> {
    let Some(secret) = cookie(headers) else { return Ok(None) };
    let store = state.store().clone();
    let device = blocking(move || store.device_of(&secret)).await?.map_err(IntoAnswer::answer)?;
    if let Some(device) = &device
        && state.shared.seen.due(&device.id)
    {
        let (store, id) = (state.store().clone(), device.id.clone());
        if let Err(error) = blocking(move || store.device_seen(&id)).await? {
            tracing::warn!("a phone's visit was not noted: {error}");
        }
    }
    Ok(device)
}

fn cookie(headers: &HeaderMap) -> Option<String> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(COOKIE)?.strip_prefix('='))
        .filter(|secret| secret.len() <= 128)
        .map(str::to_owned)
}

fn unknown_phone(headers: &HeaderMap) -> Response {
    let wants_page =
        headers.get(header::ACCEPT).and_then(|v| v.to_str().ok()).is_some_and(|v| v.contains("text/html"));
    if !wants_page {
        return refuse(
            StatusCode::UNAUTHORIZED,
            "This phone is not known here. Pair it again at the desk: Settings, Phones.",
        );
    }
    let frame = shell::Frame { place: shell::Place::Stranger, title: "Not known here".into(), waiting: 0 };
    let page = shell::page(
        &frame,
        html! {
            header { h1 { "This phone is not known here" } }
            div.leaf {
                p { "At the desk, open Settings and choose “Let a phone in”. Point this phone’s camera at the picture that appears." }
                p { "Notes that wait on this phone stay on it until it is let in." }
            }
        },
    );
    (StatusCode::UNAUTHORIZED, page).into_response()
}

/// The name a request was sent to must be this machine's, or another page could reach in by a name of its own.
fn right_host(state: &State, headers: &HeaderMap, uri: &Uri) -> bool {
    let mut hosts = headers.get_all(header::HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else { return false };
    let Ok(host) = host.to_str() else { return false };
    if uri.authority().is_some_and(|a| !a.as_str().eq_ignore_ascii_case(host)) {
        return false;
    }
    let name = host_name(host);
    match state.door {
        Door::Desk => matches!(name.as_str(), "127.0.0.1" | "localhost" | "[::1]"),
        Door::Phones | Door::Porch => {
            state.shared.phones.as_ref().is_some_and(|p| {
                p.names.iter().any(|n| n.eq_ignore_ascii_case(name.trim_matches(['[', ']'])))
            })
        }
    }
}

/// Takes the port off a host.
fn host_name(host: &str) -> String {
    let name = match host.rsplit_once(':') {
        Some((name, port))
            if port.bytes().all(|b| b.is_ascii_digit()) && (!name.contains(':') || name.ends_with(']')) =>
        {
            name
        }
        _ => host,
    };
    name.to_ascii_lowercase()
}

/// What changes something must come from this page: the origin is this host, or the browser says so.
fn from_here(door: Door, headers: &HeaderMap) -> bool {
    let text = |name: &str| headers.get(name).and_then(|v| v.to_str().ok());
    if text("sec-fetch-site").is_some_and(|site| site != "same-origin") {
        return false;
    }
    match (text("origin"), text("host")) {
        (Some(origin), Some(host)) => {
            let scheme = if door == Door::Phones { "https://" } else { "http://" };
            origin.strip_prefix(scheme).is_some_and(|o| o.eq_ignore_ascii_case(host))
        }
        (None, _) => text("sec-fetch-site").is_some(),
        _ => false,
    }
}

/// The headers that every answer bears.
fn head(headers: &mut HeaderMap, door: Door, path: &str) {
    let mut set = |name: &'static str, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set(
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    );
    set("x-content-type-options", "nosniff");
    // With `no-referrer` a browser hides the origin of our own forms too.
    set("referrer-policy", "same-origin");
    set("x-frame-options", "DENY");
    set("cross-origin-opener-policy", "same-origin");
    set("cross-origin-resource-policy", "same-origin");
    set("permissions-policy", "microphone=(self), camera=(self), geolocation=(), payment=(), usb=()");
    if door == Door::Phones {
        set("strict-transport-security", "max-age=31536000");
    }
    if !path.starts_with("/a/") {
        headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    }
}

/// Runs what waits for the disk where it may wait.
pub async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Response> {
    tokio::task::spawn_blocking(work).await.map_err(|error| {
        tracing::error!("a page's work stopped short: {error}");
        refuse(
            StatusCode::INTERNAL_SERVER_ERROR,
            "Something broke here. Nothing that was confirmed is lost; go back and try again.",
        )
    })
}

/// Turns an error of the record into an answer.
pub trait IntoAnswer {
    /// Says what happened, with the status that fits.
    fn answer(self) -> Response;
}

impl IntoAnswer for store::StoreError {
    fn answer(self) -> Response {
        use store::StoreError as E;
        let status = match &self {
            E::NotFound { .. } => StatusCode::NOT_FOUND,
            E::AlreadyDecided { .. } | E::NothingToUndo(_) | E::NameTaken(_) => StatusCode::CONFLICT,
            E::Refused(_) => StatusCode::UNPROCESSABLE_ENTITY,
            E::Full => StatusCode::INSUFFICIENT_STORAGE,
            E::Busy => StatusCode::SERVICE_UNAVAILABLE,
            _ => StatusCode::INTERNAL_SERVER_ERROR,
        };
        if status.is_server_error() {
            tracing::error!("{self}");
        }
        told(status, &self.to_string())
    }
}

/// A page that says what happened and where to go from here.
pub fn told(status: StatusCode, words: &str) -> Response {
    let frame = shell::Frame { place: shell::Place::None, title: "Not done".into(), waiting: 0 };
    let head = if status == StatusCode::NOT_FOUND { "Not here" } else { "Not done" };
    let page = shell::page(
        &frame,
        html! {
            header { h1 { (head) } }
            div.leaf { p data-news { (crate::say::capital(words)) "." } p { a.press href="/" { "To today" } } }
        },
    );
    (status, page).into_response()
}

/// Answers what no route answers.
pub async fn nothing_here() -> Response {
    told(StatusCode::NOT_FOUND, "There is no such page")
}

/// Sends the keeper on after something was done.
pub fn go(to: &str) -> Response {
    match HeaderValue::from_str(to) {
        Ok(to) => {
            let mut answer = Response::new(Body::empty());
            *answer.status_mut() = StatusCode::SEE_OTHER;
            answer.headers_mut().insert(header::LOCATION, to);
            answer
        }
        Err(_) => {
            refuse(StatusCode::INTERNAL_SERVER_ERROR, "That was done, but the next page has no address.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_its_name_without_the_port() {
        for (host, name) in [
            ("127.0.0.1:7468", "127.0.0.1"),
            ("LOCALHOST", "localhost"),
            ("[::1]:80", "[::1]"),
            ("[::1]", "[::1]"),
            ("localhost:80.evil.example", "localhost:80.evil.example"),
            ("127.0.0.1.evil.example:80", "127.0.0.1.evil.example"),
        ] {
            assert_eq!(host_name(host), name);
        }
    }
}
