//! Words that only sound like the trade's: "crayons" for the creance, "Porsche" for Portia.
//!
//! Two sources propose a meaning: the lexicon's `heard` lists, and the sound of a word (Double
//! Metaphone codes and edit distance). Neither counts by itself: the place in the sentence has to
//! be one where such a word stands, and the more ordinary the word, the surer the place must be.

mod doings;
mod names;
mod things;

use crate::lexicon::{Cue, Lexicon, Sense};
use crate::sheet::{Atom, Sheet};
use crate::tokens::Break;
use names::names;
use rphonetic::{DoubleMetaphone, Encoder};
use std::collections::HashMap;

/// How alike the letters of two words have to be whose codes are one sound apart.
const ONE_SOUND_APART: f64 = 0.86;

/// Trade words by their sound.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sounds {
    by_code: HashMap<String, Vec<String>>,
    /// Codes by what is left when one sound is dropped, so that codes one sound apart meet here.
    by_rest: HashMap<String, Vec<String>>,
}

/// The code and the code short of each of its sounds.
fn rests(code: &str) -> impl Iterator<Item = String> + '_ {
    let short = code.char_indices().map(|(at, c)| {
        let mut rest = String::with_capacity(code.len());
        rest.push_str(&code[..at]);
        rest.push_str(&code[at + c.len_utf8()..]);
        rest
    });
    std::iter::once(code.to_owned()).chain(short)
}

impl Sounds {
    /// Adds a word that may be looked for by its sound.
    pub(crate) fn add(&mut self, word: &str) {
        if word.len() < 4 || word.contains(' ') || word.contains('.') || word.contains('-') {
            return;
        }
        let code = code(word);
        let list = self.by_code.entry(code.clone()).or_default();
        if list.iter().any(|w| w == word) {
            return;
        }
        list.push(word.to_owned());
        if list.len() == 1 && code.len() > 2 {
            for rest in rests(&code) {
                let codes = self.by_rest.entry(rest).or_default();
                if !codes.contains(&code) {
                    codes.push(code.clone());
                }
            }
        }
    }

    /// Lists the words that sound like this one, the likest first, and whether they sound the same.
    fn like(&self, word: &str) -> (Vec<&str>, bool) {
        let (found, same) = self.alike(word);
        // "ising" for hissing: an aitch is easily dropped.
        if !(same && !found.is_empty()) && word.starts_with(['a', 'e', 'i', 'o', 'u']) {
            let (aspirated, same) = self.alike(&format!("h{word}"));
            if same && !aspirated.is_empty() {
                return (aspirated, true);
            }
        }
        (found, same)
    }

