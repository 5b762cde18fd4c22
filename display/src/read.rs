//! The whole way: find rows, read each several times over, choose, and say how sure.

use crate::ctc::Steps;
use crate::find::{self, Found, Sight};
use crate::mark::{Mark, MarkReader};
use crate::net::{Detector, StripNet, Tensor};
use crate::pixels::{Picture, Pyramid, RowBox, normalise};
use crate::sign::{self, Sign};
use crate::trust::Evidence;
use crate::value;
use crate::weights::{BadWeights, Weights};
use note::{DisplayReading, MassUnit, PixelBox};

const STRIP: (usize, usize) = (64, 352);
const DIGIT: f32 = 39.0;
const MARGIN: f32 = 0.45;
/// Empty columns that the network sees after a strip's end; more would only cost time.
const TAIL: usize = 24;
/// Rows looked at, at most: a picture of printed numbers must not take for ever.
const MOST_ROWS: usize = 8;
/// Rows read several times over; the others are read once and trusted less.
const CLOSELY: usize = 5;
/// A row less likely than this at first sight is not looked at again.
const WORTH: f64 = 0.1;
/// How much less a reading counts whose sign was found apart from it, or was cut by the picture's edge.
const SIGN_APART: f64 = 0.8;
/// How likely a reading one digit longer must be for the row to be taken as longer than it was found.
const GROWN: f64 = 0.7;
/// A picture whose reading is surer than this is not looked at from its other sides.
const CONVINCING: f64 = 0.5;
/// How much less a reading from another side counts: phones mostly know which way is up.
const TURNED: f64 = 0.85;
/// Below this a reading is withheld.
const WITHHOLD: f64 = 0.35;

/// One row of digits as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Its characters.
    pub text: String,
    /// The mean probability of these characters over all the ways the row was cut, 0 to 1, not calibrated.
    pub p: f64,
    /// The part of the cuts that gave these very characters, 0 to 1.
    pub agree: f64,
    /// How sure the detector is that digits of a display stand here, 0 to 1.
    pub digits: f64,
    /// How sure it is that they are the reading itself, 0 to 1.
    pub main: f64,
    /// The smallest upright rectangle about it.
    pub place: PixelBox,
    row: RowBox,
}

/// The trained reader of displays.
#[derive(Clone, Debug)]
pub struct Reader {
    detector: Detector,
    strip: StripNet,
    mark: MarkReader,
}

impl Reader {
    /// Returns the reader with the weights built into the program.
    pub fn built_in() -> Self {
        Self::from_weights(crate::WEIGHTS).expect("the weights built in were checked by a test")
    }

    /// Builds a reader from the bytes of a weights file.
    pub fn from_weights(bytes: &[u8]) -> Result<Self, BadWeights> {
        let mut w = Weights::parse(bytes)?;
        Ok(Self {
            detector: Detector::new(&mut w)?,
            strip: StripNet::new(&mut w)?,
            mark: MarkReader::new(&mut w)?,
        })
    }

    /// Reads the display in a picture; `reading` is `None` where none can be read.
    pub fn read(&self, picture: &Picture<'_>) -> DisplayReading {
        self.read_with_rows(picture).0
    }

    /// Reads the display and returns with it what the confidence stands on and every row of digits found, the most
    /// promising first.
    pub fn read_with_rows(
        &self,
        picture: &Picture<'_>,
    ) -> (DisplayReading, Option<Evidence>, Vec<Candidate>) {
        let pyramid = Pyramid::new(*picture);
        let look = |quarters: u8| {
            let rows = self.candidates(&pyramid, quarters);
            let (reading, evidence) = self.conclude(&pyramid, &rows, quarters != 0).unzip();
            (reading.unwrap_or_default(), evidence, rows)
        };
        let mut best = look(0);
        if best.0.confidence < CONVINCING {
            for quarters in [1, 3] {
                let other = look(quarters);
                if other.0.confidence * TURNED > best.0.confidence {
                    best = other;
                }
            }
        }
        if best.0.confidence < WITHHOLD {
            best.0 = DisplayReading::default();
        }
        best
    }

