//! Photos beside weights.

use crate::common::*;
use note::*;
use store::*;

const T: fn(u32) -> String = |minute| format!("2026-03-14T08:{minute:02}:00+00:00");

/// A record with Sedge (last 640 g) and Flint (last 210 g).
fn two_birds() -> (Home, BirdId, BirdId) {
    let home = home();
    let sedge = home.store.add_bird(bird("Sedge"), &ada()).unwrap();
    let flint = home.store.add_bird(bird("Flint"), &ada()).unwrap();
    for (name, grams) in [("Sedge", 640.0), ("Flint", 210.0)] {
        home.store.enter(entry(Some(name), "2026-03-13T08:00:00Z", [0, 0], weight(grams)), &ada()).unwrap();
    }
    (home, sedge, flint)
}

fn say(home: &Home, bird: &str, minute: u32, grams: f64) -> EntryId {
    let note = home.spoken(format!("{bird}{minute}{grams}").as_bytes(), &T(minute));
    let said = entry(Some(bird), &T(minute), [0, 5], weight(grams));
    home.store.propose(&note, vec![said]).unwrap().remove(0)
}

fn beside(home: &Home, weight: &EntryId) -> Option<PhotoId> {
    home.store.record(weight).unwrap().pairing.map(|p| p.photo.id)
}

#[test]
fn agreement_raises_confidence_and_difference_is_flagged() {
    let table = [
        // said, shown, agrees
        (642.0, 642.0, true),
        (642.0, 642.4, true),
        (642.0, 643.0, false),
        (108.5, 108.5, true),
        (108.5, 108.7, false),
    ];
    for (said, shown, agrees) in table {
        let (home, ..) = two_birds();
        let weight = say(&home, "Sedge", 10, said);
        home.photo(b"one", &T(12), Some(shown));
        let record = home.store.record(&weight).unwrap();
        let pairing = record.pairing.unwrap();
        assert_eq!(pairing.agrees, Some(agrees), "{said} {shown}");
        assert_eq!(record.entry.flags.contains(&Flag::DiffersFromPhoto), !agrees);
        assert_eq!(record.entry.confidence > 0.9, agrees);
        assert_eq!(home.store.waiting(0, 10).unwrap().len(), 1, "the photo proposes nothing beside a weight");
        home.clean();
    }
}

#[test]
fn ounces_said_are_set_against_grams_shown() {
    let (home, ..) = two_birds();
    let note = home.spoken(b"oz", &T(10));
    let grams = Grams::from_pounds_ounces(1.0, 6.5).unwrap().to_tenth();
    let value = Value::Weight(Weight { grams, unit: Some(MassUnit::LbOz) });
    let id = home.store.propose(&note, vec![entry(Some("Sedge"), &T(10), [0, 5], value)]).unwrap().remove(0);
    home.photo(b"oz photo", &T(10), Some(637.0));
    assert_eq!(home.store.record(&id).unwrap().pairing.unwrap().agrees, Some(true));
}

#[test]
fn the_matching_value_wins_over_the_nearer_time_and_nothing_is_paired_twice() {
    let (home, ..) = two_birds();
    let first = say(&home, "Sedge", 10, 642.0);
    let second = say(&home, "Sedge", 20, 630.0);
    let far = home.photo(b"shows 642", &T(19), Some(642.0));
    let near = home.photo(b"shows 630", &T(12), Some(630.0));
    assert_eq!(beside(&home, &first), Some(far));
    assert_eq!(beside(&home, &second), Some(near));
    let third = home.photo(b"shows 642 again", &T(11), Some(642.0));
    assert_eq!(home.store.photo(&third).unwrap().paired_with, beside(&home, &first).map(|_| first.clone()));
    home.clean();
}

#[test]
fn a_photo_outside_the_window_stands_alone_and_the_window_can_be_set() {
    let (home, sedge, _) = two_birds();
    let weight = say(&home, "Sedge", 0, 642.0);
    let photo = home.photo(b"late", &T(30), Some(642.0));
    assert_eq!(beside(&home, &weight), None);
    let card = home.store.photo_card(&photo).unwrap();
    assert_eq!(card.waiting[0].bird.as_ref(), Some(&sedge), "the only bird of about that weight");
    assert!(card.waiting[0].proposed.entry.flags.contains(&Flag::BirdAssumed));
    home.store.set_setting(PAIRING_MINUTES, &45.into(), &ada()).unwrap();
    home.store.set_reading(&photo, &reading(Some(642.1))).unwrap();
    assert_eq!(beside(&home, &weight), Some(photo.clone()));
    assert!(home.store.photo_card(&photo).unwrap().waiting.is_empty(), "what it proposed alone is withdrawn");
    home.clean();
}

