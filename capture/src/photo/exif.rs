//! EXIF: when, which way up, and where. Tag numbers and forms: CIPA DC-008-2023 (Exif 3.0), sections 4.6.5 and 4.6.6.

use super::MediaType;
use ::exif::{Exif, In, Rational, Tag, Value};
use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, TimeZone as _};
use note::{Taken, TakenSource};
use std::io::Cursor;

/// What a photo's file says about itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Facts {
    /// What kind of file it is.
    pub media_type: MediaType,
    /// The time of taking by the camera's clock, with its sub-seconds.
    pub local: Option<NaiveDateTime>,
    /// The sub-second digits as written: `"50"` is half a second.
    pub sub_second: Option<String>,
    /// How far the camera's clock was from UTC, where the camera says.
    pub offset: Option<FixedOffset>,
    /// Which way the stored picture lies, 1 (upright) to 8 (DC-008 Orientation).
    pub orientation: u8,
    /// Where it was taken. Never printed or exported unless the keeper asks.
    pub gps: Option<Private<Gps>>,
}

/// A place, degrees north and east.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Gps {
    pub latitude: f64,
    pub longitude: f64,
}

/// A value that does not show itself: it has to be asked for by name.
#[derive(Clone, Copy, PartialEq)]
pub struct Private<T>(T);

impl<T> Private<T> {
    /// Returns the value. Call it only where the keeper asked for it.
    pub fn reveal(&self) -> &T {
        &self.0
    }
}

impl<T> std::fmt::Debug for Private<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("(kept private)")
    }
}

impl Facts {
    /// Returns when the photo was taken. `zone` gives the keeper's own offset at a local time; it is asked only
    /// where the camera did not write one, and the source then says so.
    pub fn taken(&self, zone: impl Fn(NaiveDateTime) -> Option<FixedOffset>) -> Option<Taken> {
        let local = self.local?;
        let at = |o: FixedOffset| -> Option<DateTime<FixedOffset>> { o.from_local_datetime(&local).single() };
        match self.offset {
            Some(o) => Some(Taken { at: at(o)?, source: TakenSource::ExifOffset }),
            None => Some(Taken { at: at(zone(local)?)?, source: TakenSource::ExifLocal }),
        }
    }
    /// Tells whether the file says where it was taken.
    pub fn has_gps(&self) -> bool {
        self.gps.is_some()
    }
}

/// Reads the EXIF of any of the containers; a damaged one gives facts without a time.
pub(super) fn read(bytes: &[u8], media_type: MediaType) -> Facts {
    let mut facts =
        Facts { media_type, local: None, sub_second: None, offset: None, orientation: 1, gps: None };
    let read = std::panic::catch_unwind(|| {
        let mut reader = ::exif::Reader::new();
        reader.continue_on_error(true);
        match reader.read_from_container(&mut Cursor::new(bytes)) {
            Ok(exif) => Some(exif),
            Err(e) => e.distill_partial_result(|_| {}).ok(),
        }
    });
    let Ok(Some(exif)) = read else { return facts };
    for [time, sub, offset] in [
        // 0x9003, 0x9291, 0x9011; then 0x9004, 0x9292, 0x9012; then 0x0132, 0x9290, 0x9010.
        [Tag::DateTimeOriginal, Tag::SubSecTimeOriginal, Tag::OffsetTimeOriginal],
        [Tag::DateTimeDigitized, Tag::SubSecTimeDigitized, Tag::OffsetTimeDigitized],
        [Tag::DateTime, Tag::SubSecTime, Tag::OffsetTime],
    ] {
        let Some(t) = ascii(&exif, time).as_deref().and_then(date_time) else { continue };
        facts.sub_second = ascii(&exif, sub)
            .filter(|s| !s.is_empty() && s.len() <= 9 && s.bytes().all(|b| b.is_ascii_digit()));
        facts.local = Some(t + facts.sub_second.as_deref().map_or(chrono::TimeDelta::zero(), fraction));
        facts.offset = ascii(&exif, offset).as_deref().and_then(utc_offset);
        break;
    }
    // 0x0112, a SHORT of 1 to 8; anything else is as if it were not there.
    if let Some(v) = exif.get_field(Tag::Orientation, In::PRIMARY).and_then(|f| f.value.get_uint(0))
        && (1..=8).contains(&v)
    {
        facts.orientation = v as u8;
    }
    facts.gps = place(&exif).map(Private);
    facts
}

/// Returns an ASCII field of the first image, without its final NULs and blanks.
fn ascii(exif: &Exif, tag: Tag) -> Option<String> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(parts) => {
            let text = String::from_utf8(parts.first()?.clone()).ok()?;
            Some(text.trim_matches(['\0', ' ']).to_owned())
        }
        _ => None,
    }
}