    fn conclude(
        &self,
        pyramid: &Pyramid<'_>,
        rows: &[Candidate],
        turned: bool,
    ) -> Option<(DisplayReading, Evidence)> {
        let chosen = choose(rows)?;
        let found = chosen.len();
        let (chosen, mark) = self.of_one_kind(pyramid, chosen);
        let rival = |c: &Candidate| {
            c.digits > 0.6
                && c.main > 0.5
                && c.p * c.agree > 0.4
                && !chosen.iter().any(|o| overlaps(&o.row, &c.row) || overlaps(&c.row, &o.row))
        };
        let strong = |c: &Candidate| {
            c.digits > 0.5
                && c.p * c.agree > 0.5
                && c.row.hh > 0.55 * chosen[0].row.hh
                && !chosen.iter().any(|o| overlaps(&o.row, &c.row) || overlaps(&c.row, &o.row))
        };
        let reading = chosen.iter().map(|c| c.text.as_str()).collect::<Vec<_>>().join("/");
        let unit = match mark {
            Mark::Mass(unit) if value::suits(&reading, unit) => Some(unit),
            _ => None,
        };
        let evidence = Evidence {
            text: chosen.iter().map(|c| c.p * c.agree).product(),
            digits: chosen.iter().map(|c| c.digits).product(),
            main: chosen.first().map_or(0.0, |c| c.main),
            lines: chosen.len(),
            colon: reading.contains(':'),
            pounds: matches!(unit, Some(MassUnit::LbOz | MassUnit::Lb | MassUnit::Oz)),
            left_out: found > chosen.len() || rows.iter().any(rival),
            company: rows.iter().any(strong),
            turned,
            single: reading.len() == 1,
            tall: chosen.iter().map(|c| 2.0 * c.row.hh).fold(f32::MAX, f32::min),
        };
        let told = DisplayReading {
            grams: value::grams(&reading, unit),
            reading: Some(reading),
            unit,
            confidence: evidence.confidence(),
            place: chosen.iter().map(|c| c.place).reduce(union),
        };
        Some((told, evidence))
    }

