//! Where notes are cut: figures on real notes over real noise.

mod scene;

use capture::segment::{FRAME, Settings};
use scene::{Score, Spoken, cut, files, lay_out, noise, noise_alone, score, shared, spoken};

#[test]
fn silence_and_steady_hum_are_no_notes() {
    let hum = |i: usize| (8_000.0 * (i as f64 * 0.0196).sin()) as i16;
    for sound in [vec![0; 60 * 16_000], (0..60 * 16_000).map(hum).collect(), vec![i16::MAX; FRAME * 100]] {
        assert_eq!(cut(&sound, Settings::default()), []);
    }
}

#[test]
fn notes_over_noise_are_found_whole() {
    let (Some(dev), Some(noises)) = (shared("dev"), shared("noise")) else { return };
    let notes: Vec<Spoken> = files(&dev).iter().step_by(8).map(|p| spoken(p)).collect();
    let clean = lay_out(&notes, None, 3);
    let got = score(&clean.schedule, &cut(&clean.samples, Settings::default()));
    assert_eq!(got, Score { played: notes.len(), found: notes.len(), ..Score::default() }, "clean");
    let mut all = Score::default();
    for (k, path) in files(&noises).iter().enumerate() {
        let (name, noise) = noise(path);
        let one = lay_out(&notes[k..=k], Some((&noise, 10.0)), k as u64);
        let got = score(&one.schedule, &cut(&one.samples, Settings::default()));
        assert_eq!(got.found, 1, "{name} at 10 dB");
        all = all.plus(got);
    }
    assert!(all.start_cut + all.end_cut <= 1 && all.split == 0 && all.extra == 0, "{all:?}");
}

#[test]
fn half_an_hour_of_noise_gives_at_most_one_note() {
    let Some(noises) = shared("noise") else { return };
    let noises = files(&noises);
    let each = 1_800 / noises.len() + 1;
    let falsely: Vec<(String, usize)> = noises
        .iter()
        .map(|path| {
            let (name, noise) = noise(path);
            (name, cut(&noise_alone(&noise, 1.0, each), Settings::default()).len())
        })
        .filter(|(_, notes)| *notes > 0)
        .collect();
    assert!(falsely.iter().map(|f| f.1).sum::<usize>() <= 1, "{falsely:?}");
}
