//! HEIC to upright pixels: exactly, through libheif's `heif-convert` where it is installed; nearly, inside this
//! program, where it is not.
//!
//! The file's own turn (`irot`, `imir`; ISO/IEC 23008-12, 6.5.10) is applied by either decoder. The EXIF orientation of
//! a HEIC says the same thing once more and is left alone.

use super::{DecodedBy, Facts, Limits, PhotoError, Pixels, guarded, pixels};
use image::ImageFormat;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const HINT: &str = "To read it, install libheif's tools (Debian: apt install libheif-examples), or set the phone's camera to \
                    \"most compatible\" (JPEG)";

pub(super) fn decode(bytes: &[u8], limits: &Limits, facts: &Facts) -> Result<Pixels, PhotoError> {
    let size = guarded(|| heic_rs::probe(bytes).map_err(|e| PhotoError::Damaged { why: e.to_string() }));
    if let Ok(info) = &size
        && u64::from(info.width) * u64::from(info.height) > limits.max_pixels
    {
        return Err(PhotoError::TooLarge { what: format!("{} by {} pixels", info.width, info.height) });
    }
    // A file whose size cannot be told is not handed to another program.
    if size.is_ok()
        && let Some(exact) = convert(bytes, limits)
    {
        return Ok(exact);
    }
    nearly(bytes, limits).map_err(|why| match why {
        PhotoError::Damaged { why } => {
            PhotoError::NoPixels { facts: Box::new(facts.clone()), why, hint: HINT }
        }
        other => other,
    })
}

/// Decodes inside this program: the right shapes; colours differ by a few hundredths.
fn nearly(bytes: &[u8], limits: &Limits) -> Result<Pixels, PhotoError> {
    guarded(|| {
        let options = heic_rs::DecodeOptions::default()
            .with_layout(heic_rs::PixelLayout::Rgb8)
            .with_max_pixels(Some(limits.max_pixels))
            .with_alpha(false);
        let image =
            heic_rs::decode(bytes, &options).map_err(|e| PhotoError::Damaged { why: e.to_string() })?;
        Ok(Pixels { width: image.width, height: image.height, rgb: image.data, by: DecodedBy::Nearly })
    })
}

/// Decodes through `heif-convert`; `None` where it is not installed, fails or takes too long.
fn convert(bytes: &[u8], limits: &Limits) -> Option<Pixels> {
    let folder = tempfile::tempdir().ok()?;
    let (from, to) = (folder.path().join("photo.heic"), folder.path().join("photo.png"));
    std::fs::write(&from, bytes).ok()?;
    run(&from, &to, Duration::from_secs(limits.max_seconds))?;
    // A file with several pictures gives photo-1.png and so on; the first is the main one.
    let made = if to.exists() { to } else { folder.path().join("photo-1.png") };
    let png = std::fs::read(made).ok()?;
    // The PNG may carry the EXIF along; its orientation is already in the pixels.
    let bare = without_exif(&png);
    pixels::upright(&bare, limits, ImageFormat::Png, DecodedBy::HeifConvert).ok()
}

fn run(from: &Path, to: &Path, limit: Duration) -> Option<()> {
    let mut child = Command::new("heif-convert")
        .arg("--quiet")
        .arg(from)
        .arg(to)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) => return status.success().then_some(()),
            Ok(None) if start.elapsed() < limit => std::thread::sleep(Duration::from_millis(10)),
            _ => {
                let _ = child.kill();
                let _ = child.wait();
                return None;
            }
        }
    }
}

/// Leaves the eXIf chunk out of a PNG (W3C PNG, third edition, 11.3.3.8).
fn without_exif(png: &[u8]) -> Vec<u8> {
    let mut out = png.get(..8).unwrap_or_default().to_vec();
    let mut at = 8;
    while let Some(head) = png.get(at..at + 8) {
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let end = at.saturating_add(12).saturating_add(length).min(png.len());
        if &head[4..] != b"eXIf" {
            out.extend_from_slice(&png[at..end]);
        }
        at = end;
    }
    out
}
