//! What Varvel stands on: every direct dependency has its reason, and none is there for nothing.

use crate::layers;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Direct dependencies from outside, those of tests too, with the folders of the crates that name them.
fn direct() -> BTreeMap<String, Vec<PathBuf>> {
    let metadata = layers::metadata(&["--no-deps", "--offline"]);
    let packages = metadata["packages"].as_array().expect("packages");
    let mut out: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for package in packages {
        let manifest = Path::new(package["manifest_path"].as_str().expect("a path"));
        let folder = manifest.parent().expect("a folder").to_owned();
        for one in package["dependencies"].as_array().expect("dependencies") {
            // Ours come by path, theirs from a registry.
            if one["path"].is_null() {
                out.entry(one["name"].as_str().expect("a name").to_owned()).or_default().push(folder.clone());
            }
        }
    }
    out
}

#[test]
fn every_dependency_has_its_reason_and_every_reason_its_dependency() {
    let listed: BTreeSet<String> = include_str!("../docs/dependencies.md")
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split_once(" | "))
        .map(|(name, _)| name.to_owned())
        .filter(|name| name != "library")
        .collect();
    let used: BTreeSet<String> = direct().into_keys().collect();
    let unlisted: Vec<&String> = used.difference(&listed).collect();
    let stale: Vec<&String> = listed.difference(&used).collect();
    assert!(unlisted.is_empty(), "docs/dependencies.md does not say why we use {unlisted:?}");
    assert!(stale.is_empty(), "docs/dependencies.md speaks of {stale:?}, which nobody uses");
}

#[test]
fn no_dependency_is_there_for_nothing() {
    let mut unused = Vec::new();
    for (name, folders) in direct() {
        let module = name.replace('-', "_").replace("kamadak_exif", "exif").replace("heic_rs", "heic");
        for folder in folders {
            if !sources(&folder).iter().any(|text| names(text, &module)) {
                unused.push(format!("{} does not use {name}", folder.display()));
            }
        }
    }
    assert!(unused.is_empty(), "{unused:#?}");
}

#[test]
fn nothing_comes_in_under_a_licence_that_is_not_let_in() {
    let rules = include_str!("../deny.toml");
    let (_, list) = rules.split_once("allow = [").expect("a list of licences");
    let allowed: Vec<spdx::Licensee> = list[..list.find(']').expect("its end")]
        .split(',')
        .map(|name| name.trim().trim_matches('"'))
        .filter(|name| !name.is_empty())
        .map(|name| spdx::Licensee::parse(name).unwrap_or_else(|e| panic!("{name}: {e}")))
        .collect();
    let platform = format!("{}-unknown-linux-gnu", std::env::consts::ARCH);
    let metadata = layers::metadata(&["--filter-platform", &platform]);
    let mut wrong = Vec::new();
    for package in metadata["packages"].as_array().expect("packages") {
        let name = &package["name"];
        // ical names its licence by its file alone: Apache-2.0.
        let Some(licence) = package["license"].as_str() else {
            if name != "ical" {
                wrong.push(format!("{name} tells no licence"));
            }
            continue;
        };
        let expression = spdx::Expression::parse_mode(licence, spdx::ParseMode::LAX).expect(licence);
        if !expression.evaluate(|wanted| allowed.iter().any(|ours| ours.satisfies(wanted))) {
            wrong.push(format!("{name}: {licence}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Whether a source names a module as a word of its own.
fn names(text: &str, module: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    text.match_indices(module)
        .any(|(at, _)| !text[..at].ends_with(part) && !text[at + module.len()..].starts_with(part))
}

/// All Rust sources of a crate, those of its tests and examples too, but not of crates below it.
fn sources(folder: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut waiting: Vec<PathBuf> =
        ["src", "tests", "examples", "benches"].iter().map(|name| folder.join(name)).collect();
    while let Some(path) = waiting.pop() {
        let Ok(entries) = std::fs::read_dir(&path) else { continue };
        for path in entries.map(|entry| entry.expect("an entry").path()) {
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                out.push(std::fs::read_to_string(path).expect("a source"));
            }
        }
    }
    out
}
