//! The note laid out for the rules: tokens joined to atoms, each with what it may mean.

mod atoms;

use crate::Context;
use crate::lexicon::{Cue, Lexicon, Sense};
use crate::number::Num;
use crate::tokens::{Break, Token};
use atoms::atoms;
use chrono::{DateTime, FixedOffset};
use note::{Sign, Sky, Step, Wind};

/// A phrase of one meaning, a number, or a word that means nothing here.
#[derive(Debug)]
pub(crate) struct Atom<'l> {
    /// First and last token.
    pub(crate) first: usize,
    pub(crate) last: usize,
    /// The words as said, where there is more than one.
    phrase: Option<Box<str>>,
    pub(crate) before: Break,
    pub(crate) senses: &'l [Sense],
    /// The cues among the senses, one bit for each.
    cues: u128,
    pub(crate) num: Option<Num>,
    /// A bird's name: its place among [`Sheet::names`].
    pub(crate) bird: Option<u16>,
    /// The meaning comes from how it sounds.
    pub(crate) heard: bool,
}

impl<'l> Atom<'l> {
    /// Joins the tokens `first..=last`, with no meaning yet.
    pub(crate) fn new(tokens: &[Token], first: usize, last: usize) -> Self {
        let phrase = (last > first).then(|| {
            let mut words = String::with_capacity(8 * (last + 1 - first));
            for token in &tokens[first..=last] {
                if !words.is_empty() && !token.norm.starts_with('\'') && token.norm != "n't" {
                    words.push(' ');
                }
                words.push_str(&token.norm);
            }
            words.into_boxed_str()
        });
        let before = tokens[first].before;
        Atom { first, last, phrase, before, senses: &[], cues: 0, num: None, bird: None, heard: false }
    }

    /// Gives the atom its meanings.
    pub(crate) fn mean(&mut self, senses: &'l [Sense]) {
        self.senses = senses;
        self.cues =
            senses.iter().fold(0, |mask, s| if let Sense::Cue(c) = s { mask | bit(*c) } else { mask });
    }
}

/// The bit of a cue; there are fewer than 128.
const fn bit(cue: Cue) -> u128 {
    1 << (cue as u8)
}

/// Whose an atom is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(crate) enum Owner {
    #[default]
    Unknown,
    One(u16),
    Two(u16, u16),
    /// Three and more of the first 64 of the roster, a bit each.
    Many(u64),
}

/// A bird that may be meant.
#[derive(Clone, Debug)]
pub(crate) struct Named {
    pub(crate) name: String,
    pub(crate) last_grams: Option<f64>,
    pub(crate) male: Option<bool>,
    /// In lower case; empty where it is not known.
    pub(crate) species: String,
}

/// The note and all that the rules have found out about its atoms so far.
pub(crate) struct Sheet<'a> {
    pub(crate) context: &'a Context,
    pub(crate) lexicon: &'a Lexicon,
    pub(crate) names: Vec<Named>,
    pub(crate) tokens: Vec<Token>,
    pub(crate) atoms: Vec<Atom<'a>>,
    /// The tokens as words of the lexicon.
    pub(crate) ids: Vec<Option<u32>>,
    /// Taken back by the speaker, or somebody else's.
    pub(crate) dead: Vec<bool>,
    /// Already part of an entry, or read as something that is none.
    pub(crate) used: Vec<bool>,
    /// The value was put right in speech; how far the correction reaches.
    pub(crate) corrected: Vec<Option<usize>>,
    pub(crate) owner: Vec<Owner>,
    pub(crate) when: Vec<Option<DateTime<FixedOffset>>>,
    /// The time of the sentence was hardly heard, or is none that a clock shows.
    pub(crate) untimely: Vec<bool>,
    /// The note was written without punctuation.
    pub(crate) unbroken: bool,
    /// First atom of the sentence, and one past its last.
    pub(crate) sentence: Vec<(u32, u32)>,
}

