//! Writing one bird's history into one file.
//!
//! The file is a zip:
//!
//! | name | what |
//! |---|---|
//! | `history.html` | the whole history to read, without scripts |
//! | `manifest.json` | who wrote it, when, for which bird, the last hash of her chain |
//! | `entries.jsonl` | confirmed entries by the entry contract, with who confirmed them and when |
//! | `days.jsonl` | the bird, then her days, as advice reads them |
//! | `events.jsonl` | acquired, transferred, lost, died and the like |
//! | `entries.csv`, `days.csv` | the same for a spreadsheet |
//! | `journal.jsonl` | her chain of the journal: every proposal, decision and undo with its hash |
//! | `notes.jsonl`, `originals.jsonl` | the notes that speak of her alone; each original and what became of it |
//! | `originals/…` | sound and photos, if asked |
//! | `earlier/…` | hand-over files of keepers before |
//! | `SHA256SUMS` | sums of all the others, as `sha256sum -c` reads them |

use crate::place::{Stripped, without_place};
use crate::redact::Others;
use crate::take::{Lives, Proof};
use crate::{HandOverError, Result, open_data, page};
use note::{BirdId, Entry, EntryId, NoteId, Sha256};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256 as Hasher};
use std::collections::HashSet;
use std::fs::File;
use std::io::{BufWriter, Seek, Write};
use std::path::{Path, PathBuf};
use store::journal::{Body, Line, Op, hex};
use store::{Bird, BirdDetails, BirdEvent, Moment, Record, Span, State, Store, seal};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// The form of the file; one with a higher number is refused by this program.
pub(crate) const FORM: u32 = 1;

/// Whether sound and photos go along.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Originals {
    /// None; their sums are told all the same.
    #[default]
    None,
    /// Copies that do not say where they were made.
    WithoutPlace,
    /// Byte for byte, with the places that cameras wrote into them.
    AsTheyAre,
}

/// How to hand over.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The name of the keeper, or the keepers, whose record it is.
    pub keeper: String,
    /// Whether sound and photos go along.
    pub originals: Originals,
    /// Locks the file.
    pub passphrase: Option<String>,
}

/// What was handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Given {
    /// The file.
    pub file: PathBuf,
    /// Its length in bytes.
    pub bytes: u64,
    /// Confirmed entries in it.
    pub entries: u64,
    /// Originals in it.
    pub originals: u64,
    /// The last hash of the bird's chain: written on paper, it proves the file later.
    pub head: Option<Sha256>,
    /// What was left out or changed and why, each as a sentence.
    pub left_out: Vec<String>,
}

/// `manifest.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Manifest {
    pub(crate) form: u32,
    pub(crate) written: Moment,
    pub(crate) keeper: String,
    pub(crate) bird: BirdId,
    pub(crate) details: BirdDetails,
    pub(crate) entries: u64,
    pub(crate) originals: Originals,
    pub(crate) chain_lines: u64,
    /// Lines whose body is withheld because it names another bird.
    pub(crate) withheld: u64,
    pub(crate) head: Option<Sha256>,
    pub(crate) left_out: Vec<String>,
}

/// A line of `entries.jsonl`: an entry by the contract, and whose word it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct EntryLine {
    pub(crate) id: EntryId,
    pub(crate) keeper: String,
    pub(crate) by: String,
    pub(crate) decided_at: Moment,
    /// Another bird was named in it and taken out, here or by a keeper before, or in a line of the
    /// chain that would prove it: the chain does not prove this entry.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub(crate) redacted: bool,
    #[serde(flatten)]
    pub(crate) entry: Entry,
}

#[derive(Serialize)]
struct NoteLine<'a> {
    id: &'a NoteId,
    at: Moment,
    keeper: &'a str,
    sha256: Option<&'a Sha256>,
    text: Option<&'a str>,
}

