//! Bird names that were written as other words.

use super::code;
use crate::lexicon::Cue;
use crate::mass;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Finds bird names that were written as other words.
pub(super) fn names(sheet: &mut Sheet) {
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
