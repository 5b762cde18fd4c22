//! The weights file: names, axes and 16-bit floats, little end first, as `models/display/nets.py` writes it.

use crate::net::Conv;
use std::collections::HashMap;

const MAGIC: &[u8; 8] = b"VARVELD1";

/// Occurs when a weights file is not whole or not for these networks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadWeights(pub(crate) String);

impl std::fmt::Display for BadWeights {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the display reader's weights cannot be used: {}", self.0)
    }
}
impl std::error::Error for BadWeights {}

struct Array {
    axes: Vec<usize>,
    values: Vec<f32>,
}

/// All arrays of a weights file, by name.
pub(crate) struct Weights(HashMap<String, Array>);

struct Cursor<'a>(&'a [u8]);

impl<'a> Cursor<'a> {
    fn take(&mut self, n: usize) -> Result<&'a [u8], BadWeights> {
        if n > self.0.len() {
            return Err(BadWeights("the file ends too soon".into()));
        }
        let (head, tail) = self.0.split_at(n);
        self.0 = tail;
        Ok(head)
    }
    fn u32(&mut self) -> Result<usize, BadWeights> {
        let b = self.take(4)?;
        Ok(u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize)
    }
}

impl Weights {
    /// Parses the bytes of a weights file.
    pub(crate) fn parse(bytes: &[u8]) -> Result<Self, BadWeights> {
        let mut at = Cursor(bytes);
        if at.take(8)? != MAGIC {
            return Err(BadWeights("it is another kind of file".into()));
        }
        let mut arrays = HashMap::new();
        for _ in 0..at.u32()? {
            let b = at.take(2)?;
            let name = at.take(usize::from(u16::from_le_bytes([b[0], b[1]])))?;
            let name = std::str::from_utf8(name).map_err(|_| BadWeights("a name is no text".into()))?;
            let axes = (0..at.take(1)?[0]).map(|_| at.u32()).collect::<Result<Vec<_>, _>>()?;
            let size = axes.iter().try_fold(2usize, |n, a| n.checked_mul(*a));
            let raw = at.take(size.ok_or_else(|| BadWeights("an array is too large".into()))?)?;
            let values = raw.chunks_exact(2).map(|b| from_half(u16::from_le_bytes([b[0], b[1]]))).collect();
            arrays.insert(name.to_owned(), Array { axes, values });
        }
        Ok(Self(arrays))
    }

    /// Takes out a convolution, checking its shape.
    pub(crate) fn conv(
        &mut self,
        name: &str,
        [out, inp, kh, kw]: [usize; 4],
        stride: usize,
    ) -> Result<Conv, BadWeights> {
        let mut take = |suffix: &str, axes: &[usize]| {
            let key = format!("{name}.{suffix}");
            let found = self.0.remove(&key).ok_or_else(|| BadWeights(format!("{key} is missing")))?;
            if found.axes == axes {
                Ok(found.values)
            } else {
                Err(BadWeights(format!("{key} has the shape {:?}, not {axes:?}", found.axes)))
            }
        };
        let weight = take("w", &[out, inp, kh, kw])?;
        let bias = take("b", &[out])?;
        Ok(Conv { weight, bias, out, inp, kh, kw, stride })
    }
}

/// Converts an IEEE 754 binary16 to a single.
fn from_half(h: u16) -> f32 {
    let sign = u32::from(h >> 15) << 31;
    let exponent = u32::from(h >> 10 & 31);
    let fraction = u32::from(h & 1023);
    match exponent {
        0 => f32::from_bits(sign | (fraction as f32 * 2f32.powi(-24)).to_bits()),
        31 => f32::from_bits(sign | 0x7f80_0000 | fraction << 13),
        e => f32::from_bits(sign | (e + 112) << 23 | fraction << 13),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEEE 754-2019, binary16: values from the format's definition.
    #[test]
    fn halves_become_singles() {
        for (half, single) in [
            (0x3c00, 1.0),
            (0xc000, -2.0),
            (0x7bff, 65504.0),
            (0x0400, 6.103_515_6e-5),
            (0x0001, 5.960_464_5e-8),
            (0x3555, 0.333_251_95),
            (0x8000, -0.0),
        ] {
            assert_eq!(from_half(half).to_bits(), f32::to_bits(single), "{half:#x}");
        }
        assert_eq!(from_half(0x7c00), f32::INFINITY);
    }

    #[test]
    fn a_damaged_file_is_told_not_used() {
        let whole: &[u8] = crate::WEIGHTS;
        assert!(Weights::parse(whole).is_ok());
        for cut in [0, 7, 12, 14, 100, whole.len() / 2, whole.len() - 1] {
            assert!(Weights::parse(&whole[..cut]).is_err(), "cut at {cut}");
        }
        assert!(Weights::parse(b"VARVELD1\xff\xff\xff\xff").is_err());
    }
}
