//! Keeping the record: backup and restore, damage and repair, other versions, full and closed disks.

use crate::common::*;
use note::*;
use rusqlite::Connection;
use std::fs;
use std::path::Path;
use store::*;

/// A record with something of everything in it: made once, then copied.
pub fn lived_in() -> Home {
    static MADE: std::sync::LazyLock<Home> = std::sync::LazyLock::new(make_lived_in);
    let folder = folder();
    fs::create_dir(folder.path().join("evidence")).unwrap();
    for (name, bytes) in originals(&MADE.folder.path().join("evidence")) {
        let place = folder.path().join("evidence").join(&name[..2]);
        fs::create_dir_all(&place).unwrap();
        fs::write(place.join(&name), bytes).unwrap();
    }
    fs::copy(MADE.folder.path().join(DATABASE), folder.path().join(DATABASE)).unwrap();
    let clock = std::sync::Arc::new(std::sync::atomic::AtomicI64::new(100_000));
    Home { store: open(folder.path(), &clock), folder, clock }
}

fn make_lived_in() -> Home {
    let home = home();
    let store = &home.store;
    store.add_bird(bird("Sedge"), &ada()).unwrap();
    for n in 0..30u32 {
        let when = format!("2026-03-{:02}T08:00:00+00:00", n % 28 + 1);
        let note = home.spoken(&n.to_le_bytes().repeat(900), &when);
        store.set_transcript(&note, &heard(&"six forty two ".repeat(n as usize * 8 + 1))).unwrap();
        let ids = store
            .propose(
                &note,
                vec![
                    entry(Some("Sedge"), &when, [0, 4], weight(640.0 + f64::from(n))),
                    entry(Some("Sedge"), &when, [5, 9], ate("quail", 0.5)),
                    entry(Some("Sedge"), &when, [10, 19], remark("looked well")),
                ],
            )
            .unwrap();
        let all: Vec<Decision> = ids.iter().take(2).map(Decision::accept).collect();
        store.decide(&all, &ada()).unwrap();
        if n % 7 == 0 {
            store.undo_last(&ada()).unwrap();
        }
        home.photo(&n.to_be_bytes(), &when, Some(640.0 + f64::from(n)));
    }
    store
        .add_scale_check("desk", Grams::new(500.0).unwrap(), Grams::new(500.0).unwrap(), at(START), &ada())
        .unwrap();
    // All in the one file, so that it can be copied.
    let db = Connection::open(home.folder.path().join(DATABASE)).unwrap();
    run(&db, "PRAGMA wal_checkpoint(TRUNCATE)");
    home
}

/// Everything in a database, table by table.
fn contents(file: &Path) -> Vec<String> {
    let db = Connection::open(file).unwrap();
    let tables: Vec<String> = db
        .prepare("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<rusqlite::Result<_>>()
        .unwrap();
    let mut out = Vec::new();
    for table in tables {
        let mut rows = db.prepare(&format!("SELECT * FROM {table}")).unwrap();
        let columns = rows.column_count();
        let mut rows = rows.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let values: Vec<_> = (0..columns).map(|c| row.get_ref(c).unwrap()).collect();
            out.push(format!("{table} {values:?}"));
        }
    }
    out
}

fn originals(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut out: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .flat_map(|inner| fs::read_dir(inner.unwrap().path()).unwrap())
        .map(|file| {
            let path = file.unwrap().path();
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&path).unwrap())
        })
        .collect();
    out.sort();
    out
}

#[test]
fn a_backup_comes_back_equal() {
    let home = lived_in();
    let outside = folder();
    let to = outside.path().join("backup");
    let first = home.store.backup(&to, None).unwrap();
    assert_eq!((first.new, first.known), (60, 0));
    home.spoken(b"one more", START);
    let second = home.store.backup(&to, None).unwrap();
    assert_eq!((second.new, second.known), (1, 60), "only new originals are copied");
    assert!(second.lines > first.lines);

    let back = outside.path().join("back");
    let restored = Store::restore(&to, &back, None).unwrap();
    assert!(restored.troubles.is_empty(), "{restored:?}");
    assert_eq!(restored.head, second.head);
    assert_eq!(originals(&back.join("evidence")), originals(&home.folder.path().join("evidence")));
    assert_eq!(contents(&back.join(DATABASE)), contents(&home.folder.path().join(DATABASE)));
    // Not over a record, not into the data folder, not over another record's backup.
    assert!(matches!(Store::restore(&to, &back, None), Err(StoreError::Refused(_))));
    assert!(home.store.backup(&home.folder.path().join("b"), None).is_err());
    assert!(matches!(make_lived_in().store.backup(&to, None), Err(StoreError::Refused(_))));
    let full = outside.path().join("full");
    fs::create_dir(&full).unwrap();
    fs::write(full.join("letter.txt"), "mine").unwrap();
    assert!(home.store.backup(&full, None).is_err());
}

