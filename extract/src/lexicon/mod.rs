//! The trade's words as data, and the keeper's own on top.
//!
//! The words themselves stand in `extract/lexicon/*.toml`. Absent on purpose: what a sentence
//! makes of a word; that is the grammar's business.

mod load;
mod phrases;
mod sense;

pub(crate) use phrases::{Found, Phrases, Vocabulary};
pub(crate) use sense::{Cue, Sense};

use crate::sound::Sounds;
use load::{Cues, File, Ways, inflections, plural};
use note::Sign;
use std::collections::{BTreeMap, HashSet};
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

impl Term {
    pub(crate) fn item_word(&self) -> &str {
        &self.word
    }
}

/// Occurs when a keeper's words cannot be taken in.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LexiconError {
    /// Occurs when the file is no TOML of the known shape.
    #[error("the word list cannot be read: {0}\nNothing was taken from it; mend that line and load it again")]
    NotToml(#[from] toml::de::Error),
    /// Occurs when a word is explained by one that nobody knows.
    #[error(
        "\u{201c}{0}\u{201d} is no word of the trade and no bird's name that is known here, so it cannot explain another; nothing was remembered"
    )]
    UnknownMeaning(String),
    /// Occurs when the word to be learned is empty.
    #[error("there was no word to remember")]
    Empty,
}

/// All words that carry meaning in a note.
#[derive(Clone, Debug, Default)]
pub struct Lexicon {
    foods: Vec<FoodItem>,
    parts: Vec<Term>,
    behaviours: Vec<Term>,
    equipment: Vec<Term>,
    steps: Vec<Term>,
    quarry: Vec<Term>,
    readings: BTreeMap<Sign, Vec<String>>,
    learned: BTreeMap<String, String>,
    /// The words of all phrases.
    pub(crate) vocabulary: Vocabulary,
    /// What counts wherever it stands.
    pub(crate) said: Phrases,
    /// What speech models write for it: counts where the sentence bears it out.
    pub(crate) heard: Phrases,
    /// The keeper's learned words.
    pub(crate) own: Phrases,
    /// Words of ordinary English.
    pub(crate) ordinary: HashSet<&'static str>,
    /// Words of English that are used less.
    pub(crate) known: HashSet<&'static str>,
    /// Trade words by their sound.
    pub(crate) sounds: Sounds,
    misheard_foods: Vec<(String, Vec<String>)>,
}

const FILES: [&str; 8] = [
    include_str!("../../lexicon/foods.toml"),
    include_str!("../../lexicon/behaviours.toml"),
    include_str!("../../lexicon/kit.toml"),
    include_str!("../../lexicon/steps.toml"),
    include_str!("../../lexicon/quarry.toml"),
    include_str!("../../lexicon/condition.toml"),
    include_str!("../../lexicon/response.toml"),
    include_str!("../../lexicon/weather.toml"),
];
const CUES: &str = include_str!("../../lexicon/cues.toml");
const HEARD: &str = include_str!("../../lexicon/heard.toml");
const ORDINARY: &str = include_str!("../../lexicon/ordinary.txt");
const KNOWN: &str = include_str!("../../lexicon/known.txt");

static BUILT_IN: LazyLock<Lexicon> = LazyLock::new(|| {
    let mut lexicon = Lexicon {
        ordinary: ORDINARY.lines().filter(|l| !l.starts_with('#')).collect(),
        known: KNOWN.lines().filter(|l| !l.starts_with('#')).collect(),
        ..Lexicon::default()
    };
    // The files are part of the program and a test reads them, so an unreadable one cannot ship.
    for file in FILES {
        lexicon.take(toml::from_str(file).unwrap_or_default());
    }
    let cues: Cues = toml::from_str(CUES).unwrap_or_default();
    for (cue, phrases) in &cues {
        for phrase in phrases {
            lexicon.said.add(&mut lexicon.vocabulary, phrase, Sense::Cue(*cue));
        }
    }
    let heard: Cues = toml::from_str(HEARD).unwrap_or_default();
    for (cue, phrases) in &heard {
        for phrase in phrases {
            lexicon.heard.add(&mut lexicon.vocabulary, phrase, Sense::Cue(*cue));
        }
    }
    lexicon.settle();
    lexicon
});