    /// Leaves out what is another thing measured than the reading: humidity under a temperature, a clock beside it.
    fn of_one_kind<'c>(
        &self,
        pyramid: &Pyramid<'_>,
        chosen: Vec<&'c Candidate>,
    ) -> (Vec<&'c Candidate>, Mark) {
        let mut marked: Vec<(&Candidate, Mark)> =
            chosen.into_iter().map(|c| (c, self.mark.tell(pyramid, &c.row, &c.text))).collect();
        if marked.iter().any(|m| m.1 != Mark::Percent && !m.0.text.contains(':')) {
            marked.retain(|m| m.1 != Mark::Percent && (!m.0.text.contains(':') || marked_as_mass(m.1)));
        }
        // The mark of one line may be taken for its neighbour's: a number with a point is more likely the temperature.
        let degrees = |m: &(&Candidate, Mark)| m.1 == Mark::Degree;
        if degrees(&marked[0]) || marked.iter().any(|m| degrees(m) && m.0.text.contains('.')) {
            marked.retain(degrees);
        }
        // Numbers of one kind are shown with a point or without one.
        if marked.iter().any(|m| m.0.text.contains('.')) {
            marked.retain(|m| m.0.text.contains('.'));
        }
        let mark = marked[0].1;
        (marked.into_iter().map(|m| m.0).collect(), mark)
    }

    fn candidates(&self, pyramid: &Pyramid<'_>, quarters: u8) -> Vec<Candidate> {
        let mut sights = find::rows(&self.detector, pyramid, quarters);
        sights.truncate(MOST_ROWS);
        let sights = self.joined(pyramid, sights);
        let mut rows: Vec<(Candidate, Steps, &Sight)> =
            sights.iter().filter_map(|s| self.glance(pyramid, s)).collect();
        rows.sort_by(|a, b| rank(&b.0).total_cmp(&rank(&a.0)));
        let mut rows: Vec<Candidate> = rows
            .into_iter()
            .enumerate()
            .map(|(i, (c, steps, sight))| {
                if i == 0 || i < CLOSELY && c.p * c.digits > WORTH {
                    self.closely(pyramid, c, steps, sight, i == 0)
                } else {
                    Candidate { agree: 0.5, ..c }
                }
            })
            .collect();
        rows.retain(|c| value::is_number(&c.text));
        rows.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
        rows
    }

    /// Joins rows that are parts of one: end to end on one line and as high, with no more between than a digit leaves.
    fn joined(&self, pyramid: &Pyramid<'_>, mut sights: Vec<Sight>) -> Vec<Sight> {
        let mut i = 0;
        while i < sights.len() {
            let partner = (0..sights.len()).find(|j| {
                let (a, b) = (sights[i].best(), sights[*j].best());
                *j != i && a.digits > 0.4 && b.digits > 0.4 && end_to_end(&a.row, &b.row)
            });
            let whole = partner.and_then(|j| {
                let (a, b) = (&sights[i].best().row, &sights[j].best().row);
                let row = spanning(a, b);
                let [left, right, both] = [a, b, &row].map(|r| self.steps(pyramid, r));
                let text = both.best_path();
                let longest = left.best_path().len().max(right.best_path().len());
                (value::is_number(&text) && text.len() > longest && both.probability(&text) > 0.5)
                    .then_some((j, row))
            });
            match whole {
                Some((j, row)) => {
                    let best = Found { row, ..*sights[i].best() };
                    sights[i] = Sight { all: vec![best] };
                    sights.remove(j);
                    i -= usize::from(j < i);
                }
                None => i += 1,
            }
        }
        sights
    }

    /// Reads a row once, as the detector framed it, and where that does not stand upright, the other ways up too.
    fn glance<'s>(&self, pyramid: &Pyramid<'_>, sight: &'s Sight) -> Option<(Candidate, Steps, &'s Sight)> {
        let best = sight.best();
        let standing = |row: RowBox| {
            let steps = self.steps(pyramid, &row);
            let text = steps.best_path();
            // A point at the foot tells which way is up.
            let foot = if text.contains('.') { 1.5 } else { 1.0 };
            (steps.probability(&text) * upright_share(&row) * foot, row, steps)
        };
        let mut ways = vec![standing(best.row)];
        if ways[0].0 < 0.8 {
            ways.push(standing(RowBox { ux: -best.row.ux, uy: -best.row.uy, ..best.row }));
            if best.row.ux.abs() < 0.6 && best.row.hw < 2.0 * best.row.hh {
                ways.push(standing(RowBox {
                    ux: 1.0,
                    uy: 0.0,
                    hw: best.row.hh,
                    hh: best.row.hw,
                    ..best.row
                }));
            }
        }
        let (_, row, steps) = ways.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let text = steps.best_path();
        if text.is_empty() && best.digits < 0.6 {
            return None;
        }
        let candidate = Candidate {
            p: steps.probability(&text),
            text,
            agree: 1.0,
            digits: f64::from(best.digits),
            main: f64::from(best.main),
            place: upright(&row, pyramid.width(), pyramid.height()),
            row,
        };
        Some((candidate, steps, sight))
    }

    /// Reads a row again with its frame a little larger, smaller and aside, and takes the mean.
    fn closely(
        &self,
        pyramid: &Pyramid<'_>,
        mut first: Candidate,
        mut steps: Steps,
        sight: &Sight,
        foremost: bool,
    ) -> Candidate {
        // Where digits stand far apart the detector may stop short of the last: look further on either side.
        let mut grown = false;
        for (side, room) in [(1.0, 0.5), (1.0, 0.9), (-1.0, 0.5), (-1.0, 0.9), (-1.0, 1.3)] {
            let wide = widened(&first.row, side, room * first.row.hh);
            let more = self.steps(pyramid, &wide);
            let text = more.best_path();
            // So far off only a sign belongs to the row.
            let far = room > 1.0 && !text.starts_with('-');
            let longer = !far
                && text.len() == first.text.len() + 1
                && if side > 0.0 { text.starts_with(&first.text) } else { text.ends_with(&first.text) };
            let p = more.probability(&text);
            if longer && value::is_number(&text) && p > GROWN {
                first = Candidate {
                    text,
                    p,
                    place: upright(&wide, pyramid.width(), pyramid.height()),
                    row: wide,
                    ..first
                };
                steps = more;
                grown = true;
            }
        }
        let mut reads = vec![steps];
        let seen_as = Found { row: first.row, ..*sight.best() };
        let turned = first.row.ux * sight.best().row.ux + first.row.uy * sight.best().row.uy < 0.9;
        let others = if grown || turned { &[] } else { &sight.all[1..] };
        reads.extend(frames(&seen_as, others).iter().map(|r| self.steps(pyramid, r)));
        let each: Vec<String> = reads.iter().map(Steps::best_path).filter(|t| value::is_number(t)).collect();
        let mut texts = each.clone();
        texts.sort();
        texts.dedup();
        let n = reads.len() as f64;
        let best = texts
            .into_iter()
            .map(|t| (reads.iter().map(|r| r.probability(&t)).sum::<f64>() / n, t))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((p, text)) => {
                let agree = each.iter().filter(|t| **t == text).count() as f64 / n;
                let read = Candidate { text, p, agree, ..first };
                if foremost { with_sign(pyramid, read) } else { read }
            }
            None => Candidate { p: 0.0, agree: 0.0, ..first },
        }
    }

    fn steps(&self, pyramid: &Pyramid<'_>, row: &RowBox) -> Steps {
        Steps::from_logits(&self.strip.forward(&strip(pyramid, row)))
    }
}

