//! A bird's history out and in: equal byte by byte, hers alone, and proof against tampering.

use chrono::DateTime;
use handover::{HandOverError, Options, Originals, check, hand_over, take_in};
use note::*;
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use store::*;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

struct Keeper {
    store: Store,
    folder: tempfile::TempDir,
    who: Who,
}

fn keeper(name: &str) -> Keeper {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("home")).unwrap();
    Keeper { store, folder, who: Who::new(name, "desk") }
}

fn entry(bird: Option<&str>, at: &str, quote: &str, span: [usize; 2], value: Value) -> Entry {
    Entry {
        value,
        bird: bird.map(str::to_owned),
        at: DateTime::parse_from_rfc3339(at).unwrap(),
        quote: quote.into(),
        span,
        confidence: 0.1 + 0.2,
        flags: vec![],
    }
}

fn weight(grams: f64) -> Value {
    Value::Weight(Weight { grams: Grams::new(grams).unwrap(), unit: Some(MassUnit::G) })
}

/// Two birds, notes of one and of both, a correction, a rejection, an undo, a move, a photo with a place.
fn ada() -> (Keeper, BirdId) {
    let ada = keeper("Ada");
    let (store, who) = (&ada.store, &ada.who);
    let details = |name: &str| BirdDetails { name: name.into(), ..BirdDetails::default() };
    let sedge = store
        .add_bird(
            BirdDetails {
                species: Some("Harris's hawk".into()),
                ring: Some("=R 1234".into()),
                furniture: vec![Furniture { item: "jesses".into(), grams: 9.0, worn: true }],
                remarks: Some("sister of Flint <script>alert(1)</script>".into()),
                ..details("Sedge")
            },
            who,
        )
        .unwrap();
    store.add_bird(BirdDetails { aliases: vec!["Old Boy".into()], ..details("Flint") }, who).unwrap();
    let spoken = |sound: &[u8], at: &str, said: Vec<Entry>| {
        let kept = store.put(sound, &About::sound("note.wav")).unwrap();
        let new = NewNote {
            source: Source::Sound(kept.sha256),
            at: DateTime::parse_from_rfc3339(at).unwrap(),
            taken: None,
            bird: None,
        };
        let id = store.add_note(new, who).unwrap().id().clone();
        store.propose(&id, said).unwrap()
    };
    let t = "2026-03-14T08:10:00+01:00";
    let ids = spoken(
        b"RIFF\0\0\0\0WAVE sedge alone",
        t,
        vec![
            entry(Some("Sedge"), t, "six forty two", [6, 19], weight(642.0)),
            entry(
                Some("Sedge"),
                t,
                "half a quail",
                [20, 32],
                Value::Food(Food {
                    item: "quail".into(),
                    count: Some(0.5),
                    part: None,
                    grams: None,
                    outcome: Outcome::Eaten,
                }),
            ),
            entry(Some("Sedge"), t, "bad", [33, 36], Value::Remark(Remark { text: "nonsense".into() })),
            entry(
                None,
                t,
                "minus three",
                [40, 51],
                Value::Weather(Weather { temperature_c: Some(-3.0), ..Weather::default() }),
            ),
        ],
    );
    store
        .decide(
            &[
                Decision::correct(&ids[0], entry(Some("Sedge"), t, "", [0, 0], weight(641.3))),
                Decision::accept(&ids[1]),
                Decision::reject(&ids[2], "misheard"),
                Decision::accept(&ids[3]),
            ],
            who,
        )
        .unwrap();
    let t = "2026-03-15T08:10:00+01:00";
    let ids = spoken(
        b"RIFF\0\0\0\0WAVE both birds",
        t,
        vec![
            entry(Some("Sedge"), t, "six thirty nine", [6, 19], weight(639.0)),
            entry(Some("Flint"), t, "two oh seven for Flint", [20, 40], weight(207.5)),
            entry(
                Some("Sedge"),
                t,
                "squabbled with the old boy",
                [41, 60],
                Value::Remark(Remark { text: "squabbled with the Old Boy, then fed".into() }),
            ),
            entry(
                Some("Flint"),
                t,
                "quail",
                [61, 66],
                Value::Food(Food {
                    item: "quail".into(),
                    count: Some(1.0),
                    part: None,
                    grams: None,
                    outcome: Outcome::Eaten,
                }),
            ),
        ],
    );
    let all: Vec<Decision> = ids.iter().take(3).map(Decision::accept).collect();
    store.decide(&all, who).unwrap();
    store.undo_last(who).unwrap();
    store.decide(&all, who).unwrap();
    // The last was said of the wrong bird.
    let moved = entry(
        Some("Sedge"),
        t,
        "",
        [0, 0],
        Value::Food(Food {
            item: "mouse".into(),
            count: Some(3.0),
            part: None,
            grams: None,
            outcome: Outcome::Eaten,
        }),
    );
    store.decide(&[Decision::correct(&ids[3], moved)], who).unwrap();
    let photo = store.put(&png_with_a_place(), &About::photo("scale.png")).unwrap();
    let id = store
        .add_photo(
            NewPhoto {
                evidence: photo.sha256,
                at: DateTime::parse_from_rfc3339(t).unwrap(),
                taken: TakenSource::ExifOffset,
                orientation: 1,
                place: Some(Place { latitude: 54.0625, longitude: -3.1 }),
                bird: None,
            },
            who,
        )
        .unwrap()
        .id()
        .clone();
    let reading = DisplayReading {
        reading: Some("639".into()),
        unit: Some(MassUnit::G),
        grams: Some(Grams::new(639.0).unwrap()),
        confidence: 0.9,
        place: None,
    };
    store.set_reading(&id, &reading).unwrap();
    let at = DateTime::parse_from_rfc3339("2024-05-01T12:00:00+01:00").unwrap();
    store.add_bird_event(&sedge, BirdEventKind::Acquired, at, "from a breeder; Flint stayed", who).unwrap();
    (ada, sedge)
}