/// The database and what is said of it cannot change places at one moment: whichever of the two databases a cut
/// leaves, it comes back, and the next backup goes on.
#[test]
fn a_backup_cut_off_while_its_database_is_exchanged_comes_back() {
    let home = lived_in();
    let outside = folder();
    let to = outside.path().join("backup");
    let (database, said) = (to.join(DATABASE), to.join("backup.json"));
    let read = |path: &Path| fs::read(path).unwrap();
    let first = home.store.backup(&to, None).unwrap();
    let (old, before) = (read(&database), read(&said));
    home.spoken(b"one more", START);
    let second = home.store.backup(&to, None).unwrap();
    let new = read(&database);

    let mut both: serde_json::Value = serde_json::from_slice(&read(&said)).unwrap();
    both["before"] = serde_json::from_slice(&before).unwrap();
    fs::write(&said, serde_json::to_vec(&both).unwrap()).unwrap();
    for (place, bytes, lines) in [("old", &old, first.lines), ("new", &new, second.lines)] {
        fs::write(&database, bytes).unwrap();
        let restored = Store::restore(&to, &outside.path().join(place), None).unwrap();
        assert_eq!((restored.lines, restored.troubles), (lines, vec![]), "{place}");
    }
    fs::write(&database, &old).unwrap();
    assert_eq!(home.store.backup(&to, None).unwrap().lines, second.lines);
    assert_eq!(Store::restore(&to, &outside.path().join("next"), None).unwrap().lines, second.lines);

    // A first backup that was cut off is no backup yet, and the next one takes its place.
    let cut = outside.path().join("cut");
    fs::create_dir_all(cut.join("evidence")).unwrap();
    fs::write(cut.join(format!("{DATABASE}.part")), &old[..1000]).unwrap();
    assert!(matches!(Store::restore(&cut, &outside.path().join("none"), None), Err(StoreError::Refused(_))));
    home.store.backup(&cut, None).unwrap();
    assert_eq!(Store::restore(&cut, &outside.path().join("cut back"), None).unwrap().lines, second.lines);
}

#[cfg(feature = "encrypt")]
#[test]
fn a_locked_backup_needs_its_passphrase_and_nothing_else_can_be_read() {
    let home = lived_in();
    let outside = folder();
    let to = outside.path().join("backup");
    assert!(matches!(home.store.backup(&to, Some("short")), Err(StoreError::Passphrase(_))));
    home.store.backup(&to, Some("over the fell at dusk")).unwrap();
    home.spoken(b"one more", START);
    let again = home.store.backup(&to, None).unwrap();
    assert_eq!((again.new, again.known), (1, 60), "brought up to date without the passphrase");
    assert!(matches!(home.store.backup(&to, Some("another passphrase")), Err(StoreError::Passphrase(_))));
    for (name, bytes) in originals(&to.join("evidence")) {
        assert!(name.ends_with(".age") && seal::is_sealed(&bytes));
    }
    assert!(seal::is_sealed(&fs::read(to.join("varvel.db.age")).unwrap()));
    let back = outside.path().join("back");
    assert!(matches!(Store::restore(&to, &back, None), Err(StoreError::Passphrase(_))));
    assert!(matches!(Store::restore(&to, &back, Some("over the hill")), Err(StoreError::Passphrase(_))));
    Store::restore(&to, &back, Some("over the fell at dusk")).unwrap();
    assert_eq!(contents(&back.join(DATABASE)), contents(&home.folder.path().join(DATABASE)));
    // The reference program opens it too (external check), where it is installed; it asks for the
    // passphrase on a terminal, which `script` makes.
    use std::io::Write;
    let commands = "age -d -o key key.age && age -d -i key -o plain.db varvel.db.age";
    let asked = std::process::Command::new("script")
        .args(["-qec", commands, "/dev/null"])
        .current_dir(&to)
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn();
    if let (Ok(mut asked), Ok(_)) = (asked, std::process::Command::new("age").arg("--version").output()) {
        asked.stdin.take().unwrap().write_all(b"over the fell at dusk\n").unwrap();
        assert!(asked.wait().unwrap().success());
        assert_eq!(contents(&to.join("plain.db")), contents(&back.join(DATABASE)));
    } else {
        println!("age or script is not installed: the locked backup was not checked against them");
    }
}