impl<'a> Sheet<'a> {
    /// Lays out the tokens of a note.
    pub(crate) fn new(tokens: Vec<Token>, context: &'a Context, lexicon: &'a Lexicon) -> Self {
        let names = named(context);
        let ids = lexicon.vocabulary.ids(&tokens);
        let atoms = atoms(&tokens, &ids, context, lexicon, &names);
        let n = atoms.len();
        let mut sheet = Sheet {
            context,
            lexicon,
            names,
            tokens,
            atoms,
            ids,
            dead: vec![false; n],
            used: vec![false; n],
            corrected: vec![None; n],
            owner: vec![Owner::Unknown; n],
            when: vec![None; n],
            untimely: vec![false; n],
            unbroken: false,
            sentence: Vec::new(),
        };
        sheet.sentence = sheet.sentences();
        sheet
    }

    /// Puts other atoms in place, before any rule has run.
    pub(crate) fn replace_atoms(&mut self, atoms: Vec<Atom<'a>>) {
        let n = atoms.len();
        self.atoms = atoms;
        self.dead = vec![false; n];
        self.used = vec![false; n];
        self.corrected = vec![None; n];
        self.owner = vec![Owner::Unknown; n];
        self.when = vec![None; n];
        self.untimely = vec![false; n];
        self.sentence = self.sentences();
    }

    fn sentences(&self) -> Vec<(u32, u32)> {
        let n = self.atoms.len();
        let (mut out, mut start) = (Vec::with_capacity(n), 0);
        for end in 1..=n {
            if end == n || self.atoms[end].before == Break::Stop {
                out.resize(end, (start as u32, end as u32));
                start = end;
            }
        }
        out
    }

