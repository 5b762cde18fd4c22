//! Evidence: notes, photos, their hashes and times; where each entry comes from; pairing by hand.

use crate::{
    State,
    fields::{self, Typed},
    gather,
    guard::{Hand, blocking, go, told},
    quote, say, shell,
    shell::Place,
};
use axum::{
    Extension, Form,
    extract::{Path, Query, Request, State as Extract},
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use chrono::NaiveDate;
use maud::{Markup, html};
use note::{EntryId, NoteId, PhotoId, Sha256, TakenSource, Units};
use serde::Deserialize;
use store::{EvidenceKind, Note, Photo, Record, Span, Stage, Step};
use tower_http::services::ServeFile;

/// Notes and photos on one page.
const PAGE: u64 = 30;

/// What the address may carry.
#[derive(Debug, Default, Deserialize)]
pub struct Asked {
    #[serde(default)]
    from: u64,
    #[serde(default)]
    words: String,
}

/// Lists notes and photos, newest first, or what was searched for.
pub async fn page(Extract(state): Extract<State>, Query(asked): Query<Asked>) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let today = gather::today();
        let found = if asked.words.trim().is_empty() { Vec::new() } else { store.search(asked.words.trim(), 50)? };
        let notes = store.notes(Span::ALL, asked.from, PAGE)?;
        let photos = store.photos(Span::ALL, asked.from, PAGE)?;
        let more = notes.len() as u64 == PAGE || photos.len() as u64 == PAGE;
        let content = html! {
            header { h1 { "Evidence" } p { "Every original as it came, named by the SHA-256 of its bytes and never altered." } }
            form.leaf method="get" action="/evidence" role="search" {
                label for="words" { "Search what was said" }
                input #words name="words" type="search" value=(asked.words) maxlength="200";
                div.acts { button { "Search" } }
                @if !asked.words.trim().is_empty() { p { (say::count(found.len(), "place")) " found" }
                    ul { @for f in &found { li { (say::date(f.at.date_naive())) ": " @if let Some(note) = &f.note { a href={ "/evidence/note/" (note) } { (f.snippet) } } @else { (f.snippet) } } } } }
            }
            @if notes.is_empty() && photos.is_empty() { (shell::empty("Nothing taken in yet", html! { p { "Recordings and photos of the scale gather here, each with its time, where that is known from, and its hash." } p { a.press.main href="/note" { "Speak a note" } } })) }
            div.pair {
                @if !notes.is_empty() { section.leaf { h2 { "Notes" } @for note in &notes { (note_line(note, today)) } } }
                @if !photos.is_empty() { section.leaf { h2 { "Photos" } @for photo in &photos { (photo_line(photo, today)) } } }
            }
            nav.acts aria-label="Older and newer" {
                @if asked.from > 0 { a.press href={ "/evidence?from=" (asked.from.saturating_sub(PAGE)) } { "Newer" } }
                @if more { a.press href={ "/evidence?from=" (asked.from + PAGE) } { "Older" } }
            }
        };
        Ok((gather::frame(store, Place::Evidence, "Evidence")?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

fn stage_words(stage: Stage) -> &'static str {
    match stage {
        Stage::Received => "waits to be read",
        Stage::Heard => "heard, being read",
        Stage::Drafted => "read",
        Stage::Failed => "could not be read",
    }
}

fn taken_words(taken: TakenSource) -> &'static str {
    match taken {
        TakenSource::ExifOffset => "camera’s clock, with its zone",
        TakenSource::ExifLocal => "camera’s clock, zone assumed",
        TakenSource::Container => "the recording’s own clock",
        TakenSource::FileName => "the file’s name",
        TakenSource::File => "the sending device’s clock",
    }
}

fn note_line(note: &Note, today: NaiveDate) -> Markup {
    html! {
        details {
            summary { span.head { strong { (say::capital(&say::moment(note.at, today))) } @if let Some(text) = &note.text { span.first { (text) } } @if note.stage != Stage::Drafted { span.flag { (stage_words(note.stage)) } } } }
            @if let Some(text) = &note.text { p.said { (text) } }
            @if let Some(why) = &note.trouble { p { strong { (why) } } (again("note", note.id.as_str())) }
            @if note.evidence.is_some() { audio controls preload="none" src={ "/sound/" (note.id) } aria-label="The note" {} }
            p { a href={ "/evidence/note/" (note.id) } { "All of it" } }
        }
    }
}

fn photo_line(photo: &Photo, today: NaiveDate) -> Markup {
    html! {
        details {
            summary { span.head { strong { (say::capital(&say::moment(photo.at, today))) } span.first { (reading_words(photo)) } @if photo.stage != Stage::Drafted { span.flag { (stage_words(photo.stage)) } } } }
            div.shown { figure { img src={ "/picture/" (photo.id) } alt="Photo of the scale" loading="lazy"; figcaption { (reading_words(photo)) } } }
            @if let Some(why) = &photo.trouble { p { strong { (why) } } (again("photo", photo.id.as_str())) }
            p { a href={ "/evidence/photo/" (photo.id) } { "All of it" } @if photo.paired_with.is_none() { ", not paired with a weight" } }
        }
    }
}

fn reading_words(photo: &Photo) -> String {
    match photo.reading.as_ref().and_then(|r| r.reading.as_deref()) {
        Some(reading) => format!("Shows {reading}"),
        None => "Display not read".into(),
    }
}

fn again(kind: &str, id: &str) -> Markup {
    html! { form method="post" action={ "/evidence/again/" (kind) "/" (id) } { button { "Try again" } } }
}

/// Shows one note with everything read from it.
pub async fn note(Extract(state): Extract<State>, Path(note): Path<String>) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let note = store.note(&NoteId::new(note))?;
        let transcript = store.transcript(&note.id)?;
        let records = store.records_of_note(&note.id)?;
        let measures = gather::measures(store)?;
        let content = html! {
            header { h1 { "Note" } p { (say::moment(note.at, gather::today())) } }
            section.leaf {
                @if let Some(text) = &note.text { p.said lang="en" { (text) } }
                @if note.evidence.is_some() { audio controls preload="none" src={ "/sound/" (note.id) } aria-label="The note" {} }
                dl.plain {
                    dt { "By" } dd { (note.keeper) " on " (note.device) }
                    dt { "Time" } dd { (note.at.to_rfc3339()) @if let Some(taken) = note.taken { ", from " (taken_words(taken)) } }
                    dt { "Taken in" } dd { (note.received.to_rfc3339()) }
                    dt { "Stands" } dd { (stage_words(note.stage)) @if let Some(why) = &note.trouble { ": " (why) } }
                    @if let Some(t) = &transcript { dt { "Heard by" } dd { (t.model) @if !t.engine.is_empty() { ", " (t.engine) } @if !t.model_sha256.is_empty() { br; span.hash { (t.model_sha256) } } } }
                    @if let Some(sha) = &note.evidence { dt { "Original" } dd { a.hash href={ "/original/" (sha) } { (sha) } } }
                }
                @if note.stage == Stage::Failed { (again("note", note.id.as_str())) }
            }
            (records_list(&records, &measures))
        };
        Ok((gather::frame(store, Place::Evidence, "Note")?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

fn records_list(records: &[Record], measures: &gather::Measures) -> Markup {
    html! {
        @if !records.is_empty() { section.leaf { h2 { "Read from it" }
            ul { @for r in records { li { a href={ "/evidence/entry/" (r.id) } { (say::entry(&r.entry, measures.of(r.entry.bird.as_deref()))) } ", " (r.state) } } }
        } }
    }
}

/// Shows one photo, its reading, and the weight beside it.
pub async fn photo(Extract(state): Extract<State>, Path(photo): Path<String>) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let photo = store.photo(&PhotoId::new(photo))?;
        let choices = store.pairing_choices(&photo.id, 12)?;
        let paired = photo.paired_with.as_ref().map(|id| store.record(id)).transpose()?;
        let (measures, today) = (gather::measures(store)?, gather::today());
        let content = html! {
            header { h1 { "Photo" } p { (say::moment(photo.at, today)) } }
            div.desk {
                section.leaf {
                    div.shown {
                        @if let Some(b) = photo.reading.as_ref().and_then(|r| r.place) {
                            figure { svg viewBox={ (b.x) " " (b.y) " " (b.width.max(1)) " " (b.height.max(1)) } role="img" aria-label="The display, cut out" { image href={ "/picture/" (photo.id) } {} } figcaption { (reading_words(&photo)) } }
                        }
                        figure { img src={ "/picture/" (photo.id) } alt="The whole photo"; figcaption { "The whole photo" } }
                    }
                }
                div {
                    section.leaf {
                        dl.plain {
                            dt { "Taken" } dd { (photo.at.to_rfc3339()) ", from " (taken_words(photo.taken)) }
                            dt { "By" } dd { (photo.keeper) " on " (photo.device) }
                            dt { "Display" } dd { (reading_words(&photo)) @if let Some(r) = &photo.reading { @if r.reading.is_some() { ", " (say::sureness(r.confidence)) } } }
                            dt { "Stands" } dd { (stage_words(photo.stage)) @if let Some(why) = &photo.trouble { ": " (why) } }
                            dt { "Place" } dd { (if photo.has_place { "in the file; kept private" } else { "not in the file" }) }
                            dt { "Original" } dd { a.hash href={ "/original/" (photo.evidence) } { (photo.evidence) } }
                        }
                        @if photo.stage == Stage::Failed { (again("photo", photo.id.as_str())) }
                    }
                    section.leaf {
                        h2 { "The weight beside it" }
                        @match &paired {
                            Some(r) => {
                                p { a href={ "/evidence/entry/" (r.id) } { (say::entry(&r.entry, measures.of(r.entry.bird.as_deref()))) } ", " (say::moment(r.entry.at, today)) }
                                form method="post" action={ "/evidence/photo/" (photo.id) "/part" } { button { "Part them" } }
                            }
                            None => p { "None yet." },
                        }
                        @if !choices.is_empty() {
                            form method="post" action={ "/evidence/photo/" (photo.id) "/pair" } {
                                fieldset { legend { "Pair it by hand with" }
                                    @for r in &choices { label.tickbox { input type="radio" name="entry" value=(r.id) required; (say::entry(&r.entry, measures.of(r.entry.bird.as_deref()))) ", " (say::moment(r.entry.at, today)) } }
                                }
                                div.acts { button.main { "Pair" } }
                            }
                        }
                    }
                }
            }
        };
        Ok((gather::frame(store, Place::Evidence, "Photo")?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

/// Shows where one entry comes from, and its life.
pub async fn entry(Extract(state): Extract<State>, Path(entry): Path<String>) -> Result<Markup, Response> {
    entry_page(state, EntryId::new(entry), None).await
}

async fn entry_page(state: State, id: EntryId, trouble: Option<String>) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let record = store.record(&id)?;
        let steps = store.steps(&id)?;
        let note = record.note.as_ref().map(|id| store.note(id)).transpose()?;
        let times = match &record.note {
            Some(note) => store.transcript(note)?.and_then(|t| quote::span_times(&t, record.entry.span)),
            None => None,
        };
        let birds: Vec<String> = store.birds()?.into_iter().map(|b| b.details.name).collect();
        let content = entry_content(
            &record,
            &steps,
            note.as_ref(),
            times,
            &birds,
            gather::measures(store)?.of(record.entry.bird.as_deref()),
            trouble.as_deref(),
        );
        Ok((gather::frame(store, Place::Evidence, "Where it comes from")?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

fn entry_content(
    record: &Record,
    steps: &[Step],
    note: Option<&Note>,
    times: Option<(f64, f64)>,
    birds: &[String],
    units: Units,
    trouble: Option<&str>,
) -> Markup {
    let entry = &record.entry;
    let today = gather::today();
    html! {
        header { h1 { (say::entry(entry, units)) } p { (say::moment(entry.at, today)) ", " (record.state) @if let Some(by) = &record.by { " by " (by) } } }
        div.pair {
            section.leaf {
                h2 { "Where it comes from" }
                @if let Some(keeper) = &record.another { p { strong { "From another keeper’s record: " (keeper) } } }
                @if !entry.quote.is_empty() { p.said { "“" (entry.quote) "”" } }
                @if let Some(note) = note {
                    @if note.evidence.is_some() {
                        @let piece = times.map(|(a, b)| format!("#t={},{}", say::trim((a - 0.2).max(0.0), 2), say::trim(b + 0.2, 2))).unwrap_or_default();
                        audio controls preload="none" src={ "/sound/" (note.id) (piece) } aria-label="The words it came from" {}
                    }
                    p { a.lone href={ "/evidence/note/" (note.id) } { "The whole note" } }
                }
                @if let Some(net) = &record.net { p { "Scale " (say::mass(net.read_g, units)) ", less " (say::worn(net.furniture_g, units)) " worn: " (say::mass(net.bird_g, units)) } }
                @if let Some(p) = &record.pairing {
                    div.shown { figure { img src={ "/picture/" (p.photo.id) } alt="The photo beside the weight"; figcaption { a href={ "/evidence/photo/" (p.photo.id) } { (reading_words(&p.photo)) } @if p.by_hand { ", paired by hand" } } } }
                }
                @if let Some(was) = &record.proposed { p { "It was read as " (say::value(&was.value, units)) "; a keeper corrected it." } }
            }
            section.leaf {
                h2 { "Its life" }
                ol { @for s in steps { li { (say::date(s.at.date_naive())) " " (say::clock(s.at)) ", " (s.by) " on " (s.device) ": " (s.what) @if let Some(e) = &s.entry { " (" (say::value(&e.value, units)) ")" } } } }
                @if record.state == store::State::Confirmed && record.another.is_none() {
                    details open[trouble.is_some()] {
                        summary { "Correct it" }
                        @if let Some(why) = trouble { p role="alert" { strong { (why) } } }
                        p { "What it was stays in the record, with your reason." }
                        form method="post" action={ "/evidence/entry/" (record.id) "/amend" } {
                            (fields::inputs(entry, "a", birds, units))
                            div { label for="reason" { "Why" } input #reason name="reason" required maxlength="300"; }
                            div.acts { button.main { "Correct" } }
                        }
                        (fields::lists())
                    }
                }
            }
        }
    }
}

/// Corrects what was confirmed before.
pub async fn amend(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(entry): Path<String>,
    Form(typed): Form<Typed>,
) -> Response {
    let id = EntryId::new(entry);
    let on = id.clone();
    let done = gather::on(&state, move |state| {
        let store = state.store();
        let was = store.record(&on)?.entry;
        let birds: Vec<String> = store.birds()?.into_iter().map(|b| b.details.name).collect();
        let reason = typed.get("reason").map(|r| r.trim()).unwrap_or_default();
        if reason.is_empty() {
            return Ok(Err("Say why: the reason stays in the record.".to_owned()));
        }
        match fields::read(&was, &typed, &birds, gather::measures(store)?.of(was.bird.as_deref())) {
            Err(why) => Ok(Err(why)),
            Ok(now) if now == was => Ok(Ok(())),
            Ok(now) => store.amend(&on, now, reason, &hand.who).map(|_| Ok(())),
        }
    })
    .await;
    match done {
        Ok(Ok(())) => go(&format!("/evidence/entry/{id}")),
        Ok(Err(why)) => match entry_page(state, id, Some(why)).await {
            Ok(page) => (StatusCode::UNPROCESSABLE_ENTITY, page).into_response(),
            Err(answer) => answer,
        },
        Err(answer) => answer,
    }
}

/// The weight to pair with.
#[derive(Debug, Deserialize)]
pub struct With {
    entry: String,
}

/// Pairs a photo with a weight by hand.
pub async fn pair(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(photo): Path<String>,
    Form(with): Form<With>,
) -> Response {
    let id = PhotoId::new(photo);
    let back = format!("/evidence/photo/{id}");
    match gather::on(&state, move |state| state.store().pair(&id, &EntryId::new(with.entry), &hand.who)).await
    {
        Ok(()) => go(&back),
        Err(answer) => answer,
    }
}

/// Parts a photo from its weight.
pub async fn part(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(photo): Path<String>,
) -> Response {
    let id = PhotoId::new(photo);
    let back = format!("/evidence/photo/{id}");
    match gather::on(&state, move |state| state.store().unpair(&id, &hand.who)).await {
        Ok(()) => go(&back),
        Err(answer) => answer,
    }
}

/// Queues a failed note or photo once more.
pub async fn again_post(state: State, kind: String, id: String) -> Result<(), Response> {
    gather::on(&state, move |state| {
        let store = state.store();
        match kind.as_str() {
            "note" => {
                let note = store.note(&NoteId::new(id))?;
                let heard = note.evidence.is_none() || store.transcript(&note.id)?.is_some();
                store.add_job(if heard { "draft" } else { "hear" }, note.id.as_str())?;
            }
            _ => store.add_job("read-scale", store.photo(&PhotoId::new(id))?.id.as_str())?,
        }
        state.shared.workshop.wake();
        Ok(())
    })
    .await
}

/// Has a note or photo read once more.
pub async fn again_route(
    Extract(state): Extract<State>,
    Path((kind, id)): Path<(String, String)>,
) -> Response {
    match again_post(state, kind, id).await {
        Ok(()) => go("/evidence"),
        Err(answer) => answer,
    }
}

/// Media types that are played or shown here; anything else is only ever saved.
const SHOWN: &[&str] = &[
    "audio/wav",
    "audio/x-wav",
    "audio/flac",
    "audio/mpeg",
    "audio/mp4",
    "audio/aac",
    "audio/ogg",
    "audio/webm",
    "image/jpeg",
    "image/png",
    "image/webp",
];

/// Finds a media type by the first bytes, for what was taken in without one.
fn sniff(first: &[u8]) -> Option<&'static str> {
    Some(match first {
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'A', b'V', b'E', ..] => "audio/wav",
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => "image/webp",
        [b'f', b'L', b'a', b'C', ..] => "audio/flac",
        [b'O', b'g', b'g', b'S', ..] => "audio/ogg",
        [b'I', b'D', b'3', ..] | [0xff, 0xfb | 0xf3 | 0xf2, ..] => "audio/mpeg",
        [0xff, 0xf1 | 0xf9, ..] => "audio/aac",
        [0x1a, 0x45, 0xdf, 0xa3, ..] => "audio/webm",
        [_, _, _, _, b'f', b't', b'y', b'p', b'h' | b'm', b'e' | b'i', ..] => "image/heic",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "audio/mp4",
        [0xff, 0xd8, 0xff, ..] => "image/jpeg",
        [0x89, b'P', b'N', b'G', ..] => "image/png",
        _ => return None,
    })
}

/// Sends a note's recording, whole or the range that a player asks for.
pub async fn sound(Extract(state): Extract<State>, Path(note): Path<String>, request: Request) -> Response {
    let found = gather::on(&state, move |state| {
        let note = state.store().note(&NoteId::new(note))?;
        note.evidence.ok_or(store::StoreError::Refused("this note was written, not spoken".into()))
    })
    .await;
    match found {
        Ok(sha) => send(state, sha, request, false).await,
        Err(answer) => answer,
    }
}

/// Sends a photo as a browser can show it.
pub async fn picture(
    Extract(state): Extract<State>,
    Path(photo): Path<String>,
    request: Request,
) -> Response {
    match gather::on(&state, move |state| Ok(state.store().photo(&PhotoId::new(photo))?.evidence)).await {
        Ok(sha) => send(state, sha, request, true).await,
        Err(answer) => answer,
    }
}

/// Sends an original to be saved, under its hash.
pub async fn original(Extract(state): Extract<State>, Path(sha): Path<String>, request: Request) -> Response {
    let sha = Sha256::new(sha);
    let name = sha.to_string();
    let mut answer = send(state, sha, request, false).await;
    if answer.status().is_success()
        && let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\""))
    {
        answer.headers_mut().insert(header::CONTENT_DISPOSITION, value);
    }
    answer
}

async fn send(state: State, sha: Sha256, request: Request, preview: bool) -> Response {
    let asked = state.clone();
    let found = gather::on(&state, move |_| {
        let store = asked.store();
        let about = store
            .evidence(&sha)?
            .ok_or(store::StoreError::Refused("there is no such original here".into()))?;
        Ok((store.evidence_path(&sha)?, about))
    })
    .await;
    let (path, about) = match found {
        Ok(found) => found,
        Err(answer) => return answer,
    };
    let first = match first_bytes(&path).await {
        Ok(first) => first,
        Err(error) => {
            tracing::error!("{}: {error}", path.display());
            return told(
                StatusCode::INTERNAL_SERVER_ERROR,
                "The original cannot be read from the disk just now",
            );
        }
    };
    let kind = sniff(&first).or(if about.kind == EvidenceKind::Other { Some("text/plain") } else { None });
    let foreign = kind.is_none_or(|k| !SHOWN.contains(&k));
    if preview && foreign {
        let (workshop, at) = (state.shared.workshop.clone(), path.clone());
        if let Ok(Some(jpeg)) = blocking(move || workshop.preview(&at)).await {
            return (
                [(header::CONTENT_TYPE, "image/jpeg"), (header::CACHE_CONTROL, "private, max-age=86400")],
                jpeg,
            )
                .into_response();
        }
    }
    let mime = if foreign { "application/octet-stream" } else { kind.unwrap_or("application/octet-stream") };
    let Ok(mime_value) = mime.parse() else {
        return told(StatusCode::INTERNAL_SERVER_ERROR, "The original has no known form");
    };
    let Ok(answer) = ServeFile::new_with_mime(&path, &mime_value).try_call(request).await else {
        return told(StatusCode::INTERNAL_SERVER_ERROR, "The original cannot be read from the disk just now");
    };
    let mut answer = answer.map(axum::body::Body::new).into_response();
    // An original never changes, but it is nobody else's to keep.
    answer.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, max-age=86400"));
    if foreign {
        answer.headers_mut().insert(header::CONTENT_DISPOSITION, HeaderValue::from_static("attachment"));
    }
    answer
}

async fn first_bytes(path: &std::path::Path) -> std::io::Result<Vec<u8>> {
    use tokio::io::AsyncReadExt;
    let mut first = Vec::with_capacity(16);
    tokio::fs::File::open(path).await?.take(16).read_to_end(&mut first).await?;
    Ok(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First bytes as the formats' own specifications give them: RIFF, FLAC (RFC 9639), Ogg (RFC 3533),
    /// ISO base media (ISO/IEC 14496-12), PNG (W3C), JPEG (ITU-T T.81).
    #[test]
    fn media_types_are_found_by_content() {
        for (bytes, kind) in [
            (&b"RIFF\x24\0\0\0WAVEfmt "[..], Some("audio/wav")),
            (b"fLaC\0\0\0\x22", Some("audio/flac")),
            (b"OggS\0\x02", Some("audio/ogg")),
            (b"\0\0\0\x20ftypM4A \0\0", Some("audio/mp4")),
            (b"\0\0\0\x18ftypheic\0\0", Some("image/heic")),
            (b"\x89PNG\r\n\x1a\n", Some("image/png")),
            (b"\xff\xd8\xff\xe1", Some("image/jpeg")),
            (b"<html><script>", None),
            (b"", None),
        ] {
            assert_eq!(sniff(bytes), kind);
        }
    }
}