#[test]
fn a_backup_that_was_changed_is_found_out() {
    let home = lived_in();
    let outside = folder();
    let to = outside.path().join("backup");
    home.store.backup(&to, None).unwrap();
    let (name, _) = originals(&to.join("evidence")).remove(3);
    let path = to.join("evidence").join(&name[..2]).join(&name);
    make_writable(&path);
    fs::write(&path, b"another").unwrap();
    let restored = Store::restore(&to, &outside.path().join("one"), None).unwrap();
    assert_eq!(restored.troubles.len(), 1, "{restored:?}");
    assert!(restored.troubles[0].contains(&name));
    let db = Connection::open(to.join(DATABASE)).unwrap();
    db.execute("UPDATE entry SET by = 'Nobody' WHERE seq = (SELECT min(seq) FROM entry)", []).unwrap();
    drop(db);
    assert!(matches!(Store::restore(&to, &outside.path().join("two"), None), Err(StoreError::Damaged(_))));
}

fn make_writable(path: &Path) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o600)).unwrap();
}

#[test]
fn any_change_to_a_line_an_original_or_a_row_is_found() {
    type Change = (&'static str, fn(&Connection), &'static str);
    let changes: &[Change] = &[
        (
            "a line's body",
            |db| {
                run(
                    db,
                    "UPDATE journal SET body = replace(body, '640', '460') WHERE seq = (SELECT min(seq) FROM journal WHERE body LIKE '%640%')",
                )
            },
            "was changed",
        ),
        (
            "a line's time",
            |db| run(db, "UPDATE journal SET body = replace(body, '2026-03-14', '2026-03-13') WHERE seq = 2"),
            "was changed",
        ),
        (
            "the last line",
            |db| {
                run(
                    db,
                    "UPDATE journal SET body = replace(body, 'desk', 'disk') WHERE seq = (SELECT max(seq) FROM journal)",
                )
            },
            "was changed",
        ),
        (
            "a bird's chain",
            |db| {
                run(
                    db,
                    "UPDATE journal SET bird = 'b0' WHERE seq = (SELECT max(seq) FROM journal WHERE bird IS NOT NULL)",
                )
            },
            "was changed",
        ),
        ("a hash", |db| run(db, "UPDATE journal SET hash = zeroblob(32) WHERE seq = 5"), "was changed"),
        ("a line taken out", |db| run(db, "DELETE FROM journal WHERE seq = 9"), "missing"),
        (
            "the last lines cut off",
            |db| run(db, "DELETE FROM journal WHERE seq > (SELECT max(seq) - 3 FROM journal)"),
            "not in the journal",
        ),
        (
            "a row's figure",
            |db| run(db, "UPDATE entry SET said = replace(said, '641', '614')"),
            "not what the journal says",
        ),
        (
            "a row's state",
            |db| run(db, "UPDATE entry SET state = 'confirmed' WHERE state = 'waiting'"),
            "not what the journal says",
        ),
        ("a row taken out", |db| run(db, "DELETE FROM pair"), "not in the tables"),
        ("a row put in", |db| run(db, "INSERT INTO keeper VALUES ('Nobody')"), "not in the journal"),
        (
            "the search words",
            |db| run(db, "UPDATE search SET text = 'x' WHERE rowid = (SELECT min(rowid) FROM search)"),
            "not what the journal says",
        ),
        (
            "a setting",
            |db| run(db, "INSERT INTO setting VALUES ('pairing minutes', '9999')"),
            "not in the journal",
        ),
    ];
    for (what, change, said) in changes {
        let home = lived_in();
        let db = Connection::open(home.folder.path().join(DATABASE)).unwrap();
        for trigger in ["journal_keeps_lines", "journal_loses_no_line", "journal_has_no_gap"] {
            run(&db, &format!("DROP TRIGGER {trigger}"));
        }
        change(&db);
        let found = home.store.verify().unwrap();
        assert!(found.troubles.iter().any(|t| t.contains(said)), "{what}: {found:#?}");
    }
    for (what, change) in [
        ("changed", (|path: &Path| fs::write(path, b"x").unwrap()) as fn(&Path)),
        ("missing", |path| fs::remove_file(path).unwrap()),
    ] {
        let home = lived_in();
        let (name, _) = originals(&home.folder.path().join("evidence")).remove(0);
        let path = home.folder.path().join("evidence").join(&name[..2]).join(&name);
        make_writable(&path);
        change(&path);
        let found = home.store.verify().unwrap();
        assert!(found.troubles.len() == 1 && found.troubles[0].contains(&name), "{what}: {found:#?}");
        assert!(home.store.verify_record().unwrap().is_clean());
        // The same original handed in again heals it.
        if what == "changed" {
            assert!(home.store.read_evidence(&Sha256::new(name.clone())).is_err());
        }
        let back = (0..30u32)
            .flat_map(|n| [n.to_le_bytes().repeat(900), n.to_be_bytes().to_vec()])
            .find(|bytes| {
                journal::hex(&sha2::Digest::finalize(sha2::Digest::chain_update(
                    <sha2::Sha256 as sha2::Digest>::new(),
                    bytes,
                ))) == name
            })
            .unwrap();
        assert!(home.store.put(&back, &About::sound("again.wav")).unwrap().known);
        home.clean();
    }
}