#[test]
fn a_photo_before_its_note_gives_way_to_it() {
    let (home, ..) = two_birds();
    let photo = home.photo(b"first", &T(10), Some(641.0));
    assert_eq!(home.store.photo_card(&photo).unwrap().waiting.len(), 1);
    let weight = say(&home, "Sedge", 11, 641.0);
    assert_eq!(beside(&home, &weight), Some(photo.clone()));
    assert!(home.store.photo_card(&photo).unwrap().waiting.is_empty());
    assert_eq!(home.store.waiting(0, 10).unwrap().len(), 1);
    home.clean();
}

#[test]
fn another_birds_photo_is_left_alone() {
    let (home, _, flint) = two_birds();
    let sedge_weight = say(&home, "Sedge", 10, 642.0);
    let photo = home.photo(b"flint on the scale", &T(10), Some(212.0));
    assert_eq!(beside(&home, &sedge_weight), None);
    assert_eq!(home.store.photo_card(&photo).unwrap().waiting[0].bird, Some(flint));
}

#[test]
fn the_hand_decides_and_stays_decided() {
    let (home, ..) = two_birds();
    let first = say(&home, "Sedge", 10, 642.0);
    let second = say(&home, "Sedge", 14, 630.0);
    let photo = home.photo(b"shows 642", &T(10), Some(642.0));
    assert_eq!(beside(&home, &first), Some(photo.clone()));
    home.store.pair(&photo, &second, &ada()).unwrap();
    assert_eq!((beside(&home, &first), beside(&home, &second)), (None, Some(photo.clone())));
    assert!(home.store.record(&second).unwrap().pairing.unwrap().by_hand);
    home.photo(b"another", &T(11), Some(642.0));
    assert_eq!(beside(&home, &second), Some(photo.clone()));
    home.store.unpair(&photo, &ada()).unwrap();
    assert_eq!(beside(&home, &second), None);
    home.store.set_reading(&photo, &reading(Some(630.0))).unwrap();
    assert_eq!(beside(&home, &second), None, "parted by hand, it is not paired again by itself");
    let choices = home.store.pairing_choices(&photo, 10).unwrap();
    assert_eq!(choices.iter().map(|r| &r.id).collect::<Vec<_>>(), [&first, &second]);
    let food = home.store.enter(entry(Some("Sedge"), &T(10), [0, 1], ate("quail", 1.0)), &ada()).unwrap();
    assert!(home.store.pair(&photo, &food, &ada()).is_err());
    home.clean();
}

#[test]
fn rejecting_a_misheard_weight_lets_the_photo_speak_and_undo_brings_it_back() {
    let (home, ..) = two_birds();
    let weight = say(&home, "Sedge", 10, 462.0);
    let photo = home.photo(b"shows 642", &T(10), Some(642.0));
    assert!(home.store.record(&weight).unwrap().entry.flags.contains(&Flag::DiffersFromPhoto));
    home.store.decide(&[Decision::reject(&weight, "")], &ada()).unwrap();
    assert_eq!(home.store.photo_card(&photo).unwrap().waiting.len(), 1);
    home.store.undo_last(&ada()).unwrap();
    assert_eq!(beside(&home, &weight), Some(photo.clone()));
    assert!(home.store.photo_card(&photo).unwrap().waiting.is_empty());
    home.clean();
}

#[test]
fn a_confirmed_pair_is_not_torn_apart() {
    let (home, ..) = two_birds();
    let weight = say(&home, "Sedge", 10, 643.0);
    let photo = home.photo(b"shows 642", &T(14), Some(642.0));
    home.store.decide(&[Decision::accept(&weight)], &ada()).unwrap();
    home.photo(b"shows 643", &T(11), Some(643.0));
    assert_eq!(beside(&home, &weight), Some(photo));
}

#[test]
fn an_unreadable_photo_stands_beside_the_weigh_in_of_its_time() {
    let (home, ..) = two_birds();
    let weight = say(&home, "Sedge", 10, 643.0);
    let photo = home.photo(b"blurred", &T(11), None);
    let pairing = home.store.record(&weight).unwrap().pairing.unwrap();
    assert_eq!((pairing.photo.id, pairing.agrees), (photo, None));
}
