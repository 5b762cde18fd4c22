//! What a photo tells: the digits on the display, and when it was taken.

use crate::{Grams, MassUnit};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// A rectangle in the upright picture, pixels: `[x, y, width, height]` in JSON.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "[u32; 4]", into = "[u32; 4]")]
#[allow(missing_docs)]
pub struct PixelBox {
    pub x: u32,
    pub y: u32,
    pub width: u32,
    pub height: u32,
}
impl From<[u32; 4]> for PixelBox {
    fn from([x, y, width, height]: [u32; 4]) -> Self {
        Self { x, y, width, height }
    }
}
impl From<PixelBox> for [u32; 4] {
    fn from(b: PixelBox) -> Self {
        [b.x, b.y, b.width, b.height]
    }
}

/// What the display reader saw.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DisplayReading {
    /// The characters shown, sign and point included; `None` when no display can be read.
    pub reading: Option<String>,
    /// The unit shown, if one was seen.
    pub unit: Option<MassUnit>,
    /// The reading as a mass, when the unit allows it.
    pub grams: Option<Grams>,
    /// Calibrated, 0 to 1.
    pub confidence: f64,
    /// Where the display is.
    #[serde(rename = "box")]
    pub place: Option<PixelBox>,
}

/// When a photo or recording was made, and how that is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Taken {
    /// The moment.
    #[serde(rename = "taken_at")]
    pub at: DateTime<FixedOffset>,
    /// How it is known.
    #[serde(rename = "taken_at_source")]
    pub source: TakenSource,
}

/// How a time is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TakenSource {
    /// EXIF local time with its offset.
    ExifOffset,
    /// EXIF local time; the zone is assumed to be the keeper's.
    ExifLocal,
    /// The recording's own container.
    Container,
    /// A date and time in the file name.
    FileName,
    /// The file's own time of last change.
    File,
}
