//! The note as a whole: each entry once, with its bird, time, words and confidence.

use crate::confidence;
use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::mass::PLAUSIBLE;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use note::{Degree, Entry, Flag, Quarry, Value, Weight};
use std::collections::HashMap;
use std::fmt::Write as _;

/// Makes entries of the drafts, in the order of their words.
pub(crate) fn settle(sheet: &Sheet, mut drafts: Vec<Draft>, text: &str) -> Vec<Entry> {
    drafts.sort_by_key(|d| (d.from, d.to));
    let assumed = assume(sheet, &drafts);
    let quotes = Quotes::new(text);
    let mut out: Vec<Entry> = Vec::with_capacity(drafts.len());
    let mut seen: HashMap<String, usize> = HashMap::new();
    for draft in drafts {
        let owners: Vec<(Option<u16>, bool)> = if matches!(draft.value, Value::Weather(_)) {
            vec![(None, false)]
        } else {
            match sheet.owner[draft.head] {
                Owner::One(b) => vec![if stranger_named(sheet, &draft) {
                    (Some(nearest(sheet, &draft, b)), true)
                } else {
                    (Some(b), name_assumed(sheet, draft.head, b))
                }],
                Owner::Two(a, b) => vec![(Some(a), false), (Some(b), false)],
                Owner::Many(all) => {
                    (0..64).filter(|b| all >> b & 1 == 1).map(|b: u16| (Some(b), false)).collect()
                }
                Owner::Unknown => {
                    let bird = assumed.at(draft.head);
                    vec![(bird, bird.is_some())]
                }
            }
        };
        for (bird, guess) in owners {
            let Some(entry) = entry(sheet, &draft, bird, guess, &quotes) else { continue };
            add(&mut out, &mut seen, entry);
        }
    }
    out
}

/// Whether the name before `i` was only borne out by the weight behind it.
fn name_assumed(sheet: &Sheet, i: usize, bird: u16) -> bool {
    (i.saturating_sub(24)..=i)
        .rev()
        .find(|k| sheet.bird(*k) == Some(bird))
        .is_some_and(|k| sheet.atoms[k].heard)
}

/// Whether a weight follows a word that stands where a name would and is none of the roster's.
///
/// "Sindhazan, 504 grams" was some bird's name before the speech model heard it.
fn stranger_named(sheet: &Sheet, draft: &Draft) -> bool {
    if !matches!(draft.value, Value::Weight(_)) || sheet.names.len() < 2 {
        return false;
    }
    let mut k = draft.from;
    // Over "was", "weighs", "'s" back to the word itself.
    while k > 0
        && (sheet.any(k - 1, &[Cue::Be, Cue::Weigh, Cue::Filler]) || sheet.is(k - 1, &["'s", "at"]))
        && draft.from - k < 3
    {
        k -= 1;
    }
    let Some(p) = k.checked_sub(1) else { return false };
    let atom = &sheet.atoms[p];
    let token = &sheet.tokens[atom.first];
    let opens = p == sheet.start_of_sentence(p);
    opens
        && token.capital
        && atom.first == atom.last
        && atom.num.is_none()
        && atom.bird.is_none()
        && atom.senses.is_empty()
        && token.norm.len() > 3
        && !sheet.lexicon.ordinary.contains(token.norm.as_str())
}

/// The bird whose last weight the weight lies nearest to, if only one fits; else `held`.
fn nearest(sheet: &Sheet, draft: &Draft, held: u16) -> u16 {
    let Value::Weight(w) = &draft.value else { return held };
    let fits = |k: &usize| {
        sheet.names[*k].last_grams.is_some_and(|l| crate::mass::distance(w.grams.get(), l) <= PLAUSIBLE)
    };
    let mut near = (0..sheet.names.len()).filter(fits);
    match (near.next(), near.next()) {
        (Some(one), None) => one as u16,
        _ => held,
    }
}

