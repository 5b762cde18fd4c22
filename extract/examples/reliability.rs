//! Draws the reliability plot from what `score.py --json` prints.
//!
//! `reliability NAME=FILE… > docs/reliability.svg`

use std::fmt::Write as _;

const SIDE: f64 = 320.0;
const LEFT: f64 = 56.0;
const TOP: f64 = 24.0;
const COLOURS: [&str; 5] = ["#1b6ca8", "#c0562b", "#3d8b4f", "#7a4f9c", "#555555"];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut svg = String::new();
    let (w, h) = (LEFT + SIDE + 190.0, TOP + SIDE + 56.0);
    writeln!(
        svg,
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" font-family="sans-serif" font-size="12">"#
    )?;
    writeln!(
        svg,
        r##"<title>Reliability: the share that was right against the confidence given</title><rect width="{w}" height="{h}" fill="#ffffff"/>"##
    )?;
    // Everything of interest lies above one half.
    let x = |v: f64| LEFT + (v - 0.5) / 0.5 * SIDE;
    let y = |v: f64| TOP + SIDE - (v - 0.5) / 0.5 * SIDE;
    for step in 0..=5 {
        let v = 0.5 + f64::from(step) / 10.0;
        writeln!(
            svg,
            r##"<line x1="{:.1}" y1="{:.1}" x2="{:.1}" y2="{:.1}" stroke="#dddddd"/>"##,
            x(0.5),
            y(v),
            x(1.0),
            y(v)
        )?;
        writeln!(
            svg,
            r#"<text x="{:.1}" y="{:.1}" text-anchor="end">{v:.1}</text>"#,
            LEFT - 6.0,
            y(v) + 4.0
        )?;
        writeln!(
            svg,
            r#"<text x="{:.1}" y="{:.1}" text-anchor="middle">{v:.1}</text>"#,
            x(v),
            TOP + SIDE + 18.0
        )?;
    }
    writeln!(
        svg,
        r##"<line x1="{:.1}" y1="{:.1}" x2="{:.1}" y2="{:.1}" stroke="#999999" stroke-dasharray="4 4"/>"##,
        x(0.5),
        y(0.5),
        x(1.0),
        y(1.0)
    )?;
    writeln!(
        svg,
        r#"<text x="{:.1}" y="{:.1}" text-anchor="middle">confidence given</text>"#,
        x(0.75),
        TOP + SIDE + 40.0
    )?;
    writeln!(
        svg,
        r#"<text transform="translate(16 {:.1}) rotate(-90)" text-anchor="middle">share right</text>"#,
        y(0.75)
    )?;
    for (k, argument) in std::env::args().skip(1).enumerate() {
        let (name, file) = argument.split_once('=').ok_or("arguments are NAME=FILE")?;
        let score: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(file)?)?;
        let colour = COLOURS[k % COLOURS.len()];
        for bin in score["calibration"]["bins"].as_array().into_iter().flatten() {
            let (Some(given), Some(right), Some(n)) =
                (bin["confidence"].as_f64(), bin["right"].as_f64(), bin["n"].as_f64())
            else {
                continue;
            };
            let radius = 2.0 + n.sqrt() / 3.0;
            let (cx, cy) = (x(given.max(0.5)), y(right.max(0.5)));
            writeln!(
                svg,
                r#"<circle cx="{cx:.1}" cy="{cy:.1}" r="{radius:.1}" fill="{colour}" fill-opacity="0.6"><title>{name}: {given:.3} given, {right:.3} right, {n} entries</title></circle>"#
            )?;
        }
        let ece = score["calibration"]["ece"].as_f64().unwrap_or(f64::NAN);
        writeln!(
            svg,
            r#"<text x="{:.1}" y="{:.1}" fill="{colour}">{name}: error {ece:.3}</text>"#,
            LEFT + SIDE + 14.0,
            TOP + 14.0 + 20.0 * k as f64
        )?;
    }
    writeln!(svg, "</svg>")?;
    print!("{svg}");
    Ok(())
}