fn run(db: &Connection, sql: &str) {
    db.execute_batch(sql).unwrap();
}

#[test]
fn the_journal_refuses_to_be_rewritten() {
    let home = lived_in();
    let db = Connection::open(home.folder.path().join(DATABASE)).unwrap();
    for sql in [
        "UPDATE journal SET body = ''",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal SELECT * FROM journal WHERE seq = 3",
        "INSERT INTO journal SELECT seq + 1000, prev, bird, bird_prev, body, hash FROM journal WHERE seq = 3",
    ] {
        assert!(db.execute_batch(sql).is_err(), "{sql}");
    }
    home.clean();
}

/// Zeroes a stretch of the database file once everything is in it.
fn damage(home: &Home, from: u64, length: usize) -> u64 {
    let file = home.folder.path().join(DATABASE);
    Connection::open(&file).unwrap().execute_batch("PRAGMA wal_checkpoint(TRUNCATE)").unwrap();
    use std::os::unix::fs::FileExt;
    let open = fs::OpenOptions::new().write(true).open(&file).unwrap();
    open.write_all_at(&vec![0xA5; length], from).unwrap();
    open.metadata().unwrap().len()
}

#[test]
fn a_damaged_database_is_detected_and_what_can_be_read_is_saved() {
    // Where the damage begins in the file, and how many bytes of it.
    for (from, length) in [(0, 4096), (0, 40), (8192, 4096), (40_960, 8192), (4096, 65_536)] {
        let home = lived_in();
        let lines = home.store.counts().unwrap().journal_lines;
        let whole = contents(&home.folder.path().join(DATABASE));
        damage(&home, from, length);
        let Home { store, folder, clock: _clock } = home;
        drop(store);
        let detected = match Store::open(folder.path()) {
            Err(StoreError::Damaged(_) | StoreError::NotOurs(_)) => true,
            Err(other) => panic!("{other}"),
            Ok(store) => !store.verify().is_ok_and(|found| found.is_clean()),
        };
        assert!(detected, "{from} {length}");
        let repaired = Store::repair(folder.path(), None).unwrap();
        let lost: i64 = repaired.lost.iter().map(|(a, b)| b - a + 1).sum();
        assert!(lines - repaired.lines <= 100, "{from} {length}: {repaired:?}");
        let store = Store::open(folder.path()).unwrap();
        let found = store.verify().unwrap();
        assert!(found.is_clean(), "{from} {length} {repaired:?}: {found:#?}");
        assert!(repaired.set_aside.exists());
        if lost == 0 && repaired.lines == lines {
            let rows = |all: &[String]| -> Vec<String> {
                all.iter()
                    .filter(|r| ["entry ", "note ", "pair "].iter().any(|t| r.starts_with(t)))
                    .cloned()
                    .collect()
            };
            assert_eq!(rows(&contents(&folder.path().join(DATABASE))), rows(&whole));
        }
    }
}