fn add(out: &mut Vec<Entry>, seen: &mut HashMap<String, usize>, entry: Entry) {
    let key = key(&entry);
    match seen.get(&key) {
        None => {
            seen.insert(key, out.len());
            out.push(entry);
        }
        Some(&at) => {
            let old = &mut out[at];
            match (&mut old.value, &entry.value) {
                // "641. Yes, 641 grams": the unit is kept.
                (Value::Weight(Weight { unit, .. }), Value::Weight(new)) => *unit = unit.or(new.unit),
                (Value::Quarry(Quarry { count, .. }), Value::Quarry(new)) => {
                    *count = count.saturating_add(new.count).min(100)
                }
                // "hungry, she was, really hungry": the strongest that was said.
                (Value::Behaviour(old), Value::Behaviour(new))
                    if new.degree == Degree::Strong && old.present && new.present =>
                {
                    old.degree = Degree::Strong
                }
                _ => {}
            }
            for flag in entry.flags {
                if !old.flags.contains(&flag) {
                    old.flags.push(flag);
                }
            }
        }
    }
}

/// What makes two entries the same.
fn key(entry: &Entry) -> String {
    let mut key = String::with_capacity(48);
    // Writing to a string cannot fail.
    let _ = match &entry.value {
        Value::Weight(w) => write!(key, "w{}", w.grams.get()),
        Value::Food(f) => write!(
            key,
            "f{}{:?}{:?}{:?}{:?}",
            f.item,
            f.part,
            f.outcome,
            f.count.map(f64::to_bits),
            f.grams.map(f64::to_bits)
        ),
        Value::Flights(f) => write!(key, "l{f:?}"),
        Value::Response(_) => write!(key, "r"),
        Value::Behaviour(b) => write!(key, "b{}", b.word),
        Value::Condition(c) => write!(key, "c{}{}", c.sign, c.reading),
        Value::Weather(_) => write!(key, "e"),
        Value::Quarry(q) => write!(key, "q{}{:?}", q.species, q.outcome),
        Value::Equipment(e) => write!(key, "k{}{:?}", e.item, e.action),
        Value::Training(t) => write!(key, "t{}{:?}", t.step, t.outcome),
        Value::Remark(r) => write!(key, "m{}", r.text),
    };
    let _ = write!(key, "|{}|{}", entry.bird.as_deref().unwrap_or_default(), entry.at.timestamp());
    key
}

/// The bird meant where no name was said and none is in hand, for each atom.
struct Assumed {
    all: Option<u16>,
    /// He and she are both spoken of: the pronoun decides, from each atom on.
    turns: Vec<(usize, Option<u16>)>,
}

impl Assumed {
    fn at(&self, i: usize) -> Option<u16> {
        match self.turns.partition_point(|t| t.0 <= i) {
            0 => self.all,
            k => self.turns[k - 1].1,
        }
    }
}

/// "one for him": where the thing begins that the pronoun at `i` is given; else `i`.
fn thing_for(sheet: &Sheet, start: usize, i: usize) -> usize {
    let prep = ["for ", "to "].iter().any(|p| sheet.words(i).starts_with(p));
    let led = i > start && sheet.before(i) == Break::None && sheet.is(i - 1, &["for", "to", "into"]);
    if !prep && !led {
        return i;
    }
    let mut k = if prep { i } else { i - 1 };
    while k > start && sheet.before(k) == Break::None && i - k < 5 && sheet.num(k).is_none() {
        k -= 1;
    }
    k
}

