//! The four convolutional networks, run by hand: the same layers as `models/display/nets.py`.

use crate::weights::{BadWeights, Weights};
use ndarray::linalg::general_mat_mul;
use ndarray::{ArrayView2, ArrayViewMut2};

/// Numbers by channel, row and column.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tensor {
    pub(crate) c: usize,
    pub(crate) h: usize,
    pub(crate) w: usize,
    pub(crate) data: Vec<f32>,
}

impl Tensor {
    pub(crate) fn zeros(c: usize, h: usize, w: usize) -> Self {
        Self { c, h, w, data: vec![0.0; c * h * w] }
    }
    /// Returns one channel's plane.
    pub(crate) fn plane(&self, c: usize) -> &[f32] {
        &self.data[c * self.h * self.w..(c + 1) * self.h * self.w]
    }
    fn add(mut self, other: &Self) -> Self {
        debug_assert_eq!((self.c, self.h, self.w), (other.c, other.h, other.w));
        for (a, b) in self.data.iter_mut().zip(&other.data) {
            *a += b;
        }
        self
    }
    /// Doubles height and width by repeating.
    fn doubled(&self) -> Self {
        let mut out = Self::zeros(self.c, self.h * 2, self.w * 2);
        for (to, from) in out.data.chunks_exact_mut(self.w * 4).zip(self.data.chunks_exact(self.w)) {
            for (x, v) in from.iter().enumerate() {
                for i in [2 * x, 2 * x + 1, self.w * 2 + 2 * x, self.w * 2 + 2 * x + 1] {
                    to[i] = *v;
                }
            }
        }
        out
    }
    /// Keeps the greatest of each block of `kh` by `kw`.
    fn pooled(&self, kh: usize, kw: usize) -> Self {
        let mut out = Self::zeros(self.c, self.h / kh, self.w / kw);
        for c in 0..self.c {
            let from = self.plane(c);
            for y in 0..out.h {
                for x in 0..out.w {
                    let mut best = f32::MIN;
                    for i in 0..kh {
                        for j in 0..kw {
                            best = best.max(from[(y * kh + i) * self.w + x * kw + j]);
                        }
                    }
                    out.data[(c * out.h + y) * out.w + x] = best;
                }
            }
        }
        out
    }
}

/// A convolution with its bias; normalisation is folded in.
#[derive(Clone, Debug)]
pub(crate) struct Conv {
    pub(crate) weight: Vec<f32>,
    pub(crate) bias: Vec<f32>,
    pub(crate) out: usize,
    pub(crate) inp: usize,
    pub(crate) kh: usize,
    pub(crate) kw: usize,
    pub(crate) stride: usize,
}

/// How many output cells are multiplied at once: their columns stay in the cache.
const BLOCK: usize = 512;

impl Conv {
    /// Applies it with edges of zeros, `pad` rows and columns of them, and no activation.
    fn linear(&self, x: &Tensor, pad: [usize; 2]) -> Tensor {
        debug_assert_eq!(x.c, self.inp);
        let h = (x.h + 2 * pad[0] - self.kh) / self.stride + 1;
        let w = (x.w + 2 * pad[1] - self.kw) / self.stride + 1;
        let mut out = Tensor::zeros(self.out, h, w);
        let depth = self.inp * self.kh * self.kw;
        let weight = ArrayView2::from_shape((self.out, depth), &self.weight).expect("shape was checked");
        for (plane, bias) in out.data.chunks_exact_mut(h * w).zip(&self.bias) {
            plane.fill(*bias);
        }
        let mut all = ArrayViewMut2::from_shape((self.out, h * w), &mut out.data).expect("whole planes");
        if self.kh == 1 && self.kw == 1 && self.stride == 1 {
            let columns = ArrayView2::from_shape((depth, h * w), &x.data).expect("whole planes");
            general_mat_mul(1.0, &weight, &columns, 1.0, &mut all);
            return out;
        }
        let rows_at_once = (BLOCK / w).max(1);
        let mut buffer = vec![0.0f32; depth * rows_at_once * w];
        for y0 in (0..h).step_by(rows_at_once) {
            let n = rows_at_once.min(h - y0);
            let columns = &mut buffer[..depth * n * w];
            self.unroll(x, pad, y0, n, w, columns);
            let columns = ArrayView2::from_shape((depth, n * w), columns).expect("as cut");
            let mut part = all.slice_mut(ndarray::s![.., y0 * w..(y0 + n) * w]);
            general_mat_mul(1.0, &weight, &columns, 1.0, &mut part);
        }
        out
    }

