//! Photos in, against exiftool, libheif and hostile files.

use capture::photo::{self, DecodedBy, Limits, MediaType, PhotoError};
use chrono::{FixedOffset, NaiveDateTime};
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use note::{PixelBox, TakenSource};
use std::io::Cursor;
use std::path::Path;
use std::process::Command;

/// A picture whose corners tell which way it lies: red above left, green above right, blue below left.
fn corners(w: u32, h: u32) -> RgbImage {
    RgbImage::from_fn(w, h, |x, y| match (x < w / 2, y < h / 2) {
        (true, true) => Rgb([230, 20, 20]),
        (false, true) => Rgb([20, 230, 20]),
        (true, false) => Rgb([20, 20, 230]),
        (false, false) => Rgb([240, 240, 240]),
    })
}

fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    DynamicImage::ImageRgb8(picture.clone()).write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// Runs another program; `None`, with a printed line, where it is not installed.
fn other(program: &str, args: &[&str]) -> Option<String> {
    match Command::new(program).args(args).output() {
        Ok(out) => {
            assert!(out.status.success(), "{program} {args:?}: {}", String::from_utf8_lossy(&out.stderr));
            Some(String::from_utf8_lossy(&out.stdout).trim().to_owned())
        }
        Err(_) => {
            println!("skipped: {program} is not installed");
            None
        }
    }
}

fn no_zone(_: NaiveDateTime) -> Option<FixedOffset> {
    None
}

fn winter(_: NaiveDateTime) -> Option<FixedOffset> {
    FixedOffset::east_opt(0)
}

/// exiftool writes, this program reads: CIPA DC-008 tags 0x9003, 0x9291, 0x9011, 0x0112 and the GPS directory.
#[test]
fn exif_is_what_exiftool_wrote() {
    let folder = tempfile::tempdir().unwrap();
    for (name, format) in
        [("a.jpg", ImageFormat::Jpeg), ("a.png", ImageFormat::Png), ("a.webp", ImageFormat::WebP)]
    {
        let path = folder.path().join(name);
        std::fs::write(&path, encoded(&corners(40, 24), format)).unwrap();
        let file = path.to_str().unwrap();
        let written = other(
            "exiftool",
            &[
                "-q",
                "-overwrite_original",
                "-DateTimeOriginal=2026:03:14 08:10:05",
                "-SubSecTimeOriginal=25",
                "-OffsetTimeOriginal=+01:00",
                "-Orientation#=6",
                "-GPSLatitude=52.25",
                "-GPSLatitudeRef=N",
                "-GPSLongitude=3.5",
                "-GPSLongitudeRef=W",
                file,
            ],
        );
        if written.is_none() {
            return;
        }
        let bytes = std::fs::read(&path).unwrap();
        let p = photo::read_bytes(&bytes, &Limits::default()).unwrap();
        let taken = p.facts.taken(no_zone).unwrap();
        assert_eq!(taken.source, TakenSource::ExifOffset, "{name}");
        assert_eq!(taken.at.to_rfc3339(), "2026-03-14T08:10:05.250+01:00", "{name}");
        assert_eq!(
            other("exiftool", &["-s3", "-SubSecDateTimeOriginal", file]).unwrap(),
            "2026:03:14 08:10:05.25+01:00"
        );
        assert_eq!(p.facts.sub_second.as_deref(), Some("25"), "{name}");
        assert_eq!(p.facts.orientation, 6, "{name}");
        let place = p.facts.gps.expect("a place was written");
        assert!(
            (place.reveal().latitude - 52.25).abs() < 1e-6 && (place.reveal().longitude + 3.5).abs() < 1e-6,
            "{name}"
        );
        assert!(!format!("{:?}", p.facts).contains("52.2"), "a place must not print itself");
        // Orientation 6: the stored picture's left side is above when upright.
        assert_eq!((p.width, p.height), (24, 40), "{name}");
        let (above_left, above_right) = (&p.rgb[..3], &p.rgb[23 * 3..24 * 3]);
        assert!(above_left[2] > 180 && above_left[0] < 90, "{name}: blue comes above left, {above_left:?}");
        assert!(
            above_right[0] > 180 && above_right[2] < 90,
            "{name}: red comes above right, {above_right:?}"
        );
    }
}

