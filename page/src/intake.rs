//! Taking in what a phone or the desk sends: streamed to the spool, kept as evidence, queued.
//!
//! A phone names each upload by the SHA-256 of its bytes, asks how much of it is here, sends the next
//! piece from there, and lets go of its own copy only when the answer is `kept`: the original is then
//! on disk and synced, its note or photo is in the record, and its work is queued. Every step can be
//! done twice. Absent: reading sound or pictures.

use crate::{
    State,
    guard::{Hand, blocking, refuse},
};
use axum::{
    Extension, Json,
    body::Bytes,
    extract::{Path, Query, State as Extract},
    http::StatusCode,
    response::{IntoResponse, Response},
};
use chrono::{DateTime, FixedOffset};
use note::{BirdId, Sha256};
use serde::{Deserialize, Serialize};
use std::{fs, io::Write, path::PathBuf, sync::Mutex};
use store::{About, EvidenceKind, Kept, NewNote, NewPhoto, Source, Span, Store, StoreError, Who};

/// What an upload is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Is {
    /// A recorded note.
    Sound,
    /// A photo of a scale.
    Photo,
    /// A written note: the moment it was written, a line end, the words.
    Text,
}

/// What came with an upload, kept beside its half in the spool.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Slip {
    pub(crate) is: Is,
    pub(crate) name: String,
    pub(crate) made: DateTime<FixedOffset>,
    pub(crate) bird: Option<BirdId>,
    pub(crate) keeper: String,
    pub(crate) device: String,
}

/// What a phone tells with each piece.
#[derive(Debug, Deserialize)]
pub struct Piece {
    at: u64,
    of: u64,
    kind: Is,
    #[serde(default)]
    name: String,
    made: String,
    #[serde(default)]
    bird: String,
}

/// How far an upload has come.
#[derive(Clone, Debug, Serialize)]
pub struct Standing {
    pub(crate) have: u64,
    pub(crate) state: &'static str,
}

/// One lock for each sixteenth of all names, so that two senders of one original take turns.
#[derive(Debug, Default)]
pub struct Locks([Mutex<()>; 16]);

impl Locks {
    pub(crate) fn hold(&self, sha: &Sha256) -> std::sync::MutexGuard<'_, ()> {
        let nth = sha.as_str().bytes().next().map_or(0, |b| usize::from(b) % 16);
        self.0[nth].lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

/// Why an upload was not taken.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// The keeper is told, and need not send it again as it is.
    Refused(StatusCode, String),
    Store(StoreError),
    Disk(std::io::Error),
}
impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}
impl From<std::io::Error> for Trouble {
    fn from(error: std::io::Error) -> Self {
        Self::Disk(error)
    }
}
impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        match self {
            Self::Refused(status, words) => refuse(status, &words),
            Self::Store(StoreError::Refused(words)) => refuse(StatusCode::UNPROCESSABLE_ENTITY, &words),
            Self::Store(error) => {
                tracing::error!("an upload was not kept: {error}");
                refuse(StatusCode::SERVICE_UNAVAILABLE, &format!("{error}"))
            }
            Self::Disk(error) if error.kind() == std::io::ErrorKind::StorageFull => refuse(
                StatusCode::INSUFFICIENT_STORAGE,
                "The disk at home is full. Keep this on the phone, make room, and it will be sent again.",
            ),
            Self::Disk(error) => {
                tracing::error!("an upload was not kept: {error}");
                refuse(
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The disk at home would not take it. It stays on the phone and will be sent again.",
                )
            }
        }
    }
}

pub(crate) fn no(status: StatusCode, words: impl Into<String>) -> Trouble {
    Trouble::Refused(status, words.into())
}

fn read_sha(text: &str) -> Result<Sha256, Trouble> {
    if text.len() == 64 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        Ok(Sha256::new(text))
    } else {
        Err(no(StatusCode::NOT_FOUND, "An upload is named by the SHA-256 of its bytes, 64 hex digits."))
    }
}

/// Answers how much of an upload is here.
pub async fn standing(Extract(state): Extract<State>, Path(sha): Path<String>) -> Response {
    let work = move || -> Result<Standing, Trouble> {
        let sha = read_sha(&sha)?;
        let _turn = state.shared.halves.hold(&sha);
        stands(&state, &sha)
    };
    answer(blocking(work).await)
}

/// Takes the next piece of an upload.
pub async fn piece(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(sha): Path<String>,
    Query(piece): Query<Piece>,
    bytes: Bytes,
) -> Response {
    answer(blocking(move || take(&state, &hand.who, &sha, &piece, &bytes)).await)
}

fn answer(done: Result<Result<Standing, Trouble>, Response>) -> Response {
    match done {
        Ok(Ok(standing)) => {
            let status = if standing.state == "elsewhere" { StatusCode::CONFLICT } else { StatusCode::OK };
            (status, Json(standing)).into_response()
        }
        Ok(Err(trouble)) => trouble.into_response(),
        Err(broken) => broken,
    }
}