    /// Lays the inputs of `n` output rows from `y0` side by side, a row of the matrix for each weight.
    fn unroll(&self, x: &Tensor, pad: [usize; 2], y0: usize, n: usize, w: usize, columns: &mut [f32]) {
        let mut rows = columns.chunks_exact_mut(n * w);
        for c in 0..self.inp {
            let plane = x.plane(c);
            for i in 0..self.kh {
                for j in 0..self.kw {
                    let row = rows.next().expect("a row for each weight");
                    for (k, to) in row.chunks_exact_mut(w).enumerate() {
                        let y = ((y0 + k) * self.stride + i).wrapping_sub(pad[0]);
                        if y >= x.h {
                            to.fill(0.0);
                            continue;
                        }
                        let from = &plane[y * x.w..(y + 1) * x.w];
                        if self.stride == 1 {
                            // Column t reads from t + j - pad.
                            let first = pad[1].saturating_sub(j).min(w);
                            let last = (x.w + pad[1]).saturating_sub(j).min(w);
                            to[..first].fill(0.0);
                            to[first..last].copy_from_slice(&from[first + j - pad[1]..last + j - pad[1]]);
                            to[last..].fill(0.0);
                        } else {
                            for (t, v) in to.iter_mut().enumerate() {
                                let at = (t * self.stride + j).wrapping_sub(pad[1]);
                                *v = from.get(at).copied().unwrap_or(0.0);
                            }
                        }
                    }
                }
            }
        }
    }

    /// Applies it with edges of its own half width, then takes away what is below zero.
    fn forward(&self, x: &Tensor) -> Tensor {
        self.forward_with(x, [self.kh / 2, self.kw / 2])
    }

    fn forward_with(&self, x: &Tensor, pad: [usize; 2]) -> Tensor {
        let mut out = self.linear(x, pad);
        for v in &mut out.data {
            *v = v.max(0.0);
        }
        out
    }
}

