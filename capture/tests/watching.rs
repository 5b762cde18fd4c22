//! What phones' sync folders really do, told to the tracker look by look, and once on a real folder.

use std::{
    fs,
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

use capture::watch::{Seen, Settings, Tracker, is_wanted, list};

fn at(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}

fn seen(path: &str, size: u64, changed: u64) -> Seen {
    Seen { path: path.into(), size, changed: Some(SystemTime::UNIX_EPOCH + at(changed)) }
}

/// Plays looks two seconds apart; each is what lies in the folder. Returns (look, path) of what was ready.
fn play(looks: &[&[Seen]]) -> Vec<(usize, String)> {
    let mut tracker = Tracker::new(Settings::default());
    let mut ready = Vec::new();
    for (n, look) in looks.iter().enumerate() {
        for path in tracker.look(at(2 * n as u64), look) {
            tracker.taken(&path);
            ready.push((n, path.display().to_string()));
        }
    }
    ready
}

#[test]
fn a_file_is_taken_once_it_has_held_still() {
    let small = seen("a.m4a", 100, 1);
    let grown = seen("a.m4a", 900, 5);
    let touched = seen("a.m4a", 900, 9);
    let empty = seen("a.m4a", 0, 1);
    let none: &[Seen] = &[];
    let s = std::slice::from_ref(&small);
    let g = std::slice::from_ref(&grown);
    let t = std::slice::from_ref(&touched);
    let e = std::slice::from_ref(&empty);
    let once = |n: usize| vec![(n, "a.m4a".to_string())];
    for (story, looks, expect) in [
        ("lies there from the start", vec![s, s, s, s, s], once(2)),
        ("grows, then holds still", vec![s, g, g, g, g], once(3)),
        ("keeps its size but is still written to", vec![g, t, t, t, t], once(3)),
        ("a slow phone: stalls for one look", vec![s, s, g, g, g], once(4)),
        ("is made empty and filled later", vec![e, e, e, e, g, g, g], once(6)),
        ("stays empty", vec![e; 6], vec![]),
        ("vanishes before it was still", vec![s, s, none, none], vec![]),
        ("vanishes and comes back: a second download", vec![s, s, none, s, s, s], once(5)),
        ("is taken, then stays for good", vec![s; 9], once(2)),
        (
            "is taken, then written anew",
            vec![s, s, s, g, g, g],
            vec![(2, "a.m4a".into()), (5, "a.m4a".into())],
        ),
        ("is taken, then deleted by the keeper", vec![s, s, s, none, none], once(2)),
    ] {
        assert_eq!(play(&looks), expect, "{story}");
    }
}

#[test]
fn a_file_renamed_at_the_end_of_its_download_is_taken_under_its_last_name() {
    let part = [seen("note.m4a.crdownload", 900, 5)];
    let whole = [seen("note.m4a", 900, 5)];
    assert_eq!(play(&[&part, &part, &part, &whole, &whole, &whole]), [(5, "note.m4a".to_string())]);
}

#[test]
fn several_files_do_not_wait_for_each_other() {
    let looks: [&[Seen]; 4] = [
        &[seen("a.ogg", 5, 1)],
        &[seen("a.ogg", 5, 1), seen("b.jpg", 7, 2)],
        &[seen("a.ogg", 5, 1), seen("b.jpg", 9, 3)],
        &[seen("a.ogg", 5, 1), seen("b.jpg", 9, 3), seen("c.txt", 9, 3)],
    ];
    assert_eq!(play(&looks), [(2, "a.ogg".to_string())]);
}

#[test]
fn a_file_whose_time_is_unknown_is_judged_by_its_size() {
    let file = [Seen { path: "a.wav".into(), size: 9, changed: None }];
    assert_eq!(play(&[&file, &file, &file]), [(2, "a.wav".to_string())]);
}

#[test]
fn a_failure_is_tried_again_later_and_not_for_ever() {
    let settings = Settings { still_for: at(4), retry_after: at(30), tries: 3 };
    let mut tracker = Tracker::new(settings);
    let file = [seen("a.m4a", 100, 1)];
    let mut offered = Vec::new();
    for second in (0..400).step_by(2) {
        for path in tracker.look(at(second), &file) {
            offered.push(second);
            let again = tracker.failed(at(second), &path);
            assert_eq!(again, offered.len() < 3);
        }
    }
    assert_eq!(offered, [4, 34, 94], "waits double");
    // Once the phone sends it anew, it counts afresh.
    let mended = [seen("a.m4a", 200, 500)];
    assert_eq!(tracker.look(at(500), &mended), Vec::<PathBuf>::new());
    assert_eq!(tracker.look(at(504), &mended), [PathBuf::from("a.m4a")]);
}

#[test]
fn an_offer_stands_until_it_is_answered() {
    let mut tracker = Tracker::new(Settings::default());
    let file = [seen("a.m4a", 100, 1)];
    let ready: usize = (0..10).map(|n| tracker.look(at(2 * n), &file).len()).sum();
    assert_eq!(ready, 1);
    assert!(!tracker.failed(at(99), Path::new("never-seen.m4a")));
}

#[test]
fn names_that_sync_programs_and_phones_write() {
    for (name, wanted) in [
        ("New Recording 12.m4a", true),
        ("AUD-20251104-WA0003.opus", true),
        ("PTT-20251104-WA0003.OPUS", true),
        ("Recording_2025-11-04.3gp", true),
        ("IMG_0042.HEIC", true),
        ("PXL_20251104_162000123.jpg", true),
        ("voice.amr", true),
        (".New Recording 12.m4a.Xq2w1z", false),
        (".syncthing.note.m4a.tmp", false),
        ("~syncthing~note.m4a.tmp", false),
        ("note.m4a.part", false),
        ("note.m4a.crdownload", false),
        ("note.m4a.filepart", false),
        ("note.m4a.icloud", false),
        ("._note.m4a", false),
        ("Thumbs.db", false),
        ("desktop.ini", false),
        ("note.txt", false),
        ("m4a", false),
        ("", false),
    ] {
        assert_eq!(is_wanted(Path::new(name)), wanted, "{name}");
    }
}

#[test]
fn a_real_folder_is_listed_with_the_folders_in_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let root = folder.path();
    fs::create_dir_all(root.join("Camera/2025")).expect("folders");
    fs::create_dir_all(root.join(".stversions")).expect("a folder");
    for name in ["b.m4a", "Camera/2025/a.jpg", ".stversions/old.m4a"] {
        fs::write(root.join(name), b"x").expect("a file");
    }
    #[cfg(unix)]
    std::os::unix::fs::symlink(root, root.join("loop")).expect("a link");
    let names: Vec<String> = list(root)
        .expect("a listing")
        .iter()
        .map(|s| s.path.strip_prefix(root).expect("within").display().to_string())
        .collect();
    assert_eq!(names, ["Camera/2025/a.jpg", "b.m4a"]);
    assert!(list(&root.join("nowhere")).is_err());
}
