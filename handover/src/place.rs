//! Taking the place out of a picture, and whatever else a camera hides in it, while its time stays.
//!
//! JPEG (ITU-T T.81), PNG and WebP are rebuilt from the parts that show the picture. In Exif (CIPA
//! DC-008, TIFF 6.0) the pointer to the GPS directory (tag 0x8825) and the maker's note (0x927C) are taken out and
//! what they pointed at is overwritten. Other kinds are not touched: see [`Stripped::Cannot`].

/// What became of an original.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stripped {
    /// A copy without a place, with another sum than the original's.
    Copy(Vec<u8>),
    /// The original says nothing of a place: it can go as it is.
    Clean,
    /// The kind of file cannot be stripped, and may say where it was made.
    Cannot,
}

/// Takes the place out of an original.
pub fn without_place(bytes: &[u8]) -> Stripped {
    let stripped = match bytes {
        [0xFF, 0xD8, 0xFF, ..] => jpeg(bytes),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n', ..] => png(bytes),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => webp(bytes),
        // A plain recording: where a phone writes a place into sound, it is one of these words.
        [b'R', b'I', b'F', b'F', ..] | [b'f', b'L', b'a', b'C', ..] | [b'O', b'g', b'g', b'S', ..] => {
            return if tells_place(bytes) { Stripped::Cannot } else { Stripped::Clean };
        }
        [0x1A, 0x45, 0xDF, 0xA3, ..] | [b'I', b'D', b'3', ..] | [0xFF, ..] => {
            return if tells_place(bytes) { Stripped::Cannot } else { Stripped::Clean };
        }
        [_, _, _, _, b'f', b't', b'y', b'p', rest @ ..] => {
            let picture = [&b"heic"[..], b"heix", b"mif1", b"msf1", b"avif", b"hevc"]
                .iter()
                .any(|brand| rest.get(..4) == Some(brand));
            return if picture || tells_place(bytes) { Stripped::Cannot } else { Stripped::Clean };
        }
        _ => None,
    };
    match stripped {
        Some(copy) if copy == bytes => Stripped::Clean,
        Some(copy) => Stripped::Copy(copy),
        None => Stripped::Cannot,
    }
}

/// Words under which sound files keep a place (QuickTime and 3GPP user data, tags).
fn tells_place(bytes: &[u8]) -> bool {
    [&b"\xA9xyz"[..], b"loci", b"location.ISO6709", b"GEOB", b"LOCATION=", b"GPSLatitude"]
        .iter()
        .any(|word| bytes.windows(word.len()).any(|w| w == *word))
}

fn jpeg(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = vec![0xFF, 0xD8];
    let mut at = 2;
    loop {
        if *bytes.get(at)? != 0xFF {
            return None;
        }
        while *bytes.get(at + 1)? == 0xFF {
            at += 1;
        }
        let marker = bytes[at + 1];
        if marker == 0xD9 {
            out.extend([0xFF, 0xD9]);
            // Whatever follows the picture's end (films, second pictures) stays behind.
            return Some(out);
        }
        if (0xD0..=0xD7).contains(&marker) || marker == 0x01 {
            out.extend([0xFF, marker]);
            at += 2;
            continue;
        }
        let length = usize::from(*bytes.get(at + 2)?) << 8 | usize::from(*bytes.get(at + 3)?);
        let segment = bytes.get(at..at + 2 + length)?;
        if length < 2 {
            return None;
        }
        let body = &segment[4..];
        match marker {
            0xE1 if body.starts_with(b"Exif\0\0") => {
                let mut segment = segment.to_vec();
                exif(&mut segment[10..])?;
                out.extend(segment);
            }
            // The picture itself, JFIF, Adobe's colour note and the colour profile; nothing else.
            0xE0 if body.starts_with(b"JFIF\0") => out.extend(segment),
            0xE2 if body.starts_with(b"ICC_PROFILE\0") => out.extend(segment),
            0xEE if body.starts_with(b"Adobe") => out.extend(segment),
            0xE0..=0xEF | 0xFE => {}
            _ => out.extend(segment),
        }
        at += 2 + length;
        if marker == 0xDA {
            // The coded picture runs on to the next marker that is neither stuffing nor a restart.
            let start = at;
            loop {
                let here = *bytes.get(at)?;
                let next = *bytes.get(at + 1)?;
                if here == 0xFF && next != 0 && !(0xD0..=0xD7).contains(&next) && next != 0xFF {
                    break;
                }
                at += 1;
            }
            out.extend_from_slice(bytes.get(start..at)?);
        }
    }
}

/// Bytes of one value of each TIFF type, 1 to 12.
const SIZES: [usize; 13] = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8];

