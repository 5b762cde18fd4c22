//! Random lives of a record: the tables are always what the journal says, and undo is exact.

use crate::common::*;
use note::*;
use proptest::prelude::*;
use rusqlite::Connection;
use store::*;

/// One thing that happens; numbers choose among what is there.
#[derive(Clone, Debug)]
enum Deed {
    Note(u8, Vec<u8>),
    Again(u8, Vec<u8>),
    Photo(u8, u8),
    Read(u8, u8),
    Pair(u8, u8),
    Unpair(u8),
    Decide(Vec<(u8, u8)>),
    Amend(u8, u8),
    Strike(u8),
    Undo(u8),
    UndoLast,
    Rename(u8),
    Rebuild,
    Reopen,
}

fn deed() -> impl Strategy<Value = Deed> {
    let said = || proptest::collection::vec(any::<u8>(), 0..4);
    prop_oneof![
        4 => (any::<u8>(), said()).prop_map(|(at, said)| Deed::Note(at, said)),
        2 => (any::<u8>(), said()).prop_map(|(n, said)| Deed::Again(n, said)),
        3 => (any::<u8>(), any::<u8>()).prop_map(|(at, grams)| Deed::Photo(at, grams)),
        1 => (any::<u8>(), any::<u8>()).prop_map(|(n, grams)| Deed::Read(n, grams)),
        1 => (any::<u8>(), any::<u8>()).prop_map(|(n, to)| Deed::Pair(n, to)),
        1 => any::<u8>().prop_map(Deed::Unpair),
        6 => proptest::collection::vec((any::<u8>(), any::<u8>()), 1..4).prop_map(Deed::Decide),
        2 => (any::<u8>(), any::<u8>()).prop_map(|(n, grams)| Deed::Amend(n, grams)),
        1 => any::<u8>().prop_map(Deed::Strike),
        3 => any::<u8>().prop_map(Deed::Undo),
        2 => Just(Deed::UndoLast),
        1 => any::<u8>().prop_map(Deed::Rename),
        1 => Just(Deed::Rebuild),
        1 => Just(Deed::Reopen),
    ]
}

fn moment(n: u8) -> String {
    format!("2026-03-{:02}T08:{:02}:00+00:00", n % 3 + 1, n % 60)
}

fn said(when: &str, n: usize, seed: u8) -> Entry {
    let span = [n * 10, n * 10 + 8];
    let bird = ["Sedge", "Flint", "Nobody"][usize::from(seed) % 3];
    let value = match seed % 5 {
        0..=2 => weight(if bird == "Flint" { 200.0 } else { 640.0 } + f64::from(seed % 7)),
        3 => ate("quail", f64::from(seed % 4)),
        _ => remark("left foot swollen"),
    };
    entry(Some(bird), when, span, value)
}

/// Every entry of a note that stands, as the file holds it.
fn standing(home: &std::path::Path) -> Vec<String> {
    let db = Connection::open(home.join(DATABASE)).unwrap();
    let mut rows = db
        .prepare(
            "SELECT id, state, bird, kind, at_ms, said, now, by, decided, reason FROM entry
             WHERE note IS NOT NULL AND state <> 'withdrawn' ORDER BY seq",
        )
        .unwrap();
    let mut rows = rows.query([]).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push((0..10).map(|c| format!("{:?}", row.get_ref(c).unwrap())).collect::<Vec<_>>().join(" "));
    }
    out
}

fn pick<T: Clone>(all: &[T], n: u8) -> Option<T> {
    (!all.is_empty()).then(|| all[usize::from(n) % all.len()].clone())
}

