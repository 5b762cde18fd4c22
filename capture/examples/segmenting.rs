//! Measures how well notes are cut, and prints the table in `docs/listening.md`.
//!
//! `cargo run --release -p capture --example segmenting`, with shared sound at `../shared` or `VARVEL_SHARED`.

#[path = "../tests/scene/mod.rs"]
mod scene;

use std::{path::PathBuf, time::Instant};

use capture::segment::{RATE, Settings};
use scene::{Score, Spoken, cut, files, lay_out, noise, noise_alone, score, shared, spoken};

fn main() {
    let (Some(dev), Some(noises)) = (shared("dev"), shared("noise")) else { return };
    let settings = Settings::default();
    let notes: Vec<Spoken> = files(&dev).iter().map(|p: &PathBuf| spoken(p)).collect();
    let noises: Vec<(String, Vec<f32>)> = files(&noises).iter().map(|p| noise(p)).collect();
    let began = Instant::now();
    let mut heard = 0;

    println!("| speech over noise | played | found | start cut | end cut | split | merged | false |");
    println!("|---|---|---|---|---|---|---|---|");
    let clean = lay_out(&notes, None, 1);
    heard += clean.samples.len();
    row("clean", score(&clean.schedule, &cut(&clean.samples, settings)));
    let mut by_noise = vec![Score::default(); noises.len()];
    for below in [20.0, 10.0, 5.0] {
        let mut all = Score::default();
        for (k, (_, noise)) in noises.iter().enumerate() {
            let some: Vec<Spoken> = notes.iter().skip(k).step_by(noises.len()).cloned().collect();
            let scene = lay_out(&some, Some((noise, below)), k as u64 + 100 * below as u64);
            heard += scene.samples.len();
            let one = score(&scene.schedule, &cut(&scene.samples, settings));
            by_noise[k] = by_noise[k].plus(one);
            all = all.plus(one);
        }
        row(&format!("{below} dB"), all);
    }

    println!();
    println!(
        "| noise | of the notes above found | cut | alone, 95 s each: softer by 12 dB | as it is | louder by 12 dB |"
    );
    println!("|---|---|---|---|---|---|");
    let mut falsely = [0, 0, 0];
    for (k, (name, noise)) in noises.iter().enumerate() {
        let alone = [0.25, 1.0, 4.0].map(|gain| {
            let sound = noise_alone(noise, gain, 95);
            heard += sound.len();
            cut(&sound, settings).len()
        });
        (0..3).for_each(|i| falsely[i] += alone[i]);
        let s = by_noise[k];
        let cut = s.start_cut + s.end_cut;
        println!(
            "| {name} | {} of {} | {cut} | {} | {} | {} |",
            s.found, s.played, alone[0], alone[1], alone[2]
        );
    }
    println!(
        "| **all, {:.0} min each** | | | {} | {} | {} |",
        noises.len() as f64 * 95.0 / 60.0,
        falsely[0],
        falsely[1],
        falsely[2]
    );
    let sound_s = heard as f64 / f64::from(RATE);
    eprintln!("{:.0} min of sound in {:.0} s", sound_s / 60.0, began.elapsed().as_secs_f64());
}

fn row(what: &str, s: Score) {
    println!(
        "| {what} | {} | {} | {} | {} | {} | {} | {} |",
        s.played, s.found, s.start_cut, s.end_cut, s.split, s.merged, s.extra
    );
}