fn strip(pyramid: &Pyramid<'_>, row: &RowBox) -> Tensor {
    let s = 2.0 * row.hh / DIGIT;
    let want = 2.0 * row.hw + 4.0 * MARGIN * row.hh;
    let w = ((want / s).ceil() as usize).clamp(16, STRIP.1);
    let stride = (w + TAIL).next_multiple_of(4).min(STRIP.1);
    let mut t = pyramid.window(row, [want / w as f32, s], w, STRIP.0, stride);
    normalise(&mut t, w);
    t
}

/// Returns other frames of the row: other sizes at which it was seen, and small shifts.
fn frames(best: &Found, others: &[Found]) -> Vec<RowBox> {
    let r = best.row;
    let moved = |high: f32, wide: f32, aside: f32, turn: f32| {
        let (s, c) = turn.sin_cos();
        RowBox {
            cx: r.cx - aside * r.hh * r.uy,
            cy: r.cy + aside * r.hh * r.ux,
            ux: r.ux * c - r.uy * s,
            uy: r.ux * s + r.uy * c,
            hw: r.hw + wide * r.hh,
            hh: r.hh * high,
        }
    };
    let mut all = vec![
        moved(1.12, 0.12, 0.0, 0.0),
        moved(0.92, 0.1, 0.0, 0.02),
        moved(1.0, 0.25, 0.08, -0.02),
        moved(1.04, 0.0, -0.08, 0.0),
    ];
    all.extend(others.iter().filter(|f| f.digits > 0.5).take(1).map(|f| f.row));
    all
}

/// Puts a minus before a row that has one in a pane of its own, too far off to be read as one with the digits, and
/// trusts a row less whose sign the picture cuts.
fn with_sign(pyramid: &Pyramid<'_>, c: Candidate) -> Candidate {
    if c.text.starts_with('-') {
        return c;
    }
    match sign::far_sign(pyramid, &c.row) {
        Sign::None => c,
        Sign::Minus(row) => Candidate {
            text: format!("-{}", c.text),
            p: SIGN_APART * c.p,
            place: upright(&row, pyramid.width(), pyramid.height()),
            row,
            ..c
        },
        Sign::Cut => Candidate { p: SIGN_APART * c.p, ..c },
    }
}

/// Returns the row longer by twice `more` on one side.
fn widened(row: &RowBox, side: f32, more: f32) -> RowBox {
    RowBox { cx: row.cx + side * more * row.ux, cy: row.cy + side * more * row.uy, hw: row.hw + more, ..*row }
}

/// How likely a phone held as usual gives a row that runs this way.
fn upright_share(row: &RowBox) -> f64 {
    match row.ux {
        x if x > 0.5 => 1.0,
        x if x > -0.5 => 0.6,
        _ => 0.3,
    }
}

/// Tells whether two rows stand end to end on one line, as high as one another and close as digits of one number.
fn end_to_end(a: &RowBox, b: &RowBox) -> bool {
    let (along, across) = a.local(b.cx, b.cy);
    let gap = along.abs() - a.hw - b.hw;
    a.ux * b.ux + a.uy * b.uy > 0.95
        && (0.75..1.33).contains(&(b.hh / a.hh))
        && across.abs() < 0.35 * a.hh
        && gap < 0.9 * a.hh
        && along.abs() > 0.5 * a.hw.max(b.hw)
}

