//! The whole way on real sound: a recording and a photo in, proposals, a keeper's word, the day, and proof.

use crate::bench_home::{Keeper, lines, root};
use serde_json::Value;

fn weights(entries: &Value) -> Vec<f64> {
    let entries = entries.as_array().expect("entries");
    let weights = entries.iter().filter(|e| e["kind"] == "weight");
    weights.map(|e| e["value"]["grams"].as_f64().expect("grams")).collect()
}

fn sample(name: &str) -> String {
    root().join("samples").join(name).to_str().expect("a plain path").to_owned()
}

#[test]
fn a_note_and_its_photo_become_a_confirmed_day() {
    let keeper = Keeper::new();
    let details = store::BirdDetails { name: "Sedge".into(), ..Default::default() };
    let record = store::Store::open(keeper.home()).expect("a record");
    record.add_bird(details, &store::Who::new("Wren Aldous", "desk")).expect("a bird");
    drop(record);
    let note = sample("notes/s05.flac");
    let taken = lines(&keeper.ok(&["take-in", "--json", &note]));
    assert_eq!(
        (taken[0]["as"].as_str(), taken[0]["status"].as_str()),
        (Some("note"), Some("new")),
        "{}",
        taken[0]
    );
    assert_eq!(weights(&taken[0]["entries"]), [929.0], "what the voice says: {}", taken[0]);

    let again = lines(&keeper.ok(&["take-in", "--json", &note]));
    assert_eq!(again[0]["status"], "known", "the same bytes are kept once");
    assert_eq!(again[0]["id"], taken[0]["id"]);

    let photo = lines(&keeper.ok(&["take-in", "--json", &sample("photos/p02.jpg")]));
    assert_eq!(
        (photo[0]["as"].as_str(), photo[0]["status"].as_str()),
        (Some("photo"), Some("new")),
        "{}",
        photo[0]
    );

    let waiting = lines(&keeper.ok(&["confirm", "--json"]));
    let id =
        waiting.iter().find(|w| w["proposed"]["kind"] == "weight").expect("a weight waits")["entry"].clone();
    keeper.ok(&["confirm", "--accept", id.as_str().expect("an id")]);
    let left = lines(&keeper.ok(&["confirm", "--json"]));
    assert!(left.iter().all(|w| w["entry"] != id), "what is confirmed waits no more");
    keeper.ok(&["confirm", "--undo"]);
    let back = lines(&keeper.ok(&["confirm", "--json"]));
    assert!(back.iter().any(|w| w["entry"] == id), "an undone decision waits again");
    keeper.ok(&["verify"]);
}

#[test]
fn a_bad_file_says_what_is_wrong_and_the_others_go_on() {
    let keeper = Keeper::new();
    let bad = keeper.home().join("torn.ogg");
    std::fs::write(&bad, b"OggS, or so it says").expect("a file");
    let empty = keeper.home().join("empty.wav");
    std::fs::write(&empty, b"").expect("a file");
    let out = keeper.run(&[
        "hear",
        "--json",
        bad.to_str().expect("a path"),
        &sample("notes/s05.flac"),
        empty.to_str().expect("a path"),
    ]);
    assert_eq!(out.status.code(), Some(1), "some input failed");
    let said = lines(&String::from_utf8_lossy(&out.stdout));
    assert_eq!(said.len(), 3);
    assert!(said[0]["error"].is_string() && said[2]["error"].is_string(), "{said:?}");
    assert!(said[1]["text"].as_str().is_some_and(|text| !text.is_empty()), "{said:?}");
}

#[test]
fn wrong_use_ends_with_two() {
    assert_eq!(Keeper::new().run(&["hear"]).status.code(), Some(2));
    assert_eq!(Keeper::new().run(&["no-such-verb"]).status.code(), Some(2));
}

#[test]
fn changed_evidence_is_found() {
    let keeper = Keeper::new();
    keeper.ok(&["take-in", "--json", &sample("photos/p01.jpg")]);
    keeper.ok(&["verify"]);
    let evidence = walk(&keeper.home().join("evidence"));
    let original = evidence.first().expect("one original");
    let mut bytes = std::fs::read(original).expect("it can be read");
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    let mut rights = std::fs::metadata(original).expect("it is there").permissions();
    #[allow(clippy::permissions_set_readonly_false)]
    rights.set_readonly(false);
    std::fs::set_permissions(original, rights).expect("rights");
    std::fs::write(original, bytes).expect("somebody alters it");
    let out = keeper.run(&["verify"]);
    assert!(!out.status.success(), "one bit is enough");
}

fn walk(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path());
    entries.flat_map(|path| if path.is_dir() { walk(&path) } else { vec![path] }).collect()
}
