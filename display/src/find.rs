//! From the detector's maps to rows of digits: cells vote for the row they lie in.

use crate::net::{Detector, Tensor};
use crate::pixels::{Pyramid, RowBox};

/// A row found, with how sure the detector is of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    pub(crate) row: RowBox,
    /// Probability that digits of a display stand here.
    pub(crate) digits: f32,
    /// Probability that they are the reading and not a clock or another lesser row.
    pub(crate) main: f32,
    /// How well this size suits the detector: 1 where its digits are of the size that it knows best.
    pub(crate) fit: f32,
}

/// Rows that are one and the same, seen at several sizes; the best first.
#[derive(Clone, Debug)]
pub(crate) struct Sight {
    pub(crate) all: Vec<Found>,
}

impl Sight {
    pub(crate) fn best(&self) -> &Found {
        &self.all[0]
    }
}

const CELL: f32 = 4.0;
const THRESHOLD: f32 = 0.3;
/// The longer side at the finest level, pixels.
const LONG_SIDE: f32 = 704.0;
/// The level below which a picture is too small to hold a display.
const SMALLEST: f32 = 60.0;

/// Looks for rows at several sizes, with the picture turned by quarter turns clockwise. Returns them in pixels of
/// the unturned picture, the most promising first.
pub(crate) fn rows(net: &Detector, picture: &Pyramid<'_>, quarters: u8) -> Vec<Sight> {
    let long = picture.width().max(picture.height()) as f32;
    let mut scale = (long / LONG_SIDE).max(1.0);
    let mut found = Vec::new();
    loop {
        let level = picture.whole(scale);
        let (w, h) = (level.w as f32 * scale, level.h as f32 * scale);
        let maps = net.forward(&level.turned(quarters));
        found.extend(
            decode(&maps, scale).into_iter().map(|f| Found { row: f.row.turned_back(quarters, w, h), ..f }),
        );
        scale *= 2.0;
        if long / scale < SMALLEST {
            return merge(found);
        }
    }
}

struct Group {
    weight: f32,
    cx: f32,
    cy: f32,
    ux: f32,
    uy: f32,
    members: Vec<Vote>,
}

struct Vote {
    x: f32,
    y: f32,
    heat: f32,
    main: f32,
    /// Distances to the row's upper, lower, left and right edge.
    to: [f32; 4],
    u: (f32, f32),
}

fn sigmoid(v: f32) -> f32 {
    1.0 / (1.0 + (-v).exp())
}

/// Gathers the cells of one level into rows, in pixels of the whole picture.
fn decode(maps: &Tensor, scale: f32) -> Vec<Found> {
    let mut votes: Vec<Vote> = Vec::new();
    for y in 0..maps.h {
        for x in 0..maps.w {
            let at = |c: usize| maps.plane(c)[y * maps.w + x];
            let heat = sigmoid(at(0));
            if heat < THRESHOLD {
                continue;
            }
            let norm = at(6).hypot(at(7));
            if norm < 0.2 {
                continue;
            }
            votes.push(Vote {
                x: (x as f32 + 0.5) * CELL,
                y: (y as f32 + 0.5) * CELL,
                heat,
                main: sigmoid(at(1)),
                to: std::array::from_fn(|k| at(k + 2).clamp(-4.0, 5.0).exp() * 8.0),
                u: (at(6) / norm, at(7) / norm),
            });
        }
    }
    votes.sort_by(|a, b| b.heat.total_cmp(&a.heat));
    let mut groups: Vec<Group> = Vec::new();
    for v in votes {
        let (up, down, left, right) = (v.to[0], v.to[1], v.to[2], v.to[3]);
        let (a, b) = ((right - left) / 2.0, (down - up) / 2.0);
        let (cx, cy) = (v.x + a * v.u.0 - b * v.u.1, v.y + a * v.u.1 + b * v.u.0);
        let (hw, hh) = ((left + right) / 2.0, (up + down) / 2.0);
        let home = groups.iter_mut().find(|g| {
            let (dx, dy) = (cx - g.cx, cy - g.cy);
            let along = dx * g.ux + dy * g.uy;
            let across = dy * g.ux - dx * g.uy;
            g.ux * v.u.0 + g.uy * v.u.1 > 0.8
                && across.abs() < 0.6 * hh
                && along.abs() < (0.6 * hw).max(1.2 * hh)
        });
        let w = v.heat;
        match home {
            Some(g) => {
                let t = w / (g.weight + w);
                g.cx += (cx - g.cx) * t;
                g.cy += (cy - g.cy) * t;
                g.ux += (v.u.0 - g.ux) * t;
                g.uy += (v.u.1 - g.uy) * t;
                g.weight += w;
                g.members.push(v);
            }
            None => groups.push(Group { weight: w, cx, cy, ux: v.u.0, uy: v.u.1, members: vec![v] }),
        }
    }
    groups.iter().filter_map(|g| settle(g, scale)).collect()
}

