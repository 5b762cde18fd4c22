//! Writes weights in whisper.cpp's own form.
//!
//! Names, order and types follow whisper.cpp's `models/convert-pt-to-ggml.py`, so that half-precision
//! weights give the very bytes of the published file, which its published SHA-1 proves.

use crate::ModelError;
use crate::assets::{Assets, MEL_BANDS, MEL_BINS};
use crate::ct2::{View, Weights};
use std::io::{self, Write};

/// "ggml", read as a little-endian number.
pub(crate) const MAGIC: u32 = 0x6767_6d6c;
/// The fewest tokens that a multilingual vocabulary has.
const MULTILINGUAL: usize = 51_865;
pub(crate) const F32: i32 = 0;
pub(crate) const F16: i32 = 1;
const MOSTLY_F16: i32 = 1;

/// Writes the half-precision ggml file of `weights`.
pub(crate) fn write(weights: &Weights, assets: &Assets, out: &mut impl Write) -> Result<(), ModelError> {
    let plan = plan(weights)?;
    header(weights, assets, out)?;
    for tensor in &plan {
        tensor.write(out).map_err(cannot_write)?;
    }
    Ok(())
}

fn header(weights: &Weights, assets: &Assets, out: &mut impl Write) -> Result<(), ModelError> {
    let dims = |name: &str, axis: usize| -> Result<i32, ModelError> {
        Ok(weights.shape(name)?.get(axis).copied().unwrap_or(0) as i32)
    };
    let vocabulary = dims("decoder/embeddings/weight", 0)?;
    let width = dims("decoder/embeddings/weight", 1)?;
    if dims("encoder/conv1/weight", 1)? != MEL_BANDS as i32 {
        return Err(ModelError::Convert { why: "it hears another number of mel bands".to_owned() });
    }
    let numbers = [
        MAGIC as i32,
        vocabulary,
        dims("encoder/position_encodings/encodings", 0)?,
        width,
        weights.number("encoder/num_heads")?,
        weights.layers("encoder") as i32,
        dims("decoder/position_encodings/encodings", 0)?,
        width,
        weights.number("decoder/num_heads")?,
        weights.layers("decoder") as i32,
        MEL_BANDS as i32,
        MOSTLY_F16,
        MEL_BANDS as i32,
        MEL_BINS as i32,
    ];
    let mut bytes: Vec<u8> = numbers.iter().flat_map(|n| n.to_le_bytes()).collect();
    bytes.extend(assets.mel.iter().flat_map(|v| v.to_le_bytes()));
    let end_of_text = b"<|endoftext|>".to_vec();
    let tokens: Vec<&Vec<u8>> = if vocabulary as usize >= MULTILINGUAL {
        assets.multilingual.iter().collect()
    } else {
        // The published English files carry the closing token as a word.
        assets.english.iter().chain([&end_of_text]).collect()
    };
    bytes.extend((tokens.len() as i32).to_le_bytes());
    for token in tokens {
        bytes.extend((token.len() as i32).to_le_bytes());
        bytes.extend(token);
    }
    out.write_all(&bytes).map_err(cannot_write)
}

fn cannot_write(e: io::Error) -> ModelError {
    ModelError::Convert { why: format!("the file could not be written: {e}") }
}

/// A tensor as it will stand in the file.
struct Planned<'a> {
    name: String,
    /// Fastest axis first, as ggml counts.
    shape: Vec<usize>,
    wide: bool,
    values: View<'a>,
}

impl Planned<'_> {
    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let kind = if self.wide { F32 } else { F16 };
        tensor_header(out, &self.name, &self.shape, kind)?;
        if self.wide {
            let bytes: Vec<u8> = self.values.values().flat_map(f32::to_le_bytes).collect();
            out.write_all(&bytes)
        } else {
            out.write_all(self.values.bytes)
        }
    }
}

/// Writes what precedes a tensor's values.
pub(crate) fn tensor_header(out: &mut impl Write, name: &str, shape: &[usize], kind: i32) -> io::Result<()> {
    for n in [shape.len() as i32, name.len() as i32, kind] {
        out.write_all(&n.to_le_bytes())?;
    }
    for n in shape {
        out.write_all(&(*n as i32).to_le_bytes())?;
    }
    out.write_all(name.as_bytes())
}

/// Lists the tensors in the published order.
fn plan(weights: &Weights) -> Result<Vec<Planned<'_>>, ModelError> {
    let mut list = Plan { weights, list: Vec::new() };
    list.put("decoder.positional_embedding", "decoder/position_encodings/encodings")?;
    list.put("encoder.positional_embedding", "encoder/position_encodings/encodings")?;
    list.put("decoder.token_embedding.weight", "decoder/embeddings/weight")?;
    for i in 0..weights.layers("decoder") {
        list.block("decoder", i)?;
    }
    list.norm("decoder.ln", "decoder/layer_norm")?;
    for conv in ["conv1", "conv2"] {
        list.put(&format!("encoder.{conv}.weight"), &format!("encoder/{conv}/weight"))?;
        list.column(&format!("encoder.{conv}.bias"), &format!("encoder/{conv}/bias"))?;
    }
    for i in 0..weights.layers("encoder") {
        list.block("encoder", i)?;
    }
    list.norm("encoder.ln_post", "encoder/layer_norm")?;
    Ok(list.list)
}

