//! The mel filters and the vocabulary, from OpenAI's own source package.

use crate::ModelError;
use crate::error::bad;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use std::io::{Cursor, Read};

/// The parts of a model file that are no weights.
pub(crate) struct Assets {
    /// Filters, row by row: 80 bands of 201 values.
    pub(crate) mel: Vec<f32>,
    /// Tokens of the English models, in order of rank.
    pub(crate) english: Vec<Vec<u8>>,
    /// Tokens of the multilingual models, in order of rank.
    pub(crate) multilingual: Vec<Vec<u8>>,
}

pub(crate) const MEL_BANDS: usize = 80;
pub(crate) const MEL_BINS: usize = 201;

impl Assets {
    /// Reads them out of the source package (a gzipped tar).
    pub(crate) fn from_sdist(gz: &[u8]) -> Result<Self, ModelError> {
        let mut files = [None, None, None];
        let wanted = ["assets/mel_filters.npz", "assets/gpt2.tiktoken", "assets/multilingual.tiktoken"];
        let mut archive = tar::Archive::new(flate2::read::GzDecoder::new(gz));
        for entry in archive.entries().map_err(bad)? {
            let mut entry = entry.map_err(bad)?;
            let path = entry.path().map_err(bad)?.into_owned();
            if let Some(i) = wanted.iter().position(|w| path.ends_with(w)) {
                let mut bytes = Vec::new();
                entry.read_to_end(&mut bytes).map_err(bad)?;
                files[i] = Some(bytes);
            }
        }
        let [Some(mel), Some(english), Some(multilingual)] = files else {
            return Err(bad("the filters or the vocabulary are missing from it"));
        };
        Ok(Self { mel: filters(mel)?, english: tokens(&english)?, multilingual: tokens(&multilingual)? })
    }
}

/// Reads `mel_80` of a NumPy archive of float32 arrays.
fn filters(npz: Vec<u8>) -> Result<Vec<f32>, ModelError> {
    let mut zip = zip::ZipArchive::new(Cursor::new(npz)).map_err(bad)?;
    let mut npy = Vec::new();
    zip.by_name("mel_80.npy").map_err(bad)?.read_to_end(&mut npy).map_err(bad)?;
    // NumPy's format, version 1: magic, version, a 16-bit length, a header in words, the values.
    let header_len = match npy.get(..10) {
        Some([0x93, b'N', b'U', b'M', b'P', b'Y', 1, 0, lo, hi]) => {
            usize::from(u16::from_le_bytes([*lo, *hi]))
        }
        _ => return Err(bad("the mel filters are not in NumPy's format")),
    };
    let header = String::from_utf8_lossy(npy.get(10..10 + header_len).unwrap_or_default()).into_owned();
    let values = npy.get(10 + header_len..).unwrap_or_default();
    let right = header.contains("'<f4'")
        && header.contains("'fortran_order': False")
        && header.contains(&format!("({MEL_BANDS}, {MEL_BINS})"))
        && values.len() == MEL_BANDS * MEL_BINS * 4;
    if !right {
        return Err(bad("the mel filters have another shape"));
    }
    // + 0: the published model files have 0.0 where today's archive has -0.0.
    Ok(values.as_chunks::<4>().0.iter().map(|b| f32::from_le_bytes(*b) + 0.0).collect())
}

/// Reads a vocabulary: one line a token, base64 and rank.
fn tokens(text: &[u8]) -> Result<Vec<Vec<u8>>, ModelError> {
    let text = std::str::from_utf8(text).map_err(bad)?;
    text.lines()
        .filter(|line| !line.is_empty())
        .enumerate()
        .map(|(i, line)| {
            let (token, rank) = line.split_once(' ').ok_or_else(|| bad("a vocabulary line has no rank"))?;
            if rank.parse() != Ok(i) {
                return Err(bad("the vocabulary is out of order"));
            }
            // The multilingual list has one token of no bytes, written as bare padding.
            if token == "=" { Ok(Vec::new()) } else { BASE64_STANDARD.decode(token).map_err(bad) }
        })
        .collect()
}
