//! Pixels in: a picture, its halvings, and turned windows cut from it.

use crate::net::Tensor;

/// An upright picture: rows of red, green, blue bytes.
#[derive(Clone, Copy, Debug)]
pub struct Picture<'a> {
    width: usize,
    height: usize,
    rgb: &'a [u8],
}

/// Occurs when the bytes do not fill the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WrongSize;

impl std::fmt::Display for WrongSize {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a picture needs three bytes a pixel and at least one pixel")
    }
}
impl std::error::Error for WrongSize {}

impl<'a> Picture<'a> {
    /// Takes a picture of `width` by `height` pixels.
    pub fn new(width: u32, height: u32, rgb: &'a [u8]) -> Result<Self, WrongSize> {
        let (width, height) = (width as usize, height as usize);
        if width == 0
            || height == 0
            || width.checked_mul(height).and_then(|n| n.checked_mul(3)) != Some(rgb.len())
        {
            return Err(WrongSize);
        }
        Ok(Self { width, height, rgb })
    }
    /// Returns the width in pixels.
    pub fn width(&self) -> usize {
        self.width
    }
    /// Returns the height in pixels.
    pub fn height(&self) -> usize {
        self.height
    }
}

/// A row of digits: its middle, its direction of reading (a unit vector), half its width and half its height,
/// in pixels of the whole picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct RowBox {
    pub(crate) cx: f32,
    pub(crate) cy: f32,
    pub(crate) ux: f32,
    pub(crate) uy: f32,
    pub(crate) hw: f32,
    pub(crate) hh: f32,
}

impl RowBox {
    /// Returns the corners, from the upper left as one reads, clockwise.
    pub(crate) fn corners(&self) -> [(f32, f32); 4] {
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(a, b)| {
            (
                self.cx + a * self.hw * self.ux - b * self.hh * self.uy,
                self.cy + a * self.hw * self.uy + b * self.hh * self.ux,
            )
        })
    }
    /// Returns a point's place along and across the row, from its middle.
    pub(crate) fn local(&self, x: f32, y: f32) -> (f32, f32) {
        let (dx, dy) = (x - self.cx, y - self.cy);
        (dx * self.ux + dy * self.uy, dy * self.ux - dx * self.uy)
    }
}

struct Level {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

/// A picture and its halvings, each pixel the mean of four.
pub(crate) struct Pyramid<'a> {
    base: Picture<'a>,
    halved: Vec<Level>,
}

impl<'a> Pyramid<'a> {
    pub(crate) fn new(base: Picture<'a>) -> Self {
        let mut halved: Vec<Level> = Vec::new();
        loop {
            let (w, h, rgb) =
                halved.last().map_or((base.width, base.height, base.rgb), |l| (l.width, l.height, &l.rgb));
            if w.min(h) < 32 || halved.len() == 7 {
                return Self { base, halved };
            }
            let next = halve(w, h, rgb);
            halved.push(next);
        }
    }

    pub(crate) fn width(&self) -> usize {
        self.base.width
    }
    pub(crate) fn height(&self) -> usize {
        self.base.height
    }

    fn level(&self, k: usize) -> (usize, usize, &[u8], f32) {
        let k = k.min(self.halved.len());
        if k == 0 {
            (self.base.width, self.base.height, self.base.rgb, 1.0)
        } else {
            let l = &self.halved[k - 1];
            (l.width, l.height, &l.rgb, (1 << k) as f32)
        }
    }

    /// Cuts a window of `w` by `h` about a row's middle and along it, `sx` and `sy` picture pixels a pixel.
    /// Values are 0 to 1; beyond the picture its edge goes on. The first `w` columns of `stride` are filled.
    pub(crate) fn window(
        &self,
        row: &RowBox,
        [sx, sy]: [f32; 2],
        w: usize,
        h: usize,
        stride: usize,
    ) -> Tensor {
        let k = sx.min(sy).max(1.0).log2().floor() as usize;
        let (lw, lh, rgb, scale) = self.level(k);
        let mut out = Tensor::zeros(3, h, stride);
        let plane = h * stride;
        let (half_w, half_h) = (w as f32 / 2.0 - 0.5, h as f32 / 2.0 - 0.5);
        for y in 0..h {
            let b = (y as f32 - half_h) * sy;
            for x in 0..w {
                let a = (x as f32 - half_w) * sx;
                let px = (row.cx + a * row.ux - b * row.uy) / scale - 0.5;
                let py = (row.cy + a * row.uy + b * row.ux) / scale - 0.5;
                let v = bilinear(lw, lh, rgb, px, py);
                for (c, v) in v.iter().enumerate() {
                    out.data[c * plane + y * stride + x] = v / 255.0;
                }
            }
        }
        out
    }

