//! Killed at fifty random moments, the recorder loses nothing that was spoken more than a second before.
//!
//! The test runs itself again as the recorder, feeds it a scene faster than it was spoken, kills it
//! outright, starts the next one where the microphone went on, and at the end looks for every
//! stretch of speech in what was kept.

mod scene;

use std::{
    fs::{self, File, OpenOptions},
    io::{self, Seek, Write},
    path::{Path, PathBuf},
    process::{Command, Stdio},
    sync::atomic::AtomicBool,
    time::{Duration, Instant},
};

use capture::{
    listen::{self, Hearer, Kept},
    mic::{Flow, Input, MicError},
    segment::{RATE, Segment},
    spool::{SavedNote, Spool},
};
use scene::{Dice, Spoken, files, lay_out, noise, shared, spoken};

const KILLS: usize = 50;

/// How much faster than spoken the scene is fed.
const SPEED: f64 = 20.0;

/// Speech left over at the edge of a kill that is shorter than this may be no note in itself.
const SHORTEST: u64 = RATE as u64 * 3 / 2;

/// Names the folder of the experiment to the recorder.
const FOLDER: &str = "VARVEL_TEST_KILLED";

#[test]
fn the_recorder() {
    // Run by itself it has nothing to do; run again by the test below it records until killed.
    if let Some(folder) = std::env::var_os(FOLDER) {
        record(Path::new(&folder));
    }
}

fn record(folder: &Path) {
    let settings = listen::Settings { once: true, ..listen::Settings::default() };
    let spool = Spool::open(&folder.join("spool"), settings.segment).expect("the spool");
    let open = || Ok(Box::new(Tape::at(folder)) as Box<dyn Input>);
    let mut keeper = Keeper(folder.join("kept"));
    listen::run(open, &spool, &settings, &mut keeper, |_| {}, &AtomicBool::new(false)).expect("a session");
}

/// Keeps notes as a record would: complete under their name or not at all.
struct Keeper(PathBuf);

impl Hearer for Keeper {
    type Words = ();
    type Error = io::Error;

    fn hear(&mut self, _: &SavedNote) -> io::Result<(String, ())> {
        // As long as a small model takes for a note, so that kills fall into the queue too.
        std::thread::sleep(Duration::from_millis(60));
        Ok(("words".into(), ()))
    }

    fn keep(&mut self, note: &SavedNote, (): (), _: usize) -> io::Result<Kept> {
        let name = note.path.file_name().unwrap_or_default().to_owned();
        let part = self.0.with_extension("part");
        fs::copy(&note.path, &part)?;
        fs::rename(&part, self.0.join(&name))?;
        Ok(Kept { id: name.to_string_lossy().into_owned(), has_weight: false, known: false })
    }

    fn withdraw(&mut self, _: &str) -> io::Result<()> {
        Ok(())
    }
}

/// A microphone that hears the scene, and writes down how much of it has been spoken.
struct Tape {
    samples: Vec<i16>,
    given: usize,
    began: Instant,
    fed: File,
}

impl Tape {
    fn at(folder: &Path) -> Self {
        let from: usize =
            fs::read_to_string(folder.join("from")).expect("where to go on").parse().expect("a number");
        let bytes = fs::read(folder.join("scene")).expect("the scene");
        let samples: Vec<i16> = bytes.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
        let fed = OpenOptions::new().write(true).open(folder.join("fed")).expect("the count");
        Self { samples: samples[from..].to_vec(), given: 0, began: Instant::now(), fed }
    }
}

impl Input for Tape {
    fn name(&self) -> &str {
        "tape"
    }

    fn read(&mut self, into: &mut Vec<i16>, _: Duration) -> Result<Flow, MicError> {
        std::thread::sleep(Duration::from_millis(5));
        let due = (self.began.elapsed().as_secs_f64() * SPEED * f64::from(RATE)) as usize;
        // A device hands over a tenth of a second at most at a time.
        let until = due.min(self.given + RATE as usize / 10).min(self.samples.len());
        if until == self.given {
            return Ok(if until == self.samples.len() { Flow::End } else { Flow::Nothing });
        }
        into.extend_from_slice(&self.samples[self.given..until]);
        self.given = until;
        // In one go over what is there, so that a kill leaves the old count or the new one.
        self.fed.rewind().expect("the count");
        self.fed.write_all(format!("{until:012}").as_bytes()).expect("the count");
        Ok(Flow::Sound)
    }
}

