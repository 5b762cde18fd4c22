//! A house for one test: a record, a bench that reads, and a router to ask.

use crate::support::Bench;
use axum::{
    Router,
    body::{Body, to_bytes},
    http::{HeaderMap, Request, StatusCode, header},
};
use page::{Limits, State};
use std::sync::Arc;
use store::Store;
use tower::ServiceExt;

pub struct House {
    pub store: Store,
    pub router: Router,
    pub state: State,
    _folder: tempfile::TempDir,
}

pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
    pub fn location(&self) -> &str {
        self.headers.get(header::LOCATION).and_then(|v| v.to_str().ok()).unwrap_or_default()
    }
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }
}

impl House {
    pub fn empty() -> Self {
        Self::with(Limits::default())
    }

    pub fn with(limits: Limits) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let state = State::new(store.clone(), Arc::new(Bench::new(store.clone())), limits);
        Self { store, router: page::router(state.clone()), state, _folder: folder }
    }

    pub async fn ask(&self, request: Request<Body>) -> Answer {
        let answer = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = answer.into_parts();
        Answer {
            status: parts.status,
            headers: parts.headers,
            body: to_bytes(body, 64 << 20).await.unwrap().to_vec(),
        }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.ask(Request::get(path).header("host", "127.0.0.1:7468").body(Body::empty()).unwrap()).await
    }

    /// Posts a form as a page of ours does.
    pub async fn post(&self, path: &str, form: &[(&str, &str)]) -> Answer {
        let escape = |text: &str| {
            text.bytes()
                .map(
                    |b| if b.is_ascii_alphanumeric() { (b as char).to_string() } else { format!("%{b:02X}") },
                )
                .collect::<String>()
        };
        let body =
            form.iter().map(|(k, v)| format!("{}={}", escape(k), escape(v))).collect::<Vec<_>>().join("&");
        self.ask(
            Request::post(path)
                .header("host", "127.0.0.1:7468")
                .header("origin", "http://127.0.0.1:7468")
                .header("content-type", "application/x-www-form-urlencoded")
                .body(Body::from(body))
                .unwrap(),
        )
        .await
    }

    /// Sends a piece of an upload as the phone's page does.
    pub async fn put(&self, path: &str, bytes: &[u8]) -> Answer {
        self.ask(
            Request::put(path)
                .header("host", "127.0.0.1:7468")
                .header("origin", "http://127.0.0.1:7468")
                .body(Body::from(bytes.to_vec()))
                .unwrap(),
        )
        .await
    }
}