impl Lexicon {
    /// Returns the lexicon that comes with the program.
    pub fn built_in() -> &'static Lexicon {
        &BUILT_IN
    }

    /// Returns a lexicon with a keeper's TOML file on top.
    ///
    /// The file has the shape of the built-in ones, and a table `[means]` of what the keeper says
    /// and what is meant.
    ///
    /// # Errors
    /// When the file is no TOML of the known shape, or a meaning is unknown.
    pub fn with_keeper_toml(&self, text: &str) -> Result<Lexicon, LexiconError> {
        let mut file: File = toml::from_str(text)?;
        let means = std::mem::take(&mut file.means);
        let mut lexicon = self.clone();
        lexicon.take(file);
        lexicon.settle();
        for (said, meant) in means {
            lexicon.learn(&said, &meant)?;
        }
        Ok(lexicon)
    }

    /// Remembers that a keeper who says `said` means `meant`: a word of the trade.
    ///
    /// # Errors
    /// When `said` is empty or `meant` is unknown.
    pub fn learn(&mut self, said: &str, meant: &str) -> Result<(), LexiconError> {
        let (said, meant) = (clean(said), meant.trim());
        if said.is_empty() || clean(meant).is_empty() {
            return Err(LexiconError::Empty);
        }
        if self.trade_meanings(meant).is_empty() {
            return Err(LexiconError::UnknownMeaning(meant.to_owned()));
        }
        self.learned.insert(said, meant.to_owned());
        self.apply_learned();
        Ok(())
    }

    /// Forgets a learned word; false when it was not known.
    pub fn forget(&mut self, said: &str) -> bool {
        let known = self.learned.remove(&clean(said)).is_some();
        if known {
            self.apply_learned();
        }
        known
    }

    /// Lists what was learned, as said and meant.
    pub fn learned(&self) -> impl Iterator<Item = (&str, &str)> {
        self.learned.iter().map(|(said, meant)| (said.as_str(), meant.as_str()))
    }

    /// Returns the foods with their masses and energies.
    pub fn foods(&self) -> &[FoodItem] {
        &self.foods
    }
    /// Returns the parts of a food item.
    pub fn parts(&self) -> &[Term] {
        &self.parts
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
    /// Returns the quarry species.
    pub fn quarry(&self) -> &[Term] {
        &self.quarry
    }
    /// Returns trade words worth telling the speech model beforehand, the most used first.
    pub fn speech_prompt_words(&self) -> Vec<&str> {
        const FIRST: [&str; 14] = [
            "bating",
            "mantling",
            "creance",
            "mutes",
            "feaking",
            "rousing",
            "yarak",
            "casting",
            "keel",
            "crop",
            "day-old chick",
            "jesses",
            "anklets",
            "warbling",
        ];
        let all = self.behaviours.iter().chain(&self.equipment).chain(&self.steps);
        let rest = all.map(|t| t.word.as_str()).filter(|w| !FIRST.contains(w));
        FIRST.into_iter().chain(rest).collect()
    }

    pub(crate) fn reading(&self, sign: Sign, index: u8) -> Option<&str> {
        self.readings.get(&sign)?.get(usize::from(index)).map(String::as_str)
    }

    /// Returns the meanings that a trade word has, without the cues.
    fn trade_meanings(&self, phrase: &str) -> Vec<Sense> {
        let mut senses = self.said.meanings(&self.vocabulary, phrase).unwrap_or_default();
        senses.retain(|s| !matches!(s, Sense::Cue(_)));
        senses
    }

    fn apply_learned(&mut self) {
        let mut own = Phrases::default();
        for (said, meant) in self.learned.clone() {
            for sense in self.trade_meanings(&meant) {
                own.add(&mut self.vocabulary, &said, sense);
            }
        }
        own.settle();
        self.own = own;
    }

    fn settle(&mut self) {
        self.said.settle();
        self.heard.settle();
    }

    fn say(&mut self, ways: &Ways, sense: Sense) -> Vec<String> {
        let mut forms = Vec::new();
        for noun in &ways.nouns {
            forms.push(noun.clone());
            forms.push(plural(noun));
        }
        for verb in &ways.verbs {
            forms.extend(inflections(verb));
        }
        forms.extend(ways.forms.iter().cloned());
        for form in &forms {
            self.said.add(&mut self.vocabulary, form, sense);
            if matches!(
                sense,
                Sense::Behaviour(_)
                    | Sense::Kit(_)
                    | Sense::Food(_)
                    | Sense::Quarry(_)
                    | Sense::Sign(_)
                    | Sense::Step(_)
            ) {
                self.sounds.add(form);
            }
        }
        for form in &ways.heard {
            self.heard.add(&mut self.vocabulary, form, sense);
        }
        forms
    }

    fn take(&mut self, file: File) {
        let mut heard = Vec::new();
        for food in file.food {
            let at = place(
                &mut self.foods,
                |f| f.name == food.name,
                || FoodItem {
                    name: food.name.clone(),
                    mass_g: None,
                    kcal_per_g: None,
                    source: String::new(),
                    forms: Vec::new(),
                },
            );
            heard.push((food.name.clone(), food.ways.heard.clone()));
            let mut forms = self.say(&food.ways, Sense::Food(at));
            let item = &mut self.foods[usize::from(at)];
            item.forms.append(&mut forms);
            item.mass_g = food.mass_g.or(item.mass_g);
            item.kcal_per_g = food.kcal_per_g.or(item.kcal_per_g);
            if !food.source.is_empty() {
                item.source = food.source;
            }
        }
        for part in file.part {
            let at = term(&mut self.parts, &part.name);
            let mut forms = self.say(&part.ways, Sense::Part(at));
            self.parts[usize::from(at)].forms.append(&mut forms);
        }
        for behaviour in file.behaviour {
            let at = term(&mut self.behaviours, &behaviour.word);
            let mut forms = self.say(&behaviour.ways, Sense::Behaviour(at));
            self.behaviours[usize::from(at)].forms.append(&mut forms);
        }
        for kit in file.kit {
            let at = term(&mut self.equipment, &kit.item);
            let mut forms = self.say(&kit.ways, Sense::Kit(at));
            self.equipment[usize::from(at)].forms.append(&mut forms);
        }
        for quarry in file.quarry {
            let at = term(&mut self.quarry, &quarry.species);
            let mut forms = self.say(&quarry.ways, Sense::Quarry(at));
            self.quarry[usize::from(at)].forms.append(&mut forms);
        }
        // What a food is misheard as, the same animal flown at is too; the verb tells them apart.
        for (name, words) in heard {
            self.misheard_foods.push((name, words));
        }
        for (name, words) in &self.misheard_foods {
            if let Some(at) = self.quarry.iter().position(|q| q.word == *name) {
                for word in words {
                    self.heard.add(
                        &mut self.vocabulary,
                        word,
                        Sense::Quarry(u16::try_from(at).unwrap_or(u16::MAX)),
                    );
                }
            }
        }
        for step in file.step {
            let at = term(&mut self.steps, step.step.word());
            let mut forms = self.say(&step.ways, Sense::Step(step.step));
            self.steps[usize::from(at)].forms.append(&mut forms);
        }
        for sign in file.sign {
            self.say(&sign.ways, Sense::Sign(sign.sign));
            for (reading, ways) in sign.readings {
                let list = self.readings.entry(sign.sign).or_default();
                let at = list.iter().position(|r| *r == reading).unwrap_or_else(|| {
                    list.push(reading);
                    list.len() - 1
                });
                let sense = Sense::Reading(sign.sign, u8::try_from(at).unwrap_or(u8::MAX));
                for way in ways {
                    self.said.add(&mut self.vocabulary, &way, sense);
                }
            }
        }
        for word in file.damage.words {
            self.said.add(&mut self.vocabulary, &word, Sense::Damage);
        }
        for grade in file.grade {
            for word in grade.alone {
                self.said.add(&mut self.vocabulary, &word, Sense::Grade(grade.grade, true));
            }
            for word in grade.heard {
                self.heard.add(&mut self.vocabulary, &word, Sense::Grade(grade.grade, true));
            }
            for word in grade.flying {
                self.said.add(&mut self.vocabulary, &word, Sense::Grade(grade.grade, false));
            }
        }
        for word in file.summary.words {
            self.said.add(&mut self.vocabulary, &word, Sense::Summary);
        }
        for wind in file.wind {
            for form in wind.forms {
                self.said.add(&mut self.vocabulary, &form, Sense::Wind(wind.wind));
            }
        }
        for sky in file.sky {
            for form in sky.forms {
                self.said.add(&mut self.vocabulary, &form, Sense::Sky(sky.sky));
            }
        }
    }
}

