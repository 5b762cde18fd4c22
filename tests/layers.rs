//! The house keeps its shape: who may use whom, read from `cargo metadata`.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// Every crate of ours with the crates of ours that it may use. Tests and benches may use no others.
const MAY_USE: &[(&str, &[&str])] = &[
    ("note", &[]),
    ("capture", &["note"]),
    ("speech", &["note"]),
    ("display", &["note"]),
    ("extract", &["note"]),
    ("store", &["note"]),
    ("advise", &["note"]),
    ("report", &["note"]),
    ("models", &[]),
    ("handover", &["note", "store"]),
    ("page", &["note", "store", "advise"]),
];

/// What a crate must not be able to do, by the library that would let it.
const MUST_NOT_KNOW: &[(&str, &[&str])] = &[
    ("note", &["rusqlite", "axum", "whisper-rs", "image", "regex"]),
    ("capture", &["rusqlite", "axum", "maud", "whisper-rs"]),
    ("speech", &["rusqlite", "axum", "maud", "cpal", "image"]),
    ("display", &["rusqlite", "axum", "maud", "whisper-rs", "cpal"]),
    ("extract", &["rusqlite", "axum", "maud", "whisper-rs", "cpal", "image", "tempfile"]),
    ("store", &["axum", "maud", "whisper-rs", "cpal", "symphonia", "image"]),
    ("advise", &["rusqlite", "axum", "maud", "whisper-rs", "cpal"]),
    ("report", &["rusqlite", "axum", "whisper-rs", "cpal"]),
    ("models", &["rusqlite", "axum", "maud", "cpal"]),
    ("handover", &["axum", "maud", "whisper-rs", "cpal", "image"]),
    ("page", &["whisper-rs", "cpal", "symphonia", "rusqlite", "image"]),
];

/// What cargo knows of the workspace, asked in this way.
pub fn metadata(how: &[&str]) -> serde_json::Value {
    let out = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1"])
        .args(how)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo metadata runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).expect("metadata is JSON")
}

/// Direct dependencies that ship (not those of tests), by package.
fn shipped() -> BTreeMap<String, BTreeSet<String>> {
    let metadata = metadata(&["--no-deps", "--offline"]);
    let packages = metadata["packages"].as_array().expect("packages");
    packages
        .iter()
        .map(|package| {
            let uses = package["dependencies"].as_array().expect("dependencies").iter();
            let uses = uses.filter(|d| d["kind"].is_null());
            (
                package["name"].as_str().expect("a name").to_owned(),
                uses.map(|d| d["name"].as_str().expect("a name").to_owned()).collect(),
            )
        })
        .collect()
}

#[test]
fn every_arrow_between_crates_is_an_allowed_one() {
    let uses = shipped();
    let ours: BTreeSet<&String> = uses.keys().filter(|name| *name != "varvel").collect();
    let known: BTreeSet<&str> = MAY_USE.iter().map(|(name, _)| *name).collect();
    for name in &ours {
        assert!(known.contains(name.as_str()), "{name} is new: give it a line in the table");
    }
    for (name, allowed) in MAY_USE {
        let Some(found) = uses.get(*name) else { continue };
        for edge in found.iter().filter(|edge| ours.contains(edge)) {
            assert!(allowed.contains(&edge.as_str()), "{name} must not use {edge}");
        }
    }
}

#[test]
fn no_crate_holds_a_library_for_what_it_must_not_know() {
    let uses = shipped();
    for (name, forbidden) in MUST_NOT_KNOW {
        let Some(found) = uses.get(*name) else { continue };
        for library in *forbidden {
            assert!(!found.contains(*library), "{name} must not know {library}");
        }
    }
}

#[test]
fn every_test_file_is_a_module_of_the_one_test_binary() {
    let main = include_str!("main.rs");
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests");
    for file in std::fs::read_dir(folder).expect("tests folder") {
        let name = file.expect("an entry").file_name().into_string().expect("a plain name");
        if let Some(module) = name.strip_suffix(".rs").filter(|module| *module != "main") {
            assert!(main.contains(&format!("mod {module};")), "tests/{name} is forgotten in tests/main.rs");
        }
    }
}
