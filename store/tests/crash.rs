//! Kills at random moments, and disks that are full, closed or read-only: nothing acknowledged is lost.
//!
//! `VARVEL_KILLS=1000` kills a thousand times; without it, forty.

use crate::common::*;
use note::{EntryId, NoteId, PhotoId, Sha256};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;
use store::*;

/// The writer of `examples/writer.rs`, which cargo builds along with the tests.
fn writer() -> PathBuf {
    let tests = std::env::current_exe().unwrap();
    let built = tests.parent().and_then(Path::parent).unwrap().join("examples/writer");
    assert!(built.exists(), "{} is missing: run `cargo build -p store --examples`", built.display());
    built
}

/// Whole lines that the writer printed before it was killed.
fn acknowledged(log: &Path) -> Vec<(String, String)> {
    let text = fs::read_to_string(log).unwrap();
    let whole = text.rfind('\n').map_or("", |end| &text[..end]);
    whole
        .lines()
        .filter_map(|line| line.split_once(' '))
        .map(|(what, id)| (what.to_owned(), id.to_owned()))
        .collect()
}

fn all_is_there(store: &Store, acknowledged: &[(String, String)]) {
    for (what, id) in acknowledged {
        match what.as_str() {
            "bird" => assert_eq!(store.bird_named("Sedge").unwrap().unwrap().id.as_str(), id),
            "kept" => {
                store.read_evidence(&Sha256::new(id)).unwrap();
            }
            "note" => {
                store.note(&NoteId::new(id)).unwrap();
            }
            "photo" => {
                store.photo(&PhotoId::new(id)).unwrap();
            }
            "read" => assert!(store.photo(&PhotoId::new(id)).unwrap().reading.is_some()),
            "proposed" | "confirmed" | "undone" => {
                let steps = store.steps(&EntryId::new(id)).unwrap();
                let wanted = match what.as_str() {
                    "proposed" => "read from the note",
                    "confirmed" => "confirmed",
                    _ => "taken back",
                };
                assert!(steps.iter().any(|step| step.what == wanted), "{what} {id}: {steps:?}");
            }
            other => panic!("{other} {id}"),
        }
    }
}

/// Puts a record there whose view is of an older form and must be made anew from the journal.
fn older_form(home: &Path) {
    fs::create_dir_all(home).unwrap();
    let released = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/released/form1.db");
    fs::copy(released, home.join(DATABASE)).unwrap();
    let db = rusqlite::Connection::open(home.join(DATABASE)).unwrap();
    db.execute_batch(
        "DROP TABLE entry; CREATE TABLE entry (old TEXT); UPDATE keeping SET value = '0' WHERE key = 'view form'",
    )
    .unwrap();
}

#[test]
fn killed_at_any_moment_nothing_acknowledged_is_lost() {
    let kills: u64 = std::env::var("VARVEL_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let folder = folder();
    let log = folder.path().join("log");
    let (mut lines, mut backups, mut empty) = (0, 0, 0);
    let mut seed = 0x9E37_79B9_7F4A_7C15u64;
    for kill in 0..kills {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        // Every tenth kill falls into the making of a new record, every tenth into the lifting of one of an
        // older form, the others into an old one that grows.
        let (name, delay) = match kill % 10 {
            9 => (format!("new{kill}"), seed % 40_000),
            4 => (format!("lifted{kill}"), seed % 60_000),
            _ => (format!("old{}", kill / 100), 5_000 + seed % 250_000),
        };
        let home = folder.path().join(name);
        let lifted = kill % 10 == 4;
        if lifted {
            older_form(&home);
        }
        let mut child = Command::new(writer())
            .arg(&home)
            .arg((seed | 1).to_string())
            .stdout(File::create(&log).unwrap())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(delay));
        child.kill().unwrap();
        let end = child.wait_with_output().unwrap();
        assert_eq!(
            end.status.code(),
            None,
            "the writer stopped by itself: {}",
            String::from_utf8_lossy(&end.stderr)
        );
        let store = Store::open(&home).unwrap_or_else(|e| panic!("after kill {kill}: {e}"));
        let acknowledged = acknowledged(&log);
        all_is_there(&store, &acknowledged);
        lines += acknowledged.len();
        empty += usize::from(acknowledged.is_empty());
        // The older record comes without its originals.
        let found = if lifted { store.verify_record() } else { store.verify() }.unwrap();
        assert!(found.is_clean(), "after kill {kill}: {found:#?}");
        if lifted {
            let sedge = store.bird_named("Sedge").unwrap().unwrap();
            let weights: Vec<_> = store.days(&sedge.id, Span::ALL).unwrap().iter().map(|d| d.grams).collect();
            assert!(weights.starts_with(&[Some(642.0), Some(640.5)]), "after kill {kill}: {weights:?}");
        }
        let backup = home.with_extension("backup");
        if backup.join(DATABASE).exists() && kill % 5 == 0 {
            backups += 1;
            let back = folder.path().join("back");
            let restored = Store::restore(&backup, &back, None).unwrap();
            assert!(restored.troubles.is_empty(), "{restored:?}");
            fs::remove_dir_all(back).unwrap();
        }
    }
    println!(
        "{kills} kills, {empty} of them before anything was acknowledged; {lines} things acknowledged and found; {backups} backups restored"
    );
    assert!(lines > kills as usize, "the writer was killed before it wrote anything");
}

