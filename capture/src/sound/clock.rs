//! When a recording was made: by its container, else by its name, else by the file's time of last change.
//!
//! Phones write the container's time in UTC, some at the start of a recording and some at its end. A time
//! without a zone is taken to be this machine's.

use super::boxes::find_box;
use super::take;
use chrono::{DateTime, Duration, FixedOffset, Local, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Utc};
use note::{Taken, TakenSource};
use regex::Regex;
use std::io::{Read, Seek, SeekFrom};
use std::sync::LazyLock;

/// Chooses the best time that is known.
pub(super) fn recorded(
    told: Option<DateTime<FixedOffset>>,
    name: &str,
    changed: Option<DateTime<Local>>,
) -> Option<Taken> {
    let told = told.filter(plausible).map(|at| Taken { at, source: TakenSource::Container });
    let named = || time_in_name(name).map(|at| Taken { at, source: TakenSource::FileName });
    let file = || changed.map(|at| Taken { at: at.fixed_offset(), source: TakenSource::File });
    told.or_else(named).or_else(file)
}

/// Clocks that were never set show 1904, 1970 or 2000; nobody records tomorrow.
fn plausible(at: &DateTime<FixedOffset>) -> bool {
    let earliest = Utc.with_ymd_and_hms(2001, 1, 2, 0, 0, 0).single();
    earliest.is_some_and(|earliest| *at > earliest) && *at < Utc::now() + Duration::days(2)
}

fn here(local: NaiveDateTime) -> Option<DateTime<FixedOffset>> {
    // In the hour that comes twice the first is as good as the second; in the one left out, none.
    Local.from_local_datetime(&local).earliest().map(|t| t.fixed_offset())
}

static DATE_IN_NAME: LazyLock<Option<Regex>> = LazyLock::new(|| {
    Regex::new(r"(?:^|\D)(20\d\d)([-._]?)(0[1-9]|1[0-2])[-._]?(0[1-9]|[12]\d|3[01])(?:[-_ T.]*(?:at |um )?([01]\d|2[0-3])[-._:h ]?([0-5]\d)(?:[-._:m ]?([0-5]\d))?)?(?:\D|$)").ok()
});

/// Finds a date, and a time of day if there is one, in a file's name. A date alone stands for its noon.
///
/// Four figures run together after the date may be a time (0810) or a count (0001). From 0000 to 0059 they
/// are taken for a count: few recordings are made in the hour after midnight, and every count begins there.
fn time_in_name(name: &str) -> Option<DateTime<FixedOffset>> {
    let found = DATE_IN_NAME.as_ref()?.captures(name)?;
    let number = |i: usize| found.get(i).and_then(|m| m.as_str().parse::<u32>().ok());
    let day = NaiveDate::from_ymd_opt(number(1)? as i32, number(3)?, number(4)?)?;
    let run_together =
        found.get(5).zip(found.get(6)).is_some_and(|(hour, minute)| hour.end() == minute.start());
    let count = number(5) == Some(0) && number(7).is_none() && run_together;
    let time = match (number(5), number(6)) {
        (Some(hour), Some(minute)) if !count => {
            NaiveTime::from_hms_opt(hour, minute, number(7).unwrap_or(0))?
        }
        _ => NaiveTime::from_hms_opt(12, 0, 0)?,
    };
    here(day.and_time(time)).filter(plausible)
}

/// Reads a time as tags write it; a date without a time of day is no time of recording.
pub(super) fn written_time(text: &str) -> Option<DateTime<FixedOffset>> {
    let text = text.trim();
    let zoned = ["%Y-%m-%dT%H:%M:%S%.f%#z", "%Y-%m-%d %H:%M:%S%.f%#z", "%Y%m%dT%H%M%S%#z"];
    let local = ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%d %H:%M:%S%.f", "%Y:%m:%d %H:%M:%S", "%Y%m%dT%H%M%S"];
    let with_zone = text.strip_suffix('Z').map_or_else(|| text.to_owned(), |t| format!("{t}+00:00"));
    zoned.iter().find_map(|form| DateTime::parse_from_str(&with_zone, form).ok()).or_else(|| {
        local.iter().find_map(|form| NaiveDateTime::parse_from_str(text, form).ok()).and_then(here)
    })
}

