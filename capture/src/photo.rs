//! A photo in: upright pixels, and what the file says about itself.
//!
//! JPEG, PNG, WebP and HEIC. The original bytes are never changed; they are the evidence, and their SHA-256 is their
//! name. Time, offset, sub-seconds, orientation and place come from EXIF (CIPA DC-008, Exif 3.0). Where pixels cannot
//! be had, the facts still can: [`PhotoError::NoPixels`] carries them. Absent: reading the display, storing, pairing.

mod exif;
mod heic;
mod pixels;

pub use exif::{Facts, Gps, Private};
pub use pixels::{crop_jpeg, thumbnail_jpeg};

use note::Sha256;
use sha2::Digest as _;

/// How large a photo may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// The file, bytes.
    pub max_bytes: u64,
    /// The picture, pixels.
    pub max_pixels: u64,
    /// How long another program may take over one HEIC, seconds.
    pub max_seconds: u64,
}

impl Default for Limits {
    /// Enough for a phone's 50-megapixel setting; a picture of that size takes some 400 MB while it is read.
    fn default() -> Self {
        Self { max_bytes: 48 << 20, max_pixels: 50_500_000, max_seconds: 20 }
    }
}

/// The kinds of picture that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum MediaType {
    Jpeg,
    Png,
    WebP,
    Heic,
}

impl MediaType {
    /// Tells the kind by the first bytes of the file; its name is not asked.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let brands = |b: &[u8]| {
            b.chunks_exact(4)
                .take(32)
                .any(|b| matches!(b, b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx"))
        };
        match bytes {
            [0xff, 0xd8, 0xff, ..] => Some(Self::Jpeg),
            [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some(Self::Png),
            [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(Self::WebP),
            [a, b, c, d, b'f', b't', b'y', b'p', ..] => {
                let length = u32::from_be_bytes([*a, *b, *c, *d]) as usize;
                brands(&bytes[8..length.clamp(8, bytes.len())]).then_some(Self::Heic)
            }
            _ => None,
        }
    }
    /// Returns the name used on the web.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::WebP => "image/webp",
            Self::Heic => "image/heic",
        }
    }
}

/// What turned the file into pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecodedBy {
    /// A decoder that gives the exact pixels, inside this program.
    BuiltIn,
    /// libheif's `heif-convert`, installed on this machine: the exact pixels of a HEIC.
    HeifConvert,
    /// The HEIC decoder inside this program: the right shapes, colours a little off.
    Nearly,
}

/// A photo with its pixels.
#[derive(Clone, Debug)]
pub struct Photo {
    /// Width of the upright picture, pixels.
    pub width: u32,
    /// Height of the upright picture, pixels.
    pub height: u32,
    /// Rows of red, green, blue, from the upper left of the upright picture.
    pub rgb: Vec<u8>,
    /// What the file says about itself.
    pub facts: Facts,
    /// What made the pixels.
    pub decoded_by: DecodedBy,
}

/// Occurs when a file gives no pixels.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    /// No kind of picture that this program knows.
    #[error("this is no JPEG, PNG, WebP or HEIC picture; the file is kept as it is")]
    NotAPicture,
    /// The file or the picture is over the limits.
    #[error("this picture is too large ({what}); the file is kept. Take the photo at the phone's usual size")]
    TooLarge {
        /// What was too large, in words.
        what: String,
    },
    /// The file breaks off or is damaged.
    #[error(
        "this picture is damaged or cut short ({why}); the file is kept. Copy it over from the phone again"
    )]
    Damaged {
        /// What the decoder said.
        why: String,
    },
    /// The pixels cannot be had, but the facts can.
    #[error("the time of this photo was read, but not its picture ({why}); the file is kept. {hint}")]
    NoPixels {
        /// What the file says about itself.
        facts: Box<Facts>,
        /// What the decoders said.
        why: String,
        /// What to install or do.
        hint: &'static str,
    },
}

impl PhotoError {
    /// Returns the facts, where they could be read.
    pub fn facts(&self) -> Option<&Facts> {
        match self {
            Self::NoPixels { facts, .. } => Some(facts),
            _ => None,
        }
    }
}

/// Reads a photo.
pub fn read_bytes(bytes: &[u8], limits: &Limits) -> Result<Photo, PhotoError> {
    let facts = read_facts(bytes, limits)?;
    let pixels = match facts.media_type {
        MediaType::Heic => heic::decode(bytes, limits, &facts)?,
        _ => pixels::decode(bytes, limits, facts.media_type)?,
    };
    Ok(Photo { width: pixels.width, height: pixels.height, rgb: pixels.rgb, decoded_by: pixels.by, facts })
}

/// Reads what a file says about itself, without its pixels.
pub fn read_facts(bytes: &[u8], limits: &Limits) -> Result<Facts, PhotoError> {
    if bytes.len() as u64 > limits.max_bytes {
        return Err(PhotoError::TooLarge { what: format!("{} MB", bytes.len() >> 20) });
    }
    let media_type = MediaType::of(bytes).ok_or(PhotoError::NotAPicture)?;
    Ok(exif::read(bytes, media_type))
}

/// Returns the SHA-256 of the original bytes, 64 hex digits.
pub fn sha256(bytes: &[u8]) -> Sha256 {
    let sum = sha2::Sha256::digest(bytes);
    Sha256::new(sum.iter().map(|b| format!("{b:02x}")).collect::<String>())
}

/// Pixels fresh from a decoder.
struct Pixels {
    width: u32,
    height: u32,
    rgb: Vec<u8>,
    by: DecodedBy,
}

/// Runs a decoder so that a panic inside it becomes an error.
fn guarded<T>(
    what: impl FnOnce() -> Result<T, PhotoError> + std::panic::UnwindSafe,
) -> Result<T, PhotoError> {
    std::panic::catch_unwind(what)
        .unwrap_or_else(|_| Err(PhotoError::Damaged { why: "the decoder gave up".into() }))
}