/// Measures a group: each edge is where its cells say, the near ones heard before the far ones.
fn settle(g: &Group, scale: f32) -> Option<Found> {
    let norm = g.ux.hypot(g.uy);
    let (ux, uy) = (g.ux / norm, g.uy / norm);
    let hh = g.members.iter().map(|v| (v.to[0] + v.to[1]) / 2.0 * v.heat).sum::<f32>() / g.weight;
    let mut edges = [0.0f32; 4];
    let mut weights = [0.0f32; 4];
    for v in &g.members {
        let along = (v.x - g.cx) * ux + (v.y - g.cy) * uy;
        let across = (v.y - g.cy) * ux - (v.x - g.cx) * uy;
        let says = [across - v.to[0], across + v.to[1], along - v.to[2], along + v.to[3]];
        for k in 0..4 {
            let w = v.heat * v.heat * if k < 2 { 1.0 } else { (-v.to[k] / (1.5 * hh)).exp() + 1e-6 };
            edges[k] += says[k] * w;
            weights[k] += w;
        }
    }
    let [top, foot, left, right] = std::array::from_fn(|k| edges[k] / weights[k]);
    let (half_w, half_h) = ((right - left) / 2.0, (foot - top) / 2.0);
    if half_w < 0.8 || half_h < 1.5 {
        return None;
    }
    let (a, b) = ((left + right) / 2.0, (top + foot) / 2.0);
    let mut best: Vec<f32> = g.members.iter().map(|v| v.heat).collect();
    best.truncate(12);
    let digits = best.iter().sum::<f32>() / best.len() as f32;
    let main = g.members.iter().map(|v| v.main * v.heat).sum::<f32>() / g.weight;
    // A row of its size should fill a good part of its own middle.
    let expected = (2.0 * half_w - 0.9 * half_h).max(half_w * 0.9) * half_h / (CELL * CELL);
    let filled = (g.members.len() as f32 / expected.max(1.0)).min(1.0);
    let height = 2.0 * half_h;
    let fit = if height < 11.0 {
        (height / 11.0).powi(2)
    } else if height > 36.0 {
        36.0 / height
    } else {
        1.0
    };
    Some(Found {
        row: RowBox {
            cx: (g.cx + a * ux - b * uy) * scale,
            cy: (g.cy + a * uy + b * ux) * scale,
            ux,
            uy,
            hw: half_w * scale,
            hh: half_h * scale,
        },
        digits: digits * filled.sqrt(),
        main,
        fit,
    })
}

/// Tells whether two rows are one: much the same middle, height and direction.
pub(crate) fn same(a: &RowBox, b: &RowBox) -> bool {
    let (big, small) = if a.hw * a.hh > b.hw * b.hh { (a, b) } else { (b, a) };
    let (along, across) = big.local(small.cx, small.cy);
    across.abs() < 0.7 * big.hh && along.abs() < big.hw && small.hh > 0.35 * big.hh
}

fn merge(mut found: Vec<Found>) -> Vec<Sight> {
    found.sort_by(|a, b| (b.digits * b.fit).total_cmp(&(a.digits * a.fit)));
    let mut sights: Vec<Sight> = Vec::new();
    for f in found {
        match sights.iter_mut().find(|s| same(&s.best().row, &f.row)) {
            Some(s) => s.all.push(f),
            None => sights.push(Sight { all: vec![f] }),
        }
    }
    sights
}
