//! Adds what a model was taught: to each linear layer a product of two thin matrices.
//!
//! The change is trained by `models/speech/train.py` and kept in the open safetensors form: for a layer `L`,
//! `L.a` (rank by inputs) and `L.b` (outputs by rank), both in half precision; the layer's weights become W + b·a.

use crate::ModelError;
use crate::error::bad;
use crate::ggml::F16;
use crate::tensors::Walk;
use half::f16;
use safetensors::{Dtype, SafeTensors};

/// What base was taught.
pub(crate) const CHANGE: &[u8] = include_bytes!("../speech/field-2.safetensors");

/// A thin matrix of the change, widened.
struct Thin {
    rows: usize,
    columns: usize,
    values: Vec<f32>,
}

/// Returns the model `file` (half precision) with `change` added to its weights.
///
/// Sums run in one fixed order in single precision, so that every machine makes the same bytes.
pub(crate) fn add(mut file: Vec<u8>, change: &[u8]) -> Result<Vec<u8>, ModelError> {
    let change = SafeTensors::deserialize(change).map_err(bad)?;
    let mut sums = Vec::new();
    let mut walk = Walk::begin(&file)?;
    let mut met = 0;
    while let Some(tensor) = walk.step()? {
        let Some(layer) = tensor.name.strip_suffix(".weight") else { continue };
        if change.tensor(&format!("{layer}.a")).is_err() {
            continue;
        }
        let (a, b) = (thin(&change, &format!("{layer}.a"))?, thin(&change, &format!("{layer}.b"))?);
        let fits =
            tensor.kind == F16 && tensor.shape == [a.columns, b.rows] && a.rows == b.columns && a.rows > 0;
        if !fits {
            return Err(bad(format!("what was taught does not fit the layer {layer}")));
        }
        sums.push((tensor.place.clone(), summed(&file[tensor.place], &a, &b)));
        met += 2;
    }
    if met != change.len() {
        return Err(bad("what was taught is for another model"));
    }
    for (place, bytes) in sums {
        file[place].copy_from_slice(&bytes);
    }
    Ok(file)
}

fn thin(change: &SafeTensors<'_>, name: &str) -> Result<Thin, ModelError> {
    let tensor = change.tensor(name).map_err(bad)?;
    let [rows, columns] = *tensor.shape() else {
        return Err(bad(format!("{name} is no matrix")));
    };
    if tensor.dtype() != Dtype::F16 {
        return Err(bad(format!("{name} is not in half precision")));
    }
    let values = tensor.data().as_chunks::<2>().0.iter().map(|b| f16::from_le_bytes(*b).to_f32()).collect();
    Ok(Thin { rows, columns, values })
}

fn summed(weights: &[u8], a: &Thin, b: &Thin) -> Vec<u8> {
    let mut out = Vec::with_capacity(weights.len());
    let mut row = vec![0.0f32; a.columns];
    for (old, thin) in weights.chunks_exact(2 * a.columns).zip(b.values.chunks_exact(b.columns)) {
        row.fill(0.0);
        for (by, part) in thin.iter().zip(a.values.chunks_exact(a.columns)) {
            for (sum, value) in row.iter_mut().zip(part) {
                *sum += by * value;
            }
        }
        for (sum, old) in row.iter().zip(old.as_chunks::<2>().0) {
            out.extend(f16::from_f32(f16::from_le_bytes(*old).to_f32() + sum).to_le_bytes());
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ggml::{MAGIC, tensor_header};
    use safetensors::tensor::{TensorView, serialize};

    fn halves(values: &[f32]) -> Vec<u8> {
        values.iter().flat_map(|v| f16::from_f32(*v).to_le_bytes()).collect()
    }

    /// A model of one layer with three inputs and two outputs.
    fn model() -> Vec<u8> {
        let mut file: Vec<u8> = [MAGIC as i32, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0]
            .iter()
            .flat_map(|n| n.to_le_bytes())
            .collect();
        tensor_header(&mut file, "mlp.weight", &[3, 2], F16).unwrap();
        file.extend(halves(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]));
        file
    }

    fn taught(layer: &str, a: &[f32], columns: usize) -> Vec<u8> {
        let (a, b) = (halves(a), halves(&[1.0, 10.0]));
        let view = |shape: Vec<usize>, data| TensorView::new(Dtype::F16, shape, data).unwrap();
        let parts = [
            (format!("{layer}.a"), view(vec![1, columns], &a[..])),
            (format!("{layer}.b"), view(vec![2, 1], &b[..])),
        ];
        serialize(parts, None).unwrap()
    }

    #[test]
    fn the_product_is_added_to_the_layer() {
        let new = add(model(), &taught("mlp", &[0.5, 0.0, -1.0], 3)).unwrap();
        let old = model();
        let head = old.len() - 12;
        assert_eq!(new[..head], old[..head]);
        assert_eq!(new[head..], halves(&[1.5, 2.0, 2.0, 9.0, 5.0, -4.0]));
    }

    #[test]
    fn a_change_for_another_model_is_refused() {
        for change in
            [taught("other", &[0.5, 0.0, -1.0], 3), taught("mlp", &[0.5, 0.0], 2), b"no such form".to_vec()]
        {
            assert!(matches!(add(model(), &change), Err(ModelError::Convert { .. })));
        }
    }
}