    fn alike(&self, word: &str) -> (Vec<&str>, bool) {
        let mut found: Vec<(f64, &str)> = Vec::new();
        let mut same = true;
        let code = code(word);
        if code.is_empty() {
            return (Vec::new(), same);
        }
        for target in self.by_code.get(&code).into_iter().flatten() {
            let near = strsim::jaro_winkler(word, target);
            if near >= 0.72 && target != word {
                found.push((near, target));
            }
        }
        // One sound apart: the letters have to agree better.
        if found.is_empty() && code.len() > 2 {
            same = false;
            let mut codes: Vec<&str> =
                rests(&code).filter_map(|r| self.by_rest.get(&r)).flatten().map(String::as_str).collect();
            codes.sort_unstable();
            codes.dedup();
            for target in codes.into_iter().filter_map(|c| self.by_code.get(c)).flatten() {
                let near = strsim::jaro_winkler(word, target);
                if near >= ONE_SOUND_APART && target != word {
                    found.push((near, target));
                }
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        (found.into_iter().map(|(_, w)| w).collect(), same)
    }
}

/// The sound of a word; empty where it has letters that the encoder does not know (it cuts strings
/// by bytes and panics inside a longer letter).
fn code(word: &str) -> String {
    if word.bytes().all(|b| b.is_ascii_alphabetic() || b == b'\'') {
        DoubleMetaphone::default().encode(word)
    } else {
        String::new()
    }
}

/// Gives misheard words the meaning that the sentence bears out.
pub(crate) fn resolve(sheet: &mut Sheet) {
    names(sheet);
    // What one word turns out to be may bear out its neighbour.
    if pass(sheet) {
        pass(sheet);
    }
}

fn pass(sheet: &mut Sheet) -> bool {
    let mut found: Vec<(usize, usize, &[Sense])> = Vec::new();
    let mut i = 0;
    while i < sheet.len() {
        match heard(sheet, i) {
            Some((j, senses)) => {
                found.push((i, j, senses));
                i = j + 1;
            }
            None => i += 1,
        }
    }
    if found.is_empty() {
        return false;
    }
    let mut old = std::mem::take(&mut sheet.atoms).into_iter().enumerate();
    let mut atoms: Vec<Atom> = Vec::with_capacity(old.len());
    for (i, j, senses) in found {
        while let Some((k, atom)) = old.next() {
            if k < i {
                atoms.push(atom);
                continue;
            }
            let last = if j > i { old.nth(j - i - 1).map_or(atom.last, |a| a.1.last) } else { atom.last };
            let mut joined = Atom::new(&sheet.tokens, atom.first, last);
            (joined.before, joined.heard) = (atom.before, true);
            joined.mean(senses);
            atoms.push(joined);
            break;
        }
    }
    atoms.extend(old.map(|(_, atom)| atom));
    sheet.replace_atoms(atoms);
    true
}

/// The meaning of a misheard word or phrase that starts at atom `i`, and its last atom.
fn heard<'a>(sheet: &Sheet<'a>, i: usize) -> Option<(usize, &'a [Sense])> {
    let atom = &sheet.atoms[i];
    if atom.bird.is_some() || atom.heard {
        return None;
    }
    // The listed phrase, the longest first; it has to end where an atom ends.
    let mut most = usize::MAX;
    let lexicon: &'a Lexicon = sheet.lexicon;
    while most > 0
        && let Some(found) = lexicon.heard.find_up_to(&sheet.ids, &sheet.tokens, atom.first, most)
    {
        let end = atom.first + found.len - 1;
        let j = (i..sheet.len().min(i + found.len)).find(|j| sheet.atoms[*j].last >= end);
        if let Some(j) =
            j.filter(|j| sheet.atoms[*j].last == end && (i..=*j).all(|k| sheet.atoms[k].bird.is_none()))
            && !(i == j && trade(sheet, i))
        {
            let place = Place::new(sheet, i, j);
            if found.senses.iter().any(|s| place.bears_out(*s)) {
                return Some((j, found.senses));
            }
        }
        most = found.len - 1;
    }
    // A word that no list knows, by its sound.
    let token = &sheet.tokens[atom.first];
    if let Some(found) = parted(sheet, i) {
        return Some(found);
    }
    let strange = atom.first == atom.last
        && atom.senses.is_empty()
        && atom.num.is_none()
        && !token.number
        && token.norm.len() > 3;
    if !strange || lexicon.ordinary.contains(token.norm.as_str()) {
        return None;
    }
    let mut place = Place::new(sheet, i, i);
    let (words, same) = lexicon.sounds.like(&token.norm);
    // A word of English, if a rare one: "gorse" is no grouse.
    let known = lexicon.known.contains(token.norm.as_str());
    place.ordinary |= known;
    // English has too many verbs one sound apart ("soaked", "soared"): those have to sound the same.
    let near = |s: &Sense| match s {
        Sense::Food(_) | Sense::Quarry(_) => !known,
        Sense::Behaviour(_) => same && !(known && place.opens() && place.closes()),
        _ => same || !known,
    };
    words.into_iter().find_map(|word| {
        let senses = lexicon.said.word(&lexicon.vocabulary, word)?;
        senses.iter().any(|s| near(s) && place.bears_out(*s)).then_some((i, senses))
    })
}

/// A trade word written as two: "yer rack", "jess is" where neither half means anything here.
fn parted<'a>(sheet: &Sheet<'a>, i: usize) -> Option<(usize, &'a [Sense])> {
    let j = i + 1;
    let half = |k: usize| {
        let atom = sheet.atoms.get(k)?;
        let token = &sheet.tokens[atom.first];
        let plain =
            atom.first == atom.last && atom.senses.is_empty() && atom.num.is_none() && atom.bird.is_none();
        (plain && !token.number && token.norm.len() > 2).then_some(token.norm.as_str())
    };
    let (first, second) = (half(i)?, half(j).filter(|_| sheet.before(j) == Break::None)?);
    let lexicon: &'a Lexicon = sheet.lexicon;
    if lexicon.ordinary.contains(first) && lexicon.ordinary.contains(second) {
        return None;
    }
    let place = Place::new(sheet, i, j);
    let (words, same) = lexicon.sounds.like(&format!("{first}{second}"));
    words.into_iter().filter(|_| same).find_map(|word| {
        let senses = lexicon.said.word(&lexicon.vocabulary, word)?;
        senses.iter().any(|s| place.bears_out(*s)).then_some((j, senses))
    })
}

