//! A whole session without a device: what is kept, what is not, what is said about it.

mod scene;

use std::{
    collections::VecDeque,
    fs,
    path::{Path, PathBuf},
    sync::{
        Mutex,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use capture::{
    listen::{self, Event, Hearer, Kept, Settings, Summary},
    mic::{Flow, Input, MicError},
    segment::RATE,
    spool::{SavedNote, Spool},
};
use scene::{files, lay_out, shared, spoken};

/// Hears, for each note in turn, what the test says.
struct Script {
    texts: VecDeque<&'static str>,
    record: Vec<String>,
    withdrawn: Vec<String>,
    /// Hears its first note only once so many notes lie in a folder.
    waits_for: Option<(PathBuf, usize)>,
}

impl Script {
    fn of(texts: &[&'static str]) -> Self {
        Self {
            texts: texts.iter().copied().collect(),
            record: Vec::new(),
            withdrawn: Vec::new(),
            waits_for: None,
        }
    }
}

impl Hearer for Script {
    type Words = ();
    type Error = String;

    fn hear(&mut self, _: &SavedNote) -> Result<(String, ()), String> {
        if let Some((folder, count)) = self.waits_for.take() {
            let began = Instant::now();
            while notes_in(&folder) < count && began.elapsed() < Duration::from_secs(120) {
                std::thread::sleep(Duration::from_millis(20));
            }
        }
        match self.texts.pop_front() {
            Some("(model missing)") => Err("the speech model is missing".into()),
            Some(text) => Ok((text.into(), ())),
            None => Ok(("more".into(), ())),
        }
    }

    fn keep(&mut self, note: &SavedNote, (): (), _: usize) -> Result<Kept, String> {
        assert!(note.path.exists(), "the sound is there while it is being taken");
        let id = format!("n{}", self.record.len() + 1);
        self.record.push(id.clone());
        Ok(Kept { id, has_weight: self.record.len().is_multiple_of(2), known: false })
    }

    fn withdraw(&mut self, id: &str) -> Result<(), String> {
        self.withdrawn.push(id.into());
        Ok(())
    }
}

/// An input that plays sound at once and then ends, or fails.
struct Tape(VecDeque<i16>, Result<Flow, MicError>);

impl Input for Tape {
    fn name(&self) -> &str {
        "tape"
    }

    fn read(&mut self, into: &mut Vec<i16>, wait: Duration) -> Result<Flow, MicError> {
        if self.0.is_empty() {
            std::thread::sleep(wait.min(Duration::from_millis(5)));
            return self.1.clone();
        }
        into.extend(self.0.drain(..self.0.len().min(1_600)));
        Ok(Flow::Sound)
    }
}

fn notes_in(folder: &Path) -> usize {
    let names =
        fs::read_dir(folder).expect("the spool").filter_map(|e| e.ok()?.file_name().into_string().ok());
    names.filter(|n| n.starts_with("note-") && n.ends_with(".wav")).count()
}

fn once() -> Settings {
    Settings { once: true, ..Settings::default() }
}

/// Lays finished notes into a spool, as an earlier session would have.
fn leave_notes(folder: &Path, count: usize) {
    for n in 0..count {
        let from = n * 100_000;
        let name = format!("note-20251004T162000.250Z-{from:012}-{:012}.wav", from + 16_000);
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: RATE,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(folder.join(name), spec).expect("a file");
        (0..16_000).for_each(|_| writer.write_sample(n as i16).expect("a sample"));
        writer.finalize().expect("a file");
    }
}

fn hear_all(texts: &[&'static str], settings: &Settings) -> (Script, Summary, Vec<String>, usize) {
    let room = tempfile::tempdir().expect("a folder");
    leave_notes(room.path(), texts.len());
    let spool = Spool::open(room.path(), settings.segment).expect("the spool");
    let mut script = Script::of(texts);
    let mut told = Vec::new();
    let silence = || Ok(Box::new(Tape(VecDeque::new(), Ok(Flow::End))) as Box<dyn Input>);
    let tell = |event: Event| match event {
        Event::Kept { ref kept, .. } => {
            told.push(format!("{} {}", kept.id, "o".repeat(event.tones() as usize)))
        }
        Event::NotKept { text } => told.push(format!("not kept: {text}")),
        Event::Withdrawn { id } => told.push(format!("{id} withdrawn")),
        Event::NothingToWithdraw => told.push("nothing to withdraw".into()),
        Event::Failed { why, .. } => told.push(why),
        _ => {}
    };
    let summary = listen::run(silence, &spool, settings, &mut script, tell, &AtomicBool::new(false))
        .expect("a session");
    let left = spool.waiting().expect("a listing").len();
    (script, summary, told, left)
}

#[test]
fn notes_are_kept_answered_and_scratched() {
    let (script, summary, told, left) = hear_all(
        &[
            "Keen today.",
            "Bramble 642.",
            "Scratch that note.",
            "Half crop.",
            "Fern 931, scratch that.",
            "Scratch that.",
            "Scratch that.",
            "Scratch that.",
        ],
        &once(),
    );
    assert_eq!(
        told,
        [
            "n1 o",
            "n2 oo",
            "n2 withdrawn",
            "n3 o",
            "n4 oo",
            "n4 withdrawn",
            "n3 withdrawn",
            "n1 withdrawn",
            "nothing to withdraw"
        ]
    );
    assert_eq!(summary, Summary { kept: 4, withdrawn: 4, not_kept: 0, failed: 0 });
    assert_eq!((script.record.len(), script.withdrawn.len(), left), (4, 4, 0));
}

#[test]
fn without_the_cue_nothing_is_kept() {
    let settings = Settings { cue: Some("falcon log".into()), ..once() };
    let (script, summary, told, left) = hear_all(
        &[
            "Come on then, good girl.",
            "Falcon log, Bramble 642.",
            "",
            "Falcon log.",
            "Falcon log, scratch that note.",
        ],
        &settings,
    );
    assert_eq!(
        told,
        ["not kept: Come on then, good girl.", "n1 o", "not kept: ", "not kept: Falcon log.", "n1 withdrawn"]
    );
    assert_eq!(summary, Summary { kept: 1, withdrawn: 1, not_kept: 3, failed: 0 });
    assert_eq!((script.record.len(), left), (1, 0), "talk to the bird does not stay on disk");
}

#[test]
fn a_note_that_cannot_be_heard_stays_on_disk() {
    let (_, summary, told, left) = hear_all(&["(model missing)", "Keen today."], &once());
    assert_eq!(told, ["the speech model is missing", "n1 o"]);
    assert_eq!((summary.kept, summary.failed, left), (1, 1, 1));
}

#[test]
fn recording_goes_on_while_a_note_is_being_heard() {
    let Some(dev) = shared("dev") else { return };
    let notes: Vec<_> = files(&dev)[..6].iter().map(|p| spoken(p)).collect();
    let room = tempfile::tempdir().expect("a folder");
    let spool = Spool::open(room.path(), once().segment).expect("the spool");
    let mut script = Script::of(&[]);
    script.waits_for = Some((room.path().into(), 6));
    let mut tape = Some(lay_out(&notes, None, 1).samples.into());
    let open = || Ok(Box::new(Tape(tape.take().unwrap_or_default(), Ok(Flow::End))) as Box<dyn Input>);
    let stop = AtomicBool::new(false);
    let mut saved = 0;
    let tell = |event: Event| match event {
        // By the time the first note has been heard, all others had been cut and saved.
        Event::Saved(_) => saved += 1,
        Event::Kept { .. } => stop.store(true, Ordering::Relaxed),
        _ => {}
    };
    listen::run(open, &spool, &once(), &mut script, tell, &stop).expect("a session");
    assert_eq!(saved, 6, "the first note was being heard all the while");
    assert_eq!(
        spool.waiting().expect("a listing").len(),
        6 - script.record.len(),
        "the rest waits for the next start"
    );
}

#[test]
fn a_microphone_that_goes_and_comes_back_loses_no_spoken_word() {
    let Some(dev) = shared("dev") else { return };
    let note = spoken(&files(&dev)[7]);
    let whole = lay_out(std::slice::from_ref(&note), None, 1).samples;
    // Gone five seconds into the note.
    let first: VecDeque<i16> = whole[..13 * RATE as usize].to_vec().into();
    let gone = MicError::Gone("Headset".into());
    let mut tapes = VecDeque::from([
        Ok(Tape(first, Err(gone.clone()))),
        Err(gone.clone()),
        Err(gone.clone()),
        Ok(Tape(whole.into(), Ok(Flow::Nothing))),
    ]);
    let room = tempfile::tempdir().expect("a folder");
    let spool = Spool::open(room.path(), Settings::default().segment).expect("the spool");
    let mut script = Script::of(&[]);
    let stop = AtomicBool::new(false);
    let told = Mutex::new(Vec::new());
    let open = || {
        let next = tapes.pop_front().unwrap_or(Err(MicError::None));
        next.map(|tape| Box::new(tape) as Box<dyn Input>)
    };
    let mut kept = Vec::new();
    let tell = |event: Event| match event {
        Event::NoMicrophone(why) => told.lock().expect("one writer").push(why.to_string()),
        Event::Listening(_) => told.lock().expect("one writer").push("listening".into()),
        Event::Kept { note, .. } => {
            kept.push(note.seconds);
            stop.store(kept.len() == 2, Ordering::Relaxed);
        }
        _ => {}
    };
    listen::run(open, &spool, &Settings::default(), &mut script, tell, &stop).expect("a session");
    let told = told.into_inner().expect("no panic");
    // Said once, not once a second.
    assert_eq!(told, ["listening", &gone.to_string(), "listening"]);
    assert!(kept[0] > 4.0 && kept[1] > note.audible.seconds(), "{kept:?}");
}

#[test]
fn no_microphone_is_said_in_words_a_falconer_understands() {
    for (error, words) in [
        (MicError::None, vec!["no microphone", "Plug one in"]),
        (
            MicError::NoSuch { asked: "lapel".into(), present: vec!["Built-in".into(), "Headset".into()] },
            vec!["lapel", "Built-in; Headset"],
        ),
        (MicError::NoSuch { asked: "lapel".into(), present: vec![] }, vec!["There are: none"]),
        (MicError::Busy("Headset".into()), vec!["in use by another program", "choose another"]),
        (MicError::Forbidden("Headset".into()), vec!["Allow it"]),
        (MicError::Gone("Headset".into()), vec!["unplugged, switched off or out of range"]),
    ] {
        for word in words {
            assert!(error.to_string().contains(word), "{error}");
        }
    }
    let room = tempfile::tempdir().expect("a folder");
    let spool = Spool::open(room.path(), once().segment).expect("the spool");
    let mut told = Vec::new();
    let tell = |event: Event| told.push(format!("{event:?}"));
    listen::run(|| Err(MicError::None), &spool, &once(), &mut Script::of(&[]), tell, &AtomicBool::new(false))
        .expect("an end");
    assert_eq!(told, ["NoMicrophone(None)"]);
    assert!(fs::read_dir(room.path()).expect("the spool").count() <= 1, "nothing but the lock");
}
