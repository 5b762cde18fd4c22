//! Walks over a model file of whisper.cpp's form, tensor by tensor.

use crate::ModelError;
use crate::error::bad;
use crate::ggml::{F16, F32, MAGIC};
use std::ops::Range;

/// Where a tensor stands in a file, and what it is.
pub(crate) struct Tensor<'a> {
    pub(crate) name: &'a str,
    /// Fastest axis first, as ggml counts.
    pub(crate) shape: Vec<usize>,
    pub(crate) kind: i32,
    /// Its values in the file.
    pub(crate) place: Range<usize>,
}

/// A half-precision model file, read from its beginning.
pub(crate) struct Walk<'a> {
    file: &'a [u8],
    pos: usize,
    /// What precedes the tensors.
    pub(crate) head: Range<usize>,
}

/// The place of the file's form in its head, bytes.
pub(crate) const FORM: Range<usize> = 44..48;

impl<'a> Walk<'a> {
    /// Reads the head: sizes, mel filters, vocabulary.
    pub(crate) fn begin(file: &'a [u8]) -> Result<Self, ModelError> {
        let mut walk = Self { file, pos: 0, head: 0..0 };
        let mut numbers = [0; 12];
        for n in &mut numbers {
            *n = walk.number()?;
        }
        if numbers[0] as u32 != MAGIC || numbers[11] != F16 {
            return Err(bad("it is no half-precision ggml file"));
        }
        let (bands, bins) = (walk.size()?, walk.size()?);
        walk.take(bands.saturating_mul(bins).saturating_mul(4))?;
        for _ in 0..walk.size()? {
            let len = walk.size()?;
            walk.take(len)?;
        }
        walk.head = 0..walk.pos;
        Ok(walk)
    }

    /// Returns the next tensor; `None` at the end of the file.
    pub(crate) fn step(&mut self) -> Result<Option<Tensor<'a>>, ModelError> {
        if self.pos >= self.file.len() {
            return Ok(None);
        }
        let (rank, name_len, kind) = (self.size()?, self.size()?, self.number()?);
        if rank > 4 {
            return Err(bad("a tensor has too many axes"));
        }
        let shape = (0..rank).map(|_| self.size()).collect::<Result<Vec<_>, _>>()?;
        let name = std::str::from_utf8(self.take(name_len)?).map_err(bad)?;
        let width = match kind {
            F32 => 4,
            F16 => 2,
            _ => return Err(bad("a tensor is in a form that is not known here")),
        };
        let count = shape.iter().try_fold(width, |n: usize, d| n.checked_mul(*d));
        let count = count.ok_or_else(|| bad("a tensor is too large"))?;
        let begin = self.pos;
        self.take(count)?;
        Ok(Some(Tensor { name, shape, kind, place: begin..self.pos }))
    }

    fn take(&mut self, count: usize) -> Result<&'a [u8], ModelError> {
        let end = self.pos.checked_add(count).filter(|end| *end <= self.file.len());
        let end = end.ok_or_else(|| bad("it ends too early"))?;
        let bytes = &self.file[self.pos..end];
        self.pos = end;
        Ok(bytes)
    }

    fn number(&mut self) -> Result<i32, ModelError> {
        let bytes = self.take(4)?;
        Ok(i32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]))
    }

    fn size(&mut self) -> Result<usize, ModelError> {
        usize::try_from(self.number()?).map_err(|_| bad("it has a size below nought"))
    }
}
