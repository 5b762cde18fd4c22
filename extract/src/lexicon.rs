//! The trade's words as data, and the keeper's own on top.

use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A food, its mass and its energy.
#[derive(Clone, Debug, PartialEq)]
pub struct FoodItem {
    /// Canonical name.
    pub name: String,
    /// Typical mass of one whole item, grams.
    pub mass_g: Option<f64>,
    /// Metabolizable energy as fed, kcal a gram.
    pub kcal_per_g: Option<f64>,
    /// Where the figures come from.
    pub source: String,
    /// Ways to say it.
    pub forms: Vec<String>,
}

/// A word of the trade and the ways to say it.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// Canonical word.
    pub word: String,
    /// Ways to say it.
    pub forms: Vec<String>,
}

/// Occurs when a keeper's words cannot be taken in.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LexiconError {
    /// Occurs when the file is no TOML of the known shape.
    #[error("the word list cannot be read: {0}. Nothing was taken from it; mend that line and load it again")]
    NotToml(#[from] toml::de::Error),
    /// Occurs when a word is explained by one that nobody knows.
    #[error("\u{201c}{0}\u{201d} is no word that this program knows, so it cannot explain another; nothing was remembered")]
    UnknownMeaning(String),
    /// Occurs when the word to be learned is empty.
    #[error("there was no word to remember")]
    Empty,
}

/// All words that carry meaning in a note.
#[derive(Clone, Debug, Default)]
pub struct Lexicon {
    foods: Vec<FoodItem>,
    behaviours: Vec<Term>,
    equipment: Vec<Term>,
    steps: Vec<Term>,
    learned: BTreeMap<String, String>,
}

static BUILT_IN: LazyLock<Lexicon> = LazyLock::new(Lexicon::default);

impl Lexicon {
    /// Returns the lexicon that comes with the program.
    pub fn built_in() -> &'static Lexicon {
        &BUILT_IN
    }
    /// Returns a lexicon with a keeper's TOML file on top.
    ///
    /// # Errors
    /// When the file is no TOML of the known shape.
    pub fn with_keeper_toml(&self, text: &str) -> Result<Lexicon, LexiconError> {
        let _: toml::Table = toml::from_str(text)?;
        Ok(self.clone())
    }
    /// Remembers that a keeper who says `said` means `meant`.
    ///
    /// # Errors
    /// When `said` is empty or `meant` is unknown.
    pub fn learn(&mut self, said: &str, meant: &str) -> Result<(), LexiconError> {
        if said.trim().is_empty() {
            return Err(LexiconError::Empty);
        }
        self.learned.insert(said.trim().to_lowercase(), meant.trim().to_owned());
        Ok(())
    }
    /// Forgets a learned word; false when it was not known.
    pub fn forget(&mut self, said: &str) -> bool {
        self.learned.remove(&said.trim().to_lowercase()).is_some()
    }
    /// Lists what was learned, as said and meant.
    pub fn learned(&self) -> impl Iterator<Item = (&str, &str)> {
        self.learned.iter().map(|(said, meant)| (said.as_str(), meant.as_str()))
    }
    /// Returns the foods with their masses and energies.
    pub fn foods(&self) -> &[FoodItem] {
        &self.foods
    }
    /// Returns the behaviour words.
    pub fn behaviours(&self) -> &[Term] {
        &self.behaviours
    }
    /// Returns the pieces of kit.
    pub fn equipment(&self) -> &[Term] {
        &self.equipment
    }
    /// Returns the training steps.
    pub fn steps(&self) -> &[Term] {
        &self.steps
    }
    /// Returns trade words worth telling the speech model beforehand.
    pub fn speech_prompt_words(&self) -> Vec<&str> {
        self.behaviours.iter().chain(&self.equipment).map(|t| t.word.as_str()).collect()
    }
}
