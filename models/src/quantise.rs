//! Makes the q8_0 form: 32 weights share one half-precision scale, each a signed byte.
//!
//! The format is ggml's `block_q8_0` and its reference rounding (`quantize_row_q8_0_ref`); the choice of
//! tensors is that of whisper.cpp's `quantize` program: every matrix but the positions and the
//! convolutions' biases. Vectors and the three-dimensional convolutions stay as they are.

use crate::ModelError;
use crate::error::bad;
use crate::ggml::{F16, tensor_header};
use crate::tensors::{FORM, Tensor, Walk};
use half::f16;
use std::io::Write;

const BLOCK: usize = 32;
const Q8_0: i32 = 8;
/// `GGML_FTYPE_MOSTLY_Q8_0`, plus a thousand for each version of ggml's quantised forms (2 today).
const MOSTLY_Q8_0: i32 = 2007;
const KEPT: [&str; 4] = [
    "encoder.conv1.bias",
    "encoder.conv2.bias",
    "encoder.positional_embedding",
    "decoder.positional_embedding",
];

/// Writes the q8_0 form of a half-precision ggml file.
pub(crate) fn q8_0(file: &[u8], out: &mut impl Write) -> Result<(), ModelError> {
    let mut walk = Walk::begin(file)?;
    let mut head = file[walk.head.clone()].to_vec();
    head[FORM].copy_from_slice(&MOSTLY_Q8_0.to_le_bytes());
    out.write_all(&head).map_err(bad)?;
    while let Some(tensor) = walk.step()? {
        write(&tensor, &file[tensor.place.clone()], out)?;
    }
    Ok(())
}

fn write(tensor: &Tensor<'_>, bytes: &[u8], out: &mut impl Write) -> Result<(), ModelError> {
    let smaller = tensor.shape.len() == 2
        && !KEPT.contains(&tensor.name)
        && tensor.kind == F16
        && tensor.shape[0].is_multiple_of(BLOCK);
    let kind = if smaller { Q8_0 } else { tensor.kind };
    tensor_header(out, tensor.name, &tensor.shape, kind).map_err(bad)?;
    if !smaller {
        return out.write_all(bytes).map_err(bad);
    }
    let mut blocks = Vec::with_capacity(bytes.len() / 2 + bytes.len() / 32);
    for block in bytes.chunks_exact(2 * BLOCK) {
        let mut values = [0.0f32; BLOCK];
        for (v, b) in values.iter_mut().zip(block.as_chunks::<2>().0) {
            *v = f16::from_le_bytes(*b).to_f32();
        }
        blocks.extend(quantise(&values));
    }
    out.write_all(&blocks).map_err(bad)
}

/// Returns a block's scale and its 32 bytes.
fn quantise(values: &[f32; BLOCK]) -> [u8; 2 + BLOCK] {
    let largest = values.iter().fold(0.0f32, |m, v| m.max(v.abs()));
    let scale = largest / 127.0;
    let inverse = if scale == 0.0 { 0.0 } else { 1.0 / scale };
    let mut block = [0; 2 + BLOCK];
    block[..2].copy_from_slice(&f16::from_f32(scale).to_le_bytes());
    for (b, v) in block[2..].iter_mut().zip(values) {
        *b = (v * inverse).round() as i8 as u8;
    }
    block
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_keeps_its_largest_value_and_its_zeros() {
        let mut values = [0.0f32; BLOCK];
        values[3] = -2.0;
        values[4] = 1.0;
        let block = quantise(&values);
        let scale = f16::from_le_bytes([block[0], block[1]]).to_f32();
        assert!((scale - 2.0 / 127.0).abs() < 1e-5);
        assert_eq!(block[2 + 3] as i8, -127);
        assert_eq!(block[2 + 4] as i8, 64, "63.5 rounds away from zero, as C's roundf does");
        assert_eq!(block[2], 0);
    }

    #[test]
    fn a_silent_block_has_scale_nought() {
        assert_eq!(quantise(&[0.0; BLOCK]), [0; 2 + BLOCK]);
    }

    #[test]
    fn every_value_comes_back_within_half_a_step() {
        let values: [f32; BLOCK] = std::array::from_fn(|i| ((i * 37 % 64) as f32 - 31.0) * 0.01);
        let block = quantise(&values);
        let scale = f16::from_le_bytes([block[0], block[1]]).to_f32();
        for (v, b) in values.iter().zip(&block[2..]) {
            assert!((v - f32::from(*b as i8) * scale).abs() <= scale * 0.51, "{v}");
        }
    }
}
