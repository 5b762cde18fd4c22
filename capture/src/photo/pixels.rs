//! JPEG, PNG and WebP to upright pixels, and small JPEGs back out.

use super::{DecodedBy, Limits, MediaType, Photo, PhotoError, Pixels, guarded};
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder as _, ImageFormat, ImageReader, RgbImage};
use note::PixelBox;
use std::io::Cursor;

/// Decodes a picture and turns it upright by its EXIF orientation.
pub(super) fn decode(bytes: &[u8], limits: &Limits, kind: MediaType) -> Result<Pixels, PhotoError> {
    if kind == MediaType::Jpeg && !jpeg_is_whole(bytes) {
        return Err(PhotoError::Damaged { why: "it ends before the picture does".into() });
    }
    let format = match kind {
        MediaType::Png => ImageFormat::Png,
        MediaType::WebP => ImageFormat::WebP,
        MediaType::Jpeg | MediaType::Heic => ImageFormat::Jpeg,
    };
    upright(bytes, limits, format, DecodedBy::BuiltIn)
}

pub(super) fn upright(
    bytes: &[u8],
    limits: &Limits,
    format: ImageFormat,
    by: DecodedBy,
) -> Result<Pixels, PhotoError> {
    let damaged = |e: image::ImageError| PhotoError::Damaged { why: e.to_string() };
    guarded(|| {
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut allowed = image::Limits::default();
        // Deep or layered files may need several bytes a pixel while they are read.
        allowed.max_alloc = Some(limits.max_pixels * 8);
        reader.limits(allowed);
        let mut decoder = reader.into_decoder().map_err(damaged)?;
        let (w, h) = decoder.dimensions();
        if u64::from(w) * u64::from(h) > limits.max_pixels {
            return Err(PhotoError::TooLarge { what: format!("{w} by {h} pixels") });
        }
        let turn = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
        let mut picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
        picture.apply_orientation(turn);
        let rgb = picture.into_rgb8();
        Ok(Pixels { width: rgb.width(), height: rgb.height(), rgb: rgb.into_raw(), by })
    })
}

/// Tells whether a JPEG's picture has its end-of-image marker: after the first scan begins, FF D9 must follow.
fn jpeg_is_whole(bytes: &[u8]) -> bool {
    let mut at = 2;
    while let Some(&[0xff, marker]) = bytes.get(at..at + 2).and_then(|b| b.first_chunk::<2>()) {
        match marker {
            0xff => at += 1,
            // Start of scan: the compressed picture follows.
            0xda => return bytes[at..].windows(2).any(|w| w == [0xff, 0xd9]),
            0xd0..=0xd9 | 0x01 => at += 2,
            _ => match bytes.get(at + 2..at + 4) {
                Some(n) => at += 2 + usize::from(u16::from_be_bytes([n[0], n[1]])),
                None => return false,
            },
        }
    }
    false
}

/// Cuts a box out of a photo, shrinks it to at most `max_side` pixels a side and returns a JPEG.
/// A box that lies outside gives the nearest pixel.
pub fn crop_jpeg(photo: &Photo, place: PixelBox, max_side: u32) -> Vec<u8> {
    let x = place.x.min(photo.width - 1);
    let y = place.y.min(photo.height - 1);
    let w = place.width.clamp(1, photo.width - x);
    let h = place.height.clamp(1, photo.height - y);
    let mut cut = RgbImage::new(w, h);
    for (row, to) in cut.chunks_exact_mut(w as usize * 3).enumerate() {
        let from = ((y as usize + row) * photo.width as usize + x as usize) * 3;
        to.copy_from_slice(&photo.rgb[from..from + w as usize * 3]);
    }
    encode(DynamicImage::ImageRgb8(cut), max_side)
}

/// Returns the whole photo as a JPEG of at most `max_side` pixels a side; no EXIF goes along.
pub fn thumbnail_jpeg(photo: &Photo, max_side: u32) -> Vec<u8> {
    crop_jpeg(photo, PixelBox { x: 0, y: 0, width: photo.width, height: photo.height }, max_side)
}

fn encode(picture: DynamicImage, max_side: u32) -> Vec<u8> {
    let max_side = max_side.max(1);
    let small = if picture.width().max(picture.height()) > max_side {
        picture.thumbnail(max_side, max_side)
    } else {
        picture
    };
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, 82)
        .encode_image(&small.into_rgb8())
        .expect("a picture in memory always becomes a JPEG in memory");
    out
}
