//! Every page answers, empty and full, small, quick, and without anything that its own rules forbid.

use crate::{house::House, support};
use axum::{
    body::Body,
    http::{Request, StatusCode},
};

/// First page under 60 KB: its HTML, style sheet and script together, uncompressed.
const FIRST_PAGE: usize = 60_000;

#[tokio::test]
async fn every_page_answers_when_nothing_is_there_and_says_what_to_do() {
    let house = House::empty();
    for path in page::PAGES.iter().filter(|p| **p != "/trust") {
        let answer = house.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text());
        assert!(answer.text().contains("<h1>"), "{path}");
    }
    for (path, words) in [
        ("/", "No bird yet"),
        ("/confirm", "All is decided"),
        ("/book", "No bird yet"),
        ("/evidence", "Nothing taken in yet"),
        ("/words", "No words learned yet"),
    ] {
        assert!(house.get(path).await.text().contains(words), "{path}");
    }
}

#[tokio::test]
async fn words_come_compressed_and_sound_as_it_was_recorded() {
    let house = House::empty();
    for n in 0..200 {
        let details = store::BirdDetails { name: format!("Bird {n:03}"), ..Default::default() };
        house.store.add_bird(details, &support::keeper()).unwrap();
    }
    let sound = store::About::sound("note.wav").of_type("audio/wav");
    let sound = house.store.put(&[0; 9000], &sound).unwrap().sha256;
    let plain = house.get("/").await;
    assert!(plain.headers.get("content-encoding").is_none());
    for (path, smaller) in [("/".to_owned(), true), (format!("/original/{sound}"), false)] {
        let request = Request::get(&path).header("host", "localhost").header("accept-encoding", "gzip, br");
        let answer = house.ask(request.body(Body::empty()).unwrap()).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(answer.headers.contains_key("content-encoding"), smaller, "{path}");
        if smaller {
            // Two hundred birds, in what a phone must fetch.
            assert!(
                answer.body.len() < FIRST_PAGE / 3,
                "{} bytes of {}",
                answer.body.len(),
                plain.body.len()
            );
        } else {
            assert_eq!(answer.body.len(), 9000);
        }
    }
}

#[tokio::test]
async fn every_page_answers_on_a_full_record() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    let birds = house.store.birds().unwrap();
    let mut paths: Vec<String> =
        page::PAGES.iter().filter(|p| **p != "/trust").map(|p| (*p).to_owned()).collect();
    for bird in &birds {
        for form in [
            "/birds/{}",
            "/birds/{}/edit",
            "/book?bird={}",
            "/reports/day-book?bird={}",
            "/reports/vet?bird={}",
            "/reports/inspector?bird={}",
        ] {
            paths.push(form.replace("{}", bird.id.as_str()));
        }
    }
    let note = &house.store.notes(store::Span::ALL, 0, 1).unwrap()[0];
    paths.push(format!("/evidence/note/{}", note.id));
    paths.push(format!("/evidence/entry/{}", house.store.records_of_note(&note.id).unwrap()[0].id));
    for path in paths {
        let answer = house.get(&path).await;
        let text = answer.text();
        assert_eq!(answer.status, StatusCode::OK, "{path}: {text}");
        // The pages keep their own content policy: nothing inline.
        for forbidden in ["<style", " style=\"", "onclick", "javascript:", "<script>"] {
            assert!(!text.contains(forbidden), "{path} has {forbidden}");
        }
        assert_eq!(text.matches("<h1>").count(), 1, "{path}");
    }
}

#[tokio::test]
async fn the_first_page_is_small() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    for path in ["/", "/note"] {
        let page = house.get(path).await;
        let text = page.text();
        let mut size = page.body.len();
        for link in text.split('"').filter(|t| t.starts_with("/a/") && !t.ends_with("ear.js")) {
            size += house.get(link).await.body.len();
        }
        assert!(size < FIRST_PAGE, "{path} takes {size} bytes");
    }
}

#[tokio::test]
async fn today_shows_each_bird_against_her_band_and_what_waits() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    let text = house.get("/").await.text();
    for words in ["Sedge", "Teal", "wait for your word", "Harris&#39;s hawk", "Tonight"] {
        assert!(text.contains(words) || text.contains(&words.replace("&#39;", "'")), "{words} is missing");
    }
}

#[tokio::test]
async fn units_are_the_keepers() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    let answer =
        house.post("/settings", &[("keeper", "Mara"), ("units", "avoirdupois"), ("window", "20")]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    assert!(house.get("/").await.text().contains(" lb "));
    let bad = house.post("/settings", &[("keeper", "Mara"), ("units", "stones"), ("window", "20")]).await;
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_bird_is_entered_changed_and_told_of() {
    let house = House::empty();
    let made = house
        .post("/birds", &[("name", "Rush"), ("species", "Merlin"), ("sex", "male"), ("floor", "150")])
        .await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.text());
    let at = made.location().to_owned();
    assert!(house.get(&at).await.text().contains("Merlin, male"));
    let event = house
        .post(&format!("{at}/event"), &[("kind", "ringed"), ("at", "2026-05-01"), ("text", "<b>4411 X</b>")])
        .await;
    assert_eq!(event.status, StatusCode::SEE_OTHER);
    assert!(house.get(&at).await.text().contains("Ringed: &lt;b&gt;4411 X&lt;/b&gt;"));
    assert_eq!(house.post("/birds", &[("name", "Rush")]).await.status, StatusCode::CONFLICT);
    let wrong = house.post("/birds", &[("name", "Quill"), ("floor", "light")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.text().contains("no weight"));
}

/// What makes the page quick with many birds: none is worked out anew until something of hers is written.
#[tokio::test]
async fn only_the_bird_that_changed_is_worked_out_again() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    for path in ["/", "/birds", "/"] {
        house.get(path).await;
    }
    assert_eq!(house.state.worked_out(), 2, "each bird once");
    support::type_note(&house.store, support::ago(0, 12, 0), "Teal 109.0 g");
    support::confirm_all(&house.store);
    let before = house.state.worked_out();
    assert!(house.get("/").await.text().contains("109.0 g"));
    // Notes of both birds waited and are confirmed now.
    assert_eq!(house.state.worked_out() - before, 2);
    support::type_note(&house.store, support::ago(0, 13, 0), "Teal 109.5 g");
    support::confirm_all(&house.store);
    assert!(house.get("/").await.text().contains("109.5 g"));
    assert_eq!(house.state.worked_out() - before, 3, "Sedge did not change");
}

#[tokio::test]
async fn a_report_is_ordered_with_its_bird_and_days() {
    let house = House::empty();
    support::four_weeks(&house.store, None);
    // The stand-in prints nothing: what counts is who is asked, and with what.
    assert_eq!(house.get("/reports/vet.pdf").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/reports/day-book.pdf?from=spring").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/reports/nothing.pdf").await.status, StatusCode::NOT_FOUND);
    let none = house.get("/reports/day-book.pdf?bird=").await;
    assert!(none.text().contains("No PDF can be made here"), "{}", none.text());
    assert_eq!(house.get("/reports/day-book?bird=").await.status, StatusCode::OK);
}