fn live(deeds: Vec<Deed>) {
    let mut home = home();
    home.store.add_bird(bird("Sedge"), &ada()).unwrap();
    let flint = home.store.add_bird(bird("Flint"), &ada()).unwrap();
    let mut notes: Vec<NoteId> = Vec::new();
    let mut photos: Vec<PhotoId> = Vec::new();
    let mut entries: Vec<EntryId> = Vec::new();
    let mut acts: Vec<ActId> = Vec::new();
    for (n, deed) in deeds.into_iter().enumerate() {
        let store = &home.store;
        // Refusals are part of life; what must hold is checked after each deed.
        match deed {
            Deed::Note(at, seeds) => {
                let when = moment(at);
                let id = home.spoken(&n.to_le_bytes(), &when);
                let all = seeds.iter().enumerate().map(|(n, seed)| said(&when, n, *seed)).collect();
                entries.extend(store.propose(&id, all).unwrap());
                notes.push(id);
            }
            Deed::Again(which, seeds) => {
                if let Some(id) = pick(&notes, which) {
                    let when = store.note(&id).unwrap().at.to_rfc3339();
                    let all = seeds.iter().enumerate().map(|(n, seed)| said(&when, n, *seed)).collect();
                    entries.extend(store.propose(&id, all).unwrap());
                }
            }
            Deed::Photo(at, grams) => {
                let shown = (grams % 5 > 0).then(|| 640.0 + f64::from(grams % 7));
                photos.push(home.photo(&(n as u64 + 1_000_000).to_le_bytes(), &moment(at), shown));
            }
            Deed::Read(which, grams) => {
                if let Some(id) = pick(&photos, which) {
                    store.set_reading(&id, &reading(Some(200.0 + f64::from(grams % 7)))).unwrap();
                }
            }
            Deed::Pair(which, to) => {
                if let (Some(photo), Some(weight)) = (pick(&photos, which), pick(&entries, to)) {
                    let _ = store.pair(&photo, &weight, &ada());
                }
            }
            Deed::Unpair(which) => {
                if let Some(photo) = pick(&photos, which) {
                    store.unpair(&photo, &ada()).unwrap();
                }
            }
            Deed::Decide(choices) => {
                let decisions: Vec<Decision> = choices
                    .iter()
                    .filter_map(|(which, how)| {
                        let id = pick(&entries, *which)?;
                        Some(match how % 4 {
                            0 | 1 => Decision::accept(&id),
                            2 => {
                                let bird = if how % 8 == 2 { "Flint" } else { "Sedge" };
                                Decision::correct(
                                    &id,
                                    entry(Some(bird), &moment(*how), [0, 0], weight(f64::from(*how) + 100.0)),
                                )
                            }
                            _ => Decision::reject(&id, "no"),
                        })
                    })
                    .collect();
                let before = standing(home.folder.path());
                match store.decide(&decisions, &ada()) {
                    Ok(act) => {
                        acts.push(act);
                        // Undo is exact: then decide again.
                        let after = standing(home.folder.path());
                        store.undo(act, &ben()).unwrap();
                        assert_eq!(standing(home.folder.path()), before);
                        acts.push(store.decide(&decisions, &ada()).unwrap());
                        let again = standing(home.folder.path());
                        assert_eq!(again.len(), after.len());
                    }
                    Err(_) => assert_eq!(standing(home.folder.path()), before, "all or none"),
                }
            }
            Deed::Amend(which, grams) => {
                if let Some(id) = pick(&entries, which) {
                    let before = standing(home.folder.path());
                    let to = entry(Some("Flint"), &moment(grams), [0, 0], weight(f64::from(grams) + 90.0));
                    if let Ok(act) = store.amend(&id, to, "again", &ben()) {
                        store.undo(act, &ben()).unwrap();
                        assert_eq!(standing(home.folder.path()), before);
                    }
                }
            }
            Deed::Strike(which) => {
                if let Some(id) = pick(&entries, which)
                    && let Ok(act) = store.strike(&id, "not hers", &ben())
                {
                    acts.push(act);
                }
            }
            Deed::Undo(which) => {
                if let Some(act) = pick(&acts, which) {
                    let _ = store.undo(act, &ada());
                }
            }
            Deed::UndoLast => {
                let _ = store.undo_last(&ada());
            }
            Deed::Rename(n) => {
                store.change_bird(&flint, bird(["Flint", "Flinty"][usize::from(n) % 2]), &ada()).unwrap();
                store.change_bird(&flint, bird("Flint"), &ada()).unwrap();
            }
            Deed::Rebuild => store.rebuild().unwrap(),
            Deed::Reopen => home.store = open(home.folder.path(), &home.clock),
        }
        let db = Connection::open(home.folder.path().join(DATABASE)).unwrap();
        let twice: i64 = db
            .query_row(
                "SELECT (SELECT count(*) FROM pair) - (SELECT count(DISTINCT entry) FROM pair)",
                [],
                |r| r.get(0),
            )
            .unwrap();
        assert_eq!(twice, 0, "nothing is paired twice");
    }
    home.clean();
    for id in entries {
        home.store.record(&id).unwrap();
        home.store.steps(&id).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn the_tables_are_what_the_journal_says(deeds in proptest::collection::vec(deed(), 1..40)) {
        live(deeds);
    }
}
