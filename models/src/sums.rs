//! Sums of files, in hex.

use crate::ModelError;
use sha1::Sha1;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::Read;
use std::path::Path;

fn hex(sum: &[u8]) -> String {
    sum.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

pub(crate) fn sha256_of(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

pub(crate) fn sha1_of(bytes: &[u8]) -> String {
    hex(&Sha1::digest(bytes))
}

/// Returns the SHA-256 of a file, read piece by piece.
pub(crate) fn sha256_of_file(path: &Path) -> Result<String, ModelError> {
    let mut file = File::open(path).map_err(ModelError::disk(path))?;
    let mut sum = Sha256::new();
    let mut piece = vec![0; 1 << 20];
    loop {
        match file.read(&mut piece).map_err(ModelError::disk(path))? {
            0 => return Ok(hex(&sum.finalize())),
            n => sum.update(&piece[..n]),
        }
    }
}
