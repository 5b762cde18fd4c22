//! The boxes of an MP4 file (ISO/IEC 14496-12), as far as symphonia keeps what they say to itself.

use super::take;
use std::io::{Read, Seek, SeekFrom};

/// Returns the seconds of sound before the recording proper, as the first edit of the sound track tells
/// (`elst`, 8.6.6): what an AAC encoder puts before the first sample, or what was cut off on the phone.
pub(super) fn lead_in(file: &mut (impl Read + Seek)) -> Option<f64> {
    let end = file.seek(SeekFrom::End(0)).ok()?;
    let moov = find_box(file, 0, end, b"moov")?;
    let mut at = moov.0;
    while let Some(track) = find_box(file, at, moov.1, b"trak") {
        at = track.1;
        let media = find_box(file, track.0, track.1, b"mdia")?;
        // Version, flags and a reserved word stand before the kind of track (`hdlr`, 8.4.3).
        if body(file, media, b"hdlr", 12)?[8..12] == *b"soun" {
            let head = body(file, media, b"mdhd", 24)?;
            // Times are wider in version 1 (`mdhd`, 8.4.2).
            let scale = word(&head, if head[0] == 1 { 20 } else { 12 })?;
            let edits = find_box(file, track.0, track.1, b"edts")?;
            let first = first_edit(file, edits)?;
            return (scale > 0 && first > 0).then(|| first as f64 / f64::from(scale));
        }
    }
    None
}

/// Returns where in the sound the first edit that is not a pause begins, in units of the track's time scale.
fn first_edit(file: &mut (impl Read + Seek), edits: (u64, u64)) -> Option<i64> {
    let head = body(file, edits, b"elst", 8)?;
    // After the first bytes the file stands at the first entry.
    for _ in 0..word(&head, 4)? {
        let start = match head[0] {
            1 => i64::from_be_bytes(take(file, 20)?[8..16].try_into().ok()?),
            _ => i64::from(i32::from_be_bytes(take(file, 12)?[4..8].try_into().ok()?)),
        };
        if start >= 0 {
            return Some(start);
        }
    }
    None
}

/// Reads the first bytes of the body of a box.
fn body(file: &mut (impl Read + Seek), within: (u64, u64), name: &[u8; 4], len: usize) -> Option<Vec<u8>> {
    let (start, end) = find_box(file, within.0, within.1, name)?;
    file.seek(SeekFrom::Start(start)).ok()?;
    (end - start >= len as u64).then(|| take(file, len)).flatten()
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

/// Returns the body, `[start, end)`, of the first box of this name in `[at, end)`.
pub(super) fn find_box(
    file: &mut (impl Read + Seek),
    mut at: u64,
    end: u64,
    name: &[u8; 4],
) -> Option<(u64, u64)> {
    while at + 8 <= end {
        file.seek(SeekFrom::Start(at)).ok()?;
        let head = take(file, 8)?;
        let mut header = 8;
        let size = match u32::from_be_bytes(head[..4].try_into().ok()?) {
            0 => end - at,
            1 => {
                header = 16;
                u64::from_be_bytes(take(file, 8)?.try_into().ok()?)
            }
            n => u64::from(n),
        };
        if size < header {
            return None;
        }
        let next = at.checked_add(size)?;
        if head[4..] == name[..] {
            return Some((at + header, next.min(end)));
        }
        at = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn boxed(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
        [&(body.len() as u32 + 8).to_be_bytes()[..], name, body].concat()
    }

    /// A track of one kind at 44,100 units a second, with these starts of its edits.
    fn track(kind: &[u8; 4], starts: &[i32]) -> Vec<u8> {
        let mut edits = [[0; 4], (starts.len() as u32).to_be_bytes()].concat();
        for start in starts {
            edits.extend([[0; 4], start.to_be_bytes(), [0, 1, 0, 0]].concat());
        }
        let scale = [&[0; 12][..], &44_100u32.to_be_bytes(), &[0; 8]].concat();
        let handler = [&[0; 8][..], kind, &[0; 13]].concat();
        let media = [boxed(b"mdhd", &scale), boxed(b"hdlr", &handler)].concat();
        boxed(b"trak", &[boxed(b"edts", &boxed(b"elst", &edits)), boxed(b"mdia", &media)].concat())
    }

    #[test]
    fn the_sound_tracks_first_edit_tells_the_lead_in() {
        for (what, tracks, wanted) in [
            ("an encoder's delay", vec![track(b"soun", &[1024])], Some(1024.0 / 44_100.0)),
            ("a pause before it", vec![track(b"soun", &[-1, 2112])], Some(2112.0 / 44_100.0)),
            ("a film", vec![track(b"vide", &[512]), track(b"soun", &[1024])], Some(1024.0 / 44_100.0)),
            ("no lead-in", vec![track(b"soun", &[0])], None),
            ("no edits", vec![track(b"soun", &[])], None),
            ("no sound", vec![track(b"vide", &[512])], None),
        ] {
            let file = [boxed(b"ftyp", b"M4A "), boxed(b"moov", &tracks.concat())].concat();
            assert_eq!(lead_in(&mut Cursor::new(&file)), wanted, "{what}");
            for len in 0..file.len() {
                let cut = lead_in(&mut Cursor::new(&file[..len]));
                assert!(cut.is_none() || cut == wanted, "{what}, cut at {len}");
            }
        }
    }
}