struct Plan<'a> {
    weights: &'a Weights,
    list: Vec<Planned<'a>>,
}

impl<'a> Plan<'a> {
    fn push(&mut self, name: &str, shape: Vec<usize>, values: View<'a>) {
        // whisper.cpp keeps vectors, the convolutions' biases and the positions in single precision.
        let wide = shape.len() < 2
            || name.ends_with("positional_embedding")
            || name.ends_with("conv1.bias")
            || name.ends_with("conv2.bias");
        self.list.push(Planned { name: name.to_owned(), shape, wide, values });
    }

    fn put(&mut self, name: &str, from: &str) -> Result<(), ModelError> {
        let shape = self.weights.shape(from)?.iter().rev().copied().collect();
        self.push(name, shape, self.weights.view(from)?);
        Ok(())
    }

    /// Puts a vector as a matrix of one column.
    fn column(&mut self, name: &str, from: &str) -> Result<(), ModelError> {
        let values = self.weights.view(from)?;
        self.push(name, vec![1, values.rows], values);
        Ok(())
    }

    /// Puts part `n` of `of`, cut along the rows.
    fn part(&mut self, name: &str, from: &str, n: usize, of: usize) -> Result<(), ModelError> {
        let values = self.weights.view(from)?.part(n, of);
        let mut shape: Vec<usize> = self.weights.shape(from)?.iter().rev().copied().collect();
        if let Some(rows) = shape.last_mut() {
            *rows = values.rows;
        }
        self.push(name, shape, values);
        Ok(())
    }

    fn linear(&mut self, name: &str, from: &str) -> Result<(), ModelError> {
        self.put(&format!("{name}.weight"), &format!("{from}/weight"))?;
        self.put(&format!("{name}.bias"), &format!("{from}/bias"))
    }

    fn norm(&mut self, name: &str, from: &str) -> Result<(), ModelError> {
        self.put(&format!("{name}.weight"), &format!("{from}/gamma"))?;
        self.put(&format!("{name}.bias"), &format!("{from}/beta"))
    }

    fn block(&mut self, side: &str, i: usize) -> Result<(), ModelError> {
        let from = format!("{side}/layer_{i}");
        let to = format!("{side}.blocks.{i}");
        self.norm(&format!("{to}.mlp_ln"), &format!("{from}/ffn/layer_norm"))?;
        self.linear(&format!("{to}.mlp.0"), &format!("{from}/ffn/linear_0"))?;
        self.linear(&format!("{to}.mlp.2"), &format!("{from}/ffn/linear_1"))?;
        let own = format!("{from}/self_attention");
        self.norm(&format!("{to}.attn_ln"), &format!("{own}/layer_norm"))?;
        let fused = format!("{own}/linear_0");
        self.attention(
            &format!("{to}.attn"),
            [(&fused, 0, 3), (&fused, 1, 3), (&fused, 2, 3)],
            &format!("{own}/linear_1"),
        )?;
        if side == "decoder" {
            let cross = format!("{from}/attention");
            self.norm(&format!("{to}.cross_attn_ln"), &format!("{cross}/layer_norm"))?;
            let (q, kv) = (format!("{cross}/linear_0"), format!("{cross}/linear_1"));
            self.attention(
                &format!("{to}.cross_attn"),
                [(&q, 0, 1), (&kv, 0, 2), (&kv, 1, 2)],
                &format!("{cross}/linear_2"),
            )?;
        }
        Ok(())
    }

    /// Puts query, key and value, each a part of a fused projection, then the way out.
    fn attention(&mut self, to: &str, from: [(&str, usize, usize); 3], out: &str) -> Result<(), ModelError> {
        for (name, (from, n, of)) in ["query", "key", "value"].into_iter().zip(from) {
            self.part(&format!("{to}.{name}.weight"), &format!("{from}/weight"), n, of)?;
            let bias = format!("{from}/bias");
            if name != "key" {
                self.part(&format!("{to}.{name}.bias"), &bias, n, of)?;
            } else if self.weights.view(&bias)?.part(n, of).values().any(|v| v != 0.0) {
                // Whisper's key projection has no bias; the fused form stores zeros for it.
                return Err(ModelError::Convert { why: format!("{bias} should be zero for the keys") });
            }
        }
        self.linear(&format!("{to}.out"), out)
    }
}
