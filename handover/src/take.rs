//! Reading a hand-over file: nothing in it is trusted until it was checked.
//!
//! Names inside the file are never used as places on disk, so none can lead out of a folder. Sizes
//! are counted while reading, not believed. A locked file is opened first.

use crate::give::{EntryLine, FORM, Manifest};
use crate::{HandOverError, Result};
use note::{Entry, EntryId, Verdict};
use sha2::{Digest, Sha256 as Hasher};
use std::collections::{BTreeMap, HashMap};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;
use store::journal::{Body, Line, Op, ZERO, hex};
use store::{
    About, AnothersEntry, AnothersRecord, BirdEvent, EvidenceKind, MAX_HAND_OVER, Store, TakenIn, Who, seal,
};
use zip::ZipArchive;

/// Most files in one hand-over file.
const MAX_FILES: usize = 100_000;
/// Most bytes of one text file, unpacked.
const MAX_TEXT: u64 = 512 << 20;
/// Most bytes of the list of sums, unpacked.
const MAX_SUMS: u64 = 32 << 20;
/// Most times that a file may grow by unpacking, beyond the first 64 MB; text shrinks to a twentieth.
const MAX_GROWTH: u64 = 200;
/// Most bytes of the file itself.
const MAX_FILE: u64 = MAX_HAND_OVER;
/// Most bytes of everything, unpacked; sound and photos hardly shrink, so this is the file and its text.
const MAX_ALL: u64 = MAX_FILE + (4 << 30);

/// What a hand-over file holds, once it was found whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// The bird's name there.
    pub bird: String,
    /// Whose record it is.
    pub keeper: String,
    /// When it was written.
    pub written: store::Moment,
    /// Confirmed entries.
    pub entries: u64,
    /// Entries that were proved by the chain.
    pub proved: u64,
    /// Lines of the chain.
    pub chain_lines: u64,
    /// Last hash of the chain: compare it with what was written on paper.
    pub head: Option<note::Sha256>,
    /// Originals in the file.
    pub originals: u64,
    /// What its writer left out, as sentences.
    pub left_out: Vec<String>,
}

struct Contents {
    manifest: Manifest,
    entries: Vec<EntryLine>,
    events: Vec<BirdEvent>,
    proved: u64,
    originals: u64,
}

/// Checks a hand-over file without taking it in.
pub fn check(file: &Path, passphrase: Option<&str>) -> Result<Checked> {
    let (mut plain, _guard) = unlocked(file, passphrase)?;
    let contents = contents(&mut plain)?;
    let Manifest { details, keeper, written, chain_lines, head, left_out, .. } = contents.manifest;
    Ok(Checked {
        bird: details.name,
        keeper,
        written,
        entries: contents.entries.len() as u64,
        proved: contents.proved,
        chain_lines,
        head,
        originals: contents.originals,
        left_out,
    })
}

/// Takes a hand-over file in: checked, kept as an original, and marked as another keeper's record.
pub fn take_in(store: &Store, file: &Path, passphrase: Option<&str>, who: &Who) -> Result<TakenIn> {
    let (mut plain, _guard) = unlocked(file, passphrase)?;
    let contents = contents(&mut plain)?;
    plain.seek(SeekFrom::Start(0)).map_err(|e| HandOverError::file(file, e))?;
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned());
    let about = About { kind: EvidenceKind::HandOver, media_type: Some("application/zip".into()), name };
    let kept = store.put_stream(&mut plain, &about)?;
    let record = AnothersRecord {
        bird: contents.manifest.bird,
        details: contents.manifest.details,
        keeper: contents.manifest.keeper,
        from: kept.sha256,
        entries: contents
            .entries
            .into_iter()
            .map(|line| AnothersEntry {
                id: line.id,
                entry: line.entry,
                by: line.by,
                decided: line.decided_at,
                keeper: line.keeper,
                redacted: line.redacted,
            })
            .collect(),
        events: contents.events,
    };
    Ok(store.take_in(record, who)?)
}