fn png_with_a_place() -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    for (kind, body) in
        [(b"IHDR", &[0u8; 13][..]), (b"tEXt", b"54.0625 north"), (b"IDAT", b"x"), (b"IEND", b"")]
    {
        out.extend((body.len() as u32).to_be_bytes());
        out.extend(kind);
        out.extend(body);
        out.extend([0; 4]);
    }
    out
}

fn options(originals: Originals) -> Options {
    Options { keeper: "Ada".into(), originals, passphrase: None }
}

fn give(from: &Keeper, bird: &BirdId, name: &str, options: &Options) -> PathBuf {
    let file = from.folder.path().join(name);
    hand_over(&from.store, bird, &file, options).unwrap();
    file
}

fn files(file: &Path) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(File::open(file).unwrap()).unwrap();
    (0..zip.len())
        .map(|n| {
            let mut file = zip.by_index(n).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            (file.name().unwrap().into_owned(), bytes)
        })
        .collect()
}

fn one(file: &Path, name: &str) -> Vec<u8> {
    files(file).into_iter().find(|(n, _)| n == name).unwrap_or_else(|| panic!("no {name}")).1
}

#[test]
fn the_round_trip_loses_nothing() {
    let (ada, sedge) = ada();
    let first = give(&ada, &sedge, "first.zip", &options(Originals::AsTheyAre));
    let checked = check(&first, None).unwrap();
    assert_eq!((checked.bird.as_str(), checked.entries), ("Sedge", 6), "{checked:?}");
    assert_eq!(checked.proved, 4, "all but the weather and the remark that named another bird");
    let ben = keeper("Ben");
    ben.store.add_bird(BirdDetails { name: "Sedge".into(), ..BirdDetails::default() }, &ben.who).unwrap();
    let taken = take_in(&ben.store, &first, None, &ben.who).unwrap();
    assert_eq!((taken.name.as_str(), taken.new), ("Sedge of Ada", 6));
    assert_eq!(take_in(&ben.store, &first, None, &ben.who).unwrap().new, 0, "twice is once");
    assert!(ben.store.verify().unwrap().is_clean());
    // Marked as another's, and left as it is.
    let records = ben.store.records(&taken.bird, Span::ALL).unwrap();
    assert!(records.iter().all(|r| r.another.as_deref() == Some("Ada")));
    let change = entry(Some("Sedge of Ada"), "2026-03-14T08:10:00+01:00", "", [0, 0], weight(1.0));
    assert!(ben.store.amend(&records[0].id, change, "", &ben.who).is_err());
    // The advice starts from it: the same days.
    let strip = |days: Vec<Day>| serde_json::to_string(&days).unwrap();
    assert_eq!(
        strip(ben.store.days(&taken.bird, Span::ALL).unwrap()),
        strip(ada.store.days(&sedge, Span::ALL).unwrap())
    );
    // Handed on, and handed on again: entries and events are the same bytes but for the name she goes by.
    let mut details = ben.store.bird(&taken.bird).unwrap().details;
    details.name = "Sedge".into();
    let other = ben.store.bird_named("Sedge").unwrap().unwrap();
    ben.store.add_bird_event(&other.id, BirdEventKind::Died, other.added, "", &ben.who).unwrap();
    ben.store.change_bird(&taken.bird, details, &ben.who).unwrap();
    let second =
        give(&ben, &taken.bird, "second.zip", &Options { keeper: "Ben".into(), ..options(Originals::None) });
    assert_eq!(
        String::from_utf8(one(&second, "entries.jsonl")).unwrap(),
        String::from_utf8(one(&first, "entries.jsonl")).unwrap()
    );
    // The file it came in travels on, whole.
    let inside: Vec<_> = files(&second).into_iter().filter(|(n, _)| n.starts_with("earlier/")).collect();
    assert_eq!(inside.len(), 1);
    assert_eq!(inside[0].1, fs::read(&first).unwrap());
    let cat = keeper("Cat");
    let third = take_in(&cat.store, &second, None, &cat.who).unwrap();
    let third = give(&cat, &third.bird, "third.zip", &options(Originals::None));
    assert_eq!(one(&third, "entries.jsonl"), one(&first, "entries.jsonl"));
    // Back home, only what is new comes in.
    let home = take_in(&ada.store, &second, None, &ada.who).unwrap();
    assert_eq!((home.new, home.known, home.bird), (0, 6, sedge));
    assert!(ada.store.verify().unwrap().is_clean());
    // With originals as they are, the sound of her own note is there byte for byte.
    let sound = files(&first).into_iter().find(|(n, _)| n.ends_with(".wav")).unwrap().1;
    assert_eq!(sound, b"RIFF\0\0\0\0WAVE sedge alone");
}

