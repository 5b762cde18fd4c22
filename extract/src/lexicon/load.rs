//! The lexicon's files as they are written.

use note::{Sign, Sky, Step, Wind};
use serde::Deserialize;
use std::collections::BTreeMap;

use super::sense::Cue;

/// A keeper's file may hold any of these tables; the built-in files hold one or two each.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct File {
    pub(super) food: Vec<Food>,
    pub(super) part: Vec<Part>,
    pub(super) behaviour: Vec<Behaviour>,
    pub(super) kit: Vec<Kit>,
    pub(super) step: Vec<StepWords>,
    pub(super) quarry: Vec<Quarry>,
    pub(super) sign: Vec<SignWords>,
    pub(super) damage: Damage,
    pub(super) grade: Vec<Grade>,
    pub(super) summary: Words,
    pub(super) wind: Vec<WindWords>,
    pub(super) sky: Vec<SkyWords>,
    /// What the keeper says and what is meant by it.
    pub(super) means: BTreeMap<String, String>,
}

/// Ways to say something.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Ways {
    /// Nouns: plurals are made by rule.
    pub(super) nouns: Vec<String>,
    /// Verbs: -s, -ed and -ing are made by rule.
    pub(super) verbs: Vec<String>,
    /// Stand as written.
    pub(super) forms: Vec<String>,
    /// What speech models write for it.
    pub(super) heard: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Food {
    pub(super) name: String,
    #[serde(flatten)]
    pub(super) ways: Ways,
    pub(super) mass_g: Option<f64>,
    pub(super) kcal_per_g: Option<f64>,
    #[serde(default)]
    pub(super) source: String,
}
#[derive(Debug, Deserialize)]
pub(super) struct Part {
    pub(super) name: String,
    #[serde(flatten)]
    pub(super) ways: Ways,
}
#[derive(Debug, Deserialize)]
pub(super) struct Behaviour {
    pub(super) word: String,
    #[serde(flatten)]
    pub(super) ways: Ways,
}
#[derive(Debug, Deserialize)]
pub(super) struct Kit {
    pub(super) item: String,
    #[serde(flatten)]
    pub(super) ways: Ways,
}
#[derive(Debug, Deserialize)]
pub(super) struct StepWords {
    pub(super) step: Step,
    #[serde(flatten)]
    pub(super) ways: Ways,
}
#[derive(Debug, Deserialize)]
pub(super) struct Quarry {
    pub(super) species: String,
    #[serde(flatten)]
    pub(super) ways: Ways,
}
#[derive(Debug, Deserialize)]
pub(super) struct SignWords {
    pub(super) sign: Sign,
    #[serde(flatten)]
    pub(super) ways: Ways,
    #[serde(default)]
    pub(super) readings: BTreeMap<String, Vec<String>>,
}
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Damage {
    pub(super) words: Vec<String>,
}
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Words {
    pub(super) words: Vec<String>,
}
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Grade {
    pub(super) grade: u8,
    #[serde(default)]
    pub(super) alone: Vec<String>,
    #[serde(default)]
    pub(super) flying: Vec<String>,
    #[serde(default)]
    pub(super) heard: Vec<String>,
}
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WindWords {
    pub(super) wind: Wind,
    pub(super) forms: Vec<String>,
}
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SkyWords {
    pub(super) sky: Sky,
    pub(super) forms: Vec<String>,
}

/// The words of each cue.
pub(super) type Cues = BTreeMap<Cue, Vec<String>>;

/// Makes a plural by rule.
pub(super) fn plural(noun: &str) -> String {
    for end in ["s", "x", "ch", "sh", "z"] {
        if noun.ends_with(end) {
            return format!("{noun}es");
        }
    }
    match noun.strip_suffix('y') {
        Some(stem) if !stem.ends_with(['a', 'e', 'i', 'o', 'u']) => format!("{stem}ies"),
        _ => format!("{noun}s"),
    }
}

/// Makes the -s, -ed and -ing forms by rule.
pub(super) fn inflections(verb: &str) -> [String; 4] {
    let (ed, ing) = if let Some(stem) = verb.strip_suffix('e') {
        (format!("{verb}d"), format!("{stem}ing"))
    } else {
        (format!("{verb}ed"), format!("{verb}ing"))
    };
    [verb.to_owned(), plural(verb), ed, ing]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regular_forms() {
        for (noun, want) in
            [("chick", "chicks"), ("jess", "jesses"), ("leash", "leashes"), ("bunny", "bunnies")]
        {
            assert_eq!(plural(noun), want);
        }
        assert_eq!(inflections("bate").join(" "), "bate bates bated bating");
        assert_eq!(inflections("stoop").join(" "), "stoop stoops stooped stooping");
    }
}