/// Opens a file, unlocking it into a private one where needed, which goes away with the guard.
fn unlocked(file: &Path, passphrase: Option<&str>) -> Result<(File, Option<tempfile::NamedTempFile>)> {
    let wrong = |e| HandOverError::file(file, e);
    let mut open = File::open(file).map_err(wrong)?;
    let length = open.metadata().map_err(wrong)?.len();
    if length > MAX_FILE {
        return Err(HandOverError::TooLarge(format!(
            "{} is longer than {} GB",
            file.display(),
            MAX_FILE >> 30
        )));
    }
    let mut start = [0u8; 21];
    let n = open.read(&mut start).map_err(wrong)?;
    open.seek(SeekFrom::Start(0)).map_err(wrong)?;
    if !seal::is_sealed(&start[..n]) {
        return Ok((open, None));
    }
    let passphrase = passphrase
        .ok_or_else(|| store::StoreError::Passphrase("this file is locked: tell its passphrase".into()))?;
    let mut plain = tempfile::NamedTempFile::new().map_err(wrong)?;
    let mut reader = seal::open_sealed(passphrase, open)?.take(MAX_FILE);
    std::io::copy(&mut reader, &mut plain).map_err(|e| HandOverError::Changed(e.to_string()))?;
    let again = plain.reopen().map_err(wrong)?;
    Ok((again, Some(plain)))
}

fn not_ours(why: impl ToString) -> HandOverError {
    HandOverError::NotOurs(why.to_string())
}

fn changed(why: impl Into<String>) -> HandOverError {
    HandOverError::Changed(why.into())
}

/// Reads one file of the zip, counting what comes out of it.
fn read(zip: &mut ZipArchive<&mut File>, name: &str, most: u64) -> Result<Vec<u8>> {
    let mut file = zip.by_name(name).map_err(|_| not_ours(format!("it has no {name}")))?;
    let mut out = Vec::new();
    let read = file.by_ref().take(most + 1).read_to_end(&mut out);
    read.map_err(|e| changed(format!("{name} cannot be unpacked ({e})")))?;
    if out.len() as u64 > most {
        return Err(HandOverError::TooLarge(format!("{name} unpacks to more than {} MB", most >> 20)));
    }
    Ok(out)
}

fn lines<T: serde::de::DeserializeOwned>(name: &str, bytes: &[u8]) -> Result<Vec<T>> {
    let text = std::str::from_utf8(bytes).map_err(|_| not_ours(format!("{name} is no text")))?;
    text.lines()
        .filter(|line| !line.trim().is_empty())
        .enumerate()
        .map(|(n, line)| {
            serde_json::from_str(line).map_err(|e| not_ours(format!("line {} of {name}: {e}", n + 1)))
        })
        .collect()
}

fn contents(file: &mut File) -> Result<Contents> {
    let packed = file.metadata().map_err(not_ours)?.len();
    let mut zip = ZipArchive::new(file).map_err(not_ours)?;
    if zip.len() > MAX_FILES {
        return Err(HandOverError::TooLarge(format!("it holds more than {MAX_FILES} files")));
    }
    let originals = check_sums(&mut zip, packed)?;
    let manifest: Manifest = serde_json::from_slice(&read(&mut zip, "manifest.json", MAX_TEXT)?)
        .map_err(|e| not_ours(format!("manifest.json: {e}")))?;
    if manifest.form > FORM {
        return Err(not_ours("it was written by a newer Varvel: install the newer version"));
    }
    let entries: Vec<EntryLine> = lines("entries.jsonl", &read(&mut zip, "entries.jsonl", MAX_TEXT)?)?;
    let events: Vec<BirdEvent> = lines("events.jsonl", &read(&mut zip, "events.jsonl", MAX_TEXT)?)?;
    let chain: Vec<Line> = lines("journal.jsonl", &read(&mut zip, "journal.jsonl", MAX_TEXT)?)?;
    let ids = entries.iter().map(|line| line.id.as_str()).chain([manifest.bird.as_str()]);
    if let Some(odd) = ids.into_iter().find(|id| !is_id(id)) {
        return Err(not_ours(format!("{odd:?} is no id")));
    }
    check_chain(&manifest, &chain)?;
    let proved = check_entries(&chain, &entries)?;
    if manifest.entries != entries.len() as u64 {
        return Err(changed("entries were taken out or put in"));
    }
    Ok(Contents { manifest, entries, events, proved, originals })
}