#[test]
fn fifty_kills_lose_nothing_spoken_more_than_a_second_before() {
    let (Some(dev), Some(noises)) = (shared("dev"), shared("noise")) else { return };
    let room = tempfile::tempdir().expect("a folder");
    let folder = room.path();
    fs::create_dir_all(folder.join("kept")).expect("a folder");
    let notes: Vec<Spoken> = files(&dev).iter().step_by(3).map(|p| spoken(p)).collect();
    let wind = files(&noises).into_iter().find(|p| p.to_string_lossy().contains("wind")).expect("wind");
    let scene = lay_out(&notes, Some((&noise(&wind).1, 20.0)), 11);
    fs::write(folder.join("scene"), scene.samples.iter().flat_map(|s| s.to_le_bytes()).collect::<Vec<u8>>())
        .expect("the scene");

    let mut dice = Dice(std::process::id().into());
    println!("dice: {}", dice.0);
    let mut at = 0;
    let mut runs: Vec<Segment> = Vec::new();
    for _ in 0..KILLS {
        fs::write(folder.join("from"), at.to_string()).expect("the start");
        fs::write(folder.join("fed"), format!("{:012}", 0)).expect("the count");
        let mut child = Command::new(std::env::current_exe().expect("this test"))
            .args(["--exact", "the_recorder"])
            .env(FOLDER, folder)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the recorder starts");
        // From the first sound on, so that slow starts do not use up the time.
        let begun = Instant::now();
        while fed(folder) == 0 && begun.elapsed() < Duration::from_secs(60) {
            std::thread::sleep(Duration::from_millis(2));
        }
        std::thread::sleep(Duration::from_secs_f64(0.05 + 1.0 * dice.roll()));
        child.kill().expect("SIGKILL");
        child.wait().expect("it is dead");
        let spoken = fed(folder);
        runs.push(Segment { start: at, end: at + spoken });
        at += spoken;
        if at + u64::from(RATE) > scene.samples.len() as u64 {
            at = 0;
        }
    }
    assert!(runs.iter().all(|r| !r.is_empty()), "each recorder came to hear something");

    // The next start finds the rest.
    let spool = Spool::open(&folder.join("spool"), listen::Settings::default().segment).expect("the spool");
    let mut paths: Vec<PathBuf> = spool.waiting().expect("a listing").into_iter().map(|n| n.path).collect();
    let recovered = paths.len();
    paths.extend(files(&folder.join("kept")));
    let kept: Vec<Segment> = paths.iter().map(|p| place(p, &scene.samples)).collect();
    let lost = lost(&scene.schedule, &runs, &kept);
    let heard: u64 = runs.iter().map(Segment::len).sum();
    println!(
        "{KILLS} kills over {:.0} s of sound: {} notes kept, {recovered} of them after the last kill",
        heard as f64 / f64::from(RATE),
        kept.len()
    );
    assert!(lost.is_empty(), "lost: {lost:#?}\nruns: {runs:?}\nkept: {kept:?}");
    assert!(kept.len() > KILLS / 3, "enough was spoken to mean something: {}", kept.len());
}

fn fed(folder: &Path) -> u64 {
    fs::read_to_string(folder.join("fed")).ok().and_then(|n| n.trim().parse().ok()).unwrap_or(0)
}

/// Finds where in the scene a note was spoken; every sample of it must be right.
fn place(note: &Path, scene: &[i16]) -> Segment {
    let samples: Vec<i16> = hound::WavReader::open(note)
        .expect("a whole file")
        .into_samples()
        .map(|s| s.expect("a sample"))
        .collect();
    let start = (0..scene.len() - samples.len())
        .find(|&at| scene[at..].starts_with(&samples))
        .unwrap_or_else(|| panic!("{} is no part of what was spoken", note.display()));
    Segment { start: start as u64, end: (start + samples.len()) as u64 }
}

/// Returns the stretches of speech, spoken a second before a kill or earlier, that are not in what was kept.
fn lost(schedule: &[(String, Segment)], runs: &[Segment], kept: &[Segment]) -> Vec<(String, Segment)> {
    let tenth = u64::from(RATE) / 10;
    let mut lost = Vec::new();
    for run in runs {
        let safe_end = run.end.saturating_sub(RATE.into());
        for (name, note) in schedule {
            let piece = Segment { start: note.start.max(run.start), end: note.end.min(safe_end) };
            if piece.len() < SHORTEST {
                continue;
            }
            // More than one segment may share the piece, as long as they leave no hole in it.
            let mut covered = piece.start + tenth;
            let mut parts: Vec<&Segment> = kept.iter().collect();
            parts.sort_by_key(|s| s.start);
            for part in parts {
                if part.start <= covered {
                    covered = covered.max(part.end);
                }
            }
            if covered + tenth < piece.end {
                lost.push((name.clone(), Segment { start: covered, end: piece.end }));
            }
        }
    }
    lost
}

#[test]
fn a_disk_that_is_really_full_is_told_of() {
    // Linux has a device that is always full; elsewhere the stand-in in `spooling.rs` must do.
    let Ok(full) = OpenOptions::new().write(true).open("/dev/full") else { return };
    let room = tempfile::tempdir().expect("a folder");
    let spool = Spool::open(room.path(), listen::Settings::default().segment).expect("the spool");
    let device: File = full;
    let mut session =
        spool.begin_on(chrono::Utc::now(), Box::new(move |_| Ok(Box::new(device.try_clone()?))));
    session.push(&vec![1; 4 * RATE as usize]);
    assert!(session.settle().is_empty());
    let why = session.trouble().expect("trouble").to_string();
    assert!(why.contains("the disk is full") && why.contains("held in memory"), "{why}");
}
