//! What lies on disk at every moment, when the disk fails, and what the next start makes of it.

use std::{
    fs::{self, File},
    io::{self, Seek, SeekFrom, Write},
    path::{Path, PathBuf},
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
};

use capture::{
    segment::{RATE, Segment, Settings},
    spool::{Spool, SpoolError},
};
use chrono::{DateTime, Utc};

const SECOND: u64 = RATE as u64;

fn start() -> DateTime<Utc> {
    "2025-10-04T16:20:00.250Z".parse().expect("a time")
}

/// Sound in which every stretch can be told from every other.
fn sound(from: u64, to: u64) -> Vec<i16> {
    (from..to).map(|n| (n.wrapping_mul(2_654_435_761) >> 16) as i16).collect()
}

fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("the spool")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|n| n != "held")
        .collect();
    names.sort();
    names
}

/// Reads a file the way any other program would: by its header.
fn by_header(path: &Path) -> Vec<i16> {
    let reader = hound::WavReader::open(path).expect("a valid WAV file");
    assert_eq!(reader.spec().sample_rate, RATE);
    reader.into_samples().map(|s| s.expect("a sample")).collect()
}

fn open(folder: &Path) -> Spool {
    Spool::open(folder, Settings::default()).expect("the spool opens")
}

#[test]
fn the_file_is_whole_at_every_moment_and_at_most_a_quarter_second_behind() {
    let folder = tempfile::tempdir().expect("a folder");
    let spool = open(folder.path());
    let mut session = spool.begin(start());
    // Blocks of uneven size, as devices give them.
    let mut heard = 0;
    for block in [100, 1_600, 4_001, 7, 16_000, 900, 3_999].into_iter().cycle().take(70) {
        session.push(&sound(heard, heard + block));
        heard += block;
        assert!(session.settle().is_empty());
        let names = files(folder.path());
        assert!(names.len() <= 1, "{names:?}");
        let on_disk = names.first().map(|n| by_header(&folder.path().join(n))).unwrap_or_default();
        assert!(heard - on_disk.len() as u64 <= SECOND / 4, "{heard} heard, {} on disk", on_disk.len());
        assert!(on_disk == sound(0, on_disk.len() as u64), "what is there is right");
    }
}

#[test]
fn a_finished_note_lies_whole_beside_a_live_file_that_begins_after_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let spool = open(folder.path());
    let mut session = spool.begin(start());
    session.push(&sound(0, 10 * SECOND));
    assert!(session.settle().is_empty());
    session.note_opened(2 * SECOND);
    session.note_closed(Segment { start: 2 * SECOND, end: 7 * SECOND });
    let saved = session.settle();
    assert_eq!(saved.len(), 1);
    let note = &saved[0];
    assert_eq!((note.seconds, note.recovered), (5.0, false));
    assert_eq!(note.started_at, "2025-10-04T16:20:02.250Z".parse::<DateTime<Utc>>().expect("a time"));
    assert!(by_header(&note.path) == sound(2 * SECOND, 7 * SECOND));
    let names = files(folder.path());
    assert_eq!(names.len(), 2, "{names:?}");
    let live = names.iter().find(|n| n.starts_with("live-")).expect("a live file");
    assert!(by_header(&folder.path().join(live)) == sound(7 * SECOND, 10 * SECOND));
    assert_eq!(spool.waiting().expect("a listing"), saved);
    spool.done(note).expect("gone");
    spool.done(note).expect("gone already is no error");
    assert!(spool.waiting().expect("a listing").is_empty());
    assert!(session.end().expect("a clean end").is_empty());
    assert_eq!(files(folder.path()), Vec::<String>::new(), "nothing stays after a clean end");
}