/// Reads the time that a container's own header tells: MP4, Matroska and WebM, broadcast WAV.
pub(super) fn container_time(file: &mut (impl Read + Seek)) -> Option<DateTime<FixedOffset>> {
    file.seek(SeekFrom::Start(0)).ok()?;
    let head = take(file, 12)?;
    match (&head[..4], &head[4..8], &head[8..]) {
        (_, b"ftyp", _) => mp4_time(file),
        ([0x1a, 0x45, 0xdf, 0xa3], _, _) => matroska_time(file),
        (b"RIFF", _, b"WAVE") => wav_time(file),
        _ => None,
    }
}

/// `mvhd` of ISO/IEC 14496-12 (8.2.2): seconds since the first of January 1904, UTC.
fn mp4_time(file: &mut (impl Read + Seek)) -> Option<DateTime<FixedOffset>> {
    let end = file.seek(SeekFrom::End(0)).ok()?;
    let moov = find_box(file, 0, end, b"moov")?;
    let (start, _) = find_box(file, moov.0, moov.1, b"mvhd")?;
    file.seek(SeekFrom::Start(start)).ok()?;
    let body = take(file, 12)?;
    let seconds = match body[0] {
        0 => u64::from(u32::from_be_bytes(body[4..8].try_into().ok()?)),
        1 => u64::from_be_bytes(body[4..12].try_into().ok()?),
        _ => return None,
    };
    let epoch = Utc.with_ymd_and_hms(1904, 1, 1, 0, 0, 0).single()?;
    let since = Duration::try_seconds(i64::try_from(seconds).ok().filter(|s| *s > 0)?)?;
    Some(epoch.checked_add_signed(since)?.fixed_offset())
}

/// `DateUTC` of RFC 9559 (5.1.2.11): nanoseconds since the start of 2001. It stands near the beginning.
fn matroska_time(file: &mut (impl Read + Seek)) -> Option<DateTime<FixedOffset>> {
    file.seek(SeekFrom::Start(0)).ok()?;
    let mut head = Vec::new();
    file.take(8192).read_to_end(&mut head).ok()?;
    let at = head.windows(3).position(|w| w == [0x44, 0x61, 0x88])? + 3;
    let nanos = i64::from_be_bytes(head.get(at..at + 8)?.try_into().ok()?);
    let epoch = Utc.with_ymd_and_hms(2001, 1, 1, 0, 0, 0).single()?;
    Some(epoch.checked_add_signed(Duration::nanoseconds(nanos))?.fixed_offset())
}

