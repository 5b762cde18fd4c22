//! Confirming, from the words to the record and back.

use crate::{house::House, support};
use axum::http::StatusCode;
use note::{EntryId, Kind, Value};
use store::{Span, Who};

async fn one_note(words: &str) -> (House, Vec<EntryId>) {
    let house = House::empty();
    support::birds(&house.store);
    support::type_note(&house.store, support::ago(0, 8, 10), words);
    let ids = house.store.waiting(0, 1).unwrap()[0].waiting.iter().map(|w| w.proposed.id.clone()).collect();
    (house, ids)
}

fn grams(house: &House) -> Vec<f64> {
    let bird = house.store.bird_named("Sedge").unwrap().unwrap();
    let all = house.store.confirmed(&bird.id, Span::ALL).unwrap();
    all.iter()
        .filter_map(|c| match c.entry().value {
            Value::Weight(w) => Some(w.grams.get()),
            _ => None,
        })
        .collect()
}

#[tokio::test]
async fn the_words_are_shown_with_their_quotes_marked_and_numbered() {
    let (house, ids) = one_note("Sedge 912 g, two and a half chicks, keen").await;
    let text = house.get("/confirm").await.text();
    for (quote, nr) in [("912 g", 1), ("two and a half chicks", 2), ("keen", 3)] {
        let marked = format!("<mark data-slip=\"e-{}\">{quote}<sup>{nr}</sup></mark>", ids[nr - 1]);
        assert!(text.contains(&marked), "{marked} is missing in {text}");
    }
}

#[tokio::test]
async fn confirm_reject_and_undo_leave_what_they_should() {
    let (house, ids) = one_note("Sedge 912 g, two and a half chicks").await;
    let done = house.post(&format!("/confirm/entry/{}/accept", ids[0]), &[]).await;
    assert_eq!((done.status, done.location()), (StatusCode::SEE_OTHER, "/confirm"), "{}", done.text());
    assert_eq!(grams(&house), [912.0]);
    house.post(&format!("/confirm/entry/{}/reject", ids[1]), &[]).await;
    assert!(house.get("/confirm").await.text().contains("All is decided"));
    for _ in 0..2 {
        let act = house.store.undoable(1).unwrap()[0].act.0.to_string();
        assert_eq!(house.post("/undo", &[("act", &act)]).await.status, StatusCode::SEE_OTHER);
    }
    assert!(grams(&house).is_empty());
    assert_eq!(house.store.counts().unwrap().waiting, 2);
}

#[tokio::test]
async fn a_change_is_confirmed_as_a_correction_and_offers_to_be_remembered() {
    let (house, ids) = one_note("Sedge 912 g, a bit of quill").await;
    let answer = house
        .post(
            &format!("/confirm/entry/{}/correct", ids[1]),
            &[
                ("item", "quail"),
                ("count", "0.5"),
                ("part", ""),
                ("grams", ""),
                ("outcome", "eaten"),
                ("bird", "Sedge"),
            ],
        )
        .await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    assert!(
        answer.location().contains("heard=") && answer.location().contains("means=quail"),
        "{}",
        answer.location()
    );
    let offered = house.get(answer.location()).await.text();
    assert!(offered.contains("Remember this?"));
    let record = house.store.record(&ids[1]).unwrap();
    assert!(record.proposed.is_some() && matches!(&record.entry.value, Value::Food(f) if f.item == "quail"));
    house.post("/words", &[("heard", "quill"), ("meaning", "quail"), ("back", "/confirm")]).await;
    assert_eq!(house.store.learned_words().unwrap()[0].meaning, "quail");
    assert!(house.get("/words").await.text().contains("quill"));
    house.post("/words/forget", &[("heard", "quill")]).await;
    assert!(house.store.learned_words().unwrap().is_empty());
}

#[tokio::test]
async fn a_change_that_makes_no_sense_changes_nothing_and_says_so_beside_the_entry() {
    let (house, ids) = one_note("Sedge 912 g").await;
    let answer = house
        .post(&format!("/confirm/entry/{}/correct", ids[0]), &[("mass", "heavy"), ("bird", "Sedge")])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text().contains("is no weight"));
    assert_eq!(house.store.counts().unwrap().waiting, 1);
}

