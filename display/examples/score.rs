//! Scores the reader on labelled photos: `score MANIFEST [--untouched|--all] [--rows] [--csv FILE] [--weights FILE]`.
//!
//! The manifest is JSON lines with `image` (beside the manifest), `reading`, `unit`, `kind`, `full_photo`.
//! Every third photo is left out unless `--untouched` (those alone) or `--all` is given.

use display::{Picture, Reader};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let manifest = args.first().ok_or("usage: score MANIFEST [--untouched|--all] [--rows] [--csv FILE]")?;
    let has = |flag: &str| args.iter().any(|a| a == flag);
    let mut csv = match args.iter().position(|a| a == "--csv").and_then(|i| args.get(i + 1)) {
        Some(path) => Some(std::fs::File::create(path)?),
        None => None,
    };
    let folder = std::path::Path::new(manifest).parent().unwrap_or(std::path::Path::new("."));
    let reader = match args.iter().position(|a| a == "--weights").and_then(|i| args.get(i + 1)) {
        Some(path) => Reader::from_weights(&std::fs::read(path)?)?,
        None => Reader::built_in(),
    };
    let mut by_kind: BTreeMap<String, (u32, u32)> = BTreeMap::new();
    let mut sure: Vec<(f64, bool)> = Vec::new();
    let (mut took, mut units) = (0.0, (0, 0));
    for (i, line) in std::fs::read_to_string(manifest)?.lines().enumerate() {
        if !has("--all") && (i % 3 == 2) != has("--untouched") {
            continue;
        }
        let m: serde_json::Value = serde_json::from_str(line)?;
        let name = m["image"].as_str().ok_or("no image named")?;
        let photo = image::open(folder.join(name))?.into_rgb8();
        let start = Instant::now();
        let picture = Picture::new(photo.width(), photo.height(), photo.as_raw())?;
        let (got, evidence, rows) = reader.read_with_rows(&picture);
        took += start.elapsed().as_secs_f64();
        let want = m["reading"].as_str().unwrap_or("");
        let text = got.reading.clone().unwrap_or_default();
        let right = text == want;
        let mut kind = m["kind"].as_str().unwrap_or("?").to_owned();
        if kind == "scale" {
            kind += if m["full_photo"] == true { ", whole photo" } else { ", cropped" };
        }
        let k = by_kind.entry(kind.clone()).or_default();
        k.0 += u32::from(right);
        k.1 += 1;
        if got.reading.is_some() {
            sure.push((got.confidence, right));
        }
        let unit = serde_json::to_value(got.unit)?;
        if !unit.is_null() {
            units.1 += 1;
            units.0 += u32::from(unit == m["unit"]);
        }
        if let Some(f) = &mut csv {
            let numbers =
                evidence.map_or(String::new(), |e| e.numbers().map(|n| format!("{n:.4}")).join(","));
            let shown = m["unit"].as_str().unwrap_or("");
            let told = unit.as_str().unwrap_or("");
            writeln!(f, "{name},{want},{text},{:.4},{right},{shown},{told},{numbers}", got.confidence)?;
        }
        if !right || has("--rows") {
            println!(
                "{name} {kind}: {text:?} not {want:?} at {:.3} unit {unit} box {:?}",
                got.confidence,
                got.place.map(<[u32; 4]>::from)
            );
            for c in rows.iter().take(5) {
                println!(
                    "      {:?} p {:.3} agree {:.2} digits {:.2} main {:.2} at {:?}",
                    c.text,
                    c.p,
                    c.agree,
                    c.digits,
                    c.main,
                    <[u32; 4]>::from(c.place)
                );
            }
        }
    }
    let (right, all) = by_kind.values().fold((0, 0), |a, k| (a.0 + k.0, a.1 + k.1));
    for (kind, (r, n)) in &by_kind {
        println!("{kind:28} {r:3} of {n:3}  {:.1} %", 100.0 * f64::from(*r) / f64::from(*n));
    }
    println!(
        "{:28} {right:3} of {all:3}  {:.1} %; {} of {} units told are right",
        "all",
        100.0 * f64::from(right) / f64::from(all),
        units.0,
        units.1
    );
    for floor in [0.2, 0.5, 0.8, 0.9, 0.95, 0.98] {
        let n: Vec<bool> = sure.iter().filter(|s| s.0 >= floor).map(|s| s.1).collect();
        println!("confidence >= {floor:.2}: {:3} right of {:3}", n.iter().filter(|r| **r).count(), n.len());
    }
    println!("{:.3} s a photo", took / f64::from(all));
    Ok(())
}