/// Returns the row from the one end of two to the other.
fn spanning(a: &RowBox, b: &RowBox) -> RowBox {
    let (along, across) = a.local(b.cx, b.cy);
    let (lo, hi) = ((-a.hw).min(along - b.hw), a.hw.max(along + b.hw));
    let (mid, down) = ((lo + hi) / 2.0, across / 2.0);
    RowBox {
        cx: a.cx + mid * a.ux - down * a.uy,
        cy: a.cy + mid * a.uy + down * a.ux,
        hw: (hi - lo) / 2.0,
        hh: a.hh.max(b.hh),
        ..*a
    }
}

fn marked_as_mass(mark: Mark) -> bool {
    matches!(mark, Mark::Mass(_))
}

/// Orders rows by how likely each is the reading.
fn rank(c: &Candidate) -> f64 {
    let several = if c.text.len() > 1 { 1.0 } else { 0.6 };
    let certain = c.digits.powi(2) * (0.15 + c.main) * (0.1 + c.p);
    certain * several * upright_share(&c.row).powf(0.35) * f64::from(c.row.hh).sqrt()
}

/// Chooses the rows that make up the reading, in the order in which one reads them.
fn choose(rows: &[Candidate]) -> Option<Vec<&Candidate>> {
    let first = rows.first()?;
    let mut chosen = vec![first];
    // A display with several numbers of equal standing is read line by line.
    loop {
        let more = rows.iter().find(|c| {
            !chosen.iter().any(|o| std::ptr::eq(*o, *c))
                && c.main > 0.5
                && first.main > 0.5
                && c.digits > 0.5
                && c.p * c.agree > 0.4
                && chosen.iter().any(|o| beside(&o.row, &c.row))
                && !chosen.iter().any(|o| overlaps(&o.row, &c.row))
        });
        match more {
            Some(c) if chosen.len() < 4 => chosen.push(c),
            _ => break,
        }
    }
    let top = first.row;
    chosen.sort_by(|a, b| {
        let place = |c: &Candidate| top.local(c.row.cx, c.row.cy);
        let ((ax, ay), (bx, by)) = (place(a), place(b));
        let line = |y: f32| (y / (1.0 * top.hh)).round();
        line(ay).total_cmp(&line(by)).then(ax.total_cmp(&bx))
    });
    Some(chosen)
}

/// Tells whether two rows stand under or beside one another on one display.
fn beside(a: &RowBox, b: &RowBox) -> bool {
    let (along, across) = a.local(b.cx, b.cy);
    let alike = a.ux * b.ux + a.uy * b.uy > 0.93 && (0.4..2.5).contains(&(b.hh / a.hh));
    let gap_y = across.abs() - a.hh - b.hh;
    let gap_x = along.abs() - a.hw - b.hw;
    let tall = a.hh.max(b.hh);
    alike && (gap_y < 1.8 * tall && gap_x < 0.0 || gap_x < 4.0 * tall && across.abs() < 0.5 * tall)
}

/// Tells whether a good part of the lesser row lies in the other.
fn overlaps(a: &RowBox, b: &RowBox) -> bool {
    let (along, across) = a.local(b.cx, b.cy);
    along.abs() < a.hw + 0.5 * b.hw && across.abs() < a.hh + 0.5 * b.hh
}

fn upright(row: &RowBox, w: usize, h: usize) -> PixelBox {
    let corners = row.corners();
    let span = |f: fn(&(f32, f32)) -> f32, most: usize| {
        let lo = corners.iter().map(f).fold(f32::MAX, f32::min).clamp(0.0, most as f32);
        let hi = corners.iter().map(f).fold(f32::MIN, f32::max).clamp(0.0, most as f32);
        (lo as u32, (hi - lo).ceil() as u32)
    };
    let (x, width) = span(|p| p.0, w);
    let (y, height) = span(|p| p.1, h);
    PixelBox { x, y, width, height }
}

fn union(a: PixelBox, b: PixelBox) -> PixelBox {
    let (x, y) = (a.x.min(b.x), a.y.min(b.y));
    PixelBox {
        x,
        y,
        width: (a.x + a.width).max(b.x + b.width) - x,
        height: (a.y + a.height).max(b.y + b.height) - y,
    }
}