#[tokio::test]
async fn confirm_all_leaves_what_wants_its_own_look() {
    let (house, _) = one_note("Sedge 1250 g, two and a half chicks, keen").await;
    let card = house.store.waiting(0, 1).unwrap().remove(0);
    let note = card.note.unwrap().id;
    let text = house.get("/confirm").await.text();
    assert!(text.contains("Confirm the other 2") && text.contains("far from her last weight"), "{text}");
    // Even a forged form that names it does not sweep it up.
    let every: Vec<(&str, &str)> = card.waiting.iter().map(|w| ("entry", w.proposed.id.as_str())).collect();
    assert_eq!(house.post(&format!("/confirm/note/{note}"), &every).await.status, StatusCode::SEE_OTHER);
    let left = house.store.waiting(0, 1).unwrap().remove(0).waiting;
    assert_eq!(left.len(), 1);
    assert_eq!(left[0].proposed.entry.kind(), Kind::Weight);
}

#[tokio::test]
async fn the_scales_word_is_shown_beside_the_keepers_and_can_be_taken() {
    let house = House::empty();
    let photo = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(photo.path(), b"\x89PNG\r\n\x1a\nnot really").unwrap();
    support::four_weeks(&house.store, Some(photo.path()));
    let text = house.get("/confirm").await.text();
    assert!(text.contains("You said 938 g; the scale shows 933 g."), "both readings are shown");
    let cards = house.store.waiting(0, 10).unwrap();
    let weight = cards.iter().flat_map(|c| &c.waiting).find(|w| w.pairing.is_some()).unwrap();
    let id = weight.proposed.id.clone();
    assert_eq!(house.post(&format!("/confirm/entry/{id}/scale"), &[]).await.status, StatusCode::SEE_OTHER);
    let record = house.store.record(&id).unwrap();
    assert!(matches!(record.entry.value, Value::Weight(w) if w.grams.get() == 933.0));
}

#[tokio::test]
async fn two_hands_at_once_decide_once() {
    let (house, ids) = one_note("Sedge 912 g").await;
    let path = format!("/confirm/entry/{}/accept", ids[0]);
    let (a, b) = tokio::join!(house.post(&path, &[]), house.post(&path, &[]));
    assert_eq!(
        (a.status, b.status),
        (StatusCode::SEE_OTHER, StatusCode::SEE_OTHER),
        "{} {}",
        a.text(),
        b.text()
    );
    assert_eq!(grams(&house), [912.0]);
    // Another keeper of another mind is told, and nothing is changed.
    let other = house.store.decide(&[store::Decision::reject(&ids[0], "no")], &Who::new("Finn", "phone"));
    assert!(other.is_err());
    let late = house.post(&format!("/confirm/entry/{}/reject", ids[0]), &[]).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert!(late.text().contains("already confirmed"), "{}", late.text());
    assert_eq!(grams(&house), [912.0]);
}

#[tokio::test]
async fn words_that_look_like_html_stay_words() {
    let (house, _) = one_note("Sedge 912 g <script>alert(1)</script> <img src=x onerror=alert(2)>").await;
    for path in ["/confirm", "/evidence"] {
        let text = house.get(path).await.text();
        assert!(
            text.contains("&lt;script&gt;")
                && !text.contains("<script>alert")
                && !text.contains("<img src=x"),
            "{path}"
        );
    }
}

#[tokio::test]
async fn what_was_confirmed_can_be_corrected_with_a_reason() {
    let (house, ids) = one_note("Sedge 912 g").await;
    house.post(&format!("/confirm/entry/{}/accept", ids[0]), &[]).await;
    let path = format!("/evidence/entry/{}/amend", ids[0]);
    assert_eq!(
        house.post(&path, &[("mass", "921"), ("bird", "Sedge"), ("reason", "")]).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    assert_eq!(
        house
            .post(&path, &[("mass", "921"), ("bird", "Sedge"), ("reason", "read the wrong line")])
            .await
            .status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(grams(&house), [921.0]);
    assert!(house.get(&format!("/evidence/entry/{}", ids[0])).await.text().contains("912 g"));
}
