//! Spreadsheets in, tables out.

use chrono::DateTime;
use handover::{bring_in, days_csv, entries_csv, entries_json, preview};
use note::*;
use store::{BirdDetails, Span, Store, Who};

fn record(birds: &[&str]) -> (Store, tempfile::TempDir, Who) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let who = Who::new("Ada", "desk");
    for name in birds {
        store.add_bird(BirdDetails { name: (*name).into(), ..BirdDetails::default() }, &who).unwrap();
    }
    (store, folder, who)
}

/// What the first good row says: date, bird, grams.
fn first(text: &str, birds: &[&str]) -> (String, String, Option<f64>, u64, usize) {
    let (store, _folder, _) = record(birds);
    let seen = preview(&store, text.as_bytes(), None).unwrap();
    let row = seen.first.first().unwrap_or_else(|| panic!("{seen:#?}"));
    (row.at.naive_local().to_string(), row.bird.clone(), row.grams, seen.good, seen.bad.len())
}

#[test]
fn the_usual_tables_are_understood() {
    // Factors: NIST Handbook 44, Appendix C.
    let cases: &[(&str, (&str, &str, f64))] = &[
        ("Date,Weight (g)\n2024-03-14,642\n", ("2024-03-14 08:00:00", "Sedge", 642.0)),
        ("Date;Weight g\n14.03.2024;642,5\n15.03.2024;640,0\n", ("2024-03-14 08:00:00", "Sedge", 642.5)),
        ("date\ttime\tbird\tgrams\n14/03/2024\t16:30\tSedge\t642\n", ("2024-03-14 16:30:00", "Sedge", 642.0)),
        ("Day,Morning weight\n3/14/2024,642g\n3/15/2024,640g\n", ("2024-03-14 08:00:00", "Sedge", 642.0)),
        ("Date,Weight\n14 Mar 2024,1 lb 6 1/2 oz\n", ("2024-03-14 08:00:00", "Sedge", 637.9)),
        ("Date,Weight oz\n\"Thu, 14 March 2024\",22¾\n", ("2024-03-14 08:00:00", "Sedge", 645.0)),
        ("When,Weight\n2024-03-14 07:15,\"1,085 g\"\n", ("2024-03-14 07:15:00", "Sedge", 1085.0)),
        ("Date,Weight kg\n45365,0.642\n45366,0.640\n", ("2024-03-14 08:00:00", "Sedge", 642.0)),
        ("14/03/2024,Sedge,642 g\n15/03/2024,Sedge,640 g\n", ("2024-03-14 08:00:00", "Sedge", 642.0)),
        ("[{\"date\":\"2024-03-14\",\"weight_g\":642}]", ("2024-03-14 08:00:00", "Sedge", 642.0)),
    ];
    for (text, (date, bird, grams)) in cases {
        let (at, name, weight, _, bad) = first(text, &["Sedge"]);
        assert_eq!((at.as_str(), name.as_str(), weight, bad), (*date, *bird, Some(*grams), 0), "{text}");
    }
}

