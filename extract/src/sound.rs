//! Words that only sound like the trade's: "crayons" for the creance, "Porsche" for Portia.
//!
//! Two sources propose a meaning: the lexicon's `heard` lists, and the sound of a word (Double
//! Metaphone codes and edit distance). Neither counts by itself: the place in the sentence has to
//! be one where such a word stands, and the more ordinary the word, the surer the place must be.

use crate::lexicon::{Cue, Lexicon, Sense};
use crate::mass;
use crate::sheet::{Atom, Sheet};
use crate::tokens::Break;
use note::{Sign, Step};
use rphonetic::{DoubleMetaphone, Encoder};
use std::collections::HashMap;

/// Trade words by their sound.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sounds {
    by_code: HashMap<String, Vec<String>>,
}

impl Sounds {
    /// Adds a word that may be looked for by its sound.
    pub(crate) fn add(&mut self, word: &str) {
        if word.len() < 4 || word.contains(' ') || word.contains('.') || word.contains('-') {
            return;
        }
        let list = self.by_code.entry(code(word)).or_default();
        if !list.iter().any(|w| w == word) {
            list.push(word.to_owned());
        }
    }

    /// Lists the words that sound like this one, the likest first.
    fn like(&self, word: &str) -> Vec<&str> {
        let mut found: Vec<(f64, &str)> = Vec::new();
        let code = code(word);
        if code.is_empty() {
            return Vec::new();
        }
        for target in self.by_code.get(&code).into_iter().flatten() {
            let near = strsim::jaro_winkler(word, target);
            if near >= 0.72 && target != word {
                found.push((near, target));
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        found.into_iter().map(|(_, w)| w).collect()
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
            (joined.before, joined.senses, joined.heard) = (atom.before, senses, true);
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
        && let Some(found) = lexicon.heard.find_up_to(&sheet.heard_ids, &sheet.tokens, atom.first, most)
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
    let strange = atom.first == atom.last
        && atom.senses.is_empty()
        && atom.num.is_none()
        && !token.number
        && token.norm.len() > 3;
    if !strange || lexicon.ordinary.contains(token.norm.as_str()) {
        return None;
    }
    let place = Place::new(sheet, i, i);
    lexicon.sounds.like(&token.norm).into_iter().find_map(|word| {
        let senses = lexicon.said.word(word)?;
        senses.iter().any(|s| place.bears_out(*s)).then_some((i, senses))
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
        while sheet.any(k, &[Cue::Be]) && k > 0 && sheet.before(k) == Break::None {
            k -= 1;
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
                    || self.p_is(&["a", "an", "another", "one", "on", "at", "the"]);
                verb && counted && !self.n_is(&["of"])
            }
            Sense::Cue(cue) => self.cue(cue),
            Sense::Grade(..) => {
                (self.opens() || (self.subject() || self.p_any(&[Cue::And])) && !self.single)
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

    fn behaviour(&self, word: &str) -> bool {
        let sheet = self.sheet;
        if self.first_person() || self.other_subject() {
            return false;
        }
        match word {
            "yarak" => {
                let inside = self.p_is(&["in", "into"]) || self.p.is_some_and(|p| sheet.words(p) == "full");
                return inside
                    && (self.closes() || self.n_any(&[Cue::And, Cue::But, Cue::Today]))
                    && !(self.ordinary && self.p_is(&["into"]));
            }
            "keen" => {
                return self.opens() && self.closes() || self.subject() && self.closes() && !self.single;
            }
            "hood shy" => {
                return self.subject()
                    || self.opens()
                    || self.p_any(&[Cue::Slight, Cue::Strong, Cue::Neg, Cue::And]);
            }
            "waiting on" => {
                return (self.opens() || self.subject() || self.p_any(&[Cue::And]))
                    && !self.n_is(&["the", "a", "my", "him", "them"]);
            }
            "raking away" | "self hunting" | "overflying" | "landing on ground" | "sitting tight"
            | "fed up" => {
                let lead = self.opens()
                    || self.subject()
                    || self.p_any(&[Cue::And, Cue::Neg, Cue::But, Cue::Or, Cue::Start])
                    || self.p_is(&["then", "no", "was", "to", "and", "kept", "or"]);
                return lead
                    && (!self.single
                        || self.n_is(&["me", "him", "us", "the"])
                        || self.closes()
                        || self.degree_next());
            }
            _ => {}
        }
        let degree_before = self.p_any(&[Cue::Slight, Cue::Strong])
            || self.p_is(&["of"]) && self.left(3, |k| sheet.any(k, &[Cue::Slight, Cue::Strong]));
        // "not stupid" denies a trait, "not stooping" a doing.
        let trait_denied = self.ordinary
            && self.p_is(&["not"])
            && !sheet.word(self.i).ends_with("ing")
            && !sheet.word(self.i).ends_with("ed");
        let denied = self.p_any(&[Cue::Neg]) && !trait_denied
            || self.p_is(&["n't", "more", "any"]) && self.left(4, |k| sheet.has(k, Cue::Neg));
        let runs_on = self.n_any(&[Cue::And, Cue::Or, Cue::But, Cue::Today])
            || self.n_is(&[
                "at", "on", "over", "in", "again", "when", "off", "for", "while", "from", "away", "me",
                "all", "every", "with", "because", "and", "though", "by", "twice", "to", "herself",
                "himself", "the", "round", "around", "nicely", "well", "after", "tonight", "this",
            ]);
        let listed = self.p_any(&[Cue::And, Cue::Or])
            || self.p_is(&[
                "started", "kept", "stopped", "then", "began", "some", "still", "just", "also", "was", "were",
            ]);
        let runs_on =
            runs_on || self.n.is_some_and(|n| matches!(sheet.words(n), "at all" | "in the" | "at me"));
        // "she was seeking on the perch"
        let perched = self.n_is(&["on"])
            && (1..4).any(|d| {
                self.n.is_some_and(|n| sheet.is(n + d, &["perch", "block", "fist", "glove", "bow", "lawn"]))
            });
        if perched && (self.subject() || self.opens()) {
            return true;
        }
        let ends = self.closes() || self.degree_next();
        let sure = self.opens() && ends
            || denied && (ends || runs_on)
            || degree_before && (ends || runs_on)
            || self.degree_next() && (self.subject() || listed);
        if self.ordinary {
            // "she was freezing", "the rising sun": not by being said of her alone.
            let alone = self.opens() && self.closes();
            if alone && !self.unbroken {
                // A word by itself counts among other things said of the bird.
                return self.neighbours();
            }
            return sure && !alone
                || alone && self.unbroken
                || self.subject() && self.closes() && self.listed_beside();
        }
        sure || self.subject() && (ends || runs_on) || listed && (ends || runs_on) && self.about_bird()
    }

    /// Something else is said of a bird in this sentence or right beside it.
    fn neighbours(&self) -> bool {
        let sheet = self.sheet;
        let from = self.i.saturating_sub(8);
        let to = sheet.len().min(self.i + 8);
        (from..to).any(|k| {
            k != self.i
                && (sheet.bird(k).is_some()
                    || sheet.num(k).is_some()
                    || sheet.food(k).is_some()
                    || sheet.sign(k).is_some()
                    || sheet.behaviour(k).is_some())
        })
    }

    fn listed_beside(&self) -> bool {
        self.near(6, |k| k != self.i && self.sheet.behaviour(k).is_some())
    }

    fn about_bird(&self) -> bool {
        self.left(10, |k| {
            self.sheet.bird(k).is_some()
                || self.sheet.any(k, &[Cue::He, Cue::She])
                || self.sheet.behaviour(k).is_some()
        })
    }

    fn sign(&self, sign: Sign) -> bool {
        let sheet = self.sheet;
        let after = |reach: usize, found: &dyn Fn(usize) -> bool| {
            let mut k = self.i + 1;
            while let Some(m) = Some(k)
                .filter(|m| *m < sheet.len() && sheet.before(*m) == Break::None && *m <= self.i + reach)
            {
                if found(m) {
                    return true;
                }
                if !(sheet.any(m, &[Cue::Be, Cue::Slight, Cue::Strong, Cue::Plain, Cue::Approx])
                    || sheet.is(m, &["'s", "all", "still", "look", "a", "bit", "scores", "score"]))
                {
                    return false;
                }
                k += 1;
            }
            false
        };
        let reading_of = |k: usize| sheet.reading(k, sign);
        let owned = self.p_any(&[Cue::Her, Cue::His]) || self.p_is(&["the", "'s"]) || self.opens();
        match sign {
            Sign::Mutes => {
                let strong = |k: usize| {
                    reading_of(k).is_some_and(|r| r != "none")
                        && (!self.ordinary
                            || sheet.is(
                                k,
                                &["normal", "green", "watery", "dark", "runny", "greenish", "black", "loose"],
                            ))
                };
                after(4, &strong)
                    && (owned || self.p_any(&[Cue::And, Cue::Today, Cue::ThisMorning, Cue::LastNight]))
                    || self.p.is_some_and(|p| strong(p) && !self.ordinary)
                    || self.p_is(&["no"])
                        && !self.ordinary
                        && (self.closes()
                            || self.n_is(&["since", "yet", "today", "from", "this", "overnight"]))
            }
            Sign::Keel => {
                let sharp = after(4, &|k| {
                    reading_of(k).is_some_and(|r| r != "good" || !self.ordinary || owned)
                        || sheet.num(k).is_some() && sheet.words(k + 1) == "out of"
                });
                sharp && owned
            }
            Sign::Crop => {
                (after(3, &|k| sheet.is(k, &["empty", "full", "half"]))
                    || self.p.is_some_and(|p| {
                        sheet.num(p).is_some_and(|n| n.fraction) || sheet.is(p, &["full", "empty"])
                    }))
                    && !self.n_is(&["of"])
            }
            Sign::Casting => {
                self.p_is(&["no"]) && (self.closes() || self.n_is(&["yet", "today", "this", "from"]))
                    || self.p_is(&["late", "poor"]) && self.closes()
            }
            Sign::Moult => {
                let near = self.left(4, |k| {
                    sheet.any(k, &[Cue::MoultStart, Cue::MoultEnd])
                        && !sheet.is(k, &["in", "in the", "over", "done", "starts"])
                });
                near && (self.p_is(&["the", "her", "his", "to", "a"])
                    || self.p_any(&[Cue::MoultStart, Cue::MoultEnd, Cue::His, Cue::Her]))
                    && (self.closes()
                        || self.n_any(&[Cue::And, Cue::But, Cue::Today])
                        || self.n_is(&["now", "early", "properly"]))
            }
            Sign::Talon | Sign::Beak | Sign::Feather => {
                let damaged = self.near(9, |k| {
                    k != self.i
                        && sheet.damage(k)
                        && sheet.is(
                            k,
                            &[
                                "cracked",
                                "chipped",
                                "overgrown",
                                "bent",
                                "frayed",
                                "broken",
                                "split",
                                "snapped",
                                "sheared",
                                "broke",
                            ],
                        )
                });
                damaged
                    && (owned || self.p_is(&["one", "hind", "back", "a", "bent", "broken"]))
                    && sign != Sign::Feather
            }
            Sign::Foot => {
                let side = self.p_is(&["left", "right"]);
                side && self
                    .near(7, |k| k > self.i && sheet.damage(k) && !sheet.is(k, &["fine", "clean", "left"]))
            }
        }
    }

    fn step(&self, step: Step) -> bool {
        let sheet = self.sheet;
        let training = |reach: usize| {
            self.near(reach, |k| {
                sheet.any(k, &[Cue::First, Cue::Start, Cue::Plan])
                    && !sheet.is(k, &["could", "might", "will", "'ll", "could", "first"])
                    || sheet.words(k).contains("first")
                    || sheet.is(k, &["planning", "started"])
            })
        };
        let ends = self.closes()
            || self.n_any(&[
                Cue::And,
                Cue::But,
                Cue::Fist,
                Cue::ToLure,
                Cue::ToPerch,
                Cue::Today,
                Cue::Flight,
                Cue::Free,
            ])
            || self.n_is(&["longest", "all", "furthest", "out"])
            || self.n_is(&[
                "for",
                "to",
                "with",
                "at",
                "in",
                "next",
                "this",
                "today",
                "tonight",
                "on",
                "yesterday",
                "tomorrow",
                "work",
                "flights",
                "line",
                "again",
            ])
            || self.n.is_some_and(|n| sheet.bird(n).is_some());
        match step {
            Step::Creance => {
                let on = self.p_is(&["the", "a"])
                    && self.i > 1
                    && (sheet.is(self.i - 2, &["on", "with", "onto", "planning", "off"])
                        || sheet.words(self.i - 2).ends_with("on")
                        || sheet.any(self.i - 2, &[Cue::Plan, Cue::Start]))
                    || self.p_is(&["on"])
                    || self.p.is_some_and(|p| matches!(sheet.words(p), "on to" | "back on" | "on the"));
                on && ends && (training(14) || self.flying() || self.flying_next() || !self.single)
            }
            Step::Hood => self.p_is(&["the", "a"]) && ends && training(10),
            Step::Telemetry => (self.p_is(&["with", "the"]) || self.opens()) && training(8),
            Step::Manning => {
                (training(5) || self.n_is(&["done", "finished"]))
                    && (ends || self.n_any(&[Cue::Her, Cue::He, Cue::Done]))
            }
            Step::Whistle | Step::TravelBox | Step::Lure => {
                (self.p_is(&["the", "a", "on"]) || self.p.is_some()) && ends && training(10)
            }
            Step::PerchToPerch
            | Step::FeedingOnTheFist
            | Step::SteppingToTheFist
            | Step::JumpingToTheFist => true,
            Step::FreeFlight => training(8) && !self.single,
            Step::Entering | Step::Hunting => false,
        }
    }

    fn kit(&self, item: &str) -> bool {
        let sheet = self.sheet;
        let verb = self.left(6, |k| {
            sheet.any(k, &[Cue::Fit, Cue::Change, Cue::TakeOff, Cue::Lost, Cue::Broke, Cue::Check])
                && !sheet.is(
                    k,
                    &[
                        "dropped", "missing", "threw", "died", "added", "wearing", "working", "cracked",
                        "bent", "is",
                    ],
                )
                || sheet.is(k, &["new", "put", "took"])
        });
        let led = self.p_any(&[
            Cue::Fit,
            Cue::Change,
            Cue::TakeOff,
            Cue::Lost,
            Cue::Broke,
            Cue::Check,
            Cue::Old,
            Cue::His,
            Cue::Her,
        ]) || self
            .p_is(&["a", "the", "new", "her", "his", "old", "of", "and", "'s", "both", "leather"])
            || self.p.is_some_and(|p| sheet.num(p).is_some());
        let ends = self.closes()
            || self.n_any(&[Cue::And, Cue::On, Cue::Off, Cue::But, Cue::Today])
            || self
                .n_is(&["for", "on", "off", "to", "with", "and", "had", "has", "that", "is", "'s", "today"])
            || self.n.is_some_and(|n| sheet.bird(n).is_some());
        match item {
            "lure" => {
                self.flying()
                    && (self.opens() && self.closes()
                        || self.p_is(&["the"])
                            && self.i > 1
                            && sheet.is(self.i - 2, &["to", "at", "gripping"]))
                    || verb && led && ends && !self.ordinary
            }
            "hood" => verb && led && ends && !self.p_is(&["and"]),
            "creance" => false,
            _ => {
                let after = self.near(9, |k| {
                    k > self.i
                        && (sheet.is(
                            k,
                            &["fitted", "snapped", "broke", "broken", "changed", "replaced", "checked"],
                        ) || sheet.words(k) == "is working")
                });
                let runs = self.closes()
                    || self.n_any(&[
                        Cue::Be,
                        Cue::On,
                        Cue::Broke,
                        Cue::Check,
                        Cue::Change,
                        Cue::Fit,
                        Cue::Her,
                        Cue::His,
                    ])
                    || self.n_is(&["had", "has", "on", "are", "is", "got", "have"]);
                (verb && led && ends) || after && runs && (led || self.opens()) && !self.ordinary
            }
        }
    }

    fn food(&self) -> bool {
        let sheet = self.sheet;
        let number = self.p.is_some_and(|p| {
            sheet.num(p).is_some_and(|n| n.value <= 12.0 && !n.money)
                || sheet.any(p, &[Cue::Grams, Cue::Ounces])
                || sheet.is(p, &["free", "tree"])
        });
        let half = self.p_is(&["a", "an"]) && self.i > 1 && sheet.num(self.i - 2).is_some_and(|n| n.fraction)
            || self.p_is(&["of"])
                && self.i > 1
                && sheet.any(self.i - 2, &[Cue::Grams, Cue::Ounces, Cue::Slight]);
        let article = self.p_is(&["a", "an", "some", "one", "another", "washed"])
            || self.p_any(&[Cue::Slight]) && self.p_is(&["some"]);
        let verb = self.left(7, |k| {
            sheet.any(k, &[Cue::Ate, Cue::Gave, Cue::Refused, Cue::Offered, Cue::Left])
                && !sheet.is(k, &["for", "on", "into", "just", "only", "got", "had"])
                || sheet.is(k, &["had"])
        });
        // "gave him wrangle"
        let handed = !self.ordinary
            && (self.p_any(&[Cue::Her, Cue::He]) || self.p.is_some_and(|p| sheet.bird(p).is_some()))
            && self.i > 1
            && sheet.is(self.i - 2, &["gave", "fed", "offered", "given", "give"]);
        let part = self.n.is_some_and(|n| sheet.part(n).is_some());
        if part && (article || number || half) {
            return true;
        }
        let ends = self.closes()
            || self.n_any(&[
                Cue::And,
                Cue::But,
                Cue::Today,
                Cue::Or,
                Cue::LastNight,
                Cue::Yesterday,
                Cue::ThisMorning,
            ])
            || self.n.is_some_and(|n| {
                sheet.part(n).is_some()
                    || sheet.bird(n).is_some()
                    || sheet.is(n, &["for", "into", "in", "then", "today", "tonight", "left"])
            });
        let list = self.left(5, |k| sheet.food(k).is_some())
            || self.near(6, |k| k > self.i && sheet.food(k).is_some());
        if !ends {
            return false;
        }
        if self.ordinary {
            // "no baiting, three docks last night": an amount by itself among things said of a bird.
            let alone = number
                && self.opens_before()
                && (self.closes()
                    || self.n_any(&[Cue::LastNight, Cue::Yesterday, Cue::ThisMorning, Cue::Today]))
                && self.near(8, |k| {
                    sheet.bird(k).is_some() || sheet.behaviour(k).is_some() || sheet.sign(k).is_some()
                });
            return half && !self.p_is(&["of"]) || number && (verb || list) || alone;
        }
        number
            || half
            || handed
            || article && (verb || list || self.opens_before())
            || self.opens() && self.closes() && list
    }

    fn opens_before(&self) -> bool {
        self.p.is_some_and(|p| p == 0 || self.sheet.before(p) != Break::None)
    }

    fn cue(&self, cue: Cue) -> bool {
        let sheet = self.sheet;
        let number = self.p.is_some_and(|p| sheet.num(p).is_some());
        match cue {
            Cue::ToLure | Cue::ToPerch | Cue::Fist => {
                self.near(8, |k| {
                    k < self.i && sheet.has(k, Cue::Flight) && sheet.is(k, &["flight", "flights", "fights"])
                        || sheet.is(k, &["flew", "flown", "flying", "free", "creance", "longest"])
                            && k < self.i
                }) && !sheet.is(self.i + 1, &["of"])
                    || self.left(6, |k| {
                        sheet.has(k, Cue::Start) && !sheet.is(k, &["onto"])
                            || sheet.words(k).contains("first time")
                    }) && cue == Cue::ToLure
            }
            Cue::Flight => {
                number
                    && self.near(10, |k| {
                        k > self.i
                            && (sheet.any(k, &[Cue::ToLure, Cue::ToPerch])
                                || sheet.is(k, &["longest", "free"])
                                || sheet.has(k, Cue::Fist) && sheet.words(k).starts_with("to"))
                    })
            }
            Cue::Flew => {
                self.n_any(&[Cue::Her, Cue::He])
                    && self.near(8, |k| {
                        k > self.i
                            && (sheet.is(k, &["free", "lure", "fist"])
                                || sheet.any(k, &[Cue::ToLure, Cue::Free]))
                    })
            }
            Cue::Missed => {
                (self.p_any(&[Cue::And, Cue::But, Cue::She, Cue::He]) || self.opens())
                    && (1..4).any(|d| {
                        self.n.is_some_and(|n| sheet.quarry(n + d).is_some())
                            || self.i + d < sheet.len() && self.sounds_like_quarry(self.i + d)
                    })
            }
            Cue::Longest => {
                self.n.is_some_and(|n| {
                    (0..3).any(|d| {
                        sheet.num(n + d).is_some()
                            && sheet.any(n + d + 1, &[Cue::Metres, Cue::Yards, Cue::Feet])
                    })
                }) && self.flying()
            }
            Cue::Grams | Cue::Kilos | Cue::Ounces => number,
            Cue::Metres | Cue::Yards => {
                number
                    && self.left(5, |k| sheet.has(k, Cue::Longest) && sheet.is(k, &["longest", "furthest"]))
            }
            Cue::Weigh => self.n.is_some_and(|n| {
                sheet.num(n).is_some() || sheet.num(n + 1).is_some() && sheet.is(n, &["at", "is", "'s", "in"])
            }),
            _ => false,
        }
    }
}

impl Place<'_, '_> {
    fn sounds_like_quarry(&self, k: usize) -> bool {
        let word = self.sheet.word(k);
        let listed = self
            .sheet
            .lexicon
            .heard
            .word(word)
            .is_some_and(|s| s.iter().any(|x| matches!(x, Sense::Quarry(_))));
        word.len() > 3 && listed
    }
}

/// Finds bird names that were written as other words.
fn names(sheet: &mut Sheet) {
    if sheet.names.is_empty() {
        return;
    }
    let roster = spelled(sheet);
    for i in 0..sheet.len() {
        if let Some(bird) = name(sheet, i, &roster) {
            sheet.atoms[i].bird = Some(bird);
            sheet.atoms[i].senses = &[];
        }
    }
}

/// Names and aliases of one word, with their sounds.
fn spelled(sheet: &Sheet) -> Vec<(String, String, u16)> {
    let mut out = Vec::new();
    for (k, named) in sheet.names.iter().enumerate() {
        let aliases = sheet.context.birds.get(k).map(|b| b.aliases.as_slice()).unwrap_or_default();
        for name in std::iter::once(&named.name).chain(aliases) {
            let lower = name.to_lowercase();
            if lower.len() > 2 && lower.chars().all(|c| c.is_ascii_alphabetic()) {
                out.push((lower.clone(), code(&lower), k as u16));
            }
        }
    }
    out
}

fn name(sheet: &Sheet, i: usize, roster: &[(String, String, u16)]) -> Option<u16> {
    let atom = &sheet.atoms[i];
    if atom.bird.is_some() || atom.first != atom.last || atom.num.is_some() {
        return None;
    }
    let token = &sheet.tokens[atom.first];
    if token.number || token.norm.len() < 3 || !token.norm.chars().all(|c| c.is_ascii_alphabetic()) {
        return None;
    }
    let ordinary = sheet.lexicon.ordinary.contains(token.norm.as_str()) || !atom.senses.is_empty();
    if !token.capital && ordinary {
        return None;
    }
    let opens = i == 0 || sheet.before(i) != Break::None;
    let next = i + 1;
    let tight = next < sheet.len() && sheet.before(next) == Break::None;
    let led = !opens
        && sheet.is(
            i - 1,
            &[
                "for", "into", "with", "and", "then", "now", "right", "on", "so", "to", "started", "had",
                "poor", "good", "dear", "old", "from",
            ],
        );
    let clitic = tight && sheet.is(next, &["'s", "'d", "'ll"]);
    let after = if clitic { next + 1 } else { next };
    let number = sheet.num(after).is_some() && sheet.before(after) != Break::Stop;
    let verb = tight
        && (sheet.any(
            next,
            &[Cue::Be, Cue::Ate, Cue::Took, Cue::Refused, Cue::Flew, Cue::Missed, Cue::Chased, Cue::Left],
        ) || sheet.behaviour(next).is_some()
            || [
                "is", "was", "has", "weighed", "weighs", "had", "went", "did", "jumped", "stepped", "landed",
                "cast", "casts", "came", "ate", "took",
            ]
            .contains(&sheet.word(next)));
    let closes = !tight;
    let slot = (opens || led) && (number || clitic || verb || closes);
    if !slot || !(token.capital || !ordinary) {
        return None;
    }
    let stem = token.norm.strip_suffix('s').filter(|s| s.len() > 2);
    [Some(token.norm.as_str()), stem].into_iter().flatten().find_map(|word| {
        alike(sheet, word, roster, Slot { i, opens, number, clitic, verb, led, closes, after, ordinary })
    })
}

/// Where a name may stand, and what stands around it.
struct Slot {
    i: usize,
    opens: bool,
    number: bool,
    clitic: bool,
    verb: bool,
    led: bool,
    closes: bool,
    after: usize,
    ordinary: bool,
}

fn alike(sheet: &Sheet, word: &str, roster: &[(String, String, u16)], slot: Slot) -> Option<u16> {
    let Slot { i, opens, number, clitic, verb, led, closes, after, ordinary } = slot;
    let atom = &sheet.atoms[i];
    let next = i + 1;
    let mine = code(word);
    let mut best: Option<(f64, u16)> = None;
    for (name, sound, bird) in roster {
        let near = strsim::jaro_winkler(word, name);
        let edits = strsim::damerau_levenshtein(word, name);
        let long = name.len().max(word.len());
        let same = mine == *sound && near >= 0.62;
        let rhyme = long <= 6 && name.len() == word.len() && edits == 1;
        let close = strsim::damerau_levenshtein(&mine, sound) <= 1
            && (sound.len() > 2 && near >= 0.78 || edits as f64 / long as f64 <= 0.26);
        if !(same || rhyme || close) {
            continue;
        }
        // An everyday word is a name only with a weight behind it that is this bird's.
        if ordinary {
            let last = sheet.names[usize::from(*bird)].last_grams;
            let weight = sheet.num(after).is_some_and(|n| last.is_some_and(|l| mass::near_any(n, &[l])));
            if !(weight && opens && number
                || same
                    && opens
                    && (clitic || closes && sheet.before(next) == Break::Comma)
                    && atom.senses.is_empty()
                    && word.len() > 3)
            {
                continue;
            }
        } else if !same && !(number || clitic || verb || led) {
            continue;
        }
        let score = near + if same { 0.1 } else { 0.0 };
        if best.is_none_or(|b| score > b.0) {
            best = Some((score, *bird));
        }
    }
    best.map(|b| b.1)
}
