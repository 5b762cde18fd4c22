//! From the steps of the strip network to text and its probability (connectionist temporal classification:
//! Graves et al., ICML 2006, sections 3 and 4.1).

use crate::net::Tensor;

/// The characters after the blank, in the network's order.
pub(crate) const ALPHABET: &[u8; 13] = b"0123456789.:-";

/// The logarithms of the classes' probabilities, step by step.
#[derive(Clone, Debug)]
pub(crate) struct Steps(Vec<[f32; ALPHABET.len() + 1]>);

impl Steps {
    /// Takes the network's output, 14 classes by steps.
    pub(crate) fn from_logits(out: &Tensor) -> Self {
        let mut steps = vec![[0.0; ALPHABET.len() + 1]; out.w];
        for (t, step) in steps.iter_mut().enumerate() {
            for (c, v) in step.iter_mut().enumerate() {
                *v = out.plane(c)[t];
            }
            let top = step.iter().copied().fold(f32::MIN, f32::max);
            let sum: f32 = step.iter().map(|v| (v - top).exp()).sum();
            for v in step.iter_mut() {
                *v -= top + sum.ln();
            }
        }
        Self(steps)
    }

    /// Returns the text of the likeliest path.
    pub(crate) fn best_path(&self) -> String {
        let mut text = String::new();
        let mut before = 0;
        for step in &self.0 {
            let c = (0..step.len()).max_by(|a, b| step[*a].total_cmp(&step[*b])).unwrap_or(0);
            if c != 0 && c != before {
                text.push(char::from(ALPHABET[c - 1]));
            }
            before = c;
        }
        text
    }

    /// Returns the probability of a text, over all the ways of laying it out along the steps.
    pub(crate) fn probability(&self, text: &str) -> f64 {
        let classes: Option<Vec<usize>> =
            text.bytes().map(|b| ALPHABET.iter().position(|a| *a == b).map(|i| i + 1)).collect();
        let Some(classes) = classes else { return 0.0 };
        // The text with a blank before, between and after.
        let path: Vec<usize> = std::iter::once(0).chain(classes.into_iter().flat_map(|c| [c, 0])).collect();
        let mut alpha = vec![f64::NEG_INFINITY; path.len()];
        for (t, step) in self.0.iter().enumerate() {
            let at = |i: usize| f64::from(step[path[i]]);
            let next = (0..path.len())
                .map(|i| {
                    if t == 0 {
                        return if i < 2 { at(i) } else { f64::NEG_INFINITY };
                    }
                    let mut sum = alpha[i];
                    if i > 0 {
                        sum = log_add(sum, alpha[i - 1]);
                    }
                    if i > 1 && path[i] != 0 && path[i] != path[i - 2] {
                        sum = log_add(sum, alpha[i - 2]);
                    }
                    sum + at(i)
                })
                .collect();
            alpha = next;
        }
        let last = alpha.len() - 1;
        let total = if last == 0 { alpha[0] } else { log_add(alpha[last], alpha[last - 1]) };
        total.exp()
    }
}

fn log_add(a: f64, b: f64) -> f64 {
    let (hi, lo) = if a > b { (a, b) } else { (b, a) };
    if lo == f64::NEG_INFINITY { hi } else { hi + (lo - hi).exp().ln_1p() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(n: usize, seed: u32) -> Steps {
        let mut s = seed;
        let mut t = Tensor::zeros(14, 1, n);
        for v in &mut t.data {
            s = s.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *v = (s >> 16) as f32 / 16_384.0 - 2.0;
        }
        Steps::from_logits(&t)
    }

    /// Every path of three steps is laid out and summed by the text it means: the definition, equation 3 of the paper.
    #[test]
    fn the_probability_is_the_sum_over_paths() {
        let s = steps(3, 7);
        let mut by_text = std::collections::HashMap::<String, f64>::new();
        for path in 0..14usize.pow(3) {
            let classes = [path % 14, path / 14 % 14, path / 196];
            let p: f64 = classes.iter().zip(&s.0).map(|(c, step)| f64::from(step[*c])).sum();
            let mut text = String::new();
            for (i, c) in classes.iter().enumerate() {
                if *c != 0 && (i == 0 || classes[i - 1] != *c) {
                    text.push(char::from(ALPHABET[c - 1]));
                }
            }
            *by_text.entry(text).or_default() += p.exp();
        }
        assert!((by_text.values().sum::<f64>() - 1.0).abs() < 1e-5);
        for text in ["", "7", "77", "7.7", "12", "-5", "000"] {
            let want = by_text.get(text).copied().unwrap_or(0.0);
            assert!((s.probability(text) - want).abs() < 1e-9, "{text}");
        }
        assert_eq!(s.probability("kg"), 0.0);
    }
}
