//! Where notes are cut: rules that hold for any sound, and figures on real notes over real noise.

mod scene;

use capture::segment::{Cut, FRAME, Segmenter, Settings};
use proptest::prelude::*;
use scene::{Score, Spoken, cut, files, lay_out, noise, noise_alone, score, shared, spoken};

/// Sound of loud and soft stretches: buzz of a pitch, hiss, or silence.
fn any_sound() -> impl Strategy<Value = Vec<i16>> {
    let stretch = (0..3_u8, 1..40_usize, 0..12_000_i32, 80..300_usize);
    prop::collection::vec(stretch, 1..30).prop_map(|stretches| {
        let mut dice = scene::Dice(7);
        let mut sound = Vec::new();
        for (kind, length, loud, pitch) in stretches {
            for n in 0..length * 2_000 {
                sound.push(match kind {
                    0 => 0,
                    1 => ((dice.roll() * 2.0 - 1.0) * f64::from(loud)) as i16,
                    _ => (f64::from(loud) * (1.0 - 2.0 * (n % pitch) as f64 / pitch as f64)) as i16,
                });
            }
        }
        sound
    })
}

fn short() -> Settings {
    Settings {
        voice_s: 0.05,
        pause_s: 0.3,
        longest_s: 12.0,
        long_s: 9.0,
        long_pause_s: 0.1,
        stands_out_db: 0.0,
        ..Settings::default()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn cuts_come_in_order_and_never_overlap(sound in any_sound(), eager in any::<bool>()) {
        let settings = if eager { short() } else { Settings::default() };
        let mut segmenter = Segmenter::new(settings);
        let (mut open, mut last_end, mut heard) = (None, 0, 0);
        let mut cuts = Vec::new();
        for block in sound.chunks(1_000) {
            heard += block.len() as u64;
            let needed = segmenter.needed_from();
            let new = segmenter.push(block);
            for cut in &new {
                match *cut {
                    Cut::Opened(start) => {
                        prop_assert!(open.is_none());
                        prop_assert!(start >= last_end && start <= heard);
                        prop_assert!(start >= needed, "what was promised to be needless is not reached back for");
                        open = Some(start);
                    }
                    Cut::Closed(s) | Cut::Dropped(s) => {
                        prop_assert_eq!(open.take(), Some(s.start));
                        prop_assert!(s.end >= s.start && s.end <= heard);
                        prop_assert!(s.seconds() <= settings.longest_s + 0.1);
                        last_end = s.end;
                    }
                }
            }
            prop_assert!(segmenter.needed_from() >= needed.min(heard));
            prop_assert_eq!(segmenter.in_note(), open.is_some());
            cuts.extend(new);
        }
        if let Some(Cut::Closed(s) | Cut::Dropped(s)) = segmenter.finish() {
            prop_assert_eq!(open.take(), Some(s.start));
            prop_assert!(s.end <= sound.len() as u64);
        }
        prop_assert!(open.is_none());
    }

    #[test]
    fn the_parcels_make_no_difference(sound in any_sound(), parcel in 1..5_000_usize) {
        let cuts = |size: usize| {
            let mut segmenter = Segmenter::new(short());
            let mut cuts: Vec<Cut> = sound.chunks(size).flat_map(|b| segmenter.push(b)).collect();
            cuts.extend(segmenter.finish());
            cuts
        };
        prop_assert_eq!(cuts(parcel), cuts(sound.len()));
    }
}

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
