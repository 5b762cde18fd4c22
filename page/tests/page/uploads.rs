//! Uploads: each original once, whole or not at all, resumed after any break, kept before it is called kept.

use crate::{house::House, support};
use axum::{
    body::Body,
    http::{Request, StatusCode},
};
use page::Limits;
use sha2::{Digest, Sha256};
use store::Span;

fn sha(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

fn piece(sha: &str, at: usize, of: usize, kind: &str) -> String {
    format!(
        "/intake/{sha}?at={at}&of={of}&kind={kind}&name=note.wav&made=2026-11-24T08%3A10%3A00%2B00%3A00&bird=Sedge"
    )
}

async fn house() -> House {
    let house = House::empty();
    support::birds(&house.store);
    house
}

#[tokio::test]
async fn a_note_comes_in_pieces_and_is_kept_once() {
    let house = house().await;
    let bytes = support::wav(2.0, 3);
    let sha = sha(&bytes);
    assert_eq!(house.get(&format!("/intake/{sha}")).await.json()["state"], "none");
    let cuts = [0, 10_000, 10_001, 40_000, bytes.len()];
    for (cut, next) in cuts.iter().zip(&cuts[1..]) {
        let answer = house.put(&piece(&sha, *cut, bytes.len(), "sound"), &bytes[*cut..*next]).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        assert_eq!(answer.json()["have"], *next);
    }
    assert_eq!(house.get(&format!("/intake/{sha}")).await.json()["state"], "kept");
    // The answer was lost on the way and all is sent again: still one note.
    assert_eq!(house.put(&piece(&sha, 0, bytes.len(), "sound"), &bytes).await.json()["state"], "kept");
    let notes = house.store.notes(Span::ALL, 0, 10).unwrap();
    assert_eq!(notes.len(), 1);
    assert_eq!(house.store.read_evidence(notes[0].evidence.as_ref().unwrap()).unwrap(), bytes);
    assert!(!house.store.waiting(0, 1).unwrap()[0].waiting.is_empty(), "the workshop was woken");
    assert_eq!(std::fs::read_dir(house.store.spool()).unwrap().count(), 0, "the spool is clean");
}

#[tokio::test]
async fn a_piece_from_the_wrong_place_is_told_where_to_go_on() {
    let house = house().await;
    let bytes = support::wav(1.0, 4);
    let sha = sha(&bytes);
    house.put(&piece(&sha, 0, bytes.len(), "sound"), &bytes[..5000]).await;
    for at in [0, 4999, 9000] {
        let answer = house.put(&piece(&sha, at, bytes.len(), "sound"), &bytes[..10]).await;
        assert_eq!((answer.status, answer.json()["have"].as_u64()), (StatusCode::CONFLICT, Some(5000)));
    }
    let rest = house.put(&piece(&sha, 5000, bytes.len(), "sound"), &bytes[5000..]).await;
    assert_eq!(rest.json()["state"], "kept");
}

#[tokio::test]
async fn damaged_foreign_and_overlong_uploads_are_refused_and_leave_nothing() {
    let house = house().await;
    let bytes = support::wav(0.5, 5);
    let other = sha(b"something else");
    let damaged = house.put(&piece(&other, 0, bytes.len(), "sound"), &bytes).await;
    assert_eq!(damaged.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", damaged.text());
    let text = b"<html>no sound at all</html>";
    let foreign = house.put(&piece(&sha(text), 0, text.len(), "sound"), text).await;
    assert_eq!(foreign.status, StatusCode::UNPROCESSABLE_ENTITY);
    let long = house.put(&piece(&sha(&bytes), 0, 100, "sound"), &bytes).await;
    assert_eq!(long.status, StatusCode::UNPROCESSABLE_ENTITY);
    let huge = house.put(&piece(&sha(&bytes), 0, 1 << 40, "sound"), &bytes).await;
    assert_eq!(huge.status, StatusCode::PAYLOAD_TOO_LARGE);
    for bad in ["..%2f..%2fvarvel.db", "%00", &"A".repeat(64), "x"] {
        let answer = house.put(&piece(bad, 0, 10, "sound"), b"0123456789").await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{bad}");
    }
    assert_eq!(house.store.counts().unwrap().notes, 0);
    let left = std::fs::read_dir(house.store.spool()).map_or(0, |d| d.count());
    assert_eq!(left, 0);
}

#[tokio::test]
async fn what_it_is_tells_whether_it_is_sound_or_photo() {
    let house = house().await;
    let (wav, png) = (support::wav(0.5, 8), b"\x89PNG\r\n\x1a\n and what follows".to_vec());
    for (bytes, sent_as) in [(&png, "sound"), (&wav, "photo")] {
        let answer = house.put(&piece(&sha(bytes), 0, bytes.len(), sent_as), bytes).await;
        assert_eq!(answer.json()["state"], "kept", "{sent_as}");
    }
    let counts = house.store.counts().unwrap();
    assert_eq!((counts.notes, counts.photos), (1, 1));
}

#[tokio::test]
async fn a_piece_larger_than_a_piece_and_too_many_halves_are_refused() {
    let limits = Limits { piece: 1000, halves: 3, ..Limits::default() };
    let house = House::with(limits);
    support::birds(&house.store);
    let big = house.put(&piece(&sha(b"x"), 0, 5000, "sound"), &[0; 1001]).await;
    assert_eq!(big.status, StatusCode::PAYLOAD_TOO_LARGE);
    for i in 0..5u8 {
        let answer = house.put(&piece(&sha(&[i]), 0, 5000, "sound"), &[i; 10]).await;
        let right = if i < 3 { StatusCode::OK } else { StatusCode::TOO_MANY_REQUESTS };
        assert_eq!(answer.status, right, "{i}");
    }
}

#[tokio::test]
async fn the_same_words_on_another_day_are_another_note() {
    let house = house().await;
    for day in ["2026-11-24", "2026-11-25", "2026-11-25"] {
        let body = format!("{day}T08:10:00+00:00\nSedge 912 g");
        let path = format!(
            "/intake/{}?at=0&of={}&kind=text&name=n&made={day}T08%3A10%3A00%2B00%3A00",
            sha(body.as_bytes()),
            body.len()
        );
        assert_eq!(house.put(&path, body.as_bytes()).await.json()["state"], "kept");
    }
    assert_eq!(house.store.counts().unwrap().notes, 2);
}

#[tokio::test]
async fn a_power_cut_between_original_and_note_is_mended_when_asked() {
    let house = house().await;
    let bytes = support::wav(0.5, 6);
    let sha = sha(&bytes);
    house.put(&piece(&sha, 0, bytes.len(), "sound"), &bytes[..100]).await;
    // The original got into the evidence folder, then the light went out: only the slip is left.
    house.store.put(&bytes, &store::About::sound("note.wav")).unwrap();
    std::fs::remove_file(house.store.spool().join(format!("{sha}.half"))).unwrap();
    assert_eq!(house.store.counts().unwrap().notes, 0);
    assert_eq!(house.get(&format!("/intake/{sha}")).await.json()["state"], "kept");
    assert_eq!(house.store.counts().unwrap().notes, 1);
}

fn form(parts: &[(&str, Option<&str>, &[u8])]) -> Request<Body> {
    let mut body = Vec::new();
    for (name, file, bytes) in parts {
        let file = file
            .map(|f| format!("; filename=\"{f}\"\r\nContent-Type: application/octet-stream"))
            .unwrap_or_default();
        body.extend(
            format!("--cut\r\nContent-Disposition: form-data; name=\"{name}\"{file}\r\n\r\n").bytes(),
        );
        body.extend(*bytes);
        body.extend(b"\r\n");
    }
    body.extend(b"--cut--\r\n");
    Request::post("/intake")
        .header("host", "127.0.0.1:7468")
        .header("origin", "http://127.0.0.1:7468")
        .header("content-type", "multipart/form-data; boundary=cut")
        .body(Body::from(body))
        .unwrap()
}

#[tokio::test]
async fn the_form_without_script_takes_sound_photo_and_words() {
    let house = house().await;
    let wav = support::wav(0.5, 7);
    let answer = house
        .ask(form(&[
            ("words", None, b"Sedge 912 g"),
            ("sound", Some("../../a.wav"), &wav),
            ("photo", Some("p.png"), b"\x89PNG\r\n\x1a\n...."),
            ("photo", Some(""), b""),
        ]))
        .await;
    assert_eq!(
        (answer.status, answer.location()),
        (StatusCode::SEE_OTHER, "/confirm?taken=3"),
        "{}",
        answer.text()
    );
    let counts = house.store.counts().unwrap();
    assert_eq!((counts.notes, counts.photos), (2, 1));
    assert!(
        house
            .store
            .list_evidence(0, 10)
            .unwrap()
            .iter()
            .all(|e| e.name.as_deref().is_none_or(|n| !n.contains('/')))
    );
}

#[tokio::test]
async fn abuse_of_the_form_is_refused_and_leaves_nothing() {
    let house = House::with(Limits { sound: 10_000, text: 100, ..Limits::default() });
    support::birds(&house.store);
    let wav = support::wav(0.5, 8);
    let many: Vec<(&str, Option<&str>, &[u8])> = vec![("bird", None, b"x"); 80];
    let long = [b'a'; 101];
    for (parts, status) in [
        (vec![("sound", Some("a.wav"), &wav[..])], StatusCode::PAYLOAD_TOO_LARGE),
        (vec![("sound", Some("a.wav"), &b"not sound"[..])], StatusCode::UNPROCESSABLE_ENTITY),
        (vec![("sound", Some("a.wav"), &b""[..])], StatusCode::UNPROCESSABLE_ENTITY),
        (vec![("words", None, &long[..])], StatusCode::PAYLOAD_TOO_LARGE),
        (vec![("words", None, &b"\xff\xfe"[..])], StatusCode::BAD_REQUEST),
        (vec![("else", None, &b"x"[..])], StatusCode::BAD_REQUEST),
        (vec![], StatusCode::UNPROCESSABLE_ENTITY),
        (many, StatusCode::PAYLOAD_TOO_LARGE),
    ] {
        let answer = house.ask(form(&parts)).await;
        assert_eq!(answer.status, status, "{}", answer.text());
    }
    let mut cut = form(&[("sound", Some("a.wav"), &wav[..9000])]);
    *cut.body_mut() = Body::from(
        "--cut\r\nContent-Disposition: form-data; name=\"sound\"; filename=\"a.wav\"\r\n\r\nRIFF and then nothing",
    );
    assert_eq!(house.ask(cut).await.status, StatusCode::BAD_REQUEST);
    assert_eq!(house.store.counts().unwrap().notes, 0);
    assert_eq!(std::fs::read_dir(house.store.spool()).unwrap().count(), 0);
}

#[tokio::test]
async fn sound_is_played_by_ranges_and_never_guessed_at() {
    let house = house().await;
    let wav = support::wav(1.0, 9);
    house.put(&piece(&sha(&wav), 0, wav.len(), "sound"), &wav).await;
    let note = house.store.notes(Span::ALL, 0, 1).unwrap().remove(0);
    let path = format!("/sound/{}", note.id);
    let part = house
        .ask(
            Request::get(&path)
                .header("host", "localhost")
                .header("range", "bytes=100-199")
                .body(Body::empty())
                .unwrap(),
        )
        .await;
    assert_eq!((part.status, &part.body[..]), (StatusCode::PARTIAL_CONTENT, &wav[100..200]));
    assert_eq!(
        (part.headers["content-type"].as_bytes(), part.headers["x-content-type-options"].as_bytes()),
        (&b"audio/wav"[..], &b"nosniff"[..])
    );
    assert!(part.headers["cache-control"].to_str().unwrap().contains("private"));
    // What is neither sound nor picture is only ever saved, whatever it calls itself.
    let html = house
        .store
        .put(b"<html><script>alert(1)</script>", &store::About::photo("x.html").of_type("text/html"))
        .unwrap();
    let saved = house.get(&format!("/original/{}", html.sha256)).await;
    assert_eq!(saved.headers["content-type"], "application/octet-stream");
    assert!(saved.headers["content-disposition"].to_str().unwrap().starts_with("attachment"));
    for bad in [
        "/original/..%2f..%2fvarvel.db",
        "/original/varvel.db",
        "/sound/nothing",
        "/picture/..",
        "/a/x/..%2f..%2fCargo.toml",
    ] {
        let status = house.get(bad).await.status;
        assert!(status.is_client_error(), "{bad}: {status}");
    }
}