macro_rules! network {
    ($(#[$doc:meta])* $name:ident, $prefix:literal, { $($layer:ident: [$out:literal, $inp:literal, $kh:literal, $kw:literal] / $stride:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug)]
        pub(crate) struct $name { $($layer: Conv),+ }
        impl $name {
            pub(crate) fn new(w: &mut Weights) -> Result<Self, BadWeights> {
                Ok(Self { $($layer: w.conv(concat!($prefix, ".", stringify!($layer)), [$out, $inp, $kh, $kw], $stride)?),+ })
            }
        }
    };
}

network! {
    /// Finds rows of digits: eight maps at a quarter of the size. Height and width must be multiples of 32.
    Detector, "detector", {
        c0: [16, 3, 3, 3] / 2, c1: [32, 16, 3, 3] / 2, c2: [32, 32, 3, 3] / 1,
        c3: [64, 32, 3, 3] / 2, c4: [64, 64, 3, 3] / 1,
        c5: [96, 64, 3, 3] / 2, c6: [96, 96, 3, 3] / 1, c7: [96, 96, 3, 3] / 1,
        c8: [128, 96, 3, 3] / 2, c9: [128, 128, 3, 3] / 1,
        u1: [96, 128, 1, 1] / 1, c10: [96, 96, 3, 3] / 1,
        u2: [64, 96, 1, 1] / 1, c11: [64, 64, 3, 3] / 1,
        u3: [32, 64, 1, 1] / 1, c12: [48, 32, 3, 3] / 1, c13: [48, 48, 3, 3] / 1,
        head: [8, 48, 1, 1] / 1,
    }
}

impl Detector {
    pub(crate) fn forward(&self, x: &Tensor) -> Tensor {
        let s4 = self.c1.forward(&self.c0.forward(x));
        let s4 = self.c2.forward(&s4).add(&s4);
        let s8 = self.c3.forward(&s4);
        let s8 = self.c4.forward(&s8).add(&s8);
        let s16 = self.c6.forward(&self.c5.forward(&s8));
        let s16 = self.c7.forward(&s16).add(&s16);
        let s32 = self.c8.forward(&s16);
        let s32 = self.c9.forward(&s32).add(&s32);
        let a = self.c10.forward(&self.u1.forward(&s32).doubled().add(&s16));
        let b = self.c11.forward(&self.u2.forward(&a).doubled().add(&s8));
        let c = self.c12.forward(&self.u3.forward(&b).doubled().add(&s4));
        let c = self.c13.forward(&c).add(&c);
        self.head.linear(&c, [0, 0])
    }
}

network! {
    /// Reads a strip 64 high: 14 classes at every fourth column. The width must be a multiple of 4.
    StripNet, "reader", {
        r0: [24, 3, 3, 3] / 2, r1: [48, 24, 3, 3] / 1,
        r2: [96, 48, 3, 3] / 1, r3: [96, 96, 3, 3] / 1,
        r4: [128, 96, 3, 3] / 1, r5: [128, 128, 3, 3] / 1,
        r6: [192, 128, 8, 1] / 1,
        r7: [192, 192, 1, 5] / 1, r8: [192, 192, 1, 5] / 1,
        head: [14, 192, 1, 1] / 1,
    }
}

impl StripNet {
    pub(crate) fn forward(&self, x: &Tensor) -> Tensor {
        let x = self.r1.forward(&self.r0.forward(x)).pooled(2, 2);
        let x = self.r2.forward(&x);
        let x = self.r3.forward(&x).add(&x).pooled(2, 1);
        let x = self.r4.forward(&x);
        let x = self.r6.forward_with(&self.r5.forward(&x).add(&x), [0, 0]);
        let x = self.r7.forward(&x).add(&x);
        let x = self.r8.forward(&x).add(&x);
        self.head.linear(&x, [0, 0])
    }
}

network! {
    /// Finds the unit mark of a row in its neighbourhood of 144 by 384: five maps at a quarter of the size.
    FinderNet, "finder", {
        m0: [16, 4, 3, 3] / 2, m1: [32, 16, 3, 3] / 2, m2: [32, 32, 3, 3] / 1,
        m3: [48, 32, 3, 3] / 2, m4: [48, 48, 3, 3] / 1,
        m5: [48, 48, 3, 3] / 2, m6: [48, 48, 3, 3] / 1,
        v1: [48, 48, 1, 1] / 1, m7: [48, 48, 3, 3] / 1,
        v2: [32, 48, 1, 1] / 1, m8: [32, 32, 3, 3] / 1,
        head: [5, 32, 1, 1] / 1,
    }
}

impl FinderNet {
    pub(crate) fn forward(&self, x: &Tensor) -> Tensor {
        let s4 = self.m1.forward(&self.m0.forward(x));
        let s4 = self.m2.forward(&s4).add(&s4);
        let s8 = self.m3.forward(&s4);
        let s8 = self.m4.forward(&s8).add(&s8);
        let s16 = self.m5.forward(&s8);
        let s16 = self.m6.forward(&s16).add(&s16);
        let a = self.m7.forward(&self.v1.forward(&s16).doubled().add(&s8));
        let b = self.m8.forward(&self.v2.forward(&a).doubled().add(&s4));
        self.head.linear(&b, [0, 0])
    }
}

network! {
    /// Tells which unit a mark is, in a patch of 32 by 64: nine classes.
    UnitNet, "unit", {
        n0: [16, 3, 3, 3] / 1, n1: [32, 16, 3, 3] / 2, n2: [32, 32, 3, 3] / 1,
        n3: [64, 32, 3, 3] / 2, n4: [64, 64, 3, 3] / 1,
        n5: [64, 64, 3, 3] / 2, n6: [32, 64, 1, 1] / 1,
        n7: [64, 32, 4, 8] / 1,
        head: [9, 64, 1, 1] / 1,
    }
}

impl UnitNet {
    pub(crate) fn forward(&self, x: &Tensor) -> Tensor {
        let x = self.n1.forward(&self.n0.forward(x));
        let x = self.n3.forward(&self.n2.forward(&x).add(&x));
        let x = self.n5.forward(&self.n4.forward(&x).add(&x));
        let x = self.n7.forward_with(&self.n6.forward(&x), [0, 0]);
        self.head.linear(&x, [0, 0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pattern(planes: usize, h: usize, w: usize) -> Tensor {
        let mut t = Tensor::zeros(planes, h, w);
        for c in 0..planes {
            for y in 0..h {
                for x in 0..w {
                    t.data[(c * h + y) * w + x] =
                        ((c * 7 + y * 13 + x * 29 + x * y) % 64) as f32 / 64.0 - 0.5;
                }
            }
        }
        t
    }

    /// The same input through the same weights in PyTorch gave these numbers (`models/display/golden.py`).
    #[test]
    fn networks_give_what_pytorch_gives() {
        let golden: serde_json::Value =
            serde_json::from_str(include_str!("../../models/display/golden.json")).unwrap();
        let mut w = Weights::parse(crate::WEIGHTS).unwrap();
        let detector = Detector::new(&mut w).unwrap();
        let strip = StripNet::new(&mut w).unwrap();
        let finder = FinderNet::new(&mut w).unwrap();
        let unit = UnitNet::new(&mut w).unwrap();
        for (name, out) in [
            ("detector", detector.forward(&pattern(3, 64, 96))),
            ("reader", strip.forward(&pattern(3, 64, 352))),
            ("finder", finder.forward(&pattern(4, 144, 384))),
            ("unit", unit.forward(&pattern(3, 32, 64))),
        ] {
            let want: Vec<f64> = serde_json::from_value(golden[name]["output"].clone()).unwrap();
            let step = (out.data.len() / 400).max(1);
            let got: Vec<f32> = out.data.iter().copied().step_by(step).collect();
            assert_eq!(got.len(), want.len(), "{name}");
            let size = want.iter().map(|v| v.abs()).fold(0.0, f64::max);
            for (i, (g, w)) in got.iter().zip(&want).enumerate() {
                assert!((f64::from(*g) - w).abs() < 1e-3 * size.max(1.0), "{name} {i}: {g} not {w}");
            }
        }
        let x = detector.c0.forward(&pattern(3, 64, 96));
        let first = &golden["detector"]["layers"]["c0"];
        let mean = x.data.iter().map(|v| f64::from(v.abs())).sum::<f64>() / x.data.len() as f64;
        assert!((mean - first["mean_abs"].as_f64().unwrap()).abs() < 1e-5);
    }

    /// A convolution by its definition, against the one by matrices.
    #[test]
    fn matrices_give_the_defined_sum() {
        for (kh, kw, stride, pad) in
            [(3, 3, 1, [1, 1]), (3, 3, 2, [1, 1]), (1, 5, 1, [0, 2]), (6, 1, 1, [0, 0]), (1, 1, 1, [0, 0])]
        {
            let x = pattern(3, 11, 37);
            let n = 2 * 3 * kh * kw;
            let weight: Vec<f32> = (0..n).map(|i| ((i * 37 % 19) as f32 - 9.0) / 10.0).collect();
            let conv = Conv { weight, bias: vec![0.25, -0.5], out: 2, inp: 3, kh, kw, stride };
            let out = conv.linear(&x, pad);
            for o in 0..2 {
                for y in 0..out.h {
                    for t in 0..out.w {
                        let mut sum = conv.bias[o];
                        for c in 0..3 {
                            for i in 0..kh {
                                for j in 0..kw {
                                    let (yy, xx) = (
                                        (y * stride + i) as isize - pad[0] as isize,
                                        (t * stride + j) as isize - pad[1] as isize,
                                    );
                                    if (0..11).contains(&yy) && (0..37).contains(&xx) {
                                        sum += conv.weight[((o * 3 + c) * kh + i) * kw + j]
                                            * x.plane(c)[yy as usize * 37 + xx as usize];
                                    }
                                }
                            }
                        }
                        let got = out.plane(o)[y * out.w + t];
                        assert!(
                            (got - sum).abs() < 1e-4,
                            "{kh}x{kw}/{stride} at {o},{y},{t}: {got} not {sum}"
                        );
                    }
                }
            }
        }
    }
}