#[test]
fn bad_rows_are_listed_and_the_rest_is_kept_once() {
    let (store, _folder, who) = record(&["Sedge", "Flint"]);
    let text = "Date,Bird,Weight (g),Response,Remarks\n\
        14/03/2024,Sedge,642,4,good\n\
        15/03/2024,Sedge,641,,\n\
        16/03/2024,sedge,640,5,\n\
        17/03/2024,Sedge,639,,\n\
        18/03/2024,Sedge,638,,\n\
        19/03/2024,Sedge,6370,,slip\n\
        40/03/2024,Sedge,642,,\n\
        20/03/2024,Nobody,642,,\n\
        21/03/2024,Flint,two hundred,,\n\
        22/03/2024,Flint,210,9,\n\
        23/03/2024,Flint,210,3,=cmd|'/c calc'!A1\n\
        24/03/2024,Flint,,,\n";
    let seen = preview(&store, text.as_bytes(), None).unwrap();
    assert_eq!(seen.good, 6, "{seen:#?}");
    assert_eq!(seen.bad.iter().map(|b| b.line).collect::<Vec<_>>(), [7, 8, 9, 10, 11, 13]);
    assert!(seen.reasons.iter().any(|r| r.contains("tells the unit")));
    let done = bring_in(&store, text.as_bytes(), "weights.csv", &seen.mapping, &who).unwrap();
    assert_eq!((done.rows, done.known, done.bad.len()), (6, 0, 6));
    let again = bring_in(&store, text.as_bytes(), "weights.csv", &seen.mapping, &who).unwrap();
    assert_eq!((again.rows, again.known), (0, 6));
    assert_eq!(store.read_evidence(&done.original).unwrap(), text.as_bytes());
    let sedge = store.bird_named("Sedge").unwrap().unwrap().id;
    let flint = store.bird_named("Flint").unwrap().unwrap().id;
    let days = store.days(&sedge, Span::ALL).unwrap();
    assert_eq!(days.iter().filter_map(|d| d.grams).collect::<Vec<_>>(), [642.0, 641.0, 640.0, 639.0, 638.0]);
    assert_eq!(days[0].response, Grade::new(4));
    assert!(store.verify().unwrap().is_clean());

    // Out again: no cell is a formula, and every weight is there.
    let csv = entries_csv(&store, &[sedge.clone(), flint.clone()], Span::ALL, "Ada").unwrap();
    assert!(csv.contains("'=cmd|") && !csv.contains(",=cmd"));
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let at = reader.headers().unwrap().iter().position(|h| h == "grams").unwrap();
    let grams: Vec<f64> = reader.records().filter_map(|r| r.unwrap()[at].parse().ok()).collect();
    assert_eq!(grams, [642.0, 641.0, 640.0, 639.0, 638.0, 210.0]);
    assert_eq!(days_csv(&store, &sedge, Span::ALL).unwrap().lines().count(), 6);
    // The lines follow the entry contract and come in again, here or elsewhere.
    let json = entries_json(&store, &[sedge, flint], Span::ALL, "Ada").unwrap();
    for line in json.lines() {
        serde_json::from_str::<Entry>(line).unwrap();
    }
    let (other, _folder, who) = record(&["Sedge", "Flint"]);
    let seen = preview(&other, json.as_bytes(), None).unwrap();
    let done = bring_in(&other, json.as_bytes(), "entries.jsonl", &seen.mapping, &who).unwrap();
    assert!(done.rows >= 6, "{seen:#?}");
    let sedge = other.bird_named("Sedge").unwrap().unwrap().id;
    assert_eq!(other.days(&sedge, Span::ALL).unwrap().iter().filter_map(|d| d.grams).count(), 5);
}

#[test]
fn the_unit_of_bare_numbers_comes_from_what_the_birds_weigh() {
    for (target, text, unit) in [
        (Some(640.0), "Date,Weight\n2024-03-14,22.5\n2024-03-15,22.6\n", MassUnit::Oz),
        (Some(640.0), "Date,Weight\n2024-03-14,0.642\n", MassUnit::Kg),
        (Some(640.0), "Date,Weight\n2024-03-14,642\n", MassUnit::G),
        (None, "Date,Weight\n2024-03-14,642\n", MassUnit::G),
        (None, "Date,Weight\n2024-03-14,22.5\n", MassUnit::Oz),
    ] {
        let (store, _folder, who) = record(&[]);
        store
            .add_bird(BirdDetails { name: "Sedge".into(), target_g: target, ..BirdDetails::default() }, &who)
            .unwrap();
        let seen = preview(&store, text.as_bytes(), None).unwrap();
        assert_eq!(seen.mapping.unit, unit, "{text} {:?}", seen.reasons);
        assert!(seen.reasons.iter().any(|r| r.contains("Bare numbers")));
        let row = &seen.first[0];
        assert!(!row.unit_written);
    }
}

#[test]
fn what_is_no_table_is_refused_in_words() {
    let (store, _folder, _) = record(&["Sedge"]);
    for bytes in [&b"PK\x03\x04workbook"[..], b"", b"\n\n", b"[1,2]", b"{\"a\""] {
        assert!(preview(&store, bytes, None).is_err());
    }
    let wide: Vec<u8> =
        "\u{feff}Date,Weight g\n2024-03-14,642\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(preview(&store, &wide, None).unwrap().good, 1);
    let latin = b"Date,Weight g,Remark\n2024-03-14,642,caf\xe9\n";
    assert_eq!(preview(&store, latin, None).unwrap().first[0].remarks, ["café"]);
}

#[test]
fn a_row_keeps_its_time_and_offset() {
    let (store, _folder, who) = record(&["Sedge"]);
    let text = "Date,Weight g\n2024-07-01T07:05:00+02:00,642\n";
    let seen = preview(&store, text.as_bytes(), None).unwrap();
    bring_in(&store, text.as_bytes(), "a.csv", &seen.mapping, &who).unwrap();
    let sedge = store.bird_named("Sedge").unwrap().unwrap().id;
    let want = DateTime::parse_from_rfc3339("2024-07-01T07:05:00+02:00").unwrap();
    assert_eq!(store.days(&sedge, Span::ALL).unwrap()[0].at, want);
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(40))]
    /// Any bytes at all: an answer or a refusal, never a panic.
    #[test]
    fn any_bytes_are_survived(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..300), text in "[0-9/,.;:\\n \"a-z½=+-]{0,200}") {
        let (store, _folder, _) = record(&["Sedge"]);
        let _ = preview(&store, &bytes, None);
        let _ = preview(&store, text.as_bytes(), None);
    }
}