/// All eight orientations of DC-008: where the stored upper left corner, red, comes to lie.
#[test]
fn every_orientation_stands_upright() {
    let folder = tempfile::tempdir().unwrap();
    for (value, corner) in [
        (1, "above left"),
        (2, "above right"),
        (3, "below right"),
        (4, "below left"),
        (5, "above left"),
        (6, "above right"),
        (7, "below right"),
        (8, "below left"),
    ] {
        let path = folder.path().join(format!("{value}.jpg"));
        std::fs::write(&path, encoded(&corners(64, 32), ImageFormat::Jpeg)).unwrap();
        let set = format!("-Orientation#={value}");
        if other("exiftool", &["-q", "-overwrite_original", &set, path.to_str().unwrap()]).is_none() {
            return;
        }
        let p = photo::read_bytes(&std::fs::read(&path).unwrap(), &Limits::default()).unwrap();
        let at = |x: u32, y: u32| &p.rgb[((y * p.width + x) * 3) as usize..][..3];
        let (r, b) = (p.width - 3, p.height - 3);
        let seen = [
            ("above left", at(2, 2)),
            ("above right", at(r, 2)),
            ("below left", at(2, b)),
            ("below right", at(r, b)),
        ];
        let red: Vec<_> = seen.iter().filter(|(_, c)| c[0] > 180 && c[1] < 90).map(|(n, _)| *n).collect();
        assert_eq!(red, [corner], "orientation {value}");
        assert_eq!(p.width > p.height, value < 5, "orientation {value}");
    }
}

/// A local time without offset is the keeper's zone, and says so; a blank time is none.
#[test]
fn a_time_without_offset_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("b.jpg");
    std::fs::write(&path, encoded(&corners(16, 16), ImageFormat::Jpeg)).unwrap();
    let file = path.to_str().unwrap();
    if other("exiftool", &["-q", "-overwrite_original", "-DateTimeOriginal=2026:01:05 07:45:00", file])
        .is_none()
    {
        return;
    }
    let facts = photo::read_facts(&std::fs::read(&path).unwrap(), &Limits::default()).unwrap();
    assert!(facts.taken(no_zone).is_none());
    let taken = facts.taken(winter).unwrap();
    assert_eq!(
        (taken.at.to_rfc3339().as_str(), taken.source),
        ("2026-01-05T07:45:00+00:00", TakenSource::ExifLocal)
    );
}

/// Made by the demo's photo maker, committed so that this runs where exiftool is not installed.
#[test]
fn a_small_photo_of_ours_tells_its_time() {
    let bytes = include_bytes!("data/small.jpg");
    let p = photo::read_bytes(bytes, &Limits::default()).unwrap();
    assert_eq!(p.facts.taken(no_zone).unwrap().at.to_rfc3339(), "2026-03-14T08:10:00.500+01:00");
    assert_eq!(
        (p.facts.media_type, p.facts.has_gps(), p.decoded_by),
        (MediaType::Jpeg, false, DecodedBy::BuiltIn)
    );
    // The sum as `sha256sum` gives it.
    assert_eq!(
        photo::sha256(bytes).as_str(),
        include_str!("data/small.jpg.sha256").split_whitespace().next().unwrap()
    );
}

