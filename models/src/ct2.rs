//! Reads weights in CTranslate2's form, all values in half precision.
//!
//! Layout (little-endian), as CTranslate2's own `Model::load` reads it: version, specification's name,
//! its revision, the tensors (name, shape, type, bytes), the aliases.

use crate::ModelError;
use crate::error::bad;
use half::f16;
use std::collections::HashMap;
use std::ops::Range;

const HALF: u8 = 4;

/// A tensor's shape, type and place in the file.
struct Tensor {
    shape: Vec<usize>,
    kind: u8,
    bytes: Range<usize>,
}

/// A weights file held in memory.
pub(crate) struct Weights {
    file: Vec<u8>,
    tensors: HashMap<String, Tensor>,
}

/// A view of a half-precision tensor.
#[derive(Clone, Copy)]
pub(crate) struct View<'a> {
    pub(crate) bytes: &'a [u8],
    pub(crate) rows: usize,
}

impl<'a> View<'a> {
    /// Yields the values, widened without loss.
    pub(crate) fn values(self) -> impl Iterator<Item = f32> + 'a {
        self.bytes.as_chunks::<2>().0.iter().map(|b| f16::from_le_bytes(*b).to_f32())
    }

    /// Returns part `n` of `of` equal parts along the first axis.
    pub(crate) fn part(self, n: usize, of: usize) -> Self {
        let len = self.bytes.len() / of;
        Self { bytes: &self.bytes[n * len..(n + 1) * len], rows: self.rows / of }
    }
}

impl Weights {
    /// Reads a whole file; refuses one with bytes missing or left over.
    pub(crate) fn read(file: Vec<u8>) -> Result<Self, ModelError> {
        let mut at = Cursor { file: &file, pos: 0 };
        let version = at.u32()?;
        if at.string()? != "WhisperSpec" || version < 4 {
            return Err(bad("not a CTranslate2 Whisper file"));
        }
        at.u32()?;
        let mut tensors = HashMap::new();
        for _ in 0..at.u32()? {
            let name = at.string()?;
            let rank = at.u8()?;
            let shape = (0..rank).map(|_| Ok(at.u32()? as usize)).collect::<Result<Vec<_>, ModelError>>()?;
            let kind = at.u8()?;
            let len = at.u32()? as usize;
            let bytes = at.take(len)?;
            tensors.insert(name, Tensor { shape, kind, bytes });
        }
        // Aliases tell that the output projection is the token embedding; the ggml form implies it.
        for _ in 0..at.u32()? {
            at.string()?;
            at.string()?;
        }
        if at.pos != file.len() {
            return Err(bad("bytes left over at the end"));
        }
        Ok(Self { file, tensors })
    }

    /// Returns a half-precision tensor's shape.
    pub(crate) fn shape(&self, name: &str) -> Result<&[usize], ModelError> {
        Ok(&self.tensor(name)?.shape)
    }

    /// Returns a half-precision tensor.
    pub(crate) fn view(&self, name: &str) -> Result<View<'_>, ModelError> {
        let t = self.tensor(name)?;
        let count: usize = t.shape.iter().product();
        if t.kind != HALF || t.bytes.len() != 2 * count {
            return Err(bad(format!("{name} is not in half precision")));
        }
        Ok(View { bytes: &self.file[t.bytes.clone()], rows: t.shape.first().copied().unwrap_or(1) })
    }

    /// Returns a small whole number, such as the number of attention heads.
    pub(crate) fn number(&self, name: &str) -> Result<i32, ModelError> {
        let t = self.tensor(name)?;
        match self.file[t.bytes.clone()] {
            [lo, hi] => Ok(i32::from(i16::from_le_bytes([lo, hi]))),
            _ => Err(bad(format!("{name} is not a number"))),
        }
    }

    /// Counts the layers of `encoder` or `decoder`.
    pub(crate) fn layers(&self, side: &str) -> usize {
        (0..)
            .take_while(|i| self.tensors.contains_key(&format!("{side}/layer_{i}/ffn/linear_0/weight")))
            .count()
    }

    fn tensor(&self, name: &str) -> Result<&Tensor, ModelError> {
        self.tensors.get(name).ok_or_else(|| bad(format!("{name} is missing")))
    }
}

struct Cursor<'a> {
    file: &'a [u8],
    pos: usize,
}

impl Cursor<'_> {
    fn take(&mut self, len: usize) -> Result<Range<usize>, ModelError> {
        let end = self
            .pos
            .checked_add(len)
            .filter(|end| *end <= self.file.len())
            .ok_or_else(|| bad("the file ends early"))?;
        let range = self.pos..end;
        self.pos = end;
        Ok(range)
    }
    fn array<const N: usize>(&mut self) -> Result<[u8; N], ModelError> {
        let range = self.take(N)?;
        self.file[range].try_into().map_err(|_| bad("the file ends early"))
    }
    fn u8(&mut self) -> Result<u8, ModelError> {
        Ok(self.array::<1>()?[0])
    }
    fn u32(&mut self) -> Result<u32, ModelError> {
        Ok(u32::from_le_bytes(self.array()?))
    }
    /// A length that counts a closing zero, then the bytes.
    fn string(&mut self) -> Result<String, ModelError> {
        let len = usize::from(u16::from_le_bytes(self.array()?));
        let range = self.take(len)?;
        let text = self.file[range].strip_suffix(&[0]).ok_or_else(|| bad("a name is not closed"))?;
        String::from_utf8(text.to_vec()).map_err(|_| bad("a name is not text"))
    }
}