/// Whether the atom already means something in the trade.
fn trade(sheet: &Sheet, i: usize) -> bool {
    sheet.num(i).is_some()
        || sheet.senses(i).iter().any(|s| {
            !matches!(
                s,
                Sense::Cue(_) | Sense::Reading(..) | Sense::Grade(..) | Sense::Summary | Sense::Damage
            )
        })
}

/// The surroundings of a word.
struct Place<'s, 'a> {
    sheet: &'s Sheet<'a>,
    i: usize,
    /// Neighbours with no break between.
    p: Option<usize>,
    n: Option<usize>,
    /// A word of everyday use, so that the place must be sure.
    ordinary: bool,
    /// The note has no punctuation: neighbours with a meaning bound a phrase like commas do.
    unbroken: bool,
    single: bool,
}

impl<'s, 'a> Place<'s, 'a> {
    fn new(sheet: &'s Sheet<'a>, i: usize, j: usize) -> Self {
        let p = i.checked_sub(1).filter(|_| sheet.before(i) == Break::None);
        let n = Some(j + 1).filter(|n| *n < sheet.len() && sheet.before(*n) == Break::None);
        let single = i == j;
        let ordinary = single
            && sheet.atoms[i].first == sheet.atoms[i].last
            && sheet.lexicon.ordinary.contains(sheet.word(i));
        Place { sheet, i, p, n, ordinary, unbroken: sheet.unbroken, single }
    }

    fn bound(&self, k: Option<usize>) -> bool {
        match k {
            None => true,
            Some(k) => {
                let sheet = self.sheet;
                let reading = || sheet.senses(k).iter().any(|s| matches!(s, Sense::Reading(..)));
                self.unbroken && (sheet.bird(k).is_some() || sheet.content(k) || reading())
            }
        }
    }

    fn opens(&self) -> bool {
        self.bound(self.p)
    }

    fn closes(&self) -> bool {
        self.bound(self.n)
    }

    fn p_any(&self, cues: &[Cue]) -> bool {
        self.p.is_some_and(|p| self.sheet.any(p, cues))
    }

    fn n_any(&self, cues: &[Cue]) -> bool {
        self.n.is_some_and(|n| self.sheet.any(n, cues))
    }

    fn p_is(&self, words: &[&str]) -> bool {
        self.p.is_some_and(|p| words.contains(&self.sheet.tokens[self.sheet.atoms[p].last].norm.as_str()))
    }

    fn n_is(&self, words: &[&str]) -> bool {
        self.n.is_some_and(|n| words.contains(&self.sheet.word(n)))
    }

    /// Looks for a cue to the left in the sentence.
    fn left(&self, reach: usize, found: impl Fn(usize) -> bool) -> bool {
        let from = self.sheet.start_of_sentence(self.i).max(self.i.saturating_sub(reach));
        (from..self.i).any(found)
    }

    fn near(&self, reach: usize, found: impl Fn(usize) -> bool) -> bool {
        let from = self.sheet.start_of_sentence(self.i).max(self.i.saturating_sub(reach));
        let to = self.sheet.end_of_sentence(self.i).min(self.i + reach);
        (from..to).any(found)
    }

    fn first_person(&self) -> bool {
        let mut k = self.i;
        for _ in 0..6 {
            if k == 0 || self.sheet.before(k) != Break::None {
                return false;
            }
            k -= 1;
            if self.sheet.bird(k).is_some() || self.sheet.any(k, &[Cue::He, Cue::She]) {
                return false;
            }
            if self.sheet.is(k, &["i", "we", "you", "i'm", "we're", "i've"])
                || self.sheet.any(k, &[Cue::OtherBeast, Cue::Person])
            {
                return true;
            }
        }
        false
    }