/// A line of `originals.jsonl`.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct OriginalLine {
    /// Sum of the original.
    pub(crate) sha256: Sha256,
    pub(crate) kind: store::EvidenceKind,
    pub(crate) at: Moment,
    /// What it shows or says, in short.
    pub(crate) of: String,
    /// The file in here, if it is.
    pub(crate) file: Option<String>,
    /// Sum of that file, where it is a copy without place.
    pub(crate) copy_sha256: Option<Sha256>,
    /// Why it is not here, or not as it was.
    pub(crate) remark: Option<String>,
}

/// Writes a bird's history into a new file.
pub fn hand_over(store: &Store, bird: &BirdId, to: &Path, options: &Options) -> Result<Given> {
    if to.exists() {
        return Err(HandOverError::Refused(format!(
            "{} is there already: choose another name",
            to.display()
        )));
    }
    if options.keeper.trim().is_empty() {
        return Err(HandOverError::Refused("tell whose record this is: a keeper's name".into()));
    }
    if let Some(passphrase) = &options.passphrase {
        seal::check_passphrase(passphrase)?;
    }
    let folder = to.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let draft = tempfile::Builder::new()
        .prefix(".handing-over-")
        .tempfile_in(folder)
        .map_err(|e| HandOverError::file(folder, e))?;
    let mut given = write(store, bird, BufWriter::new(draft.as_file()), options)?;
    let done = match &options.passphrase {
        None => draft,
        Some(passphrase) => {
            let mut plain = File::open(draft.path()).map_err(|e| HandOverError::file(draft.path(), e))?;
            let mut locked = tempfile::Builder::new()
                .prefix(".handing-over-")
                .tempfile_in(folder)
                .map_err(|e| HandOverError::file(folder, e))?;
            seal::seal(passphrase, &mut plain, &mut locked)?;
            locked
        }
    };
    done.as_file().sync_all().map_err(|e| HandOverError::file(to, e))?;
    given.bytes = done.as_file().metadata().map_err(|e| HandOverError::file(to, e))?.len();
    done.persist_noclobber(to).map_err(|e| HandOverError::file(to, e.error))?;
    given.file = to.to_owned();
    Ok(given)
}

/// Files going into the zip, and their sums.
struct Parcel<W: Write + Seek> {
    zip: ZipWriter<W>,
    sums: Vec<(String, String)>,
    at: zip::DateTime,
}

impl<W: Write + Seek> Parcel<W> {
    fn put(&mut self, name: &str, bytes: &[u8]) -> Result<()> {
        // Sound and photos are packed already.
        let packed = name.starts_with("originals/") || name.starts_with("earlier/");
        let method = if packed { CompressionMethod::Stored } else { CompressionMethod::Deflated };
        let options = SimpleFileOptions::default().compression_method(method).last_modified_time(self.at);
        let options = options.large_file(bytes.len() > 1 << 31);
        self.zip.start_file(name, options).map_err(unwritten)?;
        self.zip.write_all(bytes).map_err(|e| HandOverError::file(name, e))?;
        self.sums.push((name.to_owned(), hex(&Hasher::digest(bytes))));
        Ok(())
    }

    fn put_lines<T: Serialize>(&mut self, name: &str, lines: impl IntoIterator<Item = T>) -> Result<()> {
        let mut out = Vec::new();
        for line in lines {
            serde_json::to_writer(&mut out, &line).map_err(store::StoreError::from)?;
            out.push(b'\n');
        }
        self.put(name, &out)
    }

    fn close(mut self) -> Result<()> {
        self.sums.sort();
        let text: String = self.sums.iter().map(|(name, sum)| format!("{sum}  {name}\n")).collect();
        self.put("SHA256SUMS", text.as_bytes())?;
        self.zip.finish().map_err(unwritten)?.flush().map_err(|e| HandOverError::file("hand-over file", e))
    }
}

fn unwritten(error: zip::result::ZipError) -> HandOverError {
    HandOverError::file("hand-over file", std::io::Error::other(error.to_string()))
}