#[test]
fn quiet_hours_leave_no_more_than_two_minutes_on_disk() {
    let folder = tempfile::tempdir().expect("a folder");
    let spool = open(folder.path());
    let mut session = spool.begin(start());
    for second in 0..600 {
        session.push(&sound(second * SECOND, (second + 1) * SECOND));
        session.needed_from((second * SECOND).saturating_sub(7 * SECOND));
        session.settle();
        let bytes: u64 = files(folder.path())
            .iter()
            .map(|n| fs::metadata(folder.path().join(n)).map_or(0, |m| m.len()))
            .sum();
        assert!(bytes <= 2 * 60 * 2 * SECOND + 1000, "{bytes} bytes after {second} s");
    }
}

#[test]
fn two_programs_cannot_listen_into_one_folder() {
    let folder = tempfile::tempdir().expect("a folder");
    let first = open(folder.path());
    let second = Spool::open(folder.path(), Settings::default());
    assert!(matches!(second, Err(SpoolError::InUse(_))));
    drop(first);
    open(folder.path());
}

#[test]
fn a_folder_that_cannot_be_made_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("file");
    fs::write(&file, b"").expect("a file");
    let why = Spool::open(&file.join("spool"), Settings::default()).expect_err("no folder");
    assert!(why.to_string().contains("cannot be used"), "{why}");
}

#[test]
fn a_session_that_dies_within_a_note_leaves_it_to_the_next_start() {
    let folder = tempfile::tempdir().expect("a folder");
    {
        let spool = open(folder.path());
        let mut session = spool.begin(start());
        session.push(&sound(0, 4 * SECOND));
        session.settle();
        session.note_opened(SECOND);
        session.push(&sound(4 * SECOND, 9 * SECOND));
        session.settle();
        // Died: neither ended nor dropped in order.
        std::mem::forget(session);
    }
    fs::write(folder.path().join("note-20251004T162000.250Z-000000016000.wav.part"), b"RIFF")
        .expect("a half note");
    fs::write(folder.path().join("shopping.txt"), b"chicks").expect("a foreign file");
    let spool = open(folder.path());
    let waiting = spool.waiting().expect("a listing");
    assert_eq!(waiting.len(), 1, "{waiting:?}");
    assert!(waiting[0].recovered);
    assert_eq!(waiting[0].started_at, "2025-10-04T16:20:01.250Z".parse::<DateTime<Utc>>().expect("a time"));
    assert!(by_header(&waiting[0].path) == sound(SECOND, 9 * SECOND));
    let left: Vec<String> = files(folder.path()).into_iter().filter(|n| !n.starts_with("note-")).collect();
    assert_eq!(left, ["shopping.txt"], "what is not ours stays");
    // And once found, it is not found again.
    drop(spool);
    assert_eq!(open(folder.path()).waiting().expect("a listing"), waiting);
}

/// A disk with so many bytes left, shared by all files on it.
#[derive(Clone)]
struct Disk(Arc<AtomicU64>);

struct OnDisk {
    file: File,
    length: u64,
    at: u64,
    disk: Disk,
}

impl Disk {
    fn create(&self, path: &Path) -> io::Result<OnDisk> {
        Ok(OnDisk { file: File::create(path)?, length: 0, at: 0, disk: self.clone() })
    }
}