    /// The clause has a subject of its own that is no bird: "the wheels were wobbling".
    fn other_subject(&self) -> bool {
        let sheet = self.sheet;
        let Some(mut k) = self.p else { return false };
        while (sheet.any(k, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Plain])
            || sheet.is(k, &["'s", "still"]))
            && k > 0
            && sheet.before(k) == Break::None
        {
            k -= 1;
        }
        if sheet.is(k, &["it", "it's", "its"]) {
            return true;
        }
        let plain = sheet.senses(k).is_empty() && sheet.bird(k).is_none() && sheet.num(k).is_none();
        plain
            && k > 0
            && sheet.before(k) == Break::None
            && sheet.is(k - 1, &["the", "a", "my", "our", "their", "that", "this", "some"])
    }

    fn degree_next(&self) -> bool {
        self.n_any(&[Cue::Slight, Cue::Strong])
            || self.n.is_some_and(|n| self.sheet.is(n, &["twice", "once"]))
    }

    fn subject(&self) -> bool {
        self.p_any(&[Cue::Be, Cue::He, Cue::She])
            || self.p.is_some_and(|p| self.sheet.bird(p).is_some() || self.sheet.is(p, &["'s", "been"]))
    }

    fn flying(&self) -> bool {
        self.near(24, |k| self.tells_of_flying(k))
    }

    /// "Out on the crance. Six flights": the next sentence tells of the flying.
    fn flying_next(&self) -> bool {
        let end = self.sheet.end_of_sentence(self.i);
        self.n.is_none() && (end..self.sheet.len().min(end + 5)).any(|k| self.tells_of_flying(k))
    }

    fn tells_of_flying(&self, k: usize) -> bool {
        let sheet = self.sheet;
        sheet.any(k, &[Cue::Flight, Cue::Longest])
            && sheet.is(k, &["flight", "flights", "longest", "furthest", "recalls", "hops"])
            || sheet.is(k, &["flew", "flown", "flying", "free", "metres", "meters", "yards", "called"])
    }

    /// Whether a word of this meaning may stand here.
    fn bears_out(&self, sense: Sense) -> bool {
        let sheet = self.sheet;
        match sense {
            Sense::Behaviour(b) => self.behaviour(&sheet.lexicon.behaviours()[usize::from(b)].word),
            Sense::Sign(sign) => self.sign(sign),
            Sense::Step(step) => self.step(step),
            Sense::Kit(k) => self.kit(&sheet.lexicon.equipment()[usize::from(k)].word),
            Sense::Food(_) => self.food(),
            Sense::Part(_) => {
                self.p.is_some_and(|p| sheet.food(p).is_some())
                    && (self.closes() || self.n_any(&[Cue::And, Cue::But]))
            }
            Sense::Quarry(_) => {
                let verb = self.left(5, |k| {
                    sheet.any(k, &[Cue::Took, Cue::Missed, Cue::Chased])
                        && !sheet.is(k, &["got", "in", "after", "put", "close", "landed", "hit"])
                        || sheet.is(k, &["entered", "entering", "stooped"])
                });
                let counted = self.p.is_some_and(|p| sheet.num(p).is_some())
                    || self.p_is(&["a", "an", "another", "one"])
                    || self.p_is(&["on", "at", "the"]) && !self.ordinary;
                verb && counted && !self.n_is(&["of"])
            }
            Sense::Cue(cue) => self.cue(cue),
            Sense::Grade(..) => {
                (self.opens()
                    || (self.subject() || self.p_any(&[Cue::And]) || self.p_is(&["any"])) && !self.single)
                    && (self.closes() || self.n_any(&[Cue::And, Cue::But, Cue::Today]))
                    && (!self.single || self.flying_before())
            }
            _ => false,
        }
    }

    /// Flights were told of just before.
    fn flying_before(&self) -> bool {
        (self.i.saturating_sub(16)..self.i).any(|k| {
            self.sheet.has(k, Cue::Flight) || self.sheet.is(k, &["longest", "flew", "free", "flights"])
        })
    }
}

impl Place<'_, '_> {
    fn sounds_like_quarry(&self, k: usize) -> bool {
        let word = self.sheet.word(k);
        let listed = self
            .sheet
            .lexicon
            .heard
            .word(&self.sheet.lexicon.vocabulary, word)
            .is_some_and(|s| s.iter().any(|x| matches!(x, Sense::Quarry(_))));
        word.len() > 3 && listed
    }
}
