//! What each fuzz target does with the bytes it is given; also replayed by `tests/regressions.rs`.
//!
//! A body may refuse the bytes in any way it likes, except by panicking, hanging or taking memory
//! without bound. Where more can be asked, it asserts.

use std::io::{Cursor, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::{Arc, OnceLock, mpsc};
use std::time::Duration;

/// What is done with bytes.
pub type Body = fn(&[u8]);

/// A name for each body, which is also the name of its folder in `fuzz/regressions` and `fuzz/corpus`.
pub const ALL: [(&str, Body); 10] = [
    ("segmenter", segmenter),
    ("spool", spool),
    ("sound", sound),
    ("photo", photo),
    ("display", display),
    ("extract", extract),
    ("json_lines", json_lines),
    ("table", table),
    ("handover", handover),
    ("http", http),
];

/// Any samples in any parcels: cuts come in order and within what was heard.
pub fn segmenter(bytes: &[u8]) {
    use capture::segment::{Cut, Segmenter, Settings};
    let Some((&parcel, bytes)) = bytes.split_first() else { return };
    let samples: Vec<i16> = bytes.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
    let mut segmenter =
        Segmenter::new(Settings { voice_s: 0.02, pause_s: 0.1, longest_s: 10.0, ..Settings::default() });
    let (mut heard, mut last_end) = (0, 0);
    let mut check = |cut: Cut, heard: u64| match cut {
        Cut::Opened(start) => assert!(start >= last_end && start <= heard),
        Cut::Closed(s) | Cut::Dropped(s) => {
            assert!(s.start >= last_end && s.end >= s.start && s.end <= heard);
            last_end = s.end;
        }
    };
    for part in samples.chunks(usize::from(parcel) * 16 + 1) {
        heard += part.len() as u64;
        for cut in segmenter.push(part) {
            check(cut, heard);
        }
        assert!(segmenter.needed_from() <= heard);
    }
    if let Some(cut) = segmenter.finish() {
        check(cut, heard);
    }
}

/// Any bytes as a left-over live file: the next start opens all the same, and writes only valid files.
pub fn spool(bytes: &[u8]) {
    use capture::{segment::Settings, spool::Spool};
    let Ok(folder) = tempfile::tempdir() else { return };
    for name in ["live-20251004T162000.250Z-000000000000.wav", "live-20251004T162000.250Z-000000004000.wav"] {
        if std::fs::write(folder.path().join(name), bytes).is_err() {
            return;
        }
    }
    let spool = Spool::open(folder.path(), Settings::default()).expect("left-overs never stop a start");
    for note in spool.waiting().expect("a listing") {
        let wav = std::fs::read(&note.path).expect("a file");
        let told = u32::from_le_bytes(wav[40..44].try_into().expect("four bytes"));
        assert!(wav.starts_with(b"RIFF") && told > 0 && told as usize + 44 == wav.len());
    }
}

/// Any bytes as a phone's recording.
pub fn sound(bytes: &[u8]) {
    let limits =
        capture::sound::Limits { bytes: 1 << 20, seconds: 60.0, ..capture::sound::Limits::default() };
    if let Ok(sound) = capture::sound::read_bytes_within(bytes, "note.m4a", &limits) {
        assert!(!sound.samples.is_empty() && sound.seconds <= 61.0);
        assert!(sound.samples.iter().all(|x| x.is_finite()));
    }
}

/// Any bytes as a photo.
pub fn photo(bytes: &[u8]) {
    let limits = capture::photo::Limits { max_bytes: 1 << 20, ..capture::photo::Limits::default() };
    if let Ok(photo) = capture::photo::read_bytes(bytes, &limits) {
        assert_eq!(photo.rgb.len() as u64, u64::from(photo.width) * u64::from(photo.height) * 3);
    }
}

/// Any pixels as a photo of a scale.
pub fn display(bytes: &[u8]) {
    let Some((&width, pixels)) = bytes.split_first() else { return };
    let width = u32::from(width).max(1);
    let rows = pixels.len() / (3 * width as usize);
    let rgb = &pixels[..rows * 3 * width as usize];
    if let Ok(picture) = display::Picture::new(width, rows as u32, rgb) {
        static READER: OnceLock<display::Reader> = OnceLock::new();
        let reading = READER.get_or_init(display::Reader::built_in).read(&picture);
        assert!((0.0..=1.0).contains(&reading.confidence));
    }
}

/// Any text as what was said, by keepers of none, one or three birds who count in any unit; the first byte
/// chooses. Every entry quotes what it came from, and a second reading is the first.
pub fn extract(bytes: &[u8]) {
    static KEEPERS: OnceLock<Vec<extract::Context>> = OnceLock::new();
    let Some((&first, bytes)) = bytes.split_first() else { return };
    let keepers = KEEPERS.get_or_init(keepers);
    let context = &keepers[usize::from(first) % keepers.len()];
    let text = String::from_utf8_lossy(bytes);
    // Every third word was hardly heard.
    let words: Vec<note::Word> = text
        .split_whitespace()
        .enumerate()
        .map(|(n, w)| note::Word {
            word: w.to_owned(),
            start_s: n as f64 * 0.3,
            end_s: n as f64 * 0.3 + 0.25,
            p: if n % 3 == 2 { 0.2 } else { 0.9 },
        })
        .collect();
    let words = (first >= 128).then_some(words.as_slice());
    let entries = extract::read(&text, words, context, extract::Lexicon::built_in());
    let letters: Vec<char> = text.chars().collect();
    for entry in &entries {
        let [start, end] = entry.span;
        assert_eq!(letters[start..end].iter().collect::<String>(), entry.quote);
        assert!((0.0..=1.0).contains(&entry.confidence));
    }
    assert_eq!(entries, extract::read(&text, words, context, extract::Lexicon::built_in()));
}

/// Keepers of none, one and three birds, in each unit and in none, with a bird on the fist or not.
fn keepers() -> Vec<extract::Context> {
    let bird = |name: &str, sex: &str, grams: f64| note::RosterBird {
        name: name.to_owned(),
        aliases: vec![format!("old {name}")],
        species: None,
        sex: Some(sex.to_owned()),
        last_grams: Some(grams),
    };
    let birds = [bird("Sedge", "female", 938.0), bird("Rook", "male", 640.0), bird("Mote", "male", 107.4)];
    let mut keepers = Vec::new();
    for count in [0, 1, 3] {
        for units in [None, Some(note::Units::Metric), Some(note::Units::Avoirdupois)] {
            for in_hand in [false, true] {
                keepers.push(extract::Context {
                    at: chrono::DateTime::UNIX_EPOCH.fixed_offset(),
                    birds: birds[..count].to_vec(),
                    current_bird: birds[..count].first().filter(|_| in_hand).map(|b| b.name.clone()),
                    units,
                });
            }
        }
    }
    keepers
}

/// Any bytes as JSON lines: one line out for each line in, and each is JSON.
pub fn json_lines(bytes: &[u8]) {
    let mut out = Vec::new();
    // A line that is no note is answered, not an error of the stream.
    let _ = extract::lines::run(Cursor::new(bytes), &mut out);
    for line in out.split(|b| *b == b'\n').filter(|l| !l.is_empty()) {
        assert!(line.starts_with(b"{") && line.ends_with(b"}"));
    }
}

/// Any bytes as a table from elsewhere.
pub fn table(bytes: &[u8]) {
    let Ok(folder) = tempfile::tempdir() else { return };
    let store = store::Store::open(folder.path()).expect("an empty record");
    if let Ok(seen) = handover::preview(&store, bytes, None) {
        handover::rows(&store, bytes, &seen.mapping).expect("what could be looked at can be read");
    }
}

/// Any bytes as another keeper's hand-over file.
pub fn handover(bytes: &[u8]) {
    let Ok(file) = tempfile::NamedTempFile::new() else { return };
    if std::fs::write(file.path(), bytes).is_ok() {
        // Refusing is fine; only a genuine file is taken.
        let _ = handover::check(file.path(), None);
    }
}

/// Any bytes over the desk's socket; if the first is odd, with the names of this house put into the request, so
/// that its guard lets it by.
pub fn http(bytes: &[u8]) {
    static HOUSE: OnceLock<SocketAddr> = OnceLock::new();
    let at = *HOUSE.get_or_init(house);
    let Some((&first, bytes)) = bytes.split_first() else { return };
    let mut request = bytes.to_vec();
    if let Some(end) = bytes.iter().position(|b| *b == b'\n').filter(|_| first % 2 == 1) {
        let names = format!(
            "Host: {at}\r\nOrigin: http://{at}\r\nSec-Fetch-Site: same-origin\r\nConnection: close\r\n"
        );
        request.splice(end + 1..end + 1, names.into_bytes());
    }
    let answer = say(at, &request);
    // A handler that falls over hangs up without a word; so does a house that refuses. Either way it goes on.
    assert!(answer.is_empty() || answer.starts_with(b"HTTP/1."), "{}", String::from_utf8_lossy(&answer));
    let alive = format!("GET /alive HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n");
    // On a busy machine even this may come too late for the house's patience; not every time.
    let answers = (0..20).any(|_| say(at, alive.as_bytes()).starts_with(b"HTTP/1.1 204"));
    assert!(answers, "the house no longer answers");
}

/// Serves an empty record on a free port for as long as the process lives.
fn house() -> SocketAddr {
    /// Does no work.
    struct Nobody;
    impl page::Workshop for Nobody {
        fn wake(&self) {}
    }
    let (told, heard) = mpsc::channel();
    std::thread::spawn(move || {
        let folder = tempfile::tempdir().expect("a folder");
        let store = store::Store::open(folder.path()).expect("an empty record");
        let limits = page::Limits {
            sound: 1 << 16,
            photo: 1 << 16,
            head: Duration::from_millis(100),
            page: Duration::from_millis(2000),
            upload: Duration::from_millis(2000),
            ..page::Limits::default()
        };
        let addr = SocketAddr::from(([127, 0, 0, 1], 0));
        let config = page::Config { addr, store, workshop: Arc::new(Nobody), limits, lan: None };
        let ready = |at: &page::Listening| {
            told.send(at.desk.trim_start_matches("http://").parse().expect("an address"))
                .expect("a listener");
        };
        page::serve(config, ready).expect("the page is served");
    });
    heard.recv().expect("the page is served")
}

/// Says something, then listens until the other end hangs up.
fn say(at: SocketAddr, words: &[u8]) -> Vec<u8> {
    let mut line = TcpStream::connect(at).expect("a line");
    line.set_read_timeout(Some(Duration::from_secs(20))).expect("a limit");
    // Whoever is refused may be hung up on while still speaking.
    let _ = line.write_all(words);
    let mut heard = Vec::new();
    let _ = line.read_to_end(&mut heard);
    heard
}