#[test]
fn nothing_of_another_bird_and_no_place_is_in_the_file() {
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::WithoutPlace));
    let inside = files(&file);
    for (name, bytes) in &inside {
        let text = String::from_utf8_lossy(bytes).to_lowercase();
        for word in ["flint", "old boy", "207.5", "both birds", "54.0625", "-3.1,"] {
            assert!(!text.contains(word), "{name} holds {word}");
        }
    }
    let names: Vec<&str> = inside.iter().map(|(n, _)| n.as_str()).collect();
    assert_eq!(
        names.iter().filter(|n| n.starts_with("originals/")).count(),
        2,
        "her note's sound and the stripped photo"
    );
    // The page runs nothing and fetches nothing.
    let page = String::from_utf8(one(&file, "history.html")).unwrap();
    assert!(!page.contains("<script") && page.contains("&lt;script&gt;"));
    assert!(!page.contains("http") && !page.contains("src="));
    assert!(page.contains("<del>weight 642 g</del>"), "corrections are shown as corrections");
    // The table runs no formula.
    let table = String::from_utf8(one(&file, "entries.csv")).unwrap();
    assert!(table.contains(",-3.0,") || table.contains(",-3,"), "a negative number stays a number");
    // Each journal body that is withheld is still proved by its hash.
    let lines: Vec<journal::Line> = String::from_utf8(one(&file, "journal.jsonl"))
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert!(lines.iter().all(journal::Line::holds));
    assert!(lines.iter().any(|l| l.body.is_none()) && lines.iter().any(|l| l.body.is_some()));
}

#[test]
fn sha256sum_agrees() {
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::AsTheyAre));
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files(&file) {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    let out = std::process::Command::new("sha256sum")
        .args(["-c", "--quiet", "SHA256SUMS"])
        .current_dir(folder.path())
        .output();
    match out {
        Ok(out) => assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stdout)),
        Err(_) => println!("sha256sum is not installed: the sums were not checked against it"),
    }
}

type Files = Vec<(String, Vec<u8>)>;

/// Writes the files of a zip anew, with sums that fit, as a careful forger would.
fn forge(file: &Path, to: &Path, change: &dyn Fn(&mut Files), sums: bool) {
    let mut inside = files(file);
    change(&mut inside);
    if sums {
        let text: String = inside
            .iter()
            .filter(|(n, _)| n != "SHA256SUMS")
            .map(|(n, b)| {
                use sha2::Digest;
                format!("{}  {n}\n", journal::hex(&sha2::Sha256::digest(b)))
            })
            .collect();
        inside.iter_mut().find(|(n, _)| n == "SHA256SUMS").unwrap().1 = text.into_bytes();
    }
    let mut zip = ZipWriter::new(File::create(to).unwrap());
    for (name, bytes) in inside {
        zip.start_file(name, SimpleFileOptions::default()).unwrap();
        zip.write_all(&bytes).unwrap();
    }
    zip.finish().unwrap();
}

