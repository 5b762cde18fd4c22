//! The note laid out for the rules: tokens joined to atoms, each with what it may mean.

use crate::lexicon::{Cue, Found, Lexicon, Sense};
use crate::number::{Num, Reader};
use crate::tokens::{Break, Token};
use crate::{Context, mass};
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

/// The names and aliases as lower-case words.
fn spellings(context: &Context, names: &[Named]) -> Vec<(Vec<String>, u16)> {
    let words = |name: &str| crate::tokens::tokens(name).into_iter().map(|t| t.norm).collect::<Vec<_>>();
    let mut out = Vec::new();
    for (k, named) in names.iter().enumerate() {
        out.push((words(&named.name), k as u16));
        if let Some(bird) = context.birds.get(k) {
            out.extend(bird.aliases.iter().map(|a| (words(a), k as u16)));
        }
    }
    out.retain(|(w, _)| !w.is_empty());
    out.sort_by_key(|(w, _)| std::cmp::Reverse(w.len()));
    out
}

fn name_at(tokens: &[Token], at: usize, spellings: &[(Vec<String>, u16)]) -> Option<(usize, u16)> {
    spellings.iter().find_map(|(words, bird)| {
        let fits = |last: &dyn Fn(&str, &str) -> bool| {
            at + words.len() <= tokens.len()
                && words.iter().enumerate().all(|(k, w)| {
                    let t = &tokens[at + k];
                    let end = k + 1 == words.len();
                    (k == 0 || t.before == Break::None) && if end { last(&t.norm, w) } else { t.norm == *w }
                })
        };
        // "Ferns 933" is "Fern's 933".
        let plain = fits(&|t, w| t == w);
        let loose = || fits(&|t, w| w.len() > 2 && t.strip_suffix('s') == Some(w));
        (plain || loose()).then_some((words.len(), *bird))
    })
}

fn atoms<'a>(
    tokens: &[Token],
    ids: &[Option<u32>],
    context: &'a Context,
    lexicon: &'a Lexicon,
    names: &[Named],
) -> Vec<Atom<'a>> {
    let spellings = spellings(context, names);
    let reader = Reader { tokens, end: tokens.len() };
    let lasts: Vec<f64> = names.iter().filter_map(|n| n.last_grams).collect();
    // "three ten bits" are three tidbits.
    let stop = |at: usize| {
        lexicon
            .heard
            .find(ids, tokens, at)
            .is_some_and(|f| f.len > 1 && f.senses.iter().any(|s| matches!(s, Sense::Food(_))))
    };
    let noun = |at: usize| {
        at < tokens.len()
            && tokens[at].before == Break::None
            && lexicon.said.find(ids, tokens, at).is_some_and(|f| f.senses.iter().any(counted))
            // "tallow three thirty one moth two eighty four": a bird of the roster is not counted.
            && (name_at(tokens, at, &spellings).is_none() || common_noun(tokens, at, lexicon, ids))
    };
    let likely = |num: &Num| mass::near_any(num, &lasts);
    let mut out: Vec<Atom<'a>> = Vec::with_capacity(tokens.len());
    let mut at = 0;
    while at < tokens.len() {
        let atom = |len: usize, senses: &'a [Sense], bird| {
            let mut atom = Atom { bird, ..Atom::new(tokens, at, at + len - 1) };
            atom.mean(senses);
            atom
        };
        let number = |num: Num| {
            let atom = Atom::new(tokens, num.first, num.last);
            Atom { num: Some(num), ..atom }
        };
        if let Some((len, bird)) =
            name_at(tokens, at, &spellings).filter(|_| !common_noun(tokens, at, lexicon, ids))
        {
            out.push(atom(len, &[], Some(bird)));
            at += len;
            continue;
        }
        if let Some(found) = lexicon.own.find(ids, tokens, at) {
            out.push(atom(found.len, found.senses, None));
            at += found.len;
            continue;
        }
        let mut found = lexicon.said.find(ids, tokens, at);
        // "a chick head for it": the part of the food right before it.
        if found.is_some_and(|f| f.len > 1 && f.senses.iter().all(|s| matches!(s, Sense::Cue(_))))
            && tokens[at].before == Break::None
            && out.last().is_some_and(|a| a.senses.iter().any(|s| matches!(s, Sense::Food(_))))
            && let Some(part) = lexicon.said.find_up_to(ids, tokens, at, 1)
            && part.senses.iter().any(|s| matches!(s, Sense::Part(_)))
            && tokens[at].norm != "back"
        {
            found = Some(part);
        }
        let for_bird = |f: &Found| {
            let end = at + f.len;
            f.len > 1
                && tokens[at].norm == "pounds"
                && tokens[end - 1].norm == "for"
                && name_at(tokens, end, &spellings).is_some_and(|(len, _)| {
                    tokens.get(end + len).is_none_or(|t| t.norm != "'s" || t.before != Break::None)
                })
        };
        // "nine and a half pounds for Thora" is her weight and no price.
        while let Some(f) = found.filter(|f| {
            for_bird(f) || overruled(f, at, tokens, &reader, &|k| lexicon.said.find(ids, tokens, k))
        }) {
            found = lexicon.said.find_up_to(ids, tokens, at, f.len - 1);
        }
        let long = found.is_some_and(|f| f.len > 1);
        if !long && reader.starts(at) && !pronoun(tokens, at, &noun) {
            // "three out of five ten seventy": a mark is out of five or ten, and what follows is another number.
            let marked = at > 1
                && tokens[at - 1].norm == "of"
                && tokens[at - 2].norm == "out"
                && matches!(tokens[at].norm.as_str(), "five" | "ten" | "5" | "10");
            let end = (at + 1..tokens.len().min(at + 24))
                .take_while(|k| tokens[*k].before == Break::None)
                .find(|k| reader.starts(*k) && stop(*k));
            let end = if marked { Some(at + 1) } else { end };
            let run = Reader { tokens, end: end.unwrap_or(tokens.len()) }.run(at, &noun, &likely);
            let end = run.last().map(|n| n.last + 1);
            for num in run {
                out.push(number(num));
            }
            if let Some(end) = end.filter(|e| *e > at) {
                at = end;
                continue;
            }
        }
        if let Some(num) = homophone(tokens, at, &likely, &reader) {
            let last = num.last;
            out.push(number(num));
            at = last + 1;
            continue;
        }
        match found {
            Some(found) => {
                out.push(atom(found.len, found.senses, None));
                at += found.len;
            }
            None => {
                out.push(atom(1, &[], None));
                at += 1;
            }
        }
    }
    out
}

