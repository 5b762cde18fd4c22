//! Pictures without their place; read back with a reader of others (external check), and with
//! exiftool where it is installed.

use handover::{Stripped, without_place};

/// A directory of TIFF entries: tag, type, count, value or offset.
fn directory(entries: &[(u16, u16, u32, u32)], next: u32) -> Vec<u8> {
    let mut out = (entries.len() as u16).to_be_bytes().to_vec();
    for (tag, kind, count, value) in entries {
        out.extend(tag.to_be_bytes());
        out.extend(kind.to_be_bytes());
        out.extend(count.to_be_bytes());
        out.extend(value.to_be_bytes());
    }
    out.extend(next.to_be_bytes());
    out
}

/// An Exif block by the field definitions of CIPA DC-008: orientation 6, a maker's note, a time and
/// 54°30′N in its GPS directory. Offsets: IFD0 at 8, Exif at 62, GPS at 98, then the values.
fn exif() -> Vec<u8> {
    let mut out = b"MM\0*\0\0\0\x08".to_vec();
    out.extend(directory(
        &[
            (0x0112, 3, 1, 6 << 16),
            (0x010F, 2, 4, u32::from_be_bytes(*b"Cam\0")),
            (0x8769, 4, 1, 62),
            (0x8825, 4, 1, 98),
        ],
        0,
    ));
    assert_eq!(out.len(), 62);
    out.extend(directory(&[(0x9003, 2, 20, 152), (0x927C, 7, 16, 172)], 0));
    out.extend([0; 6]);
    assert_eq!(out.len(), 98);
    out.extend(directory(
        &[
            (0x0001, 2, 2, u32::from_be_bytes(*b"N\0\0\0")),
            (0x0002, 5, 3, 188),
            (0x0003, 2, 2, u32::from_be_bytes(*b"W\0\0\0")),
        ],
        0,
    ));
    out.extend([0; 12]);
    assert_eq!(out.len(), 152);
    out.extend(b"2026:03:14 08:10:00\0");
    out.extend(b"secret place 123");
    for part in [54u32, 1, 30, 1, 7777, 1000] {
        out.extend(part.to_be_bytes());
    }
    out
}

fn jpeg_with(exif: &[u8]) -> Vec<u8> {
    let segment = |marker: u8, body: &[u8]| {
        let mut out = vec![0xFF, marker];
        out.extend(((body.len() + 2) as u16).to_be_bytes());
        out.extend(body);
        out
    };
    let mut out = vec![0xFF, 0xD8];
    out.extend(segment(0xE1, &[b"Exif\0\0", exif].concat()));
    out.extend(segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x exif:GPSLatitude=\"54,30N\"/>"));
    out.extend(segment(0xED, b"Photoshop 3.0\0City"));
    out.extend(segment(0xFE, b"taken at home"));
    out.extend(segment(0xDB, &[0; 65]));
    out.extend(segment(0xDA, &[1, 1, 0, 0, 63, 0]));
    out.extend([0x12, 0xFF, 0x00, 0x34, 0xFF, 0xD0, 0x56]);
    out.extend([0xFF, 0xD9]);
    out.extend(b"a film with +54.5000-003.1000/ in it");
    out
}

fn holds(bytes: &[u8], word: &[u8]) -> bool {
    bytes.windows(word.len()).any(|w| w == word)
}