    /// Returns the whole picture at `1 / scale` of its size, less a half, edges filled with 0 to multiples of 32.
    pub(crate) fn whole(&self, scale: f32) -> Tensor {
        let round = |n: usize| ((n as f32 / scale).round() as usize).max(1);
        let (w, h) = (round(self.base.width), round(self.base.height));
        let up = |n: usize| n.div_ceil(32) * 32;
        let (stride, rows) = (up(w), up(h));
        let k = scale.max(1.0).log2().floor() as usize;
        let (lw, lh, rgb, by) = self.level(k);
        let step = scale / by;
        let mut out = Tensor::zeros(3, rows, stride);
        let plane = rows * stride;
        for y in 0..h {
            for x in 0..w {
                let v = bilinear(lw, lh, rgb, (x as f32 + 0.5) * step - 0.5, (y as f32 + 0.5) * step - 0.5);
                for (c, v) in v.iter().enumerate() {
                    out.data[c * plane + y * stride + x] = v / 255.0 - 0.5;
                }
            }
        }
        out
    }
}

fn bilinear(w: usize, h: usize, rgb: &[u8], x: f32, y: f32) -> [f32; 3] {
    let (x, y) = (x.clamp(0.0, (w - 1) as f32), y.clamp(0.0, (h - 1) as f32));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (fx, fy) = (x - x0 as f32, y - y0 as f32);
    let at = |x: usize, y: usize| &rgb[(y * w + x) * 3..(y * w + x) * 3 + 3];
    let (a, b, c, d) = (at(x0, y0), at(x1, y0), at(x0, y1), at(x1, y1));
    std::array::from_fn(|i| {
        let top = f32::from(a[i]) + (f32::from(b[i]) - f32::from(a[i])) * fx;
        let low = f32::from(c[i]) + (f32::from(d[i]) - f32::from(c[i])) * fx;
        top + (low - top) * fy
    })
}

fn halve(w: usize, h: usize, rgb: &[u8]) -> Level {
    let (nw, nh) = (w / 2, h / 2);
    let mut out = vec![0u8; nw * nh * 3];
    for (y, to) in out.chunks_exact_mut(nw * 3).enumerate() {
        let a = &rgb[2 * y * w * 3..][..nw * 6];
        let b = &rgb[(2 * y + 1) * w * 3..][..nw * 6];
        for ((to, a), b) in to.chunks_exact_mut(3).zip(a.chunks_exact(6)).zip(b.chunks_exact(6)) {
            for i in 0..3 {
                let sum = u16::from(a[i]) + u16::from(a[i + 3]) + u16::from(b[i]) + u16::from(b[i + 3]);
                to[i] = ((sum + 2) / 4) as u8;
            }
        }
    }
    Level { width: nw, height: nh, rgb: out }
}

/// The rim of a strip, about its margin, pixels.
const EDGE: usize = 17;

/// Takes the mean colour and the contrast out of the first `width` columns; the rest stays 0. Both are measured in
/// the middle, where the digits are: what lies about the display may be far brighter.
pub(crate) fn normalise(t: &mut Tensor, width: usize) {
    let (h, stride) = (t.h, t.w);
    let edge = if width > 3 * EDGE { EDGE } else { 0 };
    let middle = EDGE - 4..h - EDGE + 4;
    let n = (middle.len() * (width - 2 * edge)) as f64;
    let mut square = 0.0f64;
    for plane in t.data.chunks_exact_mut(h * stride) {
        let inner = |plane: &[f32], f: &dyn Fn(f32) -> f64| -> f64 {
            middle
                .clone()
                .map(|y| {
                    plane[y * stride + edge..y * stride + width - edge].iter().map(|v| f(*v)).sum::<f64>()
                })
                .sum()
        };
        let mean = (inner(plane, &|v| f64::from(v)) / n) as f32;
        for row in plane.chunks_exact_mut(stride) {
            for v in &mut row[..width] {
                *v -= mean;
            }
        }
        square += inner(plane, &|v| f64::from(v * v));
    }
    let spread = (square / (3.0 * n) + 1e-8).sqrt() as f32 + 3.0 / 255.0;
    for v in &mut t.data {
        *v = (*v / spread).clamp(-4.0, 4.0);
    }
}