fn write(store: &Store, id: &BirdId, to: impl Write + Seek, options: &Options) -> Result<Given> {
    let bird = store.bird(id)?;
    let others = Others::of(store, &bird)?;
    let mut left_out = Vec::new();
    let records = own_records(store, &bird)?;
    let chain = chain(store, id, &others)?;
    let (lines, redacted) = entry_lines(&records, &others, &options.keeper, &chain)?;
    let Chain { lines: chain, withheld, .. } = chain;
    if redacted > 0 {
        left_out.push(format!("In {redacted} entries another bird was named; the name was taken out."));
    }
    if withheld > 0 {
        left_out.push(format!(
            "The text of {withheld} journal lines is withheld because it names another bird; their hashes are here."
        ));
    }
    let head = chain.last().map(|line| Sha256::new(line.hash.clone()));
    let events = events(store, id, &others)?;
    let mut details = bird.details.clone();
    for text in [&mut details.remarks, &mut details.origin, &mut details.permits].into_iter().flatten() {
        *text = others.without(text);
    }
    let days = store.days(id, Span::ALL)?;
    let confirmed: Vec<&EntryLine> = lines.iter().collect();

    let mut parcel = Parcel {
        zip: ZipWriter::new(to),
        sums: Vec::new(),
        // The day is in the manifest; here it would only make equal histories differ.
        at: zip::DateTime::default(),
    };
    parcel.put_lines("entries.jsonl", &lines)?;
    parcel.put_lines("events.jsonl", &events)?;
    parcel.put_lines("journal.jsonl", &chain)?;
    let mut days_text = Vec::new();
    serde_json::to_writer(&mut days_text, &bird.for_advice()).map_err(store::StoreError::from)?;
    days_text.push(b'\n');
    for day in &days {
        serde_json::to_writer(&mut days_text, day).map_err(store::StoreError::from)?;
        days_text.push(b'\n');
    }
    parcel.put("days.jsonl", &days_text)?;
    let table = open_data::write_entries(confirmed.iter().map(|line| open_data::Line {
        id: line.id.as_str(),
        entry: &line.entry,
        by: &line.by,
        decided: line.decided_at,
        keeper: &line.keeper,
    }))?;
    parcel.put("entries.csv", table.as_bytes())?;
    parcel.put("days.csv", open_data::write_days(&bird, &days)?.as_bytes())?;
    let (notes, originals) = own_notes(store, &bird, &records, &others)?;
    parcel.put_lines(
        "notes.jsonl",
        notes.iter().map(|note| NoteLine {
            id: &note.id,
            at: note.at,
            keeper: &note.keeper,
            sha256: note.evidence.as_ref(),
            text: note.text.as_deref(),
        }),
    )?;
    let mut described = Vec::new();
    for original in originals {
        described.push(put_original(store, &mut parcel, original, options.originals)?);
    }
    for from in store.taken_from(id)? {
        let bytes = store.read_evidence(&from)?;
        parcel.put(&format!("earlier/{from}.zip"), &bytes)?;
    }
    let with_remark = described.iter().filter(|o| o.file.is_none() && o.remark.is_some()).count();
    if with_remark > 0 {
        left_out
            .push(format!("{with_remark} originals are not in the file; originals.jsonl tells why of each."));
    }
    parcel.put_lines("originals.jsonl", &described)?;
    let manifest = Manifest {
        form: FORM,
        written: chrono::Utc::now().fixed_offset(),
        keeper: options.keeper.trim().to_owned(),
        bird: id.clone(),
        details: details.clone(),
        entries: lines.len() as u64,
        originals: options.originals,
        chain_lines: chain.len() as u64,
        withheld,
        head: head.clone(),
        left_out: left_out.clone(),
    };
    let text = serde_json::to_vec_pretty(&manifest).map_err(store::StoreError::from)?;
    parcel.put("manifest.json", &text)?;
    let html = page::history(&page::History {
        manifest: &manifest,
        furniture_g: details.furniture_g(),
        days: &days,
        lines: &lines,
        records: &records,
        events: &events,
        originals: &described,
        others: &others,
    });
    parcel.put("history.html", html.as_bytes())?;
    let count = described.iter().filter(|o| o.file.is_some()).count() as u64;
    parcel.close()?;
    Ok(Given {
        file: PathBuf::new(),
        bytes: 0,
        entries: lines.len() as u64,
        originals: count,
        head,
        left_out,
    })
}

