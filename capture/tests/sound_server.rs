//! Real sound through a real device: a sound server's null sink plays notes into the microphone.
//!
//! The test runs itself again beside a server of its own (`tests/listening/with-sound-server.sh`) and
//! is skipped, saying so, where no server is installed.

mod scene;

use std::{
    io,
    path::{Path, PathBuf},
    process::{Child, Command},
    sync::{
        Mutex,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

use capture::{
    listen::{self, Event, Hearer, Kept},
    mic::{self, Flow, Input, MicError, Microphone},
    segment::{RATE, Segment},
    spool::{SavedNote, Spool},
};
use scene::{Scene, Score, Spoken, files, lay_out, noise, score, shared, spoken};

const INSIDE: &str = "VARVEL_TEST_SOUND_SERVER";

#[test]
fn notes_played_to_a_real_device_are_found_whole() {
    if shared("dev").is_none() || shared("noise").is_none() {
        return;
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/listening/with-sound-server.sh");
    let status = Command::new(script)
        .arg(std::env::current_exe().expect("this test"))
        .args(["--exact", "beside_the_server", "--nocapture"])
        .env(INSIDE, "1")
        .status()
        .expect("the script runs");
    match status.code() {
        Some(77) => println!(
            "skipped: no sound server is installed (pulseaudio, pulseaudio-utils, libasound2-plugins)"
        ),
        code => assert_eq!(code, Some(0), "see above"),
    }
}

#[test]
fn beside_the_server() {
    if std::env::var_os(INSIDE).is_none() {
        return;
    }
    microphones_are_listed_and_chosen();
    notes_are_found_whole_and_noise_is_none();
    tones_are_heard();
    a_microphone_that_vanishes_mid_note_costs_nothing();
}

fn microphones_are_listed_and_chosen() {
    let mics = mic::list().expect("a list");
    println!("microphones: {:?}", mics.iter().map(|m| &m.name).collect::<Vec<_>>());
    assert!(mics.iter().any(|m| m.usual), "{mics:?}");
    let Err(MicError::NoSuch { present, .. }) = Microphone::open(Some("no such thing")) else {
        panic!("a microphone of that name should not be there")
    };
    assert_eq!(present.len(), mics.len());
}

fn notes_are_found_whole_and_noise_is_none() {
    let notes: Vec<Spoken> = [3, 26, 121].map(|n| spoken(&files(&shared("dev").expect("notes"))[n])).to_vec();
    let noises = files(&shared("noise").expect("noise"));
    let wind = noises.iter().find(|p| p.to_string_lossy().contains("wind")).expect("wind");
    // Wind goes on under and between the notes, and alone for a while after them.
    let mut scene = lay_out(&notes, Some((&noise(wind).1, 15.0)), 5);
    let tail: Vec<i16> = scene.samples[..7 * RATE as usize].to_vec();
    scene.samples.extend(tail);
    let kept = play_and_listen(&scene, |_| {});
    let found: Vec<Segment> = kept.iter().map(|note| place(note, &scene)).collect();
    let got = score(&scene.schedule, &found);
    println!("{:.0} s through the device: {got:?}", scene.samples.len() as f64 / f64::from(RATE));
    assert_eq!(got, Score { played: notes.len(), found: notes.len(), ..Score::default() });
}

fn tones_are_heard() {
    let mut input = Microphone::open(None).expect("a microphone");
    let mut heard = Vec::new();
    // A read ends with whatever has come, so the sound is counted, not the reads; a server may take a second to begin.
    let mut listen = |seconds: usize| {
        let until = std::time::Instant::now() + Duration::from_secs(30);
        let enough = heard.len() + seconds * RATE as usize;
        while heard.len() < enough && std::time::Instant::now() < until {
            assert_ne!(input.read(&mut heard, Duration::from_millis(100)), Ok(Flow::End));
        }
    };
    listen(1);
    let player = std::thread::spawn(|| mic::tones(2));
    listen(6);
    player.join().expect("it played").expect("there is a loudspeaker");
    // Twentieths of a second above -40 dB come in two groups.
    let loud: Vec<bool> = heard.chunks(800).map(|c| mic::Level::of(c).mean_db > -40.0).collect();
    let groups = loud.windows(2).filter(|w| !w[0] && w[1]).count();
    assert_eq!(groups, 2, "{loud:?}");
}

fn a_microphone_that_vanishes_mid_note_costs_nothing() {
    let note = spoken(&files(&shared("dev").expect("notes"))[7]);
    assert!(note.audible.seconds() > 8.0, "long enough to be interrupted");
    let mut scene = lay_out(&[note], None, 1);
    // The server dies five seconds into the note, and stays dead.
    scene.samples.drain(..6 * RATE as usize);
    scene.samples.truncate(12 * RATE as usize);
    let (server, gone) = (std::env::var("SOUND_SERVER_PID").expect("the server"), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            std::thread::sleep(Duration::from_secs(7));
            assert!(Command::new("kill").args(["-9", &server]).status().is_ok_and(|s| s.success()));
        });
        let kept = play_and_listen(&scene, |event| {
            if let Event::NoMicrophone(why) = event {
                println!("told: {why}");
                gone.lock().expect("one writer").push(why.to_string());
            }
        });
        assert_eq!(kept.len(), 1, "what was spoken until then is a note");
        let seconds = kept[0].len() as f64 / f64::from(RATE);
        assert!((3.0..8.0).contains(&seconds), "{seconds} s kept");
    });
    let told = gone.into_inner().expect("no panic");
    assert!(!told.is_empty() && told.len() < 4, "told in few words: {told:?}");
}

