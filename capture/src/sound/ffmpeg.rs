//! The system's ffmpeg, for what has no free decoder here: AMR, HE-AAC, a WebM that breaks off.
//!
//! No shell, no network, no playlists that could name other files; its time and its output are limited.

use super::decode::Decoded;
use super::{Limits, SAMPLE_RATE};
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Containers that it may open.
const FORMATS: &str =
    "3g2,3gp,aac,aiff,amr,amrnb,amrwb,asf,avi,caf,flac,m4a,matroska,mj2,mov,mp3,mp4,ogg,w64,wav,webm";
const PATIENCE: Duration = Duration::from_secs(120);

/// Decodes with ffmpeg; `None` when there is none, or it cannot either.
pub(super) fn decode(path: &Path, limits: &Limits) -> Option<Decoded> {
    let path = path.canonicalize().ok()?;
    let mut input = std::ffi::OsString::from("file:");
    input.push(&path);
    let mut child = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-protocol_whitelist", "file", "-format_whitelist", FORMATS, "-i"])
        .arg(input)
        .args([
            "-map",
            "0:a:0",
            "-ac",
            "1",
            "-ar",
            &SAMPLE_RATE.to_string(),
            "-t",
            &(limits.seconds + 1.0).to_string(),
        ])
        .args(["-f", "f32le", "pipe:1"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let out = child.stdout.take()?;
    let most = ((limits.seconds + 1.0) * f64::from(SAMPLE_RATE)) as u64 * 4;
    let reader = std::thread::spawn(move || {
        let mut bytes = Vec::new();
        out.take(most).read_to_end(&mut bytes).map(|_| bytes)
    });
    let began = Instant::now();
    while !reader.is_finished() && began.elapsed() < PATIENCE {
        std::thread::sleep(Duration::from_millis(10));
    }
    let in_time = reader.is_finished();
    // It has said all that is wanted, or too little in too long a time.
    let _ = child.kill();
    let _ = child.wait();
    let bytes = reader.join().ok()?.ok()?;
    if !in_time || bytes.len() < 4 {
        return None;
    }
    let samples: Vec<f32> = bytes.as_chunks::<4>().0.iter().map(|b| f32::from_le_bytes(*b)).collect();
    if samples.len() as f64 / f64::from(SAMPLE_RATE) > limits.seconds {
        return None;
    }
    Some(Decoded {
        samples,
        container: "other".to_owned(),
        codec: "ffmpeg".to_owned(),
        broken_off: false,
        tagged: None,
    })
}