fn clean(said: &str) -> String {
    let words: Vec<String> = crate::tokens::tokens(said).into_iter().map(|t| t.norm).collect();
    words.join(" ")
}

fn place<T>(list: &mut Vec<T>, is: impl Fn(&T) -> bool, new: impl FnOnce() -> T) -> u16 {
    let at = list.iter().position(is).unwrap_or_else(|| {
        list.push(new());
        list.len() - 1
    });
    u16::try_from(at).unwrap_or(u16::MAX)
}

fn term(list: &mut Vec<Term>, word: &str) -> u16 {
    place(list, |t| t.word == word, || Term { word: word.to_owned(), forms: Vec::new() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_lexicon_can_be_read() {
        for file in FILES {
            toml::from_str::<File>(file).unwrap();
        }
        toml::from_str::<Cues>(CUES).unwrap();
        toml::from_str::<Cues>(HEARD).unwrap();
    }

    #[test]
    fn every_word_of_the_contract_is_known() {
        let lexicon = Lexicon::built_in();
        assert_eq!(lexicon.behaviours().len(), 42);
        assert_eq!(lexicon.foods().len(), 23);
        assert_eq!(lexicon.steps().len(), note::Step::ALL.len());
        for word in lexicon.behaviours().iter().chain(lexicon.steps()) {
            assert!(lexicon.said.meanings(&lexicon.vocabulary, &word.word).is_some(), "{}", word.word);
        }
    }

    #[test]
    fn a_learned_word_works_at_once_and_can_be_forgotten() {
        let mut lexicon = Lexicon::built_in().clone();
        lexicon.learn("Flapdoodling", "bating").unwrap();
        assert_eq!(lexicon.learned().collect::<Vec<_>>(), [("flapdoodling", "bating")]);
        assert!(lexicon.own.meanings(&lexicon.vocabulary, "flapdoodling").is_some());
        assert!(lexicon.forget("flapdoodling"));
        assert!(!lexicon.forget("flapdoodling"));
        assert!(lexicon.own.meanings(&lexicon.vocabulary, "flapdoodling").is_none());
        assert!(lexicon.learn("x", "nonsense word").is_err());
        assert!(lexicon.learn(" ", "bating").is_err());
    }
}
