//! Plays back, on any compiler, every file in `fuzz/regressions` and `fuzz/corpus`, and bytes damaged on purpose.

use std::fs;
use std::path::Path;

#[path = "../fuzz/bodies.rs"]
mod bodies;

/// Returns the files that once broke a target or could have, and those by which the fuzzer got far into it.
fn kept(target: &str) -> Vec<Vec<u8>> {
    let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz");
    let folders = ["regressions", "corpus"].map(|kind| fuzz.join(kind).join(target));
    let entries = folders.iter().filter_map(|folder| fs::read_dir(folder).ok()).flatten();
    entries.map(|entry| fs::read(entry.expect("an entry").path()).expect("a file")).collect()
}

/// Bytes that any reader should expect to meet.
fn seeds() -> Vec<Vec<u8>> {
    let noise: Vec<u8> = (0..4000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    vec![Vec::new(), vec![0], vec![0xff; 3], vec![0; 4096], noise, "\u{feff}é\r\n\"".repeat(50).into_bytes()]
}

/// Beginnings by which readers tell what a file is.
const HEADS: [&[u8]; 9] = [
    b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x01\0\x80\x3e\0\0\0\x7d\0\0\x02\0\x10\0data\xff\xff\xff\xff",
    b"OggS\0\x02\0\0\0\0\0\0\0\0\x01\0\0\0\0\0\0\0\0\0\0\0\x01\x13OpusHead\x01\x01\x38\x01\x80\xbb\0\0\0\0\0",
    b"\0\0\0\x1cftypM4A \0\0\0\0M4A mp42isom\xff\xff\xff\xffmoov",
    b"\x1a\x45\xdf\xa3\x01\xff\xff\xff\xff\xff\xff\xff",
    b"fLaC\0\0\0\x22\xff\xff\xff\xff",
    b"\xff\xd8\xff\xe1\xff\xffExif\0\0MM\0\x2a\xff\xff\xff\xff",
    b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\xff\xff\xff\xff\xff\xff\xff\xff\x08\x02\0\0\0",
    b"\0\0\0\x18ftypheic\0\0\0\0mif1heic\xff\xff\xff\xffmeta",
    b"PK\x03\x04\x14\0\0\0\x08\0\0\0\0\0\0\0\0\0\xff\xff\xff\xff\xff\xff\xff\xff\x04\0\0\0a/../b",
];

#[test]
fn what_once_broke_a_reader_does_not_break_it_again() {
    for (target, body) in bodies::ALL {
        for bytes in kept(target).iter().chain(&seeds()) {
            body(bytes);
        }
    }
}

#[test]
fn files_that_begin_well_and_go_on_badly_break_nothing() {
    for (_, body) in bodies::ALL {
        for head in HEADS {
            for tail in seeds() {
                body(&[head, &tail].concat());
            }
            body(&head[..head.len() / 2]);
        }
    }
}

#[test]
fn every_folder_of_kept_inputs_belongs_to_a_target() {
    let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz");
    let folders = ["regressions", "corpus"].into_iter().filter_map(|kind| fs::read_dir(fuzz.join(kind)).ok());
    for entry in folders.flatten() {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        assert!(bodies::ALL.iter().any(|(target, _)| *target == name), "{name} belongs to no target");
    }
}