/// Ids go into addresses and pages: letters and digits, and not endless.
fn is_id(id: &str) -> bool {
    (1..=64).contains(&id.len()) && id.bytes().all(|b| b.is_ascii_alphanumeric())
}

/// Checks the sum of every file, and that there is none too many or too few; returns how many
/// originals there are.
fn check_sums(zip: &mut ZipArchive<&mut File>, packed: u64) -> Result<u64> {
    let text = read(zip, "SHA256SUMS", MAX_SUMS)?;
    let text = String::from_utf8(text).map_err(|_| not_ours("SHA256SUMS is no text"))?;
    let mut sums: BTreeMap<&str, &str> = BTreeMap::new();
    for line in text.lines() {
        let (sum, name) = line.split_once("  ").ok_or_else(|| not_ours("SHA256SUMS cannot be read"))?;
        if sums.insert(name, sum).is_some() {
            return Err(changed(format!("{name} is listed twice")));
        }
    }
    let mut all = 0u64;
    let mut originals = 0;
    for n in 0..zip.len() {
        let mut file = zip.by_index(n).map_err(|e| changed(e.to_string()))?;
        let name = file.name().map_err(not_ours)?.into_owned();
        if name == "SHA256SUMS" {
            continue;
        }
        let Some(expected) = sums.remove(name.as_str()) else {
            return Err(changed(format!("{name} is not in its list, or twice in the file")));
        };
        let mut hasher = Hasher::new();
        let mut buffer = vec![0u8; 1 << 16];
        loop {
            let n =
                file.read(&mut buffer).map_err(|e| changed(format!("{name} cannot be unpacked ({e})")))?;
            if n == 0 {
                break;
            }
            all += n as u64;
            if all > MAX_ALL || all > (64 << 20) + packed.saturating_mul(MAX_GROWTH) {
                return Err(HandOverError::TooLarge("it unpacks to far more than is sensible".into()));
            }
            hasher.update(&buffer[..n]);
        }
        if hex(&hasher.finalize()) != expected {
            return Err(changed(name));
        }
        originals += u64::from(name.starts_with("originals/"));
    }
    match sums.keys().next() {
        Some(name) => Err(changed(format!("{name} is missing"))),
        None => Ok(originals),
    }
}

fn check_chain(manifest: &Manifest, chain: &[Line]) -> Result<()> {
    let mut before = hex(&ZERO);
    let mut seq = 0;
    for line in chain {
        if !line.holds() || line.bird.as_deref() != Some(manifest.bird.as_str()) {
            return Err(changed(format!("journal line {}", line.seq)));
        }
        if line.bird_prev.as_ref() != Some(&before) || line.seq <= seq {
            return Err(changed(format!("journal line {} does not follow the one before", line.seq)));
        }
        (before, seq) = (line.hash.clone(), line.seq);
    }
    let head = (!chain.is_empty()).then_some(before);
    if head.as_deref() != manifest.head.as_ref().map(note::Sha256::as_str)
        || manifest.chain_lines != chain.len() as u64
        || manifest.withheld != chain.iter().filter(|line| line.body.is_none()).count() as u64
    {
        return Err(changed("the chain ends elsewhere than it says"));
    }
    Ok(())
}

/// What the chain says of an entry after a decision.
enum Now {
    /// Confirmed, and this is what was confirmed.
    Known(Entry),
    /// Confirmed as it was proposed, and the proposal is withheld.
    Unknown,
    /// No longer counts.
    Gone,
}

/// What the chain says of one entry.
#[derive(Default)]
struct Life {
    said: Option<Entry>,
    /// Line, what it became, by whom.
    decisions: Vec<(i64, Now, String)>,
}

/// What the lines of a chain that are not withheld say of its entries.
pub(crate) struct Lives {
    lives: HashMap<EntryId, Life>,
    /// Numbers of the lines that are withheld, rising.
    withheld: Vec<i64>,
}