/// Parses "YYYY:MM:DD HH:MM:SS"; blanks for an unknown time give `None`, as does a day that no calendar has.
fn date_time(text: &str) -> Option<NaiveDateTime> {
    let b = text.as_bytes();
    let marks = b.len() == 19
        && [(4, b':'), (7, b':'), (10, b' '), (13, b':'), (16, b':')].iter().all(|(i, c)| b[*i] == *c);
    let number = |from: usize, n: usize| -> Option<u32> {
        let part = &text.get(from..from + n)?;
        part.bytes().all(|c| c.is_ascii_digit()).then(|| part.parse().ok())?
    };
    if !marks || number(0, 4)? < 1900 {
        return None;
    }
    NaiveDate::from_ymd_opt(number(0, 4)? as i32, number(5, 2)?, number(8, 2)?)?.and_hms_opt(
        number(11, 2)?,
        number(14, 2)?,
        number(17, 2)?,
    )
}

/// Turns sub-second digits, a decimal fraction without its point, into a time.
fn fraction(digits: &str) -> chrono::TimeDelta {
    let nanos: String = digits.chars().chain(std::iter::repeat('0')).take(9).collect();
    chrono::TimeDelta::nanoseconds(nanos.parse().unwrap_or(0))
}

/// Parses "+HH:MM" or "-HH:MM" (DC-008 OffsetTime).
fn utc_offset(text: &str) -> Option<FixedOffset> {
    let (sign, rest) = match text.as_bytes().first()? {
        b'+' => (1, &text[1..]),
        b'-' => (-1, &text[1..]),
        _ => return None,
    };
    let (h, m) = rest.split_once(':')?;
    if h.len() != 2 || m.len() != 2 || !(h.to_owned() + m).bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let (h, m): (i32, i32) = (h.parse().ok()?, m.parse().ok()?);
    (h <= 14 && m < 60).then(|| FixedOffset::east_opt(sign * (h * 3600 + m * 60)))?
}

fn place(exif: &Exif) -> Option<Gps> {
    let degrees = |value: Tag, reference: Tag, most: f64, negative: char| -> Option<f64> {
        let Value::Rational(parts) = &exif.get_field(value, In::PRIMARY)?.value else { return None };
        let [d, m, s] = parts.get(..3)? else { return None };
        let number = |r: &Rational| if r.denom == 0 { f64::NAN } else { r.to_f64() };
        let size = number(d) + number(m) / 60.0 + number(s) / 3600.0;
        let sign = if ascii(exif, reference)?.starts_with(negative) { -1.0 } else { 1.0 };
        (size <= most).then_some(sign * size)
    };
    Some(Gps {
        latitude: degrees(Tag::GPSLatitude, Tag::GPSLatitudeRef, 90.0, 'S')?,
        longitude: degrees(Tag::GPSLongitude, Tag::GPSLongitudeRef, 180.0, 'W')?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forms as CIPA DC-008 gives them: 20 bytes with the NUL, blanks for unknown, "+HH:MM".
    #[test]
    fn times_and_offsets_are_read_as_defined() {
        for (text, want) in [
            ("2026:03:14 08:10:00", Some("2026-03-14T08:10:00")),
            ("2024:02:29 23:59:59", Some("2024-02-29T23:59:59")),
            ("2025:02:29 08:10:00", None),
            ("    :  :     :  :  ", None),
            ("0000:00:00 00:00:00", None),
            ("2026-03-14 08:10:00", None),
            ("2026:03:14 24:00:00", None),
            ("2026:03:14", None),
            ("", None),
        ] {
            let got = date_time(text).map(|t| t.format("%Y-%m-%dT%H:%M:%S").to_string());
            assert_eq!(got.as_deref(), want, "{text}");
        }
        for (text, want) in [
            ("+01:00", Some(3600)),
            ("-03:30", Some(-12_600)),
            ("+14:00", Some(50_400)),
            ("+15:00", None),
            ("01:00", None),
            ("+1:00", None),
            ("+0a:00", None),
            ("", None),
        ] {
            assert_eq!(utc_offset(text).map(|o| o.local_minus_utc()), want, "{text}");
        }
        for (digits, millis) in [("5", 500), ("50", 500), ("123", 123), ("007", 7), ("123456789", 123)] {
            assert_eq!(fraction(digits).num_milliseconds(), millis, "{digits}");
        }
    }

    #[test]
    fn a_place_does_not_show_itself() {
        let p = Private(Gps { latitude: 52.5, longitude: -3.25 });
        assert_eq!(format!("{p:?}"), "(kept private)");
        assert_eq!(p.reveal().longitude, -3.25);
    }
}