pub(crate) fn half(store: &Store, sha: &Sha256) -> PathBuf {
    store.spool().join(format!("{sha}.half"))
}
pub(crate) fn slip_path(store: &Store, sha: &Sha256) -> PathBuf {
    store.spool().join(format!("{sha}.slip"))
}

pub(crate) fn stands(state: &State, sha: &Sha256) -> Result<Standing, Trouble> {
    let store = state.store();
    if let Some(kept) = store.evidence(sha)? {
        if let Ok(json) = fs::read(slip_path(store, sha))
            && let Ok(slip) = serde_json::from_slice::<Slip>(&json)
        {
            // The original is in, but a power cut came before its note was.
            record(state, sha, &slip, None)?;
        }
        return Ok(Standing { have: kept.bytes, state: "kept" });
    }
    match fs::metadata(half(store, sha)) {
        Ok(half) => Ok(Standing { have: half.len(), state: "half" }),
        Err(_) => Ok(Standing { have: 0, state: "none" }),
    }
}

fn take(state: &State, who: &Who, sha: &str, piece: &Piece, bytes: &[u8]) -> Result<Standing, Trouble> {
    let sha = read_sha(sha)?;
    let limits = &state.shared.limits;
    let most = match piece.kind {
        Is::Sound => limits.sound,
        Is::Photo => limits.photo,
        Is::Text => limits.text,
    };
    if piece.of > most || piece.of == 0 {
        return Err(no(
            StatusCode::PAYLOAD_TOO_LARGE,
            format!("That is too large or empty: at most {} MB can be taken.", most.div_ceil(1 << 20)),
        ));
    }
    let store = state.store();
    let slip = Slip {
        is: piece.kind,
        name: clean_name(&piece.name),
        made: DateTime::parse_from_rfc3339(&piece.made)
            .map_err(|_| no(StatusCode::UNPROCESSABLE_ENTITY, "The time of the note is missing."))?,
        bird: bird_called(store, &piece.bird)?,
        keeper: who.keeper.clone(),
        device: who.device.clone(),
    };
    let _turn = state.shared.halves.hold(&sha);
    let now = stands(state, &sha)?;
    if now.state == "kept" {
        return Ok(now);
    }
    if now.have != piece.at {
        return Ok(Standing { state: "elsewhere", ..now });
    }
    if now.have + bytes.len() as u64 > piece.of {
        return Err(no(StatusCode::UNPROCESSABLE_ENTITY, "More came than was announced."));
    }
    crate::lan::private_folder(&store.spool())
        .map_err(|e| Trouble::Disk(std::io::Error::other(e.to_string())))?;
    if now.have == 0 {
        if halves(store) >= limits.halves {
            return Err(no(
                StatusCode::TOO_MANY_REQUESTS,
                "Too many uploads are half done. Wait until some are finished.",
            ));
        }
        let json = serde_json::to_vec(&slip).map_err(std::io::Error::other)?;
        fs::write(slip_path(store, &sha), json)?;
    }
    let mut file = fs::OpenOptions::new().create(true).append(true).open(half(store, &sha))?;
    if let Err(error) = file.write_all(bytes).and_then(|()| file.sync_data()) {
        // A piece is here whole or not at all, so that the phone sends it again.
        file.set_len(now.have)?;
        return Err(error.into());
    }
    drop(file);
    let have = now.have + bytes.len() as u64;
    if have < piece.of {
        return Ok(Standing { have, state: "half" });
    }
    finish(state, &sha, &slip)?;
    Ok(Standing { have, state: "kept" })
}

fn halves(store: &Store) -> usize {
    fs::read_dir(store.spool())
        .map_or(0, |all| all.flatten().filter(|f| f.path().extension().is_some_and(|e| e == "half")).count())
}

/// Moves a whole upload into the evidence folder and the record.
pub(crate) fn finish(state: &State, sha: &Sha256, slip: &Slip) -> Result<(), Trouble> {
    let store = state.store();
    let path = half(store, sha);
    let told = match slip.is {
        Is::Text => None,
        _ => match state.shared.workshop.look(&path, slip.made) {
            Ok(told) => Some(told),
            Err(why) => {
                discard(store, sha);
                return Err(no(StatusCode::UNPROCESSABLE_ENTITY, why));
            }
        },
    };
    let about = About {
        kind: told.as_ref().map_or(EvidenceKind::Other, |t| t.kind),
        media_type: if slip.is == Is::Text {
            Some("text/plain".into())
        } else {
            told.as_ref().and_then(|t| t.media_type.clone())
        },
        name: Some(slip.name.clone()).filter(|n| !n.is_empty()),
    };
    match store.adopt_file(&path, Some(sha), &about) {
        Ok(Kept { .. }) => {}
        Err(StoreError::Refused(_)) => {
            discard(store, sha);
            return Err(no(
                StatusCode::UNPROCESSABLE_ENTITY,
                "It came damaged on the way and was thrown away. Send it again.",
            ));
        }
        Err(error) => return Err(error.into()),
    }
    record(state, sha, slip, told)
}

