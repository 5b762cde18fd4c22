//! Nobody in: other hosts, other pages, the plain door, phones that are not paired.

use crate::house::House;
use axum::{
    body::Body,
    http::{Method, Request, StatusCode},
};

fn request(method: &str, path: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let mut request = Request::builder().method(Method::from_bytes(method.as_bytes()).unwrap()).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    request.body(Body::empty()).unwrap()
}

const FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");

/// DNS rebinding: a page elsewhere may point its own name here, but the name is then in Host.
#[tokio::test]
async fn only_this_machines_names_are_answered() {
    let house = House::empty();
    for (host, status) in [
        ("127.0.0.1:7468", StatusCode::OK),
        ("localhost:7468", StatusCode::OK),
        ("[::1]:7468", StatusCode::OK),
        ("evil.example", StatusCode::MISDIRECTED_REQUEST),
        ("127.0.0.1.evil.example:7468", StatusCode::MISDIRECTED_REQUEST),
        ("localhost:80.evil.example", StatusCode::MISDIRECTED_REQUEST),
        ("192.168.1.20:7468", StatusCode::MISDIRECTED_REQUEST),
        ("", StatusCode::MISDIRECTED_REQUEST),
    ] {
        assert_eq!(house.ask(request("GET", "/", &[("host", host)])).await.status, status, "{host}");
    }
    assert_eq!(house.ask(request("GET", "/", &[])).await.status, StatusCode::MISDIRECTED_REQUEST);
    let twice = request("GET", "/", &[("host", "localhost"), ("host", "evil.example")]);
    assert_eq!(house.ask(twice).await.status, StatusCode::MISDIRECTED_REQUEST);
}

#[tokio::test]
async fn only_this_page_may_change_anything() {
    let house = House::empty();
    let host = ("host", "127.0.0.1:7468");
    for (headers, allowed) in [
        (vec![("origin", "http://127.0.0.1:7468")], true),
        (vec![("origin", "http://127.0.0.1:7468"), ("sec-fetch-site", "same-origin")], true),
        (vec![("sec-fetch-site", "same-origin")], true),
        (vec![], false),
        (vec![("origin", "null")], false),
        (vec![("origin", "http://evil.example")], false),
        (vec![("origin", "http://127.0.0.1:9999")], false),
        (vec![("origin", "https://127.0.0.1:7468")], false),
        (vec![("origin", "http://127.0.0.1:7468"), ("sec-fetch-site", "cross-site")], false),
        (vec![("sec-fetch-site", "same-site")], false),
        (vec![("sec-fetch-site", "none")], false),
    ] {
        for (method, path) in [
            ("POST", "/undo"),
            ("POST", "/birds"),
            ("POST", "/settings"),
            ("PUT", "/intake/00"),
            ("POST", "/intake"),
            ("DELETE", "/"),
        ] {
            let mut all = vec![host, FORM];
            all.extend(headers.iter().copied());
            let status = house.ask(request(method, path, &all)).await.status;
            assert_eq!(status != StatusCode::FORBIDDEN, allowed, "{method} {path} {headers:?}: {status}");
        }
    }
    assert_eq!(
        house.store.counts().unwrap().journal_lines,
        House::empty().store.counts().unwrap().journal_lines
    );
}

#[tokio::test]
async fn every_answer_bears_the_headers_that_keep_others_out() {
    let house = House::empty();
    for path in ["/", "/confirm", "/nothing", "/sw.js", "/birds.json", "/original/x"] {
        let answer = house.get(path).await;
        let policy = answer.headers["content-security-policy"].to_str().unwrap();
        assert!(
            policy.contains("default-src 'none'")
                && policy.contains("frame-ancestors 'none'")
                && !policy.contains("unsafe"),
            "{path}"
        );
        assert_eq!(answer.headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(answer.headers["referrer-policy"], "same-origin", "{path}");
        assert!(answer.headers.contains_key("cache-control"), "{path}");
        assert!(!answer.headers.contains_key("access-control-allow-origin"), "{path}");
    }
}

#[tokio::test]
async fn a_form_that_is_too_large_or_no_form_is_refused() {
    let house = House::empty();
    let head = [("host", "localhost"), ("origin", "http://localhost"), FORM];
    let mut large = request("POST", "/birds", &head);
    *large.body_mut() = Body::from(format!("name={}", "x".repeat(200 << 10)));
    assert_eq!(house.ask(large).await.status, StatusCode::PAYLOAD_TOO_LARGE);
    let mut json = request(
        "POST",
        "/undo",
        &[("host", "localhost"), ("origin", "http://localhost"), ("content-type", "application/json")],
    );
    *json.body_mut() = Body::from("{\"act\":1}");
    assert_eq!(house.ask(json).await.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    for path in ["/undo", "/words", "/evidence/photo/x/pair"] {
        let status = house.post(path, &[("else", "1")]).await.status;
        assert!(status.is_client_error(), "{path}: {status}");
    }
}

#[tokio::test]
async fn ids_of_nothing_are_nothing() {
    let house = House::empty();
    for path in [
        "/birds/x",
        "/evidence/note/x",
        "/evidence/photo/x",
        "/evidence/entry/x",
        "/birds/%00",
        "/birds/..%2f..%2fetc%2fpasswd",
        "/evidence/entry/' OR 1=1 --",
    ] {
        let answer = house.get(&path.replace(' ', "%20")).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}: {}", answer.text());
    }
}