/// A small disk of its own, where the tests may make one.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    fn new(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let options = format!("size={size},mode=0700");
        let mounted =
            Command::new("mount").args(["-t", "tmpfs", "-o", &options, "varvel"]).arg(folder.path()).output();
        if mounted.is_ok_and(|out| out.status.success()) {
            Some(Self(folder))
        } else {
            println!("no small disk can be mounted here: this was not tested");
            None
        }
    }

    fn remount(&self, how: &str) {
        let done = Command::new("mount").args(["-o", how]).arg(self.0.path()).status().unwrap();
        assert!(done.success());
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.0.path()).status();
    }
}

#[test]
fn a_full_disk_loses_nothing_and_goes_on_when_there_is_room() {
    let Some(disk) = SmallDisk::new("6m") else { return };
    let home = disk.0.path().join("home");
    fs::write(disk.0.path().join("ballast"), vec![0u8; 1 << 20]).unwrap();
    let store = Store::open(&home).unwrap();
    store.add_bird(bird("Sedge"), &ada()).unwrap();
    let mut kept = Vec::new();
    let mut confirmed = Vec::new();
    let mut full = 0;
    for n in 0..2000u32 {
        let mut step = || -> Result<()> {
            let original = store.put(&n.to_le_bytes().repeat(3000), &About::sound("note.wav"))?;
            kept.push(original.sha256.clone());
            let source = Source::Sound(original.sha256);
            let note = store
                .add_note(NewNote { source, at: at(START), taken: None, bird: None }, &ada())?
                .id()
                .clone();
            let said = entry(Some("Sedge"), START, [0, 4], weight(600.0));
            let ids = store.propose(&note, vec![said])?;
            store.decide(&[Decision::accept(&ids[0])], &ada())?;
            confirmed.push(ids[0].clone());
            Ok(())
        };
        match step() {
            Ok(()) => {}
            Err(StoreError::Full) => {
                full += 1;
                if full > 5 {
                    break;
                }
            }
            Err(other) => panic!("{other:?}"),
        }
    }
    assert!(full > 5 && confirmed.len() > 10, "{full} {}", confirmed.len());
    assert!(matches!(store.backup(&disk.0.path().join("backup"), None), Err(StoreError::Full)));
    // Nothing half-written is left in the spool, and everything acknowledged is there.
    assert_eq!(fs::read_dir(store.spool()).unwrap().count(), 0);
    fs::remove_file(disk.0.path().join("ballast")).unwrap();
    let _ = fs::remove_dir_all(disk.0.path().join("backup"));
    drop(store);
    let store = Store::open(&home).unwrap();
    for sha256 in &kept {
        store.read_evidence(sha256).unwrap();
    }
    for id in &confirmed {
        assert_eq!(store.record(id).unwrap().state, State::Confirmed);
    }
    let found = store.verify().unwrap();
    assert!(found.is_clean(), "{found:#?}");
    store.enter(entry(Some("Sedge"), START, [0, 0], remark("room again")), &ada()).unwrap();
}

#[test]
fn a_read_only_disk_is_told_in_words() {
    let Some(disk) = SmallDisk::new("8m") else { return };
    let home = disk.0.path().join("home");
    let store = Store::open(&home).unwrap();
    store.add_bird(bird("Sedge"), &ada()).unwrap();
    drop(store);
    disk.remount("remount,ro");
    let error = Store::open(&home).unwrap_err();
    assert!(matches!(error, StoreError::NotWritable(_)), "{error:?}");
    let error = Store::open(&disk.0.path().join("new")).unwrap_err();
    assert!(matches!(error, StoreError::NotWritable(_)), "{error:?}");
    disk.remount("remount,rw");
    let store = Store::open(&home).unwrap();
    assert!(store.verify().unwrap().is_clean());
    // A disk with a file open for writing cannot be made read-only by asking, so with the store open
    // only the folder of originals is.
    let originals = home.join("evidence");
    let over = |command: &mut Command| assert!(command.arg(&originals).status().unwrap().success());
    over(Command::new("mount").args(["-t", "tmpfs", "-o", "ro", "varvel"]));
    let error = store.put(b"x", &About::sound("a.wav"));
    over(&mut Command::new("umount"));
    assert!(matches!(error, Err(StoreError::NotWritable(_))), "{error:?}");
    store.put(b"x", &About::sound("a.wav")).unwrap();
    assert!(store.verify().unwrap().is_clean());
}

#[test]
fn a_folder_of_somebody_else_is_told_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("home");
    drop(Store::open(&home).unwrap());
    // Root may write everywhere, so the writer runs as nobody.
    let run = Command::new("setpriv")
        .args(["--reuid", "65534", "--regid", "65534", "--clear-groups"])
        .arg(writer())
        .arg(&home)
        .arg("1")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .output();
    match run {
        Ok(out) if !String::from_utf8_lossy(&out.stderr).contains("setpriv:") => {
            let said = String::from_utf8_lossy(&out.stderr).into_owned();
            assert!(!out.status.success() && said.contains("NotWritable"), "{said}");
        }
        _ => println!("no other user can be tried here: this was not tested"),
    }
    assert!(Store::open(&home).unwrap().verify().unwrap().is_clean());
}
