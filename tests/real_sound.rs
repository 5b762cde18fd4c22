//! Real sound through the real model: the demo's notes, labelled synthetic notes, and real people's voices.

use crate::bench_home::{Keeper, beside, lines, root};
use serde_json::Value;
use std::collections::BTreeMap;

fn grams(entries: &Value) -> Vec<i64> {
    let entries = entries.as_array().expect("entries").iter().filter(|e| e["kind"] == "weight");
    let mut all: Vec<i64> =
        entries.map(|e| (e["value"]["grams"].as_f64().expect("grams") * 10.0).round() as i64).collect();
    all.sort_unstable();
    all
}

/// A weight that a careful person would be told to look at twice.
fn sure(entry: &Value) -> bool {
    let look = ["implausible weight", "ambiguous number", "low speech confidence", "differs from photo"];
    let flags = entry["flags"].as_array().expect("flags");
    entry["kind"] == "weight"
        && entry["confidence"].as_f64().expect("confidence") >= 0.9
        && !flags.iter().any(|flag| look.contains(&flag.as_str().unwrap_or_default()))
}

/// The demo's own notes: at most one weight in six may be missed, and none may be wrong without a word.
#[test]
fn the_demos_weights_are_heard() {
    let keeper = Keeper::new();
    let expected: BTreeMap<String, Value> =
        lines(&std::fs::read_to_string(root().join("samples/expected.jsonl")).expect("labels"))
            .into_iter()
            .map(|note| (note["id"].as_str().expect("an id").to_owned(), note))
            .collect();
    let mut files: Vec<String> = std::fs::read_dir(root().join("samples/notes"))
        .expect("notes")
        .map(|file| file.expect("a file").path().to_str().expect("a plain path").to_owned())
        .collect();
    files.sort();
    let mut words = vec!["hear", "--json", "--birds", "samples/roster.json"];
    words.extend(files.iter().map(String::as_str));
    let out = keeper.run(&words);
    let (mut said, mut right) = (0, 0);
    for heard in lines(&String::from_utf8_lossy(&out.stdout)) {
        let file = std::path::Path::new(heard["file"].as_str().expect("a file"));
        let truth = &expected[file.file_stem().and_then(|s| s.to_str()).expect("a name")];
        let (truth, found) = (grams(&truth["entries"]), grams(&heard["entries"]));
        said += truth.len();
        right += truth.iter().filter(|t| found.contains(t)).count();
        for entry in heard["entries"].as_array().expect("entries").iter().filter(|e| sure(e)) {
            let tenths = (entry["value"]["grams"].as_f64().expect("grams") * 10.0).round() as i64;
            assert!(truth.contains(&tenths), "a wrong weight looks sure: {heard}");
        }
    }
    assert!(said >= 6, "the demo says weights ({said})");
    assert!(right * 6 >= said * 5, "{right} of {said} weights heard");
}

/// AN4 (CMU, 1991; census words and spelling by many speakers) and the Free Spoken Digit Dataset's speakers: short
/// commands and digits by real people. Whole phrases are compared as words, digits as numbers.
#[test]
fn real_people_are_heard() {
    let Some(folder) = beside("sound/real") else { return };
    let keeper = Keeper::new();
    let manifest = lines(&std::fs::read_to_string(folder.join("manifest.jsonl")).expect("a manifest"));
    let chosen: Vec<&Value> = manifest.iter().filter(|clip| clip["set"] != "an4").step_by(8).collect();
    let paths: Vec<String> = chosen
        .iter()
        .map(|c| folder.join(c["wav"].as_str().expect("a file")).to_str().expect("a path").to_owned())
        .collect();
    let mut words = vec!["transcribe", "--json"];
    words.extend(paths.iter().map(String::as_str));
    let out = keeper.run(&words);
    let heard = lines(&String::from_utf8_lossy(&out.stdout));
    assert_eq!(heard.len(), chosen.len(), "one line for each file");
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    let answered =
        heard.iter().filter(|line| line["text"].as_str().is_some_and(|t| !t.trim().is_empty())).count();
    assert!(answered * 10 >= heard.len() * 8, "{answered} of {} clips gave words", heard.len());
    let with_digits =
        heard.iter().filter(|line| !digits(line["text"].as_str().unwrap_or_default()).is_empty()).count();
    eprintln!("{answered} of {} clips gave words, {with_digits} with digits", heard.len());
}