/// "chased a rook" where a bird is called Rook: with an article it is the quarry.
fn common_noun(tokens: &[Token], at: usize, lexicon: &Lexicon, said: &[Option<u32>]) -> bool {
    let article = at > 0
        && tokens[at].before == Break::None
        && match tokens[at - 1].norm.as_str() {
            "a" | "an" | "another" | "some" | "no" => true,
            // "three thirty two moth two eighty": the end of a longer number counts no bird.
            "two" | "three" => {
                let reader = Reader { tokens, end: tokens.len() };
                let runs = at > 1 && tokens[at - 1].before == Break::None && reader.starts(at - 2);
                let weighed = tokens.get(at + 1).is_some_and(|t| t.before == Break::None);
                !runs && !(weighed && reader.starts(at + 1))
            }
            _ => false,
        };
    article
        && !tokens[at].capital
        && lexicon.said.find(said, tokens, at).is_some_and(|f| {
            f.senses.iter().any(|s| matches!(s, Sense::Quarry(_) | Sense::Food(_) | Sense::Kit(_)))
        })
}

/// Whether what begins inside an everyday phrase goes on past its end: "that one | point nine
/// kilos", "one day | old".
fn overruled<'l>(
    found: &Found,
    at: usize,
    tokens: &[Token],
    reader: &Reader,
    said: &dyn Fn(usize) -> Option<Found<'l>>,
) -> bool {
    if found.len < 2 || !found.senses.iter().all(|s| matches!(s, Sense::Cue(_))) {
        return false;
    }
    let end = at + found.len;
    // "quarter of a quail" is no time.
    if found.senses.contains(&Sense::Cue(Cue::QuarterTo))
        && tokens[end - 1].norm == "of"
        && !(end < tokens.len() && reader.starts(end) && tokens[end].norm != "a")
    {
        return true;
    }
    let next = tokens.get(end).filter(|t| t.before == Break::None);
    // "longest one | metre" too.
    const GOES_ON: [&str; 8] = ["point", "hundred", "thousand", "metre", "meter", "yard", "kilo", "pound"];
    let number = next.is_some_and(|t| GOES_ON.contains(&t.norm.as_str())) && reader.starts(end - 1);
    let trade = |k: usize| {
        said(k).is_some_and(|f| k + f.len > end && f.senses.iter().any(|s| matches!(s, Sense::Food(_))))
    };
    // "get her | to the lure": what it flew to.
    let aimed = end - at > 2
        && tokens[end - 1].norm == "to"
        && said(end - 1).is_some_and(|f| {
            let aim = |s: &Sense| matches!(s, Sense::Cue(Cue::ToLure | Cue::ToPerch | Cue::Fist));
            f.len > 1 && f.senses.iter().any(aim)
        });
    // "had the back of | a rat"
    let part = found.senses.contains(&Sense::Cue(Cue::Ordinary))
        && tokens[end - 1].norm == "of"
        && tokens[end - 2].norm == "back"
        && at > 0
        && matches!(
            tokens[at - 1].norm.as_str(),
            "had" | "ate" | "her" | "him" | "and" | "given" | "got" | "fed"
        )
        && (end..end + 2)
            .any(|k| said(k).is_some_and(|f| f.senses.iter().any(|s| matches!(s, Sense::Food(_)))));
    // "ten flights at | fifteen metres"
    let measured = end - at == 2
        && tokens[end - 1].norm == "at"
        && matches!(tokens[at].norm.as_str(), "flights" | "flight")
        && next.is_some()
        && reader.starts(end)
        && reader.run(end, &|_| true, &|_| false).first().is_some_and(|n| {
            tokens.get(n.last + 1).is_some_and(|t| {
                t.before == Break::None
                    && matches!(
                        t.norm.as_str(),
                        "metres" | "meters" | "metre" | "meter" | "m" | "yards" | "yard" | "feet" | "foot"
                    )
            })
        });
    number
        || aimed
        || part
        || measured
        || found.senses.contains(&Sense::Cue(Cue::Ordinary)) && (at + 1..end).any(trade)
}

