//! Where notes are cut: rules that hold for any sound.

mod scene;

use capture::segment::{Cut, Segmenter, Settings};
use proptest::prelude::*;

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