#[test]
fn a_repair_fills_in_from_a_backup() {
    let home = lived_in();
    let outside = folder();
    let to = outside.path().join("backup");
    home.store.backup(&to, None).unwrap();
    home.store.enter(entry(Some("Sedge"), START, [0, 0], remark("after the backup")), &ada()).unwrap();
    let lines = home.store.counts().unwrap().journal_lines;
    damage(&home, 4096, 80 * 4096);
    let folder = home.folder;
    drop(home.store);
    let repaired = Store::repair(folder.path(), Some(&to)).unwrap();
    assert!(repaired.from_backup > 0);
    assert_eq!((repaired.lines, repaired.lost.len()), (lines, 0), "{repaired:?}");
    assert!(Store::open(folder.path()).unwrap().verify().unwrap().is_clean());
}

#[test]
fn a_newer_or_foreign_file_is_refused_and_left_as_it_is() {
    for (sql, newer) in [
        ("PRAGMA user_version = 99", true),
        ("UPDATE keeping SET value = '99' WHERE key = 'view form'", true),
        ("PRAGMA application_id = 7", false),
    ] {
        let home = lived_in();
        let file = home.folder.path().join(DATABASE);
        let db = Connection::open(&file).unwrap();
        run(&db, sql);
        run(&db, "PRAGMA wal_checkpoint(TRUNCATE)");
        let before = fs::read(&file).unwrap();
        let error = Store::open(home.folder.path()).unwrap_err();
        assert_eq!(matches!(error, StoreError::Newer { .. }), newer, "{error}");
        assert_eq!(matches!(error, StoreError::NotOurs(_)), !newer, "{error}");
        assert!(fs::read(&file).unwrap() == before, "{sql}");
    }
}

#[test]
fn originals_without_their_database_are_not_taken_for_a_new_record() {
    let home = lived_in();
    let folder = home.folder;
    drop(home.store);
    for end in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(folder.path().join(format!("{DATABASE}{end}")));
    }
    assert!(matches!(Store::open(folder.path()), Err(StoreError::Damaged(_))));
    assert!(!folder.path().join(DATABASE).exists());
}

/// A record in every form that was ever released is kept beside this file (`examples/released.rs`
/// writes one); each is brought up to date with nothing lost.
#[test]
fn every_released_form_is_lifted_to_this_one() {
    let released = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/released");
    let mut seen = 0;
    for file in fs::read_dir(released).unwrap() {
        let folder = folder();
        fs::copy(file.unwrap().path(), folder.path().join(DATABASE)).unwrap();
        let store = Store::open(folder.path()).unwrap();
        let found = store.verify_record().unwrap();
        assert!(found.is_clean(), "{found:#?}");
        assert!(found.lines > 10);
        let sedge = store.bird_named("Sedge").unwrap().unwrap();
        let days = store.days(&sedge.id, Span::ALL).unwrap();
        assert_eq!(days.iter().map(|d| d.grams).collect::<Vec<_>>(), [Some(642.0), Some(640.5)]);
        assert_eq!(
            store.records(&sedge.id, Span::ALL).unwrap().iter().filter(|r| r.pairing.is_some()).count(),
            1
        );
        assert_eq!(store.search("swollen", 5).unwrap().len(), 1);
        seen += 1;
    }
    assert!(seen >= 1);
}

#[test]
fn the_view_is_made_anew_when_its_form_is_older() {
    let home = lived_in();
    let before = contents(&home.folder.path().join(DATABASE));
    let db = Connection::open(home.folder.path().join(DATABASE)).unwrap();
    run(
        &db,
        "DROP TABLE entry; CREATE TABLE entry (old TEXT); UPDATE keeping SET value = '0' WHERE key = 'view form'",
    );
    drop(db);
    let again = Store::open(home.folder.path()).unwrap();
    assert!(again.verify().unwrap().is_clean());
    assert_eq!(contents(&home.folder.path().join(DATABASE)), before);
}