/// Takes the place and the maker's note out of a TIFF structure, in place.
fn exif(tiff: &mut [u8]) -> Option<()> {
    let big = match tiff.get(..4)? {
        [b'M', b'M', 0, 42] => true,
        [b'I', b'I', 42, 0] => false,
        _ => return None,
    };
    let first = read4(tiff, 4, big)? as usize;
    let mut todo = vec![first];
    let mut seen = Vec::new();
    while let Some(at) = todo.pop() {
        if at == 0 || seen.contains(&at) {
            continue;
        }
        seen.push(at);
        if seen.len() > 16 {
            return None;
        }
        let mut count = read2(tiff, at, big)? as usize;
        let mut n = 0;
        while n < count {
            let entry = at + 2 + 12 * n;
            let tag = read2(tiff, entry, big)?;
            let value = read4(tiff, entry + 8, big)? as usize;
            match tag {
                // GPS directory, maker's note, XMP and IPTC inside TIFF.
                0x8825 => {
                    wipe_directory(tiff, value, big)?;
                    remove_entry(tiff, at, n, &mut count, big)?;
                    continue;
                }
                0x927C | 0x02BC | 0x83BB => {
                    wipe_value(tiff, entry, big)?;
                    remove_entry(tiff, at, n, &mut count, big)?;
                    continue;
                }
                0x8769 | 0xA005 => todo.push(value),
                _ => {}
            }
            n += 1;
        }
        if let Some(next) = read4(tiff, at + 2 + 12 * count, big)
            && at == first
        {
            todo.push(next as usize);
        }
    }
    Some(())
}

fn wipe_directory(tiff: &mut [u8], at: usize, big: bool) -> Option<()> {
    let count = read2(tiff, at, big)? as usize;
    for n in 0..count {
        wipe_value(tiff, at + 2 + 12 * n, big)?;
    }
    tiff.get_mut(at..at + 2 + 12 * count + 4)?.fill(0);
    Some(())
}

fn wipe_value(tiff: &mut [u8], entry: usize, big: bool) -> Option<()> {
    let kind = read2(tiff, entry + 2, big)? as usize;
    let count = read4(tiff, entry + 4, big)? as usize;
    let bytes = SIZES.get(kind).copied().unwrap_or(1).checked_mul(count)?;
    if bytes > 4 {
        let from = read4(tiff, entry + 8, big)? as usize;
        tiff.get_mut(from..from.checked_add(bytes)?)?.fill(0);
    }
    Some(())
}

/// Takes one entry out of a directory: those behind it and the pointer to the next directory move up.
fn remove_entry(tiff: &mut [u8], at: usize, n: usize, count: &mut usize, big: bool) -> Option<()> {
    let (from, end) = (at + 2 + 12 * n, at + 2 + 12 * *count + 4);
    tiff.get(from..end)?;
    tiff.copy_within(from + 12..end, from);
    tiff[end - 12..end].fill(0);
    *count -= 1;
    let bytes = (*count as u16).to_be_bytes();
    let bytes = if big { bytes } else { [bytes[1], bytes[0]] };
    tiff[at..at + 2].copy_from_slice(&bytes);
    Some(())
}

fn read2(bytes: &[u8], at: usize, big: bool) -> Option<u32> {
    let b = bytes.get(at..at.checked_add(2)?)?;
    Some(u32::from(if big { u16::from_be_bytes([b[0], b[1]]) } else { u16::from_le_bytes([b[0], b[1]]) }))
}

fn read4(bytes: &[u8], at: usize, big: bool) -> Option<u32> {
    let b: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    Some(if big { u32::from_be_bytes(b) } else { u32::from_le_bytes(b) })
}

fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = bytes[..8].to_vec();
    let mut at = 8;
    loop {
        let length = read4(bytes, at, true)? as usize;
        let chunk = bytes.get(at..at.checked_add(length)?.checked_add(12)?)?;
        let kind = &chunk[4..8];
        // Capital first letter: needed to show the picture. Colour, gamma and size of dots may stay.
        let keep = kind[0].is_ascii_uppercase()
            || [&b"tRNS"[..], b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"pHYs", b"sBIT", b"bKGD", b"tIME"]
                .contains(&kind);
        if keep {
            out.extend_from_slice(chunk);
        }
        at += chunk.len();
        if kind == b"IEND" {
            return Some(out);
        }
    }
}

fn webp(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut body = b"WEBP".to_vec();
    let mut at = 12;
    while at + 8 <= bytes.len() {
        let length = read4(bytes, at + 4, false)? as usize;
        let end = at.checked_add(8)?.checked_add(length)?.checked_add(length % 2)?.min(bytes.len());
        let chunk = bytes.get(at..end).filter(|c| c.len() >= 8 + length)?;
        match &chunk[..4] {
            b"EXIF" | b"XMP " => {}
            b"VP8X" => {
                let mut chunk = chunk.to_vec();
                // Bits for Exif (3) and XMP (2), no longer there.
                *chunk.get_mut(8)? &= !0x0C;
                body.extend(chunk);
            }
            b"VP8 " | b"VP8L" | b"ALPH" | b"ICCP" | b"ANIM" | b"ANMF" => body.extend_from_slice(chunk),
            _ => {}
        }
        at = end;
    }
    let mut out = b"RIFF".to_vec();
    out.extend((body.len() as u32).to_le_bytes());
    out.extend(body);
    Some(out)
}
