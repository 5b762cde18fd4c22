//! The unit mark of a row: first where it stands, then, seen close, what it is.

use crate::net::{FinderNet, Tensor, UnitNet};
use crate::pixels::{Pyramid, RowBox, normalise, normalise_patch};
use crate::weights::{BadWeights, Weights};
use note::MassUnit;

/// Height and width of the neighbourhood in which a mark is looked for.
const AREA: (usize, usize) = (144, 384);
/// The neighbourhood's width beyond the row and its whole height, in digit heights.
const AROUND: (f32, f32) = (7.0, 3.6);
/// Height and width of the patch in which a mark is seen close, and the mark's height in it.
const PATCH: (usize, usize) = (32, 64);
const TALL: f32 = 18.0;
const CELL: f32 = 4.0;
/// A cell less likely to lie on a mark than this is passed over.
const THRESHOLD: f32 = 0.12;
/// Places looked at closely in each frame, at most.
const MOST_PLACES: usize = 4;
/// A place that three frames together find less likely than this is not believed.
const BELIEVED: f32 = 0.15;
/// A mass less sure than this is not told: a wrong unit is worse than none.
const SURE: f32 = 0.95;
/// Any other mark only helps to choose between rows.
const LIKELY: f32 = 0.6;

/// What stands beside a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mark {
    None,
    Mass(MassUnit),
    Degree,
    Percent,
    Other,
}

/// The unit network's classes, in its order.
const MARKS: [Mark; 9] = [
    Mark::None,
    Mark::Mass(MassUnit::G),
    Mark::Mass(MassUnit::Kg),
    Mark::Mass(MassUnit::Lb),
    Mark::Mass(MassUnit::Oz),
    Mark::Mass(MassUnit::LbOz),
    Mark::Degree,
    Mark::Percent,
    Mark::Other,
];

/// The two networks that find a mark and tell it.
#[derive(Clone, Debug)]
pub(crate) struct MarkReader {
    finder: FinderNet,
    unit: UnitNet,
}

/// A place where a mark may stand: its middle and height in picture pixels, and how likely it is one of the row's.
#[derive(Clone, Copy, Debug)]
struct Place {
    x: f32,
    y: f32,
    tall: f32,
    heat: f32,
}

/// A place as several frames saw it.
struct Seen {
    place: Place,
    frames: f32,
    heat: f32,
    shares: [f32; MARKS.len()],
}

impl MarkReader {
    pub(crate) fn new(w: &mut Weights) -> Result<Self, BadWeights> {
        Ok(Self { finder: FinderNet::new(w)?, unit: UnitNet::new(w)? })
    }

    /// Tells the mark beside a row that shows `text`.
    pub(crate) fn tell(&self, pyramid: &Pyramid<'_>, row: &RowBox, text: &str) -> Mark {
        told(&self.marks(pyramid, row), text.contains(':'))
    }

    /// Returns the marks seen about a row, the plainest first, and how sure each one's class is. Three frames are looked
    /// at: a small mark is easily missed in one.
    pub(crate) fn marks(&self, pyramid: &Pyramid<'_>, row: &RowBox) -> Vec<(Mark, f32)> {
        let frames = [(1.0, 0.0), (1.12, 0.15), (0.9, -0.15)];
        let mut seen: Vec<Seen> = Vec::new();
        for (high, aside) in frames {
            let framed = RowBox {
                cx: row.cx + aside * row.hh * row.ux,
                cy: row.cy + aside * row.hh * row.uy,
                hh: row.hh * high,
                ..*row
            };
            for place in self.places(pyramid, &framed) {
                let shares = self.look(pyramid, row, &place);
                let near = |s: &&mut Seen| {
                    (s.place.x - place.x).hypot(s.place.y - place.y) < 0.5 * s.place.tall.max(place.tall)
                };
                match seen.iter_mut().find(near) {
                    Some(s) => {
                        s.frames += 1.0;
                        s.heat += place.heat;
                        s.shares.iter_mut().zip(shares).for_each(|(a, b)| *a += b);
                    }
                    None => seen.push(Seen { place, frames: 1.0, heat: place.heat, shares }),
                }
            }
        }
        let classed = |s: &Seen| {
            let best = (0..MARKS.len()).max_by(|a, b| s.shares[*a].total_cmp(&s.shares[*b])).unwrap_or(0);
            (s.heat / frames.len() as f32, MARKS[best], s.shares[best] / s.frames)
        };
        let mut marks: Vec<(f32, Mark, f32)> =
            seen.iter().map(classed).filter(|m| m.0 >= BELIEVED && m.1 != Mark::None).collect();
        marks.sort_by(|a, b| (b.0 * b.2).total_cmp(&(a.0 * a.2)));
        marks.into_iter().map(|m| (m.1, m.2)).collect()
    }

