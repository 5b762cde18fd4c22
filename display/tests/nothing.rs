//! Where there is no display nothing is read: null rather than a guess.

use display::{Picture, Reader};

fn reading(width: u32, height: u32, rgb: &[u8]) -> Option<String> {
    Reader::built_in().read(&Picture::new(width, height, rgb).unwrap()).reading
}

/// Rendered by `models/display/held_out.py FOLDER --count 60 --seed 77 --empty 1` (numbers 1 and 3): a dial and a
/// number on grass, papers with printed numbers.
#[test]
fn a_photo_without_a_display_gives_no_reading() {
    for name in ["dial", "papers"] {
        let path = format!("{}/tests/nothing/{name}.jpg", env!("CARGO_MANIFEST_DIR"));
        let photo = image::open(path).unwrap().into_rgb8();
        assert_eq!(reading(photo.width(), photo.height(), photo.as_raw()), None, "{name}");
    }
}

#[test]
fn patterns_are_not_digits() {
    let (w, h) = (160u32, 120u32);
    let picture = |f: &dyn Fn(u32, u32) -> u32| -> Vec<u8> {
        (0..h).flat_map(|y| (0..w).flat_map(move |x| [f(x, y).min(255) as u8; 3])).collect()
    };
    let noise = |x: u32, y: u32| (x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 7 & 255;
    for (what, rgb) in [
        ("one tone", picture(&|_, _| 120)),
        ("a ramp", picture(&|x, y| x + y / 2)),
        ("stripes", picture(&|x, _| if x / 6 % 2 == 0 { 30 } else { 220 })),
        ("squares", picture(&|x, y| if (x / 10 + y / 10) % 2 == 0 { 30 } else { 220 })),
        ("noise", picture(&noise)),
    ] {
        assert_eq!(reading(w, h, &rgb), None, "{what}");
    }
}
