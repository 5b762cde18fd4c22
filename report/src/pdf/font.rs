//! The typeface: which letters it has and how wide they are.

use crate::sheet::{Look, Run};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};
use unicode_normalization::UnicodeNormalization;

/// Stands for a letter that the typeface lacks.
const LACKING: char = '\u{FFFD}';
/// Stands for that in turn, if need be.
const LAST_RESORT: char = '?';

/// Which of the two cuts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cut {
    Regular,
    Bold,
}

struct Face {
    font: Font,
    read: FontRef<'static>,
}

impl Face {
    fn new(data: &'static [u8]) -> Option<Self> {
        Some(Self { font: Font::new(data.to_vec().into(), 0)?, read: FontRef::new(data).ok()? })
    }

    fn glyph(&self, c: char) -> Option<skrifa::GlyphId> {
        self.read.charmap().map(c).filter(|g| g.to_u32() != 0)
    }
}

/// Both cuts.
pub(super) struct Faces {
    regular: Face,
    bold: Face,
}

impl Faces {
    /// Reads the embedded typeface; `None` only if the build holds a broken one.
    pub fn new() -> Option<Self> {
        Some(Self { regular: Face::new(ttf_noto_sans::REGULAR)?, bold: Face::new(ttf_noto_sans::BOLD)? })
    }

    fn face(&self, cut: Cut) -> &Face {
        match cut {
            Cut::Regular => &self.regular,
            Cut::Bold => &self.bold,
        }
    }

    /// Returns the font for writing.
    pub fn font(&self, cut: Cut) -> Font {
        self.face(cut).font.clone()
    }

    /// Returns the text with only letters that can be printed, and whether any had to give way.
    pub fn printable(&self, text: &str) -> (String, bool) {
        let stand_in = if self.regular.glyph(LACKING).is_some() { LACKING } else { LAST_RESORT };
        let mut lost = false;
        let text = text
            .nfc()
            .filter(|c| *c == '\n' || !c.is_control())
            .map(|c| {
                let has = c == '\n' || self.regular.glyph(c).is_some() && self.bold.glyph(c).is_some();
                lost |= !has && !c.is_whitespace();
                if has {
                    c
                } else if c.is_whitespace() {
                    ' '
                } else {
                    stand_in
                }
            })
            .collect();
        (text, lost)
    }

    /// Returns the glyphs of a text for writing; advances are in parts of the font's size.
    pub fn glyphs(&self, text: &str, cut: Cut) -> Vec<KrillaGlyph> {
        let face = self.face(cut);
        let widths = face.read.glyph_metrics(Size::unscaled(), LocationRef::default());
        let em = face.font.units_per_em();
        text.char_indices()
            .filter_map(|(i, c)| {
                let glyph = face.glyph(c)?;
                let advance = widths.advance_width(glyph).unwrap_or(0.0) / em;
                Some(KrillaGlyph::new(
                    GlyphId::new(glyph.to_u32()),
                    advance,
                    0.0,
                    0.0,
                    0.0,
                    i..i + c.len_utf8(),
                    None,
                ))
            })
            .collect()
    }

    /// Returns the width of a text at a size.
    pub fn width(&self, text: &str, cut: Cut, size: f32) -> f32 {
        self.glyphs(text, cut).iter().map(|g| g.x_advance).sum::<f32>() * size
    }
}

/// Returns the cut of a look.
pub(super) fn cut(look: Look) -> Cut {
    match look {
        Look::Strong | Look::Alarm => Cut::Bold,
        Look::Plain | Look::Faint | Look::Struck | Look::Fine => Cut::Regular,
    }
}

/// Returns the size of a look in text of a size.
pub(super) fn sized(look: Look, size: f32) -> f32 {
    if look == Look::Fine { size * 0.86 } else { size }
}

/// A stretch of one look on a line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piece {
    pub text: String,
    pub look: Look,
    pub width: f32,
}

/// A text broken into lines.
pub(super) type Lines = Vec<Vec<Piece>>;

/// Breaks runs into lines no wider than `width`; words that are wider on their own are broken anywhere.
pub(super) fn wrap(faces: &Faces, runs: &[Run], width: f32, size: f32) -> Lines {
    let mut lines: Lines = vec![Vec::new()];
    let mut used = 0.0f32;
    for run in runs {
        let (cut, size) = (cut(run.look), sized(run.look, size));
        for (n, line) in run.text.split('\n').enumerate() {
            if n > 0 {
                lines.push(Vec::new());
                used = 0.0;
            }
            for word in line.split_inclusive(' ') {
                let bare = faces.width(word.trim_end_matches(' '), cut, size);
                if used > 0.0 && used + bare > width && !word.trim().is_empty() {
                    lines.push(Vec::new());
                    used = 0.0;
                }
                let mut word = word;
                // A hash or an endless word: as much of it on each line as goes there.
                while faces.width(word.trim_end_matches(' '), cut, size) > width && used == 0.0 {
                    let mut fits = 0;
                    let mut so_far = 0.0;
                    for (i, c) in word.char_indices() {
                        so_far += faces.width(c.encode_utf8(&mut [0; 4]), cut, size);
                        if so_far > width && i > 0 {
                            break;
                        }
                        fits = i + c.len_utf8();
                    }
                    if fits >= word.len() {
                        break;
                    }
                    push(&mut lines, &word[..fits], run.look, so_far);
                    lines.push(Vec::new());
                    word = &word[fits..];
                }
                let whole = faces.width(word, cut, size);
                if !(used == 0.0 && word.trim().is_empty()) {
                    push(&mut lines, word, run.look, whole);
                    used += whole;
                }
            }
        }
    }
    lines
}

/// Adds a word to the last line, to the piece before it where the look is the same.
fn push(lines: &mut [Vec<Piece>], text: &str, look: Look, width: f32) {
    let Some(line) = lines.last_mut() else { return };
    match line.last_mut() {
        Some(piece) if piece.look == look => {
            piece.text.push_str(text);
            piece.width += width;
        }
        _ => line.push(Piece { text: text.to_owned(), look, width }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::run;

    #[test]
    fn lines_keep_to_their_width_and_lose_no_letter() {
        let faces = Faces::new().unwrap();
        let hash = "0123456789abcdef".repeat(4);
        let runs = [
            run(Look::Plain, "Took a rabbit at the wood, "),
            run(Look::Strong, "mantling"),
            run(Look::Fine, format!(" {hash}")),
        ];
        for width in [30.0, 60.0, 90.0, 400.0] {
            let lines = wrap(&faces, &runs, width, 9.0);
            for line in &lines {
                let ink: f32 = line
                    .iter()
                    .map(|p| faces.width(p.text.trim_end(), cut(p.look), sized(p.look, 9.0)))
                    .sum();
                assert!(ink <= width + 9.0, "{width}: {line:?}");
            }
            let all: String = lines.iter().flatten().map(|p| p.text.as_str()).collect();
            let want: String = runs.iter().map(|r| r.text.as_str()).collect();
            assert_eq!(all.replace(' ', ""), want.replace(' ', ""));
        }
    }

    #[test]
    fn letters_that_the_typeface_lacks_give_way_and_are_told_of() {
        let faces = Faces::new().unwrap();
        assert_eq!(
            faces.printable("Gráinne 2½ oz −3 °C · Ω я"),
            ("Gráinne 2½ oz −3 °C · Ω я".to_owned(), false)
        );
        assert_eq!(faces.printable("Gra\u{301}inne"), ("Gráinne".to_owned(), false));
        assert!(faces.printable("隼").1);
    }
}
