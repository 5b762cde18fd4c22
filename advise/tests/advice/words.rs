//! Settings and cautions.

use advise::{Settings, caution};

#[test]
fn every_setting_states_a_range_that_holds_its_default_and_its_ground() {
    for range in Settings::ranges() {
        assert!(range.low < range.high && (range.low..=range.high).contains(&range.default), "{range:?}");
        let mark = range.ground.split(' ').next().unwrap_or("");
        assert!(["P", "P:", "M", "M:", "C", "C:", "D:"].contains(&mark), "{range:?}");
    }
    assert!(Settings::default().check().is_ok());
}

#[test]
fn settings_read_and_write_toml_and_refuse_what_is_out_of_range() {
    let settings: Settings = toml::from_str(
        "[limits]\nloss_large = 0.01\n[[foods]]\nitem = \"locust\"\nmass_g = 2.0\nkcal_per_g = 1.4\nbasis = \"gross\"\nwater = 0.68\n",
    )
    .unwrap();
    assert_eq!(settings.limits.loss_large, 0.01);
    assert_eq!(settings.limits.gain, Settings::default().limits.gain);
    let locust = settings.food("Locust").unwrap();
    assert!((locust.usable_kcal_per_g() - 1.4 * 0.75).abs() < 1e-12);
    assert!(settings.check().is_ok());
    let again: Settings = toml::from_str(&toml::to_string(&settings).unwrap()).unwrap();
    assert_eq!(again, settings);
    let mut wild = Settings::default();
    wild.limits.loss_large = 0.2;
    let error = wild.check().unwrap_err();
    assert_eq!(
        error.to_string(),
        "the setting limits.loss_large is 0.2, but must lie between 0 and 0.02; nothing was changed"
    );
    assert!(toml::from_str::<Settings>("[limits]\nloss_lrage = 0.01").is_err());
}

#[test]
fn a_keepers_own_food_replaces_the_built_in_one() {
    let settings: Settings =
        toml::from_str("[[foods]]\nitem = \"washed meat\"\nkcal_per_g = 0.7\nbasis = \"atwater\"\n").unwrap();
    assert_eq!(settings.food("washed meat").unwrap().kcal_per_g, 0.7);
}

#[test]
fn cautions_speak_of_every_danger_in_plain_words() {
    let all: String = caution::ALL.iter().map(|(_, text)| *text).collect::<Vec<_>>().join(" ").to_lowercase();
    for word in [
        "vet",
        "floor",
        "lead",
        "talons",
        "wash hands",
        "law",
        "decide",
        "casting",
        "crop",
        "telemetry",
        "cold",
    ] {
        assert!(all.contains(word), "{word}");
    }
}
