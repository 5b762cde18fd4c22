//! A minus sign in a pane of its own: a bar at half the digits' height, alone, to their left.

use crate::pixels::{Pyramid, RowBox};

/// Samples to a digit's height.
const FINE: usize = 24;
/// How far to the left a sign is looked for, in digit heights.
const REACH: f32 = 2.4;
/// The share of the digits' contrast at which a sample counts as ink.
const INK: f32 = 0.3;

/// What stands to the left of the digits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Sign {
    None,
    /// A minus; the row with the sign in it.
    Minus(RowBox),
    /// A bar that the picture's edge cuts: a minus or a part of a plus.
    Cut,
}

/// Looks for a sign that stands apart.
pub(crate) fn far_sign(pyramid: &Pyramid<'_>, row: &RowBox) -> Sign {
    let step = 2.0 * row.hh / FINE as f32;
    let inner = grey(pyramid, row, ((2.0 * row.hw / step) as usize).max(FINE / 2), step);
    let mut levels: Vec<f32> = inner.iter().flatten().copied().collect();
    levels.sort_by(f32::total_cmp);
    let at = |part: f32| levels[((levels.len() - 1) as f32 * part) as usize];
    let (low, ground, high) = (at(0.08), at(0.6), at(0.92));
    // Ink is what lies farther from the ground: dark on light or light on dark.
    let (ground, ink) = if ground - low > high - ground { (ground, low) } else { (at(0.4), high) };
    if (ink - ground).abs() < 0.08 {
        return Sign::None;
    }
    let reach = REACH * 2.0 * row.hh;
    let aside = row.hw + reach / 2.0;
    let left = RowBox { cx: row.cx - aside * row.ux, cy: row.cy - aside * row.uy, hw: reach / 2.0, ..*row };
    let width = (REACH * FINE as f32) as usize;
    let columns = grey(pyramid, &left, width, step);
    let inside = |i: usize| {
        let along = (i as f32 + 0.5) * step - reach / 2.0;
        let (x, y) = (left.cx + along * row.ux, left.cy + along * row.uy);
        x >= 0.0 && y >= 0.0 && x < pyramid.width() as f32 && y < pyramid.height() as f32
    };
    // Where the picture ends nothing is known; the last column before may hold the end of a sign.
    let edge = (0..width).find(|i| inside(*i)).unwrap_or(width);
    let kinds: Vec<Column> = columns[edge..].iter().map(|c| Column::of(c, ground, ink)).collect();
    if edge > 0 && kinds.first() == Some(&Column::Middle) {
        return Sign::Cut;
    }
    let Some(from) = bar(&kinds) else { return Sign::None };
    let more = (width - edge - from) as f32 * step / 2.0;
    Sign::Minus(RowBox { cx: row.cx - more * row.ux, cy: row.cy - more * row.uy, hw: row.hw + more, ..*row })
}

/// What a column of samples shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Column {
    Clear,
    /// A thin stroke at half height and nothing else.
    Middle,
    Other,
}

impl Column {
    fn of(samples: &[f32], ground: f32, ink: f32) -> Self {
        let inked: Vec<usize> =
            (0..samples.len()).filter(|i| (samples[*i] - ground) / (ink - ground) > INK).collect();
        let (Some(first), Some(last)) = (inked.first(), inked.last()) else { return Self::Clear };
        let middle = FINE / 3..=FINE * 2 / 3;
        if middle.contains(first) && middle.contains(last) && last - first < FINE / 4 {
            Self::Middle
        } else {
            Self::Other
        }
    }
}

/// Finds a bar as wide as a minus, with clear columns at both its ends, and returns where it begins.
fn bar(kinds: &[Column]) -> Option<usize> {
    let mut from = 0;
    while from < kinds.len() {
        let run = kinds[from..].iter().take_while(|k| **k == kinds[from]).count();
        let to = from + run;
        let wide = (FINE / 4..=FINE * 4 / 5).contains(&run);
        let clear = |part: Option<&[Column]>| part.is_some_and(|p| p.iter().all(|k| *k == Column::Clear));
        let alone = from >= 2 && clear(kinds.get(from - 2..from)) && clear(kinds.get(to..to + 2));
        if kinds[from] == Column::Middle && wide && alone {
            return Some(from);
        }
        from = to;
    }
    None
}

/// Samples a row's brightness, column by column.
fn grey(pyramid: &Pyramid<'_>, row: &RowBox, width: usize, step: f32) -> Vec<Vec<f32>> {
    let t = pyramid.window(row, [step, step], width, FINE, width);
    (0..width)
        .map(|x| (0..FINE).map(|y| (0..3).map(|c| t.plane(c)[y * width + x]).sum::<f32>() / 3.0).collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pixels::Picture;

    /// Draws digits as two dark blocks from column 120 and, to their left, boxes given as (x, y, width, height).
    fn found(marks: &[(usize, usize, usize, usize)]) -> &'static str {
        let (w, h) = (240, 80);
        let mut rgb = vec![200u8; w * h * 3];
        for (x, y, bw, bh) in
            marks.iter().copied().chain([(120, 20, 8, 40), (150, 20, 8, 40), (180, 20, 20, 8)])
        {
            for row in y..y + bh {
                rgb[(row * w + x) * 3..(row * w + x + bw) * 3].fill(30);
            }
        }
        let picture = Picture::new(w as u32, h as u32, &rgb).unwrap();
        let row = RowBox { cx: 160.0, cy: 40.0, ux: 1.0, uy: 0.0, hw: 40.0, hh: 20.0 };
        match far_sign(&Pyramid::new(picture), &row) {
            Sign::None => "none",
            Sign::Minus(wide) => {
                assert!((wide.cx - wide.hw - 60.0).abs() < 4.0 && (wide.cx + wide.hw - 200.0).abs() < 0.1);
                "minus"
            }
            Sign::Cut => "cut",
        }
    }

    #[test]
    fn a_bar_alone_at_half_height_is_a_minus() {
        for (what, marks, minus) in [
            ("nothing", &[][..], "none"),
            ("a minus and the edge of a pane", &[(60, 37, 20, 5), (100, 5, 5, 70)], "minus"),
            ("a plus", &[(60, 37, 20, 5), (68, 29, 5, 21)], "none"),
            ("an underscore", &[(60, 55, 20, 5)], "none"),
            ("a long line", &[(30, 37, 70, 5)], "none"),
            ("a point", &[(60, 37, 5, 5)], "none"),
            ("a digit", &[(60, 20, 5, 40), (60, 37, 20, 5), (80, 20, 5, 40)], "none"),
        ] {
            assert_eq!(found(marks), minus, "{what}");
        }
    }

    /// The picture begins in the middle of a bar.
    #[test]
    fn a_bar_that_the_picture_cuts_is_left_open() {
        let (w, h) = (160, 80);
        let mut rgb = vec![200u8; w * h * 3];
        for (x, y, bw, bh) in [(0, 37, 12, 5), (60, 20, 8, 40), (90, 20, 8, 40), (120, 20, 20, 8)] {
            for row in y..y + bh {
                rgb[(row * w + x) * 3..(row * w + x + bw) * 3].fill(30);
            }
        }
        let row = RowBox { cx: 100.0, cy: 40.0, ux: 1.0, uy: 0.0, hw: 40.0, hh: 20.0 };
        let picture = Picture::new(w as u32, h as u32, &rgb).unwrap();
        assert_eq!(far_sign(&Pyramid::new(picture), &row), Sign::Cut);
    }
}