/// Takes the mean colour and the contrast out of a patch.
pub(crate) fn normalise_patch(t: &mut Tensor) {
    let n = (t.h * t.w) as f64;
    let mut square = 0.0f64;
    for plane in t.data.chunks_exact_mut(t.h * t.w) {
        let mean = (plane.iter().map(|v| f64::from(*v)).sum::<f64>() / n) as f32;
        for v in plane.iter_mut() {
            *v -= mean;
            square += f64::from(*v * *v);
        }
    }
    let spread = (square / (3.0 * n) + 1e-8).sqrt() as f32 + 3.0 / 255.0;
    for v in &mut t.data {
        *v = (*v / spread).clamp(-4.0, 4.0);
    }
}

impl Tensor {
    /// Turns every plane by quarter turns clockwise.
    pub(crate) fn turned(&self, quarters: u8) -> Self {
        if quarters == 0 {
            return self.clone();
        }
        let (h, w) = if quarters % 2 == 1 { (self.w, self.h) } else { (self.h, self.w) };
        let mut out = Self::zeros(self.c, h, w);
        for c in 0..self.c {
            let from = self.plane(c);
            let to = &mut out.data[c * h * w..(c + 1) * h * w];
            for y in 0..h {
                for x in 0..w {
                    let (fx, fy) = match quarters {
                        1 => (y, self.h - 1 - x),
                        2 => (self.w - 1 - x, self.h - 1 - y),
                        _ => (self.w - 1 - y, x),
                    };
                    to[y * w + x] = from[fy * self.w + fx];
                }
            }
        }
        out
    }
}

impl RowBox {
    /// Takes a row found in a picture turned by quarter turns back to the picture, `w` by `h` before the turn.
    pub(crate) fn turned_back(mut self, quarters: u8, w: f32, h: f32) -> Self {
        let (x, y, ux, uy) = (self.cx, self.cy, self.ux, self.uy);
        (self.cx, self.cy, self.ux, self.uy) = match quarters {
            0 => (x, y, ux, uy),
            1 => (y, h - x, uy, -ux),
            2 => (w - x, h - y, -ux, -uy),
            _ => (w - y, x, -uy, ux),
        };
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_along_a_turned_row_stands_upright() {
        // A dark picture, red in its left half, seen along a row that runs downwards: red comes to lie below.
        let (w, h) = (64u32, 64u32);
        let mut rgb = vec![0u8; (w * h * 3) as usize];
        for y in 0..64 {
            for x in 0..32 {
                rgb[(y * 64 + x) * 3] = 200;
            }
        }
        let p = Pyramid::new(Picture::new(w, h, &rgb).unwrap());
        let row = RowBox { cx: 32.0, cy: 32.0, ux: 0.0, uy: 1.0, hw: 10.0, hh: 10.0 };
        let t = p.window(&row, [1.0, 1.0], 20, 20, 20);
        assert!(t.plane(0)[2 * 20 + 10] < 0.01, "above lies the right half");
        assert!(t.plane(0)[17 * 20 + 10] > 0.7, "below lies the left half");
        assert_eq!(row.corners()[0], (42.0, 22.0));
        assert_eq!(row.local(32.0, 37.0), (5.0, 0.0));
    }

    #[test]
    fn a_turn_is_taken_back() {
        // A mark at (10, 4) of a plane 16 wide and 8 high must be found there again after every turn.
        let mut t = Tensor::zeros(1, 8, 16);
        t.data[4 * 16 + 10] = 1.0;
        for quarters in 0..4 {
            let turned = t.turned(quarters);
            let at = turned.data.iter().position(|v| *v == 1.0).unwrap();
            let row = RowBox {
                cx: (at % turned.w) as f32 + 0.5,
                cy: (at / turned.w) as f32 + 0.5,
                ux: 1.0,
                uy: 0.0,
                hw: 3.0,
                hh: 1.0,
            };
            let back = row.turned_back(quarters, 16.0, 8.0);
            assert_eq!((back.cx, back.cy), (10.5, 4.5), "{quarters}");
            // What runs to the right after a turn clockwise ran upwards before it.
            assert_eq!(
                (back.ux, back.uy),
                [(1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0)][quarters as usize]
            );
        }
    }

    #[test]
    fn a_picture_must_be_filled() {
        assert_eq!(Picture::new(2, 2, &[0; 11]).unwrap_err(), WrongSize);
        assert_eq!(Picture::new(0, 0, &[]).unwrap_err(), WrongSize);
        assert!(Picture::new(u32::MAX, u32::MAX, &[0; 12]).is_err());
    }
}