/// `bext` of EBU Tech 3285: the recorder's own date and time of day, without a zone.
fn wav_time(file: &mut (impl Read + Seek)) -> Option<DateTime<FixedOffset>> {
    let end = file.seek(SeekFrom::End(0)).ok()?;
    let mut at = 12;
    while at + 8 <= end {
        file.seek(SeekFrom::Start(at)).ok()?;
        let head = take(file, 8)?;
        let size = u64::from(u32::from_le_bytes(head[4..].try_into().ok()?));
        if head[..4] == *b"bext" {
            let body = take(file, 338)?;
            let text = |range: std::ops::Range<usize>| String::from_utf8_lossy(&body[range]).into_owned();
            let joined = format!(
                "{} {}",
                text(320..330).replace([':', '/', '_'], "-"),
                text(330..338).replace(['-', '_', '.'], ":")
            );
            return NaiveDateTime::parse_from_str(&joined, "%Y-%m-%d %H:%M:%S").ok().and_then(here);
        }
        at += 8 + size + size % 2;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn name(text: &str) -> Option<String> {
        time_in_name(text).map(|t| t.naive_local().format("%Y-%m-%d %H:%M:%S").to_string())
    }

    #[test]
    fn dates_in_the_names_that_recorders_give() {
        for (file, wanted) in [
            ("20260314_081007.m4a", Some("2026-03-14 08:10:07")),
            ("2026-03-14 08.10.07.m4a", Some("2026-03-14 08:10:07")),
            ("REC_2026-03-14-08-10.wav", Some("2026-03-14 08:10:00")),
            ("Voice 2026-03-14 at 08.10.07.ogg", Some("2026-03-14 08:10:07")),
            ("audio_2026-03-14_08-10-07.ogg", Some("2026-03-14 08:10:07")),
            ("VOICE-20260314-0001.opus", Some("2026-03-14 12:00:00")),
            ("VOICE-20260314-N0001.opus", Some("2026-03-14 12:00:00")),
            ("20260314_0810.wav", Some("2026-03-14 08:10:00")),
            ("20260314_000130.wav", Some("2026-03-14 00:01:30")),
            ("2026-03-14 00.01.wav", Some("2026-03-14 00:01:00")),
            ("New recording 12.m4a", None),
            ("12345678901234567890.wav", None),
            ("20261399_081007.m4a", None),
            ("20260230.m4a", None),
        ] {
            assert_eq!(name(file).as_deref(), wanted, "{file}");
        }
    }

    #[test]
    fn times_as_tags_write_them() {
        for (text, wanted) in [
            ("2026-03-14T08:10:07+01:00", Some("2026-03-14T07:10:07+00:00")),
            ("2026-03-14T08:10:07Z", Some("2026-03-14T08:10:07+00:00")),
            ("2026-03-14T08:10:07+0100", Some("2026-03-14T07:10:07+00:00")),
            ("2026-03-14 08:10:07.250Z", Some("2026-03-14T08:10:07.250+00:00")),
            ("2026-03-14", None),
            ("2026", None),
        ] {
            let read = written_time(text).map(|t| t.with_timezone(&Utc).to_rfc3339());
            assert_eq!(read.as_deref(), wanted, "{text}");
        }
    }

    #[test]
    fn a_container_tells_before_the_name_and_the_name_before_the_file() {
        let told = DateTime::parse_from_rfc3339("2026-03-14T07:00:00+00:00").ok();
        let changed = Some(Local::now());
        let source = |told, name: &str, changed| recorded(told, name, changed).map(|t| t.source);
        assert_eq!(source(told, "20260314_081007.m4a", changed), Some(TakenSource::Container));
        assert_eq!(source(None, "20260314_081007.m4a", changed), Some(TakenSource::FileName));
        assert_eq!(source(None, "note.m4a", changed), Some(TakenSource::File));
        assert_eq!(source(None, "note.m4a", None), None);
    }

    #[test]
    fn a_clock_that_was_never_set_is_not_believed() {
        let unset = DateTime::parse_from_rfc3339("1970-01-01T00:00:00+00:00").ok();
        assert_eq!(recorded(unset, "note.m4a", None), None);
    }

    #[test]
    fn matroska_counts_from_2001() {
        let mut file = vec![0x1a, 0x45, 0xdf, 0xa3, 0, 0, 0, 0, 0, 0, 0, 0, 0x44, 0x61, 0x88];
        file.extend((86_400_000_000_000i64 * 365).to_be_bytes());
        let at = container_time(&mut Cursor::new(file)).map(|t| t.to_rfc3339());
        assert_eq!(at.as_deref(), Some("2002-01-01T00:00:00+00:00"));
    }

    #[test]
    fn an_mp4_box_that_lies_about_its_size_ends_the_search() {
        let mut file = b"\0\0\0\x08ftyp\0\0\0\x04free".to_vec();
        file.extend([0; 16]);
        assert_eq!(container_time(&mut Cursor::new(file)), None);
    }
}