/// How far a chain bears an entry out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Proof {
    /// The chain says the same.
    Proved,
    /// What would prove it may be among the withheld lines.
    Withheld,
    /// The chain says nothing of it and withholds nothing.
    Silent,
    /// The chain says otherwise.
    Otherwise,
}

impl Lives {
    pub(crate) fn of(chain: &[Line]) -> Result<Self> {
        let (mut lives, mut withheld) = (HashMap::new(), Vec::new());
        for line in chain {
            let Some(body) = &line.body else {
                withheld.push(line.seq);
                continue;
            };
            let body: Body = serde_json::from_str(body)
                .map_err(|e| not_ours(format!("journal line {}: {e}", line.seq)))?;
            replay(&mut lives, line.seq, body);
        }
        Ok(Self { lives, withheld })
    }

    pub(crate) fn proof(&self, told: &EntryLine) -> Proof {
        let Some((seq, now, by)) = self.lives.get(&told.id).and_then(|life| life.decisions.last()) else {
            return if self.withheld.is_empty() { Proof::Silent } else { Proof::Withheld };
        };
        match now {
            Now::Known(now) if same(now, &told.entry) && *by == told.by => Proof::Proved,
            Now::Unknown if *by == told.by && !self.withheld.is_empty() => Proof::Withheld,
            // Changed again by a line that is withheld, or forged.
            _ if self.withheld.last().is_some_and(|last| last > seq) => Proof::Withheld,
            _ => Proof::Otherwise,
        }
    }
}

/// Sets every entry against the chain; returns how many it proves.
///
/// Two kinds cannot be proved: weather, which is on no bird's chain, and entries that are marked
/// because their lines are withheld, of which there cannot be more than such lines. Any other that
/// the chain does not bear out was changed.
fn check_entries(chain: &[Line], entries: &[EntryLine]) -> Result<u64> {
    let lives = Lives::of(chain)?;
    let (mut proved, mut behind) = (0, 0);
    for line in entries {
        let weather = line.entry.kind() == note::Kind::Weather;
        match lives.proof(line) {
            Proof::Proved => proved += 1,
            Proof::Withheld | Proof::Silent if weather => {}
            Proof::Withheld if line.redacted => behind += 1,
            _ => return Err(changed(format!("the entry of {}", line.entry.at.to_rfc3339()))),
        }
    }
    if behind > lives.withheld.len() {
        return Err(changed("more entries are unproved than journal lines are withheld"));
    }
    Ok(proved)
}

fn replay(lives: &mut HashMap<EntryId, Life>, seq: i64, body: Body) {
    let by = body.by;
    match body.what {
        Op::Proposed { entry, said, .. } => lives.entry(entry).or_default().said = Some(said),
        Op::Decided { entry, verdict, .. } => {
            let life = lives.entry(entry).or_default();
            let now = match verdict {
                Verdict::Accept => life.said.clone().map_or(Now::Unknown, Now::Known),
                Verdict::Correct { entry } => Now::Known(*entry),
                Verdict::Reject { .. } => Now::Gone,
            };
            life.decisions.push((seq, now, by));
        }
        Op::Amended { entry, to, .. } => {
            lives.entry(entry).or_default().decisions.push((seq, Now::Known(to), by));
        }
        Op::Struck { entry, .. } | Op::MovedAway { entry } => {
            lives.entry(entry).or_default().decisions.push((seq, Now::Gone, by));
        }
        Op::MovedBack { entry } => {
            let life = lives.entry(entry).or_default();
            life.decisions.pop();
        }
        Op::Undone { entry, decision } => {
            lives.entry(entry).or_default().decisions.retain(|(seq, ..)| *seq != decision);
        }
        Op::Another { entry, said, by, .. } => {
            let life = lives.entry(entry).or_default();
            life.said = Some(said.clone());
            life.decisions.push((seq, Now::Known(said), by));
        }
        _ => {}
    }
}

/// Whether two entries say the same: all but the name she goes by and what a photo adds to it.
fn same(chain: &Entry, told: &Entry) -> bool {
    chain.value == told.value && chain.at == told.at && chain.quote == told.quote && chain.span == told.span
}