    pub(crate) fn len(&self) -> usize {
        self.atoms.len()
    }
    pub(crate) fn start_of_sentence(&self, i: usize) -> usize {
        self.sentence.get(i).map_or(0, |s| s.0 as usize)
    }
    pub(crate) fn end_of_sentence(&self, i: usize) -> usize {
        self.sentence.get(i).map_or(self.len(), |s| s.1 as usize)
    }
    /// Whether atom `i` exists and is still to be read.
    pub(crate) fn live(&self, i: usize) -> bool {
        i < self.len() && !self.dead[i]
    }
    pub(crate) fn senses(&self, i: usize) -> &'a [Sense] {
        self.atoms.get(i).map_or(&[], |a| a.senses)
    }
    pub(crate) fn has(&self, i: usize, cue: Cue) -> bool {
        self.atoms.get(i).is_some_and(|a| a.cues & bit(cue) != 0)
    }
    #[inline]
    pub(crate) fn any(&self, i: usize, cues: &[Cue]) -> bool {
        self.atoms
            .get(i)
            .is_some_and(|a| a.cues != 0 && a.cues & cues.iter().fold(0, |mask, c| mask | bit(*c)) != 0)
    }
    pub(crate) fn before(&self, i: usize) -> Break {
        self.atoms.get(i).map_or(Break::Stop, |a| a.before)
    }
    pub(crate) fn num(&self, i: usize) -> Option<&Num> {
        self.atoms.get(i)?.num.as_ref()
    }
    pub(crate) fn bird(&self, i: usize) -> Option<u16> {
        self.atoms.get(i)?.bird
    }
    /// The first word of the atom, as spoken.
    pub(crate) fn word(&self, i: usize) -> &str {
        self.atoms.get(i).map_or("", |a| &self.tokens[a.first].norm)
    }
    /// All words of the atom.
    pub(crate) fn words(&self, i: usize) -> &str {
        self.atoms.get(i).map_or("", |a| a.phrase.as_deref().unwrap_or(&self.tokens[a.first].norm))
    }
    /// Whether the atom is exactly one of these words; a clitic belongs to its word ("i'm").
    pub(crate) fn is(&self, i: usize, words: &[&str]) -> bool {
        i < self.len() && words.contains(&self.words(i))
    }
    /// Whether the last word of the atom is one of these ("went over" ends in "over").
    pub(crate) fn ends(&self, i: usize, words: &[&str]) -> bool {
        self.atoms.get(i).is_some_and(|a| words.contains(&self.tokens[a.last].norm.as_str()))
    }
    pub(crate) fn food(&self, i: usize) -> Option<u16> {
        self.senses(i).iter().find_map(|s| if let Sense::Food(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn part(&self, i: usize) -> Option<u16> {
        self.senses(i).iter().find_map(|s| if let Sense::Part(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn behaviour(&self, i: usize) -> Option<u16> {
        self.senses(i).iter().find_map(|s| if let Sense::Behaviour(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn kit(&self, i: usize) -> Option<u16> {
        self.senses(i).iter().find_map(|s| if let Sense::Kit(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn quarry(&self, i: usize) -> Option<u16> {
        self.senses(i).iter().find_map(|s| if let Sense::Quarry(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn step(&self, i: usize) -> Option<Step> {
        self.senses(i).iter().find_map(|s| if let Sense::Step(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn sign(&self, i: usize) -> Option<Sign> {
        self.senses(i).iter().find_map(|s| if let Sense::Sign(f) = s { Some(*f) } else { None })
    }
    pub(crate) fn reading(&self, i: usize, sign: Sign) -> Option<&'a str> {
        let index = self.senses(i).iter().find_map(|s| match s {
            Sense::Reading(of, index) if *of == sign => Some(*index),
            _ => None,
        })?;
        self.lexicon.reading(sign, index)
    }
    pub(crate) fn damage(&self, i: usize) -> bool {
        self.senses(i).contains(&Sense::Damage)
    }
    /// The grade and whether its words may stand alone.
    pub(crate) fn grade(&self, i: usize) -> Option<(u8, bool)> {
        self.senses(i)
            .iter()
            .find_map(|s| if let Sense::Grade(g, alone) = s { Some((*g, *alone)) } else { None })
    }
    pub(crate) fn summary(&self, i: usize) -> bool {
        self.senses(i).contains(&Sense::Summary)
    }
    pub(crate) fn wind(&self, i: usize) -> Option<Wind> {
        self.senses(i).iter().find_map(|s| if let Sense::Wind(w) = s { Some(*w) } else { None })
    }
    pub(crate) fn sky(&self, i: usize) -> Option<Sky> {
        self.senses(i).iter().find_map(|s| if let Sense::Sky(w) = s { Some(*w) } else { None })
    }
    /// Whether the atom could be part of an entry.
    pub(crate) fn content(&self, i: usize) -> bool {
        self.num(i).is_some()
            || self.is(i, &["cast", "casted"])
            || self
                .senses(i)
                .iter()
                .any(|s| !matches!(s, Sense::Cue(_) | Sense::Summary | Sense::Reading(..)))
    }
    /// Marks atoms as read.
    pub(crate) fn take(&mut self, from: usize, to: usize) {
        let end = self.len();
        self.used[from.min(end)..(to + 1).min(end)].fill(true);
    }
    /// The nearest live atom to the left of `i`.
    pub(crate) fn prev(&self, i: usize) -> Option<usize> {
        (i.saturating_sub(24)..i).rev().find(|k| !self.dead[*k])
    }
    /// The last weight of the atom's bird; of all birds where it is not known.
    pub(crate) fn last_grams(&self, i: usize) -> Vec<f64> {
        match self.owner.get(i) {
            Some(Owner::One(b)) => self.names[usize::from(*b)].last_grams.into_iter().collect(),
            Some(Owner::Two(a, b)) => {
                [a, b].into_iter().filter_map(|b| self.names[usize::from(*b)].last_grams).collect()
            }
            _ => self.names.iter().filter_map(|n| n.last_grams).collect(),
        }
    }
}

/// The roster, and the current bird where it stands in no roster.
fn named(context: &Context) -> Vec<Named> {
    let mut names: Vec<Named> = context
        .birds
        .iter()
        .take(usize::from(u16::MAX) - 1)
        .map(|b| Named {
            name: b.name.clone(),
            last_grams: b.last_grams.filter(|g| g.is_finite() && *g > 0.0),
            species: b.species.as_deref().unwrap_or_default().to_lowercase(),
            male: b.sex.as_deref().and_then(|s| match s.trim().to_lowercase().as_str() {
                "male" | "m" | "tiercel" | "musket" | "jack" => Some(true),
                "female" | "f" | "falcon" => Some(false),
                _ => None,
            }),
        })
        .collect();
    if let Some(current) = context.current_bird.as_deref().map(str::trim).filter(|c| !c.is_empty())
        && !names.iter().any(|n| n.name == current)
    {
        names.push(Named { name: current.to_owned(), last_grams: None, male: None, species: String::new() });
    }
    names
}
