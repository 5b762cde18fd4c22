//! The line contract: JSON lines in, JSON lines out.

use serde_json::Value;

fn answers(input: &str) -> (bool, Vec<Value>) {
    let mut output = Vec::new();
    let all = extract::lines::run(input.as_bytes(), &mut output).unwrap();
    let lines = String::from_utf8(output).unwrap();
    (all, lines.lines().map(|l| serde_json::from_str(l).unwrap()).collect())
}

#[test]
fn a_note_gives_its_entries() {
    let (all, out) = answers(
        r#"{"id":"n1","text":"Sedge, 642 grams.","at":"2026-03-14T08:10:00+00:00","birds":[{"name":"Sedge","last_grams":640}]}"#,
    );
    assert!(all);
    assert_eq!(out[0]["id"], "n1");
    assert_eq!(out[0]["entries"][0]["value"]["grams"], 642.0);
    assert_eq!(out[0]["entries"][0]["bird"], "Sedge");
}

#[test]
fn a_bad_line_is_answered_and_the_others_go_on() {
    let good = r#"{"id":"n2","text":"642","at":"2026-03-14T08:10:00+00:00"}"#;
    let (all, out) = answers(&format!("not json\n\n{{\"id\":\"n1\",\"text\":5}}\n{good}\n"));
    assert!(!all);
    assert_eq!(out.len(), 3);
    assert_eq!(out[0]["line"], 1);
    assert!(out[0]["error"].is_string());
    assert_eq!(out[1]["id"], "n1");
    assert_eq!(out[2]["id"], "n2");
    assert!(out[2]["entries"].is_array());
}