/// Plays a scene to the loudspeaker while listening, and returns the notes that were kept.
fn play_and_listen(scene: &Scene, look: impl Fn(&Event)) -> Vec<Vec<i16>> {
    let room = tempfile::tempdir().expect("a folder");
    let wav = room.path().join("scene.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&wav, spec).expect("a file");
    scene.samples.iter().for_each(|&s| writer.write_sample(s).expect("a sample"));
    writer.finalize().expect("a file");

    let settings = listen::Settings::default();
    let spool = Spool::open(&room.path().join("spool"), settings.segment).expect("the spool");
    let (stop, mut keeper) = (AtomicBool::new(false), Keeper(Vec::new()));
    let open = || Microphone::open(None).map(|m| Box::new(m) as Box<dyn Input>);
    let mut player: Option<Child> = None;
    std::thread::scope(|scope| {
        scope.spawn(|| {
            std::thread::sleep(Duration::from_secs_f64(scene.samples.len() as f64 / f64::from(RATE) + 5.0));
            stop.store(true, Ordering::Relaxed);
        });
        let tell = |event: Event| {
            // The music starts when somebody listens.
            if matches!(event, Event::Listening(_)) && player.is_none() {
                player = Some(Command::new("paplay").arg(&wav).spawn().expect("paplay"));
            }
            look(&event);
        };
        listen::run(open, &spool, &settings, &mut keeper, tell, &stop).expect("a session");
    });
    if let Some(mut player) = player {
        // It ends by itself, or with its server.
        let _ = player.wait();
    }
    keeper.0
}

struct Keeper(Vec<Vec<i16>>);

impl Hearer for Keeper {
    type Words = Vec<i16>;
    type Error = io::Error;

    fn hear(&mut self, note: &SavedNote) -> io::Result<(String, Vec<i16>)> {
        Ok(("words".into(), samples(&note.path)))
    }

    fn keep(&mut self, _: &SavedNote, words: Vec<i16>, _: usize) -> io::Result<Kept> {
        self.0.push(words);
        Ok(Kept { id: self.0.len().to_string(), has_weight: false, known: false })
    }

    fn withdraw(&mut self, _: &str) -> io::Result<()> {
        Ok(())
    }
}

fn samples(path: &PathBuf) -> Vec<i16> {
    hound::WavReader::open(path).expect("a note").into_samples().map(|s| s.expect("a sample")).collect()
}

/// Finds where in the scene a note belongs, by its loudness over time: the device changed the samples themselves.
fn place(note: &[i16], scene: &Scene) -> Segment {
    let (part, whole) = (loudness(note), loudness(&scene.samples));
    let best = (0..=whole.len().saturating_sub(part.len()))
        .max_by(|&a, &b| likeness(&part, &whole[a..]).total_cmp(&likeness(&part, &whole[b..])))
        .expect("a place");
    let like = likeness(&part, &whole[best..]);
    assert!(like > 0.9, "likeness {like:.2}: this was not played");
    Segment { start: best as u64 * 160, end: best as u64 * 160 + note.len() as u64 }
}

/// Returns the level of each hundredth of a second, in dB.
fn loudness(samples: &[i16]) -> Vec<f32> {
    samples.chunks(160).map(|c| mic::Level::of(c).mean_db).collect()
}

/// Returns the correlation of two runs of levels over the length of the first.
fn likeness(a: &[f32], b: &[f32]) -> f32 {
    let n = a.len().min(b.len()) as f32;
    let (ma, mb) = (a.iter().sum::<f32>() / n, b.iter().take(a.len()).sum::<f32>() / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        ab += (x - ma) * (y - mb);
        aa += (x - ma).powi(2);
        bb += (y - mb).powi(2);
    }
    ab / (aa * bb).sqrt().max(1e-9)
}