/// FIPS 180-4, the one-block example "abc".
#[test]
fn the_sum_is_sha_256() {
    assert_eq!(
        photo::sha256(b"abc").as_str(),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
}

/// heif-enc writes, libheif reads through `heif-convert`, this program reads: exactly the same pixels.
#[test]
fn heic_is_decoded_exactly_where_libheif_is_installed() {
    let folder = tempfile::tempdir().unwrap();
    let (png, heic, back) =
        (folder.path().join("a.png"), folder.path().join("a.heic"), folder.path().join("b.png"));
    let mut picture = corners(192, 128);
    for (x, y, p) in picture.enumerate_pixels_mut() {
        p.0[0] = p.0[0].wrapping_add((x * 3 + y) as u8 / 4);
    }
    picture.save(&png).unwrap();
    let s = |p: &Path| p.to_str().unwrap().to_owned();
    if other("heif-enc", &["-q", "60", &s(&png), "-o", &s(&heic)]).is_none()
        || other("heif-convert", &[&s(&heic), &s(&back)]).is_none()
    {
        return;
    }
    if other(
        "exiftool",
        &[
            "-q",
            "-overwrite_original",
            "-DateTimeOriginal=2026:03:14 08:10:00",
            "-OffsetTimeOriginal=-05:00",
            "-Orientation#=6",
            &s(&heic),
        ],
    )
    .is_none()
    {
        return;
    }
    let bytes = std::fs::read(&heic).unwrap();
    let p = photo::read_bytes(&bytes, &Limits::default()).unwrap();
    let want = image::open(&back).unwrap().into_rgb8();
    assert_eq!(p.decoded_by, DecodedBy::HeifConvert);
    assert_eq!(
        (p.width, p.height),
        want.dimensions(),
        "the EXIF orientation of a HEIC must not turn it again"
    );
    assert_eq!(p.rgb, want.into_raw());
    assert_eq!(p.facts.taken(no_zone).unwrap().at.to_rfc3339(), "2026-03-14T08:10:00-05:00");
    // Cut short, it still tells its time or says clearly that it cannot be read.
    for n in [20, bytes.len() / 2, bytes.len() - 40] {
        let e = photo::read_bytes(&bytes[..n], &Limits::default()).unwrap_err();
        assert!(e.to_string().contains("the file is kept"), "{n}: {e}");
    }
}

#[test]
fn hostile_pictures_are_told_in_words() {
    let jpeg = encoded(&corners(64, 64), ImageFormat::Jpeg);
    let png = encoded(&corners(64, 64), ImageFormat::Png);
    // A PNG that claims 60 000 by 60 000 pixels.
    let mut bomb = png.clone();
    bomb[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
    let small = Limits { max_bytes: 1000, ..Limits::default() };
    type Fits = fn(&PhotoError) -> bool;
    let cases: Vec<(&str, Vec<u8>, Limits, Fits)> = vec![
        ("empty", vec![], Limits::default(), |e| matches!(e, PhotoError::NotAPicture)),
        ("text", b"not a picture at all".to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::NotAPicture)
        }),
        ("a film", b"\0\0\0\x18ftypavif\0\0\0\0avifmif1".to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::NotAPicture)
        }),
        ("cut JPEG", jpeg[..jpeg.len() / 2].to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::Damaged { .. })
        }),
        ("JPEG header alone", jpeg[..20].to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::Damaged { .. })
        }),
        ("cut PNG", png[..png.len() / 2].to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::Damaged { .. })
        }),
        ("gigantic PNG", bomb, Limits::default(), |e| {
            matches!(e, PhotoError::TooLarge { .. } | PhotoError::Damaged { .. })
        }),
        ("heavy", vec![0xff; 2000], small, |e| matches!(e, PhotoError::TooLarge { .. })),
        ("many pixels", png.clone(), Limits { max_pixels: 100, ..Limits::default() }, |e| {
            matches!(e, PhotoError::TooLarge { .. } | PhotoError::Damaged { .. })
        }),
        ("HEIC shell", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic".to_vec(), Limits::default(), |e| {
            matches!(e, PhotoError::NoPixels { .. })
        }),
    ];
    for (name, bytes, limits, fits) in cases {
        let e = photo::read_bytes(&bytes, &limits).unwrap_err();
        assert!(fits(&e), "{name}: {e:?}");
        assert!(e.to_string().contains("kept"), "{name}: {e}");
    }
}

/// Every byte of the EXIF of a photo is spoilt in turn: never a panic, and the picture is still read or told of.
#[test]
fn spoilt_exif_does_no_harm() {
    let whole = include_bytes!("data/small.jpg");
    for at in 2..400.min(whole.len()) {
        for value in [0u8, 0x7f, 0xff] {
            let mut bytes = whole.to_vec();
            bytes[at] = value;
            let _ = photo::read_facts(&bytes, &Limits::default());
        }
    }
}

#[test]
fn a_crop_is_a_small_jpeg_of_that_place() {
    let p = photo::read_bytes(&encoded(&corners(200, 100), ImageFormat::Png), &Limits::default()).unwrap();
    let crop = photo::crop_jpeg(&p, PixelBox { x: 110, y: 10, width: 80, height: 30 }, 40);
    let back = image::load_from_memory(&crop).unwrap().into_rgb8();
    assert_eq!(back.dimensions(), (40, 15));
    let c = back.get_pixel(20, 7).0;
    assert!(c[1] > 200 && c[0] < 60, "green: {c:?}");
    // A box beyond the edge gives what there is.
    assert!(!photo::crop_jpeg(&p, PixelBox { x: 900, y: 900, width: 9, height: 9 }, 40).is_empty());
    assert_eq!(image::load_from_memory(&photo::thumbnail_jpeg(&p, 50)).unwrap().width(), 50);
}