fn replace(inside: &mut [(String, Vec<u8>)], name: &str, from: &str, to: &str) {
    let file = &mut inside.iter_mut().find(|(n, _)| n == name).unwrap().1;
    let text = String::from_utf8(file.clone()).unwrap();
    assert!(text.contains(from), "{name} has no {from}");
    *file = text.replacen(from, to, 1).into_bytes();
}

/// Changes the line of the corrected weight; the first line may be the weather, which no chain proves.
fn of_the_weight(inside: &mut [(String, Vec<u8>)], from: &str, to: &str) {
    let text =
        String::from_utf8(inside.iter().find(|(n, _)| n == "entries.jsonl").unwrap().1.clone()).unwrap();
    let line = text.lines().find(|line| line.contains("641.3")).unwrap();
    assert!(line.contains(from), "{line} has no {from}");
    replace(inside, "entries.jsonl", line, &line.replacen(from, to, 1));
}

#[test]
fn tampering_is_found() {
    type Forgery = (&'static str, bool, fn(&mut Files));
    let forgeries: &[Forgery] = &[
        ("a weight, sums left", false, |f| replace(f, "entries.jsonl", "641.3", "941.3")),
        ("a weight, sums made to fit", true, |f| replace(f, "entries.jsonl", "641.3", "941.3")),
        ("who confirmed", true, |f| of_the_weight(f, "\"by\":\"Ada\"", "\"by\":\"Eve\"")),
        ("a time", true, |f| of_the_weight(f, "2026-03-14T08:10", "2026-03-14T09:10")),
        ("an entry that nobody decided", true, |f| of_the_weight(f, "\"id\":\"e", "\"id\":\"ex")),
        ("all marked as withheld", true, |f| {
            replace(f, "entries.jsonl", "641.3", "941.3");
            let file = &mut f.iter_mut().find(|(n, _)| n == "entries.jsonl").unwrap().1;
            let text = String::from_utf8(file.clone()).unwrap();
            let text = text.replace(",\"redacted\":true", "");
            *file = text.replace("\"id\":\"e", "\"redacted\":true,\"id\":\"ex").into_bytes();
        }),
        ("a body withheld", true, |f| {
            let file = &mut f.iter_mut().find(|(n, _)| n == "journal.jsonl").unwrap().1;
            let text = String::from_utf8(file.clone()).unwrap();
            let mut lines: Vec<journal::Line> =
                text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
            lines.iter_mut().filter(|line| line.body.as_ref().is_some_and(|b| b.contains("641.3"))).for_each(
                |line| {
                    line.body = None;
                },
            );
            *file = lines.iter().map(|l| serde_json::to_string(l).unwrap() + "\n").collect::<String>().into();
        }),
        ("a journal body", true, |f| replace(f, "journal.jsonl", "641.3", "941.3")),
        ("a line taken out", true, |f| {
            let file = &mut f.iter_mut().find(|(n, _)| n == "journal.jsonl").unwrap().1;
            let text = String::from_utf8(file.clone()).unwrap();
            *file = text
                .lines()
                .enumerate()
                .filter(|(n, _)| *n != 2)
                .map(|(_, l)| format!("{l}\n"))
                .collect::<String>()
                .into_bytes();
        }),
        ("the last line cut off", true, |f| {
            let file = &mut f.iter_mut().find(|(n, _)| n == "journal.jsonl").unwrap().1;
            let text = String::from_utf8(file.clone()).unwrap();
            let count = text.lines().count();
            *file = text.lines().take(count - 1).map(|l| format!("{l}\n")).collect::<String>().into_bytes();
        }),
        ("an entry taken out", true, |f| {
            let file = &mut f.iter_mut().find(|(n, _)| n == "entries.jsonl").unwrap().1;
            let text = String::from_utf8(file.clone()).unwrap();
            *file = text.lines().skip(1).map(|l| format!("{l}\n")).collect::<String>().into_bytes();
        }),
        ("an original", false, |f| {
            f.iter_mut().find(|(n, _)| n.starts_with("originals/")).unwrap().1.push(1)
        }),
        ("a file more", false, |f| f.push(("../../etc/cron.d/x".into(), b"x".to_vec()))),
        ("a file less", false, |f| f.retain(|(n, _)| n != "days.csv")),
        ("another bird's chain", true, |f| replace(f, "manifest.json", "\"bird\": \"b", "\"bird\": \"x")),
        ("a newer form", true, |f| replace(f, "manifest.json", "\"form\": 1", "\"form\": 2")),
    ];
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::AsTheyAre));
    let ben = keeper("Ben");
    for (what, sums, change) in forgeries {
        let forged = ada.folder.path().join("forged.zip");
        forge(&file, &forged, change, *sums);
        let answer = take_in(&ben.store, &forged, None, &ben.who);
        assert!(
            matches!(answer, Err(HandOverError::Changed(_) | HandOverError::NotOurs(_))),
            "{what}: {answer:?}"
        );
        assert!(ben.store.all_birds().unwrap().is_empty(), "{what}: nothing was taken in");
    }
    // The same way of writing without a change passes: the forger's tool is not what is found.
    let same = ada.folder.path().join("same.zip");
    forge(&file, &same, &|_| {}, true);
    assert_eq!(take_in(&ben.store, &same, None, &ben.who).unwrap().new, 6);
}