/// Everything confirmed of the bird, and the weather told in notes of hers.
fn own_records(store: &Store, bird: &Bird) -> Result<Vec<Record>> {
    let mut out: Vec<Record> = store.records(&bird.id, Span::ALL)?;
    out.retain(|record| record.state == State::Confirmed);
    let notes: HashSet<NoteId> = out.iter().filter_map(|record| record.note.clone()).collect();
    let here: HashSet<EntryId> = out.iter().map(|record| record.id.clone()).collect();
    for note in notes {
        let more = store.records_of_note(&note)?.into_iter().filter(|record| {
            record.state == State::Confirmed
                && record.bird.is_none()
                && record.entry.kind() == note::Kind::Weather
                && !here.contains(&record.id)
        });
        out.extend(more);
    }
    out.sort_by(|a, b| (a.entry.at, &a.id).cmp(&(b.entry.at, &b.id)));
    Ok(out)
}

/// The entries, and in how many of them another bird was named here.
fn entry_lines(
    records: &[Record],
    others: &Others,
    keeper: &str,
    chain: &Chain,
) -> Result<(Vec<EntryLine>, u64)> {
    let lives = Lives::of(&chain.lines)?;
    let mut count = 0;
    let lines = records.iter().filter_map(|record| {
        let mut entry = record.entry.clone();
        let named = others.take_out(&mut entry);
        count += u64::from(named);
        let mut line = EntryLine {
            id: record.id.clone(),
            keeper: record.another.clone().unwrap_or_else(|| keeper.trim().to_owned()),
            by: record.by.clone()?,
            decided_at: record.decided?,
            redacted: named || chain.redacted_before.contains(&record.id),
            entry,
        };
        line.redacted |= line.entry.kind() != note::Kind::Weather && lives.proof(&line) == Proof::Withheld;
        Some(line)
    });
    Ok((lines.collect(), count))
}

/// Her chain as it goes out.
struct Chain {
    lines: Vec<Line>,
    /// How many bodies are withheld.
    withheld: u64,
    /// Entries that came from a keeper before with another bird taken out.
    redacted_before: HashSet<EntryId>,
}

fn chain(store: &Store, id: &BirdId, others: &Others) -> Result<Chain> {
    let mut chain = Chain { lines: store.journal(Some(id))?, withheld: 0, redacted_before: HashSet::new() };
    for line in &mut chain.lines {
        let Some(text) = &line.body else { continue };
        if text.contains("\"another\"") {
            let body: Body = serde_json::from_str(text).map_err(store::StoreError::from)?;
            if let Op::Another { entry, redacted: true, .. } = body.what {
                chain.redacted_before.insert(entry);
            }
        }
        if others.named_in(text) {
            line.body = None;
            chain.withheld += 1;
        }
    }
    Ok(chain)
}

fn events(store: &Store, id: &BirdId, others: &Others) -> Result<Vec<BirdEvent>> {
    let mut events = store.bird_events(id)?;
    for event in &mut events {
        if others.named_in(&event.text) {
            event.text = others.without(&event.text);
        }
    }
    Ok(events)
}

/// An original that is hers alone.
struct Original {
    sha256: Sha256,
    kind: store::EvidenceKind,
    at: Moment,
    of: String,
}

