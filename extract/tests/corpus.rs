//! The corpora beside the rules: one meaning, many ways; and what must yield nothing.

use extract::{Context, Lexicon, read};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus")
}

fn texts(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "txt"));
    files.sort();
    files
}

/// An entry that must come out.
struct Wanted {
    kind: String,
    value: Value,
    bird: Option<String>,
    at: Option<String>,
    flags: Vec<String>,
}

/// `KIND {JSON} [@BIRD] [at TIME] [!flag]`
fn wanted(line: &str) -> Wanted {
    let (kind, rest) = line.split_once(' ').unwrap();
    let end = rest.rfind('}').unwrap() + 1;
    let value = serde_json::from_str(&rest[..end]).unwrap_or_else(|e| panic!("{line}: {e}"));
    let mut wanted = Wanted { kind: kind.into(), value, bird: None, at: None, flags: Vec::new() };
    let mut words = rest[end..].trim();
    if let Some((before, flag)) = words.split_once('!') {
        wanted.flags.push(flag.trim().into());
        words = before.trim();
    }
    let mut parts = words.split_whitespace();
    while let Some(word) = parts.next() {
        if let Some(bird) = word.strip_prefix('@') {
            wanted.bird = Some(bird.into());
        } else if word == "at" {
            wanted.at = parts.next().map(Into::into);
        }
    }
    wanted
}

/// What is wrong with the reading of an utterance, if anything.
fn fault(context: &Context, utterance: &str, wanted: &[Wanted]) -> Option<String> {
    let text: String = utterance.chars().filter(|c| !matches!(c, '[' | ']')).collect();
    let entries = read(&text, None, context, Lexicon::built_in());
    let said: Vec<Value> = entries.iter().map(|e| serde_json::to_value(e).unwrap()).collect();
    if said.is_empty() {
        return Some("empty result".into());
    }
    let brief = || {
        said.iter()
            .map(|e| format!("{} {} {}", e["kind"], e["value"], e["bird"]))
            .collect::<Vec<_>>()
            .join("; ")
    };
    if said.len() != wanted.len() {
        return Some(format!("{} entries, not {}: {}", said.len(), wanted.len(), brief()));
    }
    for want in wanted {
        let fits = said.iter().any(|e| {
            e["kind"] == want.kind
                && e["value"] == want.value
                && want.bird.as_ref().is_none_or(|b| e["bird"] == *b)
                && want.flags.iter().all(|f| e["flags"].as_array().unwrap().contains(&json!(f)))
                && want.at.as_ref().is_none_or(|at| {
                    let instant = |t: &str| chrono::DateTime::parse_from_rfc3339(t).unwrap();
                    instant(e["at"].as_str().unwrap()) == instant(at)
                })
        });
        if !fits {
            return Some(format!("no {} {} among: {}", want.kind, want.value, brief()));
        }
    }
    // A single reading has to take in the whole utterance, but for what stands in brackets.
    if let ([_], [entry]) = (wanted, entries.as_slice()) {
        let mut depth = 0;
        let mut core = String::new();
        for c in utterance.chars() {
            match c {
                '[' => depth += 1,
                ']' => depth -= 1,
                c if depth == 0 => core.push(c),
                _ => {}
            }
        }
        let core = core.trim().trim_end_matches(['.', ',', ':', ';']);
        if entry.quote != core {
            return Some(format!("quote is \u{201c}{}\u{201d}, not \u{201c}{core}\u{201d}", entry.quote));
        }
    }
    None
}

#[test]
fn every_way_of_saying_it_is_read_in_full_and_in_one_way() {
    let (mut count, mut faults) = (0, Vec::new());
    for file in texts(&folder()) {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let (mut context, mut want): (Option<Context>, Vec<Wanted>) = (None, Vec::new());
        for (number, line) in fs::read_to_string(&file).unwrap().lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            if let Some(json) = line.strip_prefix("@ ") {
                context =
                    Some(serde_json::from_str(json).unwrap_or_else(|e| panic!("{name}:{}: {e}", number + 1)));
            } else if let Some(entry) = line.strip_prefix("= ") {
                want = vec![wanted(entry)];
            } else if let Some(entry) = line.strip_prefix("+ ") {
                want.push(wanted(entry));
            } else {
                count += 1;
                let context = context.as_ref().expect("a file begins with its context");
                if let Some(fault) = fault(context, line, &want) {
                    faults.push(format!("{name}:{}: \u{201c}{line}\u{201d}: {fault}", number + 1));
                }
            }
        }
    }
    assert!(count >= 300, "{count} utterances");
    assert!(faults.is_empty(), "{} of {count} utterances:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn ordinary_sentences_yield_nothing() {
    let context: Context = serde_json::from_value(json!({
        "at": "2026-03-14T08:10:00+00:00",
        "birds": [
            {"name": "Sedge", "sex": "female", "last_grams": 938},
            {"name": "Rook", "sex": "male", "last_grams": 640}
        ],
        "current_bird": "Sedge",
        "units": "metric"
    }))
    .unwrap();
    let (mut count, mut faults) = (0, Vec::new());
    for file in texts(&folder().join("never")) {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        for (number, line) in fs::read_to_string(&file).unwrap().lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            count += 1;
            let entries = read(line, None, &context, Lexicon::built_in());
            // A remark keeps words and claims nothing.
            let claims: Vec<String> = entries
                .iter()
                .filter(|e| e.kind() != note::Kind::Remark)
                .map(|e| format!("{} \u{201c}{}\u{201d}", serde_json::to_value(&e.value).unwrap(), e.quote))
                .collect();
            if !claims.is_empty() {
                faults.push(format!("{name}:{}: \u{201c}{line}\u{201d}: {}", number + 1, claims.join("; ")));
            }
        }
    }
    assert!(count >= 100, "{count} sentences");
    assert!(faults.is_empty(), "{} of {count} sentences:\n{}", faults.len(), faults.join("\n"));
}