fn assume(sheet: &Sheet, drafts: &[Draft]) -> Assumed {
    let all = |bird| Assumed { all: bird, turns: Vec::new() };
    if sheet.names.len() == 1 {
        return all(Some(0));
    }
    let unnamed = |i: usize| sheet.owner.get(i) == Some(&Owner::Unknown) && !sheet.dead[i];
    let end = (0..sheet.len()).find(|i| sheet.owner[*i] != Owner::Unknown).unwrap_or(sheet.len());
    let sex = |i: usize| {
        if !unnamed(i) {
            None
        } else if sheet.any(i, &[Cue::He, Cue::His]) || sheet.is(i, &["him", "for him", "to him"]) {
            Some(true)
        } else if sheet.any(i, &[Cue::She, Cue::Her]) || sheet.is(i, &["her", "for her", "to her"]) {
            Some(false)
        } else {
            None
        }
    };
    let of_sex = |male: bool| {
        let fit: Vec<usize> = (0..sheet.names.len()).filter(|k| sheet.names[*k].male == Some(male)).collect();
        let open = sheet.names.iter().any(|n| n.male.is_none());
        if let ([one], false) = (fit.as_slice(), open) { Some(*one as u16) } else { None }
    };
    let said: Vec<(usize, bool)> = (0..end).filter_map(|i| sex(i).map(|s| (i, s))).collect();
    let he = said.iter().any(|s| s.1);
    let she = said.iter().any(|s| !s.1);
    if he && she {
        let mut turns: Vec<(usize, Option<u16>)> = Vec::new();
        for (i, male) in said {
            // A pronoun speaks for its sentence from the start, if it is the first there.
            let start = sheet.start_of_sentence(i);
            let first = turns.last().is_none_or(|t| t.0 < start);
            let at = if first { start } else { thing_for(sheet, start, i) };
            turns.push((at, of_sex(male)));
        }
        return Assumed { all: None, turns };
    }
    if (he || she)
        && let Some(bird) = of_sex(he)
    {
        return all(Some(bird));
    }
    let mut near: Option<u16> = None;
    let mut turns: Vec<(usize, Option<u16>)> = Vec::new();
    for d in drafts {
        let Value::Weight(w) = &d.value else { continue };
        if !unnamed(d.head) {
            continue;
        }
        let fits: Vec<usize> = (0..sheet.names.len())
            .filter(|k| {
                sheet.names[*k]
                    .last_grams
                    .is_some_and(|l| crate::mass::distance(w.grams.get(), l) <= PLAUSIBLE)
            })
            .collect();
        match (fits.as_slice(), near) {
            ([one], None) => near = Some(*one as u16),
            ([one], Some(b)) if b == *one as u16 => {}
            // "266 on the first, 695 on the second": each is one bird's only.
            ([_], Some(_)) => {}
            _ => return all(None),
        }
        turns.push((d.from, fits.first().map(|b| *b as u16)));
    }
    if turns.iter().any(|t| t.1 != near) {
        turns.sort_unstable();
        return Assumed { all: None, turns };
    }
    all(near)
}

fn entry(sheet: &Sheet, draft: &Draft, bird: Option<u16>, guess: bool, quotes: &Quotes) -> Option<Entry> {
    let (first, last) = (sheet.atoms.get(draft.from)?, sheet.atoms.get(draft.to)?);
    let span = [sheet.tokens[first.first].start, sheet.tokens[last.last].end];
    let quote = quotes.cut(span);
    let mut flags = draft.flags.clone();
    if guess {
        flags.push(Flag::BirdAssumed);
    }
    let mut value = draft.value.clone();
    if let Value::Remark(remark) = &mut value {
        remark.text = quote.clone();
    }
    if let Value::Weight(w) = &value
        && let Some(last) = bird.and_then(|b| sheet.names[usize::from(b)].last_grams)
    {
        let far = crate::mass::distance(w.grams.get(), last) > PLAUSIBLE;
        if far && !flags.contains(&Flag::ImplausibleWeight) {
            flags.push(Flag::ImplausibleWeight);
        }
        if !far {
            flags.retain(|f| *f != Flag::ImplausibleWeight);
        }
    }
    let at = if draft.planned { None } else { sheet.when[draft.head] };
    let (mut confidence, unsure) = confidence::of(sheet, draft, guess);
    if guess && stranger_named(sheet, draft) {
        // A name was said and not understood: more doubtful than none said.
        confidence = confidence.min(0.75);
    } else if guess && matches!(sheet.owner[draft.head], Owner::One(_)) {
        // A name that its weight bears out was guessed by that very weight.
        confidence = confidence.min(0.88);
    }
    // A weight whose time was misheard is no weight to take on trust.
    let untimely = matches!(value, Value::Weight(_)) && sheet.untimely[draft.head];
    if untimely {
        confidence = confidence.min(0.8);
    }
    if (unsure || untimely) && !flags.contains(&Flag::LowSpeechConfidence) {
        flags.push(Flag::LowSpeechConfidence);
    }
    Some(Entry {
        value,
        bird: bird.map(|b| sheet.names[usize::from(b)].name.clone()),
        at: at.unwrap_or(sheet.context.at),
        quote,
        span,
        confidence,
        flags,
    })
}

/// Cuts quotes out of the text by scalar values.
struct Quotes<'t> {
    text: &'t str,
    /// Byte offset of every scalar value, and of the end.
    bytes: Vec<usize>,
}

impl<'t> Quotes<'t> {
    fn new(text: &'t str) -> Self {
        let mut bytes: Vec<usize> = text.char_indices().map(|(b, _)| b).collect();
        bytes.push(text.len());
        Quotes { text, bytes }
    }
    fn cut(&self, [start, end]: [usize; 2]) -> String {
        self.text[self.bytes[start]..self.bytes[end]].to_owned()
    }
}