/// Notes that speak of her alone, and the originals that are hers alone.
fn own_notes(
    store: &Store,
    bird: &Bird,
    records: &[Record],
    others: &Others,
) -> Result<(Vec<store::Note>, Vec<Original>)> {
    let mut notes = Vec::new();
    let mut originals: Vec<Original> = Vec::new();
    let mut ids: Vec<&NoteId> = records.iter().filter_map(|record| record.note.as_ref()).collect();
    ids.sort();
    ids.dedup();
    for id in ids {
        let hers = store.records_of_note(id)?.iter().all(|record| {
            record.bird.as_ref() == Some(&bird.id)
                || (record.bird.is_none() && record.entry.kind() == note::Kind::Weather)
        });
        let note = store.note(id)?;
        if hers && !note.text.as_deref().is_some_and(|text| others.named_in(text)) {
            if let Some(sha256) = &note.evidence {
                originals.push(Original {
                    sha256: sha256.clone(),
                    kind: store::EvidenceKind::Sound,
                    at: note.at,
                    of: "spoken note".to_owned(),
                });
            }
            notes.push(note);
        }
    }
    for record in records {
        let photo = match (&record.pairing, &record.photo) {
            (Some(pairing), _) => Some(pairing.photo.clone()),
            (None, Some(id)) => Some(store.photo(id)?),
            (None, None) => None,
        };
        if let Some(photo) = photo {
            let shown = photo.reading.as_ref().and_then(|r| r.reading.clone());
            originals.push(Original {
                sha256: photo.evidence,
                kind: store::EvidenceKind::Photo,
                at: photo.at,
                of: match shown {
                    Some(shown) => format!("photo of the scale showing {shown}"),
                    None => "photo of the scale".to_owned(),
                },
            });
        }
    }
    originals.sort_by(|a, b| (a.at, &a.sha256).cmp(&(b.at, &b.sha256)));
    originals.dedup_by(|a, b| a.sha256 == b.sha256);
    Ok((notes, originals))
}

fn put_original<W: Write + Seek>(
    store: &Store,
    parcel: &mut Parcel<W>,
    original: Original,
    which: Originals,
) -> Result<OriginalLine> {
    let Original { sha256, kind, at, of } = original;
    let mut line = OriginalLine { sha256, kind, at, of, file: None, copy_sha256: None, remark: None };
    if which == Originals::None {
        return Ok(line);
    }
    let bytes = match store.read_evidence(&line.sha256) {
        Ok(bytes) => bytes,
        Err(error) => {
            line.remark = Some(error.to_string());
            return Ok(line);
        }
    };
    let name = |sum: &str, bytes: &[u8]| format!("originals/{sum}.{}", ending(bytes));
    let stripped = if which == Originals::AsTheyAre { Stripped::Clean } else { without_place(&bytes) };
    match stripped {
        Stripped::Clean => {
            let file = name(line.sha256.as_str(), &bytes);
            parcel.put(&file, &bytes)?;
            line.file = Some(file);
        }
        Stripped::Copy(copy) => {
            let sum = hex(&Hasher::digest(&copy));
            let file = name(&sum, &copy);
            parcel.put(&file, &copy)?;
            line.file = Some(file);
            line.copy_sha256 = Some(Sha256::new(sum));
            line.remark = Some(
                "a copy without place and camera's notes; the picture and its time are as they were".into(),
            );
        }
        Stripped::Cannot => {
            line.remark = Some(
                "left out: this kind of file may say where it was made, and that cannot be taken out here"
                    .into(),
            );
        }
    }
    Ok(line)
}

/// The usual ending of a file, by content, so that it opens where it lands.
fn ending(bytes: &[u8]) -> &'static str {
    match bytes {
        [0xFF, 0xD8, 0xFF, ..] => "jpg",
        [0x89, b'P', b'N', b'G', ..] => "png",
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => "webp",
        [b'R', b'I', b'F', b'F', ..] => "wav",
        [b'f', b'L', b'a', b'C', ..] => "flac",
        [b'O', b'g', b'g', b'S', ..] => "ogg",
        [0x1A, 0x45, 0xDF, 0xA3, ..] => "webm",
        [_, _, _, _, b'f', b't', b'y', b'p', b'h' | b'm', b'e' | b'i', ..] => "heic",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "m4a",
        [b'I', b'D', b'3', ..] | [0xFF, ..] => "mp3",
        _ => "bin",
    }
}