impl Write for OnDisk {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // Writing over what is there takes no room; only growth does.
        let grows = (self.at + bytes.len() as u64).saturating_sub(self.length);
        let left = self.disk.0.load(Ordering::SeqCst);
        let granted = grows.min(left);
        let take = bytes.len() - (grows - granted) as usize;
        if take == 0 && !bytes.is_empty() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        let written = self.file.write(&bytes[..take])?;
        self.at += written as u64;
        self.disk.0.fetch_sub(self.at.saturating_sub(self.length), Ordering::SeqCst);
        self.length = self.length.max(self.at);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Seek for OnDisk {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}

/// Joins what the live files hold, in order of their first samples.
fn live_sound(folder: &Path) -> Vec<i16> {
    let mut all: Vec<i16> = Vec::new();
    for name in files(folder).iter().filter(|n| n.starts_with("live-")) {
        let from: usize = name["live-20251004T162000.250Z-".len()..][..12].parse().expect("a sample");
        let samples = by_header(&folder.join(name));
        assert!(from <= all.len(), "no gap before {name}");
        let have = all.len() - from;
        all.extend_from_slice(samples.get(have..).unwrap_or_default());
    }
    all
}

#[test]
fn a_full_disk_loses_under_a_second_and_nothing_once_there_is_room() {
    for room in [0, 20, 44, 45, 46, 1_000, 32_043, 100_001, 250_000] {
        let folder = tempfile::tempdir().expect("a folder");
        let spool = open(folder.path());
        let disk = Disk(Arc::new(AtomicU64::new(room)));
        let on = disk.clone();
        let mut session = spool.begin_on(start(), Box::new(move |path| Ok(Box::new(on.create(path)?))));
        let mut full_at = None;
        for tenth in 0..100 {
            let from = tenth * SECOND / 10;
            session.push(&sound(from, from + SECOND / 10));
            session.settle();
            if session.trouble().is_some() && full_at.is_none() {
                full_at = Some(from + SECOND / 10);
            }
        }
        assert!(matches!(session.trouble(), Some(SpoolError::Full)), "{room}");
        let full_at = full_at.expect("it filled up");
        let kept = live_sound(folder.path());
        assert!(kept == sound(0, kept.len() as u64), "{room}");
        assert!(full_at - kept.len() as u64 <= SECOND, "{room}: full at {full_at}, {} kept", kept.len());

        // Room is made: everything is written after all.
        disk.0.store(10_000_000, Ordering::SeqCst);
        std::thread::sleep(std::time::Duration::from_millis(1_050));
        session.push(&sound(10 * SECOND, 11 * SECOND));
        session.settle();
        assert!(session.trouble().is_none(), "{room}: {:?}", session.trouble());
        assert_eq!(session.lost(), 0);
        session.note_closed(Segment { start: SECOND, end: 10 * SECOND });
        let saved = session.settle();
        assert!(by_header(&saved[0].path) == sound(SECOND, 10 * SECOND), "{room}");
    }
}

#[test]
fn a_note_that_ends_while_the_disk_is_full_is_saved_later() {
    let folder = tempfile::tempdir().expect("a folder");
    let spool = open(folder.path());
    let disk = Disk(Arc::new(AtomicU64::new(200_000)));
    let on = disk.clone();
    let mut session = spool.begin_on(start(), Box::new(move |path| Ok(Box::new(on.create(path)?))));
    session.push(&sound(0, 5 * SECOND));
    assert!(session.settle().is_empty());
    session.note_closed(Segment { start: SECOND, end: 4 * SECOND });
    assert!(session.settle().is_empty());
    assert!(matches!(session.trouble(), Some(SpoolError::Full)));
    assert!(!files(folder.path()).iter().any(|n| n.starts_with("note-")), "no half note");
    disk.0.store(10_000_000, Ordering::SeqCst);
    std::thread::sleep(std::time::Duration::from_millis(1_050));
    let saved = session.settle();
    assert_eq!(saved.len(), 1);
    assert!(by_header(&saved[0].path) == sound(SECOND, 4 * SECOND));
}

#[test]
fn damaged_left_overs_do_not_stop_the_next_start() {
    let name = |kind: &str, from: u64| format!("{kind}-20251004T162000.250Z-{from:012}.wav");
    for (story, bytes) in [
        ("empty", Vec::new()),
        ("half a header", b"RIFF\0\0".to_vec()),
        ("a header only", vec![0; 44]),
        ("an odd byte", vec![1; 44 + 2 * 900 + 1]),
        ("not sound at all", vec![0xff; 100_000]),
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join(name("live", 0)), &bytes).expect("a file");
        fs::write(folder.path().join(name("live", 999)), &bytes).expect("a file");
        let spool = open(folder.path());
        let left: Vec<PathBuf> = spool.waiting().expect("a listing").into_iter().map(|n| n.path).collect();
        for path in left {
            by_header(&path);
        }
        assert!(!files(folder.path()).iter().any(|n| n.starts_with("live-")), "{story}");
    }
}
