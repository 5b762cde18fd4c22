//! The same intake by a plain form, for browsers without script: streamed, hashed on the way, bounded.

use crate::{
    State,
    guard::{Hand, blocking, go, refuse},
    intake::{Is, Slip, Trouble, bird_called, clean_name, finish, half, no, slip_path, stands},
};
use axum::{
    Extension,
    extract::{Multipart, State as Extract, multipart::Field},
    http::StatusCode,
    response::{IntoResponse, Response},
};
use chrono::{DateTime, FixedOffset, Local};
use note::Sha256;
use sha2::Digest;
use std::{fs, path::PathBuf};
use store::Who;
use tokio::io::AsyncWriteExt;

/// Takes the form of the note page, for browsers without script and for the desk.
pub async fn form(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    form: Multipart,
) -> Response {
    match read_form(&state, &hand.who, form).await {
        Ok(0) => Trouble::into_response(no(
            StatusCode::UNPROCESSABLE_ENTITY,
            "Nothing was chosen. Go back and choose a recording or a photo, or write a note.",
        )),
        Ok(taken) => go(&format!("/confirm?taken={taken}")),
        Err(answer) => answer,
    }
}

/// Most parts that a form may have.
const MOST_PARTS: usize = 64;

async fn read_form(state: &State, who: &Who, mut form: Multipart) -> Result<usize, Response> {
    let damaged = |_| {
        refuse(
            StatusCode::BAD_REQUEST,
            "The form came damaged. What was listed as taken is kept; send the rest again.",
        )
    };
    let (mut bird, mut made, mut taken) = (String::new(), Local::now().fixed_offset(), 0);
    let mut parts = 0;
    while let Some(mut field) = form.next_field().await.map_err(damaged)? {
        parts += 1;
        if parts > MOST_PARTS {
            return Err(refuse(StatusCode::PAYLOAD_TOO_LARGE, "Too many files at once: at most sixty."));
        }
        let limits = state.shared.limits;
        let (is, most) = match field.name().unwrap_or_default() {
            "bird" => {
                bird = short(&mut field, 200).await?;
                continue;
            }
            "made" => {
                let text = short(&mut field, 64).await?;
                made = DateTime::parse_from_rfc3339(&text).unwrap_or(made);
                continue;
            }
            "words" => {
                let words = short(&mut field, limits.text as usize).await?;
                if !words.trim().is_empty() {
                    let text = format!("{}\n{}", made.to_rfc3339(), words.trim());
                    let name = state.store().spool().join(format!("{:016x}.form", fresh()));
                    keep(
                        state,
                        who,
                        (Is::Text, "note.txt".into(), made, bird.clone()),
                        name,
                        Filling::Whole(text.into_bytes()),
                    )
                    .await?;
                    taken += 1;
                }
                continue;
            }
            "sound" => (Is::Sound, limits.sound),
            "photo" => (Is::Photo, limits.photo),
            _ => return Err(refuse(StatusCode::BAD_REQUEST, "The form has a field that is not known here.")),
        };
        let name = field.file_name().unwrap_or_default().to_owned();
        if name.is_empty() {
            continue;
        }
        let path = state.store().spool().join(format!("{:016x}.form", fresh()));
        keep(state, who, (is, name, made, bird.clone()), path, Filling::Field(field, most)).await?;
        taken += 1;
    }
    Ok(taken)
}

// One of these lives at a time, and not for long.
#[allow(clippy::large_enum_variant)]
enum Filling<'a> {
    Whole(Vec<u8>),
    Field(Field<'a>, u64),
}

fn fresh() -> u64 {
    use std::{
        hash::{BuildHasher, Hasher},
        sync::atomic::{AtomicU64, Ordering},
    };
    static NEXT: AtomicU64 = AtomicU64::new(0);
    let mut hasher = std::collections::hash_map::RandomState::new().build_hasher();
    hasher.write_u64(NEXT.fetch_add(1, Ordering::Relaxed));
    hasher.finish()
}

async fn short(field: &mut Field<'_>, most: usize) -> Result<String, Response> {
    let mut bytes = Vec::new();
    while let Some(chunk) =
        field.chunk().await.map_err(|_| refuse(StatusCode::BAD_REQUEST, "The form came damaged."))?
    {
        if bytes.len() + chunk.len() > most {
            return Err(refuse(StatusCode::PAYLOAD_TOO_LARGE, "That note is too long. Send it in parts."));
        }
        bytes.extend_from_slice(&chunk);
    }
    String::from_utf8(bytes).map_err(|_| refuse(StatusCode::BAD_REQUEST, "The words are not in UTF-8."))
}

/// Streams one part to the spool, hashing on the way, and finishes it like a phone's upload.
async fn keep(
    state: &State,
    who: &Who,
    what: (Is, String, DateTime<FixedOffset>, String),
    path: PathBuf,
    filling: Filling<'_>,
) -> Result<(), Response> {
    let disk = |error: std::io::Error| Trouble::Disk(error).into_response();
    crate::lan::private_folder(&state.store().spool())
        .map_err(|e| disk(std::io::Error::other(e.to_string())))?;
    let written = write_part(&path, filling).await;
    let sha = match written {
        Ok(sha) => sha,
        Err(answer) => {
            tokio::fs::remove_file(&path).await.map_err(disk)?;
            return Err(answer);
        }
    };
    let (state, who) = (state.clone(), who.clone());
    let work = move || -> Result<(), Trouble> {
        let (is, name, made, bird) = what;
        let slip = Slip {
            is,
            name: clean_name(&name),
            made,
            bird: bird_called(state.store(), &bird)?,
            keeper: who.keeper,
            device: who.device,
        };
        let _turn = state.shared.halves.hold(&sha);
        if stands(&state, &sha)?.state == "kept" {
            fs::remove_file(&path)?;
            return Ok(());
        }
        fs::write(slip_path(state.store(), &sha), serde_json::to_vec(&slip).map_err(std::io::Error::other)?)?;
        fs::rename(&path, half(state.store(), &sha))?;
        finish(&state, &sha, &slip)
    };
    blocking(work).await?.map_err(IntoResponse::into_response)
}

async fn write_part(path: &PathBuf, filling: Filling<'_>) -> Result<Sha256, Response> {
    let disk = |error: std::io::Error| Trouble::Disk(error).into_response();
    let mut file = tokio::fs::File::create(path).await.map_err(disk)?;
    let mut hash = sha2::Sha256::new();
    match filling {
        Filling::Whole(bytes) => {
            hash.update(&bytes);
            file.write_all(&bytes).await.map_err(disk)?;
        }
        Filling::Field(mut field, most) => {
            let mut size = 0u64;
            let cut = |_| refuse(StatusCode::BAD_REQUEST, "The upload was cut off. Send it again.");
            while let Some(chunk) = field.chunk().await.map_err(cut)? {
                size += chunk.len() as u64;
                if size > most {
                    let words = format!("That file is too large: at most {} MB can be taken.", most >> 20);
                    return Err(refuse(StatusCode::PAYLOAD_TOO_LARGE, &words));
                }
                hash.update(&chunk);
                file.write_all(&chunk).await.map_err(disk)?;
            }
            if size == 0 {
                return Err(refuse(StatusCode::UNPROCESSABLE_ENTITY, "That file is empty."));
            }
        }
    }
    file.flush().await.map_err(disk)?;
    file.sync_data().await.map_err(disk)?;
    let hex: String = hash.finalize().iter().map(|b| format!("{b:02x}")).collect();
    Ok(Sha256::new(hex))
}