#[test]
fn only_the_owner_may_look() {
    use std::os::unix::fs::PermissionsExt;
    let folder = folder();
    let home = folder.path().join("new");
    let store = Store::open(&home).unwrap();
    let kept = store.put(b"private", &About::sound("a.wav")).unwrap();
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    for folder in ["", "evidence", "spool"] {
        assert_eq!(mode(&home.join(folder)), 0o700, "{folder}");
    }
    for file in [DATABASE, "varvel.db-wal", "varvel.db-shm"] {
        assert_eq!(mode(&home.join(file)), 0o600, "{file}");
    }
    assert_eq!(mode(&store.evidence_path(&kept.sha256).unwrap()), 0o400);
    assert!(store.verify().unwrap().remarks.is_empty());
}

#[test]
fn a_clock_set_back_confuses_nothing() {
    let home = lived_in();
    let lines = home.store.counts().unwrap().journal_lines;
    home.clock.fetch_sub(400 * 86_400, std::sync::atomic::Ordering::SeqCst);
    let note = home.spoken(b"in the past", START);
    let ids = home.store.propose(&note, vec![entry(Some("Sedge"), START, [0, 4], weight(650.0))]).unwrap();
    home.store.decide(&[Decision::accept(&ids[0])], &ada()).unwrap();
    home.store.undo_last(&ada()).unwrap();
    assert!(home.store.counts().unwrap().journal_lines > lines);
    home.clean();
}

#[test]
fn the_same_bytes_under_another_name_are_the_same_original() {
    let home = home();
    let folder = folder();
    let bytes = vec![7u8; 300_000];
    for name in ["a.wav", "copy of a.wav", "../../a.wav"] {
        let file = folder.path().join(name.replace('/', "_"));
        fs::write(&file, &bytes).unwrap();
        let kept = home.store.put_file(&file, &About::sound(name)).unwrap();
        assert_eq!(kept.known, name != "a.wav");
    }
    let listed = home.store.list_evidence(0, 10).unwrap();
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0].name.as_deref(), Some("a.wav"));
    // An upload's last step: moved, not copied, and only when its sum is right.
    let upload = home.store.spool().join("upload");
    fs::write(&upload, b"new bytes").unwrap();
    let wrong = Sha256::new("0".repeat(64));
    assert!(home.store.adopt_file(&upload, Some(&wrong), &About::sound("b.wav")).is_err());
    assert!(upload.exists());
    let kept = home.store.adopt_file(&upload, None, &About::sound("b.wav")).unwrap();
    assert!(!upload.exists());
    assert_eq!(home.store.read_evidence(&kept.sha256).unwrap(), b"new bytes");
    assert!(home.store.put_file(folder.path(), &About::sound("folder")).is_err());
    home.clean();
}

#[test]
fn two_devices_at_once_lose_nothing_and_double_nothing() {
    let home = home();
    home.store.add_bird(bird("Sedge"), &ada()).unwrap();
    let note = home.spoken(b"many", START);
    let said =
        (0..40).map(|n| entry(Some("Sedge"), START, [n * 10, n * 10 + 5], ate("quail", n as f64 + 0.5)));
    let ids = home.store.propose(&note, said.collect()).unwrap();
    let wins: usize = std::thread::scope(|scope| {
        let phones: Vec<_> = (0..4)
            .map(|n| {
                // Two share one opened record, two have opened their own.
                let store = if n < 2 { home.store.clone() } else { Store::open(home.folder.path()).unwrap() };
                let ids = &ids;
                scope.spawn(move || {
                    let who = Who::new(format!("K{n}"), format!("phone {n}"));
                    ids.iter().filter(|id| store.decide(&[Decision::accept(id)], &who).is_ok()).count()
                })
            })
            .collect();
        phones.into_iter().map(|phone| phone.join().unwrap()).sum()
    });
    assert_eq!(wins, ids.len(), "each entry was confirmed by exactly one");
    let sedge = home.store.bird_named("Sedge").unwrap().unwrap().id;
    assert_eq!(home.store.confirmed(&sedge, Span::ALL).unwrap().len(), ids.len());
    home.clean();
}
