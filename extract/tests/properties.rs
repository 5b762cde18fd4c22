//! What must hold for any text at all.

use extract::{Context, Lexicon, read};
use note::Entry;
use proptest::prelude::*;
use std::collections::HashSet;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

fn context(current: Option<&str>) -> Context {
    serde_json::from_value(serde_json::json!({
        "at": "2026-03-14T18:10:00+00:00",
        "birds": [
            {"name": "Sedge", "aliases": ["Sedgie"], "sex": "female", "last_grams": 938},
            {"name": "Rook", "sex": "male", "last_grams": 640},
            {"name": "Mote", "sex": "male", "last_grams": 107.4}
        ],
        "current_bird": current,
        "units": "metric"
    }))
    .unwrap()
}

fn entries(text: &str) -> Vec<Entry> {
    read(text, None, &context(Some("Sedge")), Lexicon::built_in())
}

/// Pieces of notes, so that random texts reach deep into the grammar.
fn piece() -> impl Strategy<Value = String> {
    let words = [
        "10:12",
        "this morning",
        "last night",
        "at",
        "the same",
        "took one",
        "missed another",
        "rabbit",
        "Sedge",
        "Rook",
        "mote",
        "nine",
        "forty-two",
        "6",
        "642",
        "9.42",
        "7-12",
        "oh",
        "point",
        "five",
        "and",
        "a",
        "half",
        "quarter",
        "grams",
        "kilos",
        "pounds",
        "ounces",
        "chick",
        "chicks",
        "quail",
        "leg",
        "left",
        "refused",
        "gave her",
        "she's",
        "he",
        "no",
        "sorry",
        "make that",
        "I mean",
        "bating",
        "keen",
        "very",
        "a lot",
        "once",
        "not",
        "crop",
        "keel",
        "mutes",
        "cast",
        "green",
        "sharp",
        "yesterday",
        "last night",
        "at seven",
        "this morning",
        "half past",
        "tomorrow",
        "flights",
        "to the lure",
        "longest",
        "metres",
        "free",
        "on the creance",
        "out of",
        "ten",
        "instant",
        "overall",
        "rabbit",
        "missed",
        "took",
        "chased",
        "bell",
        "lost a",
        "fitted",
        "first time",
        "started",
        "my brother's",
        "falcon",
        "both",
        "the other one",
        ",",
        ".",
        "?",
        "-",
        "/",
        ":",
        "£",
        "½",
        "°",
        "…",
        "\u{301}",
        "🦅",
        "who'd",
        "cray ants",
        "minus",
        "degrees",
        "raining",
        "hood",
        "foot",
        "swollen",
    ];
    prop_oneof![
        8 => prop::sample::select(words.to_vec()).prop_map(str::to_owned),
        1 => "\\PC{0,12}",
    ]
}

fn note_text() -> impl Strategy<Value = String> {
    prop::collection::vec(piece(), 0..60).prop_map(|p| p.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn spans_quote_exactly_and_values_are_sane(text in note_text()) {
        for entry in entries(&text) {
            let [start, end] = entry.span;
            let quote: String = text.chars().skip(start).take(end - start).collect();
            prop_assert!(start < end);
            prop_assert_eq!(&quote, &entry.quote);
            prop_assert!((0.0..=1.0).contains(&entry.confidence));
        }
    }

    #[test]
    fn no_entry_comes_twice(text in note_text()) {
        let mut seen = HashSet::new();
        for entry in entries(&text) {
            let key = format!("{:?} {:?} {}", entry.value, entry.bird, entry.at);
            prop_assert!(seen.insert(key.clone()), "{}", key);
        }
    }

    #[test]
    fn reading_again_gives_the_same(text in note_text()) {
        prop_assert_eq!(entries(&text), entries(&text));
    }

    #[test]
    fn any_text_at_all_is_read(text in any::<String>()) {
        entries(&text);
        read(&text, None, &context(None), Lexicon::built_in());
    }

    /// Clauses of different birds may come in any order.
    #[test]
    fn the_order_of_birds_does_not_matter(a in 0_usize..8, b in 0_usize..8) {
        let told = [
            "641, two chicks and keen", "six thirty-five", "half crop, no bating", "flew well", "a quail leg, mutes normal",
            "very nervous, bating a lot", "cast, crop empty", "eight flights to the fist, longest 40 metres",
        ];
        let (rook, mote) = (format!("Rook, {}.", told[a]), format!("Mote, {}.", told[b].replace("641", "107").replace("six thirty-five", "one oh six")));
        let sort = |text: String| {
            let mut all: Vec<String> = entries(&text).iter().map(|e| format!("{:?} {:?} {:?}", e.bird, e.value, e.flags)).collect();
            all.sort();
            all
        };
        prop_assert_eq!(sort(format!("{rook} {mote}")), sort(format!("{mote} {rook}")));
    }
}

#[test]
fn probabilities_never_move_a_value() {
    let text = "Sedge, 941 grams, two chicks, bating a lot.";
    let words: Vec<note::Word> =
        text.split(' ').map(|w| note::Word { word: w.into(), start_s: 0.0, end_s: 0.1, p: 0.1 }).collect();
    let sure = entries(text);
    let unsure = read(text, Some(&words), &context(Some("Sedge")), Lexicon::built_in());
    assert_eq!(
        sure.iter().map(|e| &e.value).collect::<Vec<_>>(),
        unsure.iter().map(|e| &e.value).collect::<Vec<_>>()
    );
    assert!(unsure[0].flags.contains(&note::Flag::LowSpeechConfidence));
    assert!(unsure[0].confidence < sure[0].confidence);
}

/// Time that this thread has worked, so that a busy machine is not taken for a slow rule; where the
/// system does not tell it, time passed.
fn busy() -> Duration {
    static START: LazyLock<Instant> = LazyLock::new(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanos = told.and_then(|t| t.split_whitespace().next()?.parse().ok());
    nanos.map_or_else(|| START.elapsed(), Duration::from_nanos)
}

/// Time grows with the text, not with its square: twice the text takes about twice as long.
#[test]
fn reading_is_linear() {
    let worst = [
        "Sedge nine forty-two two chicks and a quail leg bating a lot no mantling crop empty ",
        "no sorry make that six ",
        "half past ",
        "six forty two ",
        "my brother's falcon ",
        "she was ",
        "Rook ",
        "and ",
        "one point ",
    ];
    for unit in worst {
        let time = |times: usize| {
            let text = unit.repeat(times);
            let start = busy();
            entries(&text);
            (busy() - start).as_secs_f64()
        };
        let n = 16_000 / unit.len();
        let (short, long) = (time(n).max(5e-3), time(8 * n));
        assert!(long / short < 40.0, "{unit:?}: {short:.4} s for one, {long:.4} s for eight");
    }
}

#[test]
fn a_day_named_in_the_next_sentence_is_not_read_into_this_one() {
    for text in ["A rabbit 10:12. This morning a", "Cast at half past six. Last night", "9.15am. Yesterday"] {
        entries(text);
    }
}