    /// Returns the likeliest places of a mark in the neighbourhood of a row.
    fn places(&self, pyramid: &Pyramid<'_>, row: &RowBox) -> Vec<Place> {
        let h = 2.0 * row.hh;
        let [sx, sy] = [(2.0 * row.hw + AROUND.0 * h) / AREA.1 as f32, AROUND.1 * h / AREA.0 as f32];
        let mut area = pyramid.window(row, [sx, sy], AREA.1, AREA.0, AREA.1);
        normalise(&mut area, AREA.1);
        let maps = self.finder.forward(&with_row(area, row.hw / sx));
        spots(&maps)
            .into_iter()
            .map(|s| {
                let (along, across) = ((s.x - AREA.1 as f32 / 2.0) * sx, (s.y - AREA.0 as f32 / 2.0) * sy);
                Place {
                    x: row.cx + along * row.ux - across * row.uy,
                    y: row.cy + along * row.uy + across * row.ux,
                    tall: s.tall * sy,
                    heat: s.heat,
                }
            })
            .filter(|p| {
                p.x > 0.0 && p.y > 0.0 && p.x < pyramid.width() as f32 && p.y < pyramid.height() as f32
            })
            .collect()
    }

    /// Looks at a place closely: the probability of each class.
    fn look(&self, pyramid: &Pyramid<'_>, row: &RowBox, place: &Place) -> [f32; MARKS.len()] {
        let s = place.tall / TALL;
        let at = RowBox { cx: place.x, cy: place.y, ..*row };
        let mut patch = pyramid.window(&at, [s, s], PATCH.1, PATCH.0, PATCH.1);
        normalise_patch(&mut patch);
        let out = self.unit.forward(&patch).data;
        let top = out.iter().copied().fold(f32::MIN, f32::max);
        let sum: f32 = out.iter().map(|v| (v - top).exp()).sum();
        std::array::from_fn(|i| (out[i] - top).exp() / sum)
    }
}

/// Adds the plane that is 1 within the row, `half` its half width in pixels.
fn with_row(area: Tensor, half: f32) -> Tensor {
    let mut t = Tensor { c: 4, ..area };
    let tall = AREA.0 as f32 / AROUND.1 / 2.0;
    for y in 0..AREA.0 {
        for x in 0..AREA.1 {
            let inside = (y as f32 + 0.5 - AREA.0 as f32 / 2.0).abs() < tall
                && (x as f32 + 0.5 - AREA.1 as f32 / 2.0).abs() < half;
            t.data.push(if inside { 1.0 } else { 0.0 });
        }
    }
    t
}

/// Gathers the finder's cells into places, in pixels of the neighbourhood, the likeliest first.
fn spots(maps: &Tensor) -> Vec<Place> {
    let at = |c: usize, i: usize| maps.plane(c)[i];
    let mut cells: Vec<(f32, usize)> = (0..maps.h * maps.w)
        .map(|i| (1.0 / (1.0 + (-at(0, i)).exp()), i))
        .filter(|c| c.0 > THRESHOLD)
        .collect();
    cells.sort_by(|a, b| b.0.total_cmp(&a.0));
    // Each group: its box by its likeliest cell, and the sums of weight, middle and height.
    let mut groups: Vec<([f32; 4], f32, [f32; 4])> = Vec::new();
    for (heat, i) in cells {
        let (x, y) = (((i % maps.w) as f32 + 0.5) * CELL, ((i / maps.w) as f32 + 0.5) * CELL);
        let [left, top, right, foot] = std::array::from_fn(|k| at(k + 1, i).clamp(-3.0, 4.0).exp() * 8.0);
        let own = [x - left, y - top, x + right, y + foot];
        let says =
            [heat, heat * (own[0] + own[2]) / 2.0, heat * (own[1] + own[3]) / 2.0, heat * (top + foot)];
        let (cx, cy) = (says[1] / heat, says[2] / heat);
        let within = |b: &[f32; 4], x: f32, y: f32| x > b[0] && y > b[1] && x < b[2] && y < b[3];
        match groups.iter_mut().find(|(b, ..)| within(b, x, y) || within(b, cx, cy)) {
            Some((_, _, sums)) => sums.iter_mut().zip(says).for_each(|(a, b)| *a += b),
            None => groups.push((own, heat, says)),
        }
    }
    groups.truncate(MOST_PLACES);
    groups
        .into_iter()
        .map(|(_, heat, [w, x, y, tall])| Place { x: x / w, y: y / w, tall: tall / w, heat })
        .collect()
}