#[test]
fn a_jpeg_keeps_its_picture_time_and_turn_and_loses_its_place() {
    let whole = jpeg_with(&exif());
    let Stripped::Copy(copy) = without_place(&whole) else { panic!("not copied") };
    let read = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(&copy)).unwrap();
    assert!(read.fields().all(|f| f.tag.context() != exif::Context::Gps), "no GPS field is left");
    assert!(read.get_field(exif::Tag::MakerNote, exif::In::PRIMARY).is_none());
    let time = read.get_field(exif::Tag::DateTimeOriginal, exif::In::PRIMARY).unwrap();
    assert_eq!(time.display_value().to_string(), "2026-03-14 08:10:00");
    let turn = read.get_field(exif::Tag::Orientation, exif::In::PRIMARY).unwrap();
    assert_eq!(turn.value.get_uint(0), Some(6));
    for word in [&b"secret place"[..], b"GPSLatitude", b"City", b"at home", b"+54.5", &7777u32.to_be_bytes()]
    {
        assert!(!holds(&copy, word), "{}", String::from_utf8_lossy(word));
    }
    assert!(
        holds(&copy, &[0x12, 0xFF, 0x00, 0x34, 0xFF, 0xD0, 0x56, 0xFF, 0xD9]),
        "the coded picture is as it was"
    );
    assert_eq!(without_place(&copy), Stripped::Clean, "once is enough");
}

#[test]
fn exiftool_finds_no_place_either() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.jpg");
    let Stripped::Copy(copy) = without_place(&jpeg_with(&exif())) else { panic!("not copied") };
    std::fs::write(&file, copy).unwrap();
    match std::process::Command::new("exiftool").args(["-a", "-G1", "-s"]).arg(&file).output() {
        Ok(out) => {
            let text = String::from_utf8_lossy(&out.stdout);
            assert!(text.contains("DateTimeOriginal"), "{text}");
            assert!(!text.contains("GPS"), "{text}");
        }
        Err(_) => println!("exiftool is not installed: the copy was not checked against it"),
    }
}

#[test]
fn other_kinds_are_rebuilt_left_alone_or_left_out() {
    let png = |chunks: &[(&[u8; 4], &[u8])]| {
        let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
        for (kind, body) in chunks {
            out.extend((body.len() as u32).to_be_bytes());
            out.extend(*kind);
            out.extend(*body);
            out.extend([0; 4]);
        }
        out
    };
    let plain = png(&[(b"IHDR", &[0; 13]), (b"IDAT", b"x"), (b"IEND", b"")]);
    let told = png(&[
        (b"IHDR", &[0; 13]),
        (b"eXIf", &exif()),
        (b"tEXt", b"at home"),
        (b"IDAT", b"x"),
        (b"IEND", b""),
    ]);
    assert_eq!(without_place(&plain), Stripped::Clean);
    assert_eq!(without_place(&told), Stripped::Copy(plain));
    let mut webp =
        b"RIFF\0\0\0\0WEBPVP8X\x0a\0\0\0\x0c\0\0\0\0\0\0\0\0\0VP8 \x02\0\0\0xyEXIF\x04\0\0\0abcd".to_vec();
    let length = (webp.len() as u32 - 8).to_le_bytes();
    webp[4..8].copy_from_slice(&length);
    let Stripped::Copy(copy) = without_place(&webp) else { panic!("not copied") };
    assert!(!holds(&copy, b"EXIF") && copy[20] == 0);
    for (bytes, want) in [
        (&b"RIFF\0\0\0\0WAVEfmt "[..], Stripped::Clean),
        (b"\0\0\0\x18ftypM4A \0\0\0\0moov", Stripped::Clean),
        (b"\0\0\0\x18ftypM4A \0\0\0\0moov\xA9xyz+54.5", Stripped::Cannot),
        (b"\0\0\0\x18ftypheic", Stripped::Cannot),
        (b"something else", Stripped::Cannot),
        (&[0xFF, 0xD8, 0xFF, 0xE1, 0, 9], Stripped::Cannot),
    ] {
        assert_eq!(without_place(bytes), want, "{}", String::from_utf8_lossy(bytes));
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(300))]
    /// Crafted pictures: never a panic, and what comes out never names a place by its tag.
    #[test]
    fn crafted_exif_is_survived(at in 0usize..220, byte: u8, cut in 0usize..400) {
        let mut whole = jpeg_with(&exif());
        let at = at.min(whole.len() - 1);
        whole[at] = byte;
        whole.truncate(whole.len().saturating_sub(cut));
        let _ = without_place(&whole);
    }
}