fn discard(store: &Store, sha: &Sha256) {
    for path in [half(store, sha), slip_path(store, sha)] {
        if let Err(error) = fs::remove_file(&path)
            && error.kind() != std::io::ErrorKind::NotFound
        {
            tracing::warn!("{} was left in the spool: {error}", path.display());
        }
    }
}

/// Enters the note or photo of an original that is on disk, queues its work, and ends the upload.
fn record(state: &State, sha: &Sha256, slip: &Slip, told: Option<crate::Told>) -> Result<(), Trouble> {
    let store = state.store();
    let who = Who::new(&slip.keeper, &slip.device);
    let told = match (told, slip.is) {
        (Some(told), _) => Some(told),
        (None, Is::Text) => None,
        (None, _) => {
            let path = store.evidence_path(sha)?;
            Some(
                state
                    .shared
                    .workshop
                    .look(&path, slip.made)
                    .map_err(|why| no(StatusCode::UNPROCESSABLE_ENTITY, why))?,
            )
        }
    };
    let (kind, subject) = match told {
        Some(told) if told.kind == EvidenceKind::Photo => {
            let photo = NewPhoto {
                evidence: sha.clone(),
                at: told.at,
                taken: told.taken,
                orientation: told.orientation,
                place: told.place,
                bird: slip.bird.clone(),
            };
            ("read-scale", store.add_photo(photo, &who)?.id().to_string())
        }
        Some(told) => {
            let note = NewNote {
                source: Source::Sound(sha.clone()),
                at: told.at,
                taken: Some(told.taken),
                bird: slip.bird.clone(),
            };
            ("hear", store.add_note(note, &who)?.id().to_string())
        }
        None => {
            let bytes = store.read_evidence(sha)?;
            let text = String::from_utf8_lossy(&bytes);
            let words = text.split_once('\n').map_or("", |(_, words)| words).trim().to_owned();
            ("draft", typed(store, words, slip, &who)?)
        }
    };
    store.add_job(kind, &subject)?;
    discard(store, sha);
    state.shared.workshop.wake();
    Ok(())
}

/// Adds a written note, unless it came in before and only the answer was lost.
fn typed(store: &Store, words: String, slip: &Slip, who: &Who) -> Result<String, Trouble> {
    if words.is_empty() {
        return Err(no(StatusCode::UNPROCESSABLE_ENTITY, "There are no words in that note."));
    }
    let moment = Span::between(slip.made, slip.made + chrono::Duration::seconds(1));
    let same = store
        .notes(moment, 0, 50)?
        .into_iter()
        .find(|n| n.evidence.is_none() && n.text.as_deref() == Some(&words));
    match same {
        Some(note) => Ok(note.id.to_string()),
        None => {
            let note =
                NewNote { source: Source::Typed(words), at: slip.made, taken: None, bird: slip.bird.clone() };
            Ok(store.add_note(note, who)?.id().to_string())
        }
    }
}

/// Finishes what a power cut left between the evidence folder and the record, and clears stale halves.
pub fn recover(state: &State) {
    let Ok(files) = fs::read_dir(state.store().spool()) else { return };
    for file in files.flatten() {
        let path = file.path();
        let stem = path.file_stem().and_then(|s| s.to_str()).unwrap_or_default().to_owned();
        match path.extension().and_then(|e| e.to_str()) {
            Some("slip") => {
                let Ok(sha) = read_sha(&stem) else { continue };
                let _turn = state.shared.halves.hold(&sha);
                if let Err(trouble) = stands(state, &sha) {
                    tracing::warn!("the upload {sha} is still half done: {trouble:?}");
                }
            }
            // A form that was cut off is nobody's to go on with.
            Some("form") => {
                if let Err(error) = fs::remove_file(&path) {
                    tracing::warn!("{} was left in the spool: {error}", path.display());
                }
            }
            _ => {}
        }
    }
}

/// Keeps the last part of a path, without signs that do harm in a terminal or a file name; for show only.
pub(crate) fn clean_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    last.chars().filter(|c| !c.is_control()).take(120).collect()
}

pub(crate) fn bird_called(store: &Store, name: &str) -> Result<Option<BirdId>, Trouble> {
    if name.is_empty() {
        return Ok(None);
    }
    Ok(store.bird_named(name)?.map(|bird| bird.id))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_are_for_show_and_do_no_harm() {
        for (given, shown) in [
            ("../../etc/passwd", "passwd"),
            ("C:\\scale.jpg", "scale.jpg"),
            ("a\u{1b}[31m\r\n.wav", "a[31m.wav"),
            ("", ""),
        ] {
            assert_eq!(clean_name(given), shown);
        }
    }

    #[test]
    fn an_upload_is_named_by_hex_and_nothing_else() {
        assert!(read_sha(&"a0".repeat(32)).is_ok());
        for bad in ["", "..", "../../varvel.db", &"A0".repeat(32), &"g0".repeat(32), &"a0".repeat(33)] {
            assert!(read_sha(bad).is_err(), "{bad}");
        }
    }
}