/// "to 23" for two twenty-three, "for 42" for four forty-two: only where a bird weighs that much.
fn homophone(tokens: &[Token], at: usize, likely: &dyn Fn(&Num) -> bool, reader: &Reader) -> Option<Num> {
    let digit = match tokens[at].norm.as_str() {
        "to" | "too" => 2.0,
        "for" | "fore" => 4.0,
        "ate" => 8.0,
        "won" => 1.0,
        _ => return None,
    };
    let next = tokens.get(at + 1).filter(|t| t.before == Break::None)?;
    if !(next.number && next.norm.len() == 2) && !reader.starts(at + 1) {
        return None;
    }
    let rest = reader.run(at + 1, &|_| false, &|_| false);
    let rest =
        rest.first().filter(|n| n.form == crate::number::Form::Plain && (10.0..100.0).contains(&n.value))?;
    let num = Num {
        first: at,
        last: rest.last,
        value: digit * 100.0 + rest.value,
        parts: vec![digit, rest.value],
        form: crate::number::Form::Pair,
        digits: None,
        money: false,
        minus: false,
        fraction: false,
        mixed: rest.mixed,
    };
    let ends = tokens.get(rest.last + 1).is_none_or(|t| t.before != Break::None);
    (likely(&num) && ends).then_some(num)
}

/// Whether a thing of this meaning is counted or measured by the number before it.
fn counted(sense: &Sense) -> bool {
    match sense {
        Sense::Food(_) | Sense::Kit(_) | Sense::Quarry(_) | Sense::Part(_) => true,
        Sense::Cue(c) => {
            matches!(
                c,
                Cue::Flight | Cue::Times | Cue::Metres | Cue::Yards | Cue::Feet | Cue::Degrees | Cue::OutOf
            )
        }
        _ => false,
    }
}

/// "the first one", "that one": no number.
fn pronoun(tokens: &[Token], at: usize, noun: &dyn Fn(usize) -> bool) -> bool {
    if tokens[at].norm != "one" || noun(at + 1) {
        return false;
    }
    // "make that one point nine two kilos"
    let counts = tokens.get(at + 1).is_some_and(|t| {
        t.before == Break::None
            && matches!(t.norm.as_str(), "point" | "hundred" | "thousand" | "kilo" | "pound" | "ounce" | "oh")
    });
    if counts {
        return false;
    }
    // "fed her two sparrows, make that one"
    if at > 1 && tokens[at - 1].norm == "that" && tokens[at - 2].norm == "make" {
        return false;
    }
    const BEFORE: [&str; 27] = [
        "first", "last", "this", "that", "the", "which", "each", "every", "another", "second", "next", "big",
        "other", "no", "any", "good", "new", "old", "third", "wrong", "right", "little", "young", "only",
        "bad", "poor", "slow",
    ];
    at > 0 && tokens[at].before == Break::None && BEFORE.contains(&tokens[at - 1].norm.as_str())
}