/// Concludes from the marks seen about a row, the plainest first; `pair`: the row shows two numbers with a colon.
fn told(marks: &[(Mark, f32)], pair: bool) -> Mark {
    let sure = |m: &&(Mark, f32)| m.1 >= if mass(m.0).is_some() { SURE } else { LIKELY };
    let Some(&(first, _)) = marks.iter().find(sure) else { return Mark::None };
    let Some(unit) = mass(first) else { return first };
    let others = || marks.iter().filter(|m| m.0 != first && m.1 > LIKELY).filter_map(|m| mass(m.0));
    let of_pair = |unit| matches!(unit, MassUnit::Lb | MassUnit::Oz | MassUnit::LbOz);
    if pair && of_pair(unit) && others().all(of_pair) {
        // What a colon parts and pounds or ounces stand beside is pounds and ounces.
        return Mark::Mass(MassUnit::LbOz);
    }
    // Where several units stand side by side nothing here tells which is meant.
    if others().next().is_some() { Mark::Other } else { first }
}

fn mass(mark: Mark) -> Option<MassUnit> {
    match mark {
        Mark::Mass(unit) => Some(unit),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use MassUnit::{G, Kg, Lb, LbOz, Oz};

    /// Maps as the finder gives them, with the cells of each box (left, top, right, foot) as likely as said.
    fn maps(boxes: &[([f32; 4], f32)]) -> Tensor {
        let mut t = Tensor::zeros(5, AREA.0 / 4, AREA.1 / 4);
        let plane = t.h * t.w;
        t.data[..plane].fill(-9.0);
        for ([left, top, right, foot], heat) in boxes {
            for i in 0..plane {
                let (x, y) = (((i % t.w) as f32 + 0.5) * CELL, ((i / t.w) as f32 + 0.5) * CELL);
                if x > *left && x < *right && y > *top && y < *foot {
                    t.data[i] = (heat / (1.0 - heat)).ln();
                    for (k, d) in [x - left, y - top, right - x, foot - y].iter().enumerate() {
                        t.data[(k + 1) * plane + i] = (d / 8.0).ln();
                    }
                }
            }
        }
        t
    }

    #[test]
    fn cells_are_gathered_into_places() {
        let found = spots(&maps(&[([201.0, 61.0, 219.0, 85.0], 0.6), ([20.0, 10.0, 50.0, 26.0], 0.9)]));
        let rounded: Vec<_> = found.iter().map(|p| [p.x.round(), p.y.round(), p.tall.round()]).collect();
        assert_eq!(rounded, [[35.0, 18.0, 16.0], [210.0, 73.0, 24.0]]);
        assert!((found[0].heat - 0.9).abs() < 1e-4 && (found[1].heat - 0.6).abs() < 1e-4);
        assert!(spots(&maps(&[([20.0, 10.0, 50.0, 26.0], 0.1)])).is_empty());
    }

    #[test]
    fn a_unit_is_told_only_where_one_is_sure() {
        let m = Mark::Mass;
        for (marks, pair, want) in [
            (vec![], false, Mark::None),
            (vec![(m(G), 0.97)], false, m(G)),
            (vec![(m(G), 0.9)], false, Mark::None),
            (vec![(Mark::Other, 0.9), (m(Kg), 0.99)], false, Mark::Other),
            (vec![(Mark::Other, 0.4), (m(Kg), 0.99)], false, m(Kg)),
            (vec![(m(Kg), 0.98), (m(G), 0.7)], false, Mark::Other),
            (vec![(m(Kg), 0.98), (m(G), 0.3)], false, m(Kg)),
            (vec![(m(Lb), 0.99), (m(Oz), 0.96)], true, m(LbOz)),
            (vec![(m(Lb), 0.99), (m(Oz), 0.96)], false, Mark::Other),
            (vec![(m(Oz), 0.99)], true, m(LbOz)),
            (vec![(m(LbOz), 0.99)], true, m(LbOz)),
            (vec![(m(Lb), 0.99), (m(G), 0.9)], true, Mark::Other),
            (vec![(Mark::Percent, 0.9)], false, Mark::Percent),
            (vec![(Mark::Degree, 0.5)], false, Mark::None),
        ] {
            assert_eq!(told(&marks, pair), want, "{marks:?}");
        }
    }

    #[test]
    fn the_row_is_pointed_out() {
        let t = with_row(Tensor::zeros(3, AREA.0, AREA.1), 50.0);
        let ones = t.plane(3).iter().filter(|v| **v == 1.0).count();
        assert_eq!((t.c, t.data.len(), ones), (4, 4 * AREA.0 * AREA.1, 40 * 100));
    }
}