#[test]
fn names_that_lead_out_of_the_folder_lead_nowhere() {
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::None));
    let ben = keeper("Ben");
    let forged = ben.folder.path().join("slip.zip");
    for name in ["../../../slipped", "/tmp/slipped-by-varvel-test", "..\\slipped", "originals/../../slipped"]
    {
        forge(&file, &forged, &|f| f.push((name.into(), b"x".to_vec())), true);
        // Listed or not, nothing is ever written under a name from the file.
        let _ = take_in(&ben.store, &forged, None, &ben.who);
    }
    assert!(!Path::new("/tmp/slipped-by-varvel-test").exists());
    let found: Vec<_> = fs::read_dir(ben.folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(found.len(), 2, "{found:?}");
}

#[test]
fn a_bomb_does_not_burst() {
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::None));
    let forged = ada.folder.path().join("bomb.zip");
    // 600 MB of noughts pack into less than one.
    let mut inside = files(&file);
    inside.retain(|(n, _)| n != "SHA256SUMS");
    let mut zip = ZipWriter::new(File::create(&forged).unwrap());
    let options = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    zip.start_file("SHA256SUMS", options).unwrap();
    let block = vec![b'0'; 1 << 20];
    for _ in 0..600 {
        zip.write_all(&block).unwrap();
    }
    for (name, bytes) in inside {
        zip.start_file(name, options).unwrap();
        zip.write_all(&bytes).unwrap();
    }
    zip.finish().unwrap();
    assert!(fs::metadata(&forged).unwrap().len() < 10 << 20);
    assert!(matches!(check(&forged, None), Err(HandOverError::TooLarge(_))));
}

#[test]
fn what_is_no_hand_over_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x");
    for bytes in [&b""[..], b"hello", b"PK\x03\x04", b"PK\x05\x06\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0"] {
        fs::write(&file, bytes).unwrap();
        assert!(check(&file, None).is_err());
    }
    assert!(check(&folder.path().join("missing"), None).is_err());
}

#[cfg(feature = "encrypt")]
#[test]
fn a_locked_file_opens_with_its_passphrase_only() {
    let (ada, sedge) = ada();
    let locked =
        Options { passphrase: Some("over the fell at dusk".into()), ..options(Originals::AsTheyAre) };
    let file = give(&ada, &sedge, "a.zip.age", &locked);
    assert!(seal::is_sealed(&fs::read(&file).unwrap()));
    assert!(check(&file, None).is_err());
    assert!(check(&file, Some("over the hill at dawn")).is_err());
    assert_eq!(check(&file, Some("over the fell at dusk")).unwrap().entries, 6);
    let mut bytes = fs::read(&file).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&file, bytes).unwrap();
    assert!(check(&file, Some("over the fell at dusk")).is_err());
}

#[test]
fn a_file_is_never_written_over() {
    let (ada, sedge) = ada();
    let file = give(&ada, &sedge, "a.zip", &options(Originals::None));
    assert!(matches!(
        hand_over(&ada.store, &sedge, &file, &options(Originals::None)),
        Err(HandOverError::Refused(_))
    ));
    let no_name = Options::default();
    assert!(hand_over(&ada.store, &sedge, &ada.folder.path().join("b.zip"), &no_name).is_err());
    let left: Vec<_> = fs::read_dir(ada.folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left.len(), 2, "no half-written file is left: {left:?}");
}
