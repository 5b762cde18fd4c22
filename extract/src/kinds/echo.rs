//! What is said of a bird by leaning on what was said of another: "Sedge cast, Rook didn't", "so did Rook",
//! "Sedge flew twelve times, Rook six".
//!
//! Runs when the other kinds are found, on their drafts.

mod gap;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use note::{Behaviour, Condition, Degree, Food, Grade, Outcome, Response, Sign, Value};

/// How far back the thing leant on may lie, in atoms.
const REACH: usize = 40;

/// How the bird stands to the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Echo {
    /// "the same", "ditto": all that was told of the other.
    Same,
    /// "so did Rook", "Rook too": the last thing told.
    Too,
    /// "Rook did": the last thing, and it was so.
    Did,
    /// "Rook didn't"; whether he would not.
    Not(bool),
}

/// Finds what leans on what was said of another bird.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    if sheet.names.len() < 2 {
        return;
    }
    out.sort_by_key(|d| d.to);
    let base = out.len();
    let mut more: Vec<Draft> = Vec::new();
    for n in 0..sheet.len() {
        let subject = sheet.bird(n).is_some()
            || sheet.has(n, Cue::Other)
            || sheet.has(n, Cue::OtherBird) && crate::bind::described(sheet, n).is_some();
        if !sheet.dead[n] && !sheet.used[n] && matches!(sheet.owner[n], Owner::One(_)) && !subject {
            let closes = n + 1 >= sheet.len() || sheet.before(n + 1) != Break::None;
            let the = usize::from(n > 0 && sheet.is(n, &["same"]) && sheet.is(n - 1, &["the"]));
            // "Sedge, 940, crop empty, Rook, 642, the same."
            if closes && sheet.before(n - the) != Break::None {
                if sheet.is(n, &["the same", "same", "ditto", "likewise"]) {
                    echoed(sheet, n, (n - the, n), Echo::Same, &Said { out, base }, &mut more);
                } else if sheet.num(n).is_some() {
                    gap::alone(sheet, n, &Said { out, base }, &mut more);
                }
                out.append(&mut more);
            }
            continue;
        }
        if !subject || sheet.dead[n] || !matches!(sheet.owner[n], Owner::One(_)) {
            continue;
        }
        gap::headed(sheet, n, &mut more);
        let cue = cue(sheet, n);
        // "four from Harrow, likewise": both.
        if cue.is_none_or(|(_, from, _)| from == n) {
            gap::elided(sheet, n, &Said { out, base }, &mut more);
            out.append(&mut more);
        }
        if let Some((echo, from, to)) = cue {
            echoed(sheet, n, (from, to), echo, &Said { out, base }, &mut more);
        }
        // "ditto Mote" leans on what Rook had of Sedge's.
        out.append(&mut more);
    }
    // "Sedge was instant, Rook slow", "sharp on Rook" of the keel: no trait of the bird.
    let told: Vec<(usize, usize)> = out[base..]
        .iter()
        .filter(|d| matches!(d.value, Value::Response(_) | Value::Condition(_)))
        .map(|d| (d.from, d.to))
        .collect();
    if !told.is_empty() {
        out.retain(|d| {
            let trait_word =
                matches!(&d.value, Value::Behaviour(b) if matches!(b.word.as_str(), "sluggish" | "keen"));
            !(trait_word && told.iter().any(|(from, to)| (*from..=*to).contains(&d.head)))
        });
    }
}

/// What was found so far: sorted by its last atom as far as `base`, then what was added on the way.
struct Said<'o> {
    out: &'o [Draft],
    base: usize,
}

impl Said<'_> {
    /// The drafts whose last atom lies in `from..to`.
    fn within(&self, from: usize, to: usize) -> Vec<usize> {
        let sorted = &self.out[..self.base];
        let found = sorted.partition_point(|d| d.to < from)..sorted.partition_point(|d| d.to < to);
        let added = (self.base..self.out.len()).rev().take_while(|k| self.out[*k].head + REACH >= from);
        let mut all: Vec<usize> = found.collect();
        all.extend(added.filter(|k| (from..to).contains(&self.out[*k].to)));
        all
    }
}

/// The words of up to six tokens before `first`, nearest last, as far as no break parts them.
fn words_before<'s>(sheet: &'s Sheet<'_>, first: usize) -> Vec<&'s str> {
    let mut words = Vec::with_capacity(5);
    let mut t = first;
    while t > 0 && words.len() < 5 && sheet.tokens[t].before == Break::None {
        t -= 1;
        words.push(sheet.tokens[t].norm.as_str());
    }
    words.reverse();
    words
}

/// The words behind `last` up to the next break; a comma may follow the name itself.
fn words_after<'s>(sheet: &'s Sheet<'_>, last: usize) -> Vec<&'s str> {
    let mut words = Vec::with_capacity(7);
    for t in last + 1..sheet.tokens.len().min(last + 8) {
        let before = sheet.tokens[t].before;
        if before == Break::Stop || before == Break::Comma && t > last + 1 {
            break;
        }
        words.push(sheet.tokens[t].norm.as_str());
    }
    words
}

fn auxiliary(word: &str) -> bool {
    matches!(
        word,
        "did"
            | "has"
            | "had"
            | "is"
            | "was"
            | "does"
            | "do"
            | "were"
            | "would"
            | "have"
            | "wo"
            | "will"
            | "could"
    )
}

/// Words that may follow and change nothing.
fn tail(words: &[&str]) -> bool {
    if matches!(words.first(), None | Some(&("and" | "but" | "which"))) {
        return true;
    }
    words.iter().enumerate().all(|(k, word)| match *word {
        "well" => k > 0 && words[k - 1] == "as",
        "all" => k > 0 && words[k - 1] == "at",
        "as" => words.get(k + 1) == Some(&"well"),
        "at" => words.get(k + 1) == Some(&"all"),
        word => matches!(
            word,
            "too"
                | "either"
                | "also"
                | "though"
                | "today"
                | "tonight"
                | "this"
                | "morning"
                | "evening"
                | "afternoon"
                | "again"
                | "really"
                | "yet"
                | "so"
                | "then"
        ),
    })
}

/// What ties the bird at `n` to the one before, and the atoms that say so.
fn cue(sheet: &Sheet, n: usize) -> Option<(Echo, usize, usize)> {
    const SAME: [&str; 22] = [
        "the same",
        "same",
        "same again",
        "the same again",
        "was the same",
        "is the same",
        "'s the same",
        "were the same",
        "much the same",
        "exactly the same",
        "was much the same",
        "ditto",
        "did the same",
        "the same thing",
        "no different",
        "was no different",
        "just the same",
        "was just the same",
        "about the same",
        "had the same",
        "got the same",
        "has the same",
    ];
    const TOO: [&str; 14] = [
        "too",
        "as well",
        "also",
        "likewise",
        "did too",
        "was too",
        "is too",
        "has too",
        "did likewise",
        "similarly",
        "did as well",
        "was as well",
        "is as well",
        "has as well",
    ];
    const SAME_FOR: [&str; 14] = [
        "same for",
        "same with",
        "same goes for",
        "same again for",
        "same on",
        "same from",
        "ditto",
        "ditto for",
        "ditto with",
        "same thing with",
        "same to",
        "same again with",
        "same went for",
        "same story with",
    ];
    let (first, last) = (sheet.atoms[n].first, sheet.atoms[n].last);
    let after = words_after(sheet, last);
    let before = words_before(sheet, first);
    let behind =
        |k: usize| sheet.atoms.iter().skip(n).take(8).position(|a| a.last >= last + k).map_or(n, |d| n + d);
    let ahead = |k: usize| (0..=n).rev().take(8).find(|a| sheet.atoms[*a].first + k <= first).unwrap_or(n);
    // What stands before the name.
    if tail(&after) || after[..] == ["'s"] {
        let ends = |words: &str| {
            let many = words.split(' ').count();
            before.len() >= many && words.split(' ').eq(before[before.len() - many..].iter().copied())
        };
        let long = |of: &[&'static str]| of.iter().copied().filter(|w| ends(w)).max_by_key(|w| w.len());
        let prep =
            before.last().is_some_and(|w| matches!(*w, "for" | "with" | "on" | "from" | "to" | "ditto"));
        if let Some(words) = prep.then(|| long(&SAME_FOR)).flatten() {
            return Some((Echo::Same, ahead(words.split(' ').count()), n));
        }
        if let [.., lead, verb] = before[..]
            && auxiliary(verb)
            && matches!(lead, "so" | "as" | "neither" | "nor")
        {
            return Some((Echo::Too, ahead(2), n));
        }
        if ends("likewise") || ends("likewise for") || ends("likewise with") {
            return Some((Echo::Too, ahead(1), n));
        }
        // "checked Tansy's bell, and Harrow's"
        if after[..] == ["'s"] && before.last() == Some(&"and") {
            return Some((Echo::Too, n, behind(1)));
        }
        if ["bar", "barring", "except", "except for", "apart from", "save for"].into_iter().any(ends) {
            return Some((Echo::Not(false), ahead(1), n));
        }
        if ["not from", "none from", "nothing from", "not for", "not with", "not on"].into_iter().any(ends) {
            return Some((Echo::Not(false), ahead(2), n));
        }
        if ends("but not") || ends("not") && before.len() == 1 {
            return Some((Echo::Not(false), ahead(1), n));
        }
    }
    // What stands behind it.
    let skip = usize::from(matches!(after.first(), Some(&("'s" | "still" | "just"))) && after.len() > 1);
    for words in [&after[skip..], &after[..]] {
        // Most words behind a name begin none of these.
        let likely = words.first().is_some_and(|w| {
            matches!(
                *w,
                "the"
                    | "same"
                    | "was"
                    | "is"
                    | "'s"
                    | "were"
                    | "much"
                    | "exactly"
                    | "ditto"
                    | "did"
                    | "no"
                    | "just"
                    | "about"
                    | "had"
                    | "got"
                    | "has"
                    | "too"
                    | "as"
                    | "also"
                    | "likewise"
                    | "similarly"
            )
        });
        if !likely {
            continue;
        }
        let starts = |of: &[&'static str]| {
            of.iter()
                .copied()
                .map(|p| (p, p.split(' ').count()))
                .filter(|(p, many)| {
                    words.len() >= *many
                        && p.split(' ').eq(words[..*many].iter().copied())
                        && tail(&words[*many..])
                })
                .map(|(_, many)| many)
                .max()
        };
        if let Some(many) = starts(&SAME) {
            return Some((Echo::Same, n, behind(skip.min(after.len() - words.len()) + many)));
        }
        if let Some(many) = starts(&TOO) {
            return Some((Echo::Too, n, behind(skip.min(after.len() - words.len()) + many)));
        }
    }
    let near = sheet.tokens.get(last + 1).is_some_and(|t| t.before == Break::None);
    match after[..] {
        [verb, "n't" | "not", ref rest @ ..] if near && auxiliary(verb) && tail(rest) => {
            Some((Echo::Not(matches!(verb, "wo" | "would" | "will")), n, behind(2)))
        }
        [verb, ref rest @ ..] if near && auxiliary(verb) && tail(rest) => Some((Echo::Did, n, behind(1))),
        ["not", ref rest @ ..] if near && tail(rest) => Some((Echo::Not(false), n, behind(1))),
        _ => None,
    }
}

/// Whether the drafts at hand may be leant on: another bird's, shortly before.
fn leant_on(sheet: &Sheet, n: usize, from: usize, said: &Said) -> Vec<usize> {
    let out = said.out;
    let start = sheet.start_of_sentence(n);
    let floor = if start == 0 { 0 } else { sheet.start_of_sentence(start - 1) };
    let other = |d: &Draft| {
        let owner = sheet.owner[d.head];
        owner != sheet.owner[n] && owner != Owner::Unknown
    };
    let mut found = said.within((n + 1).saturating_sub(REACH), from);
    found.retain(|k| {
        let d = &out[*k];
        d.from >= floor
            && other(d)
            && !matches!(d.value, Value::Weight(_) | Value::Weather(_) | Value::Remark(_))
    });
    // "Sedge good, Rook fair, Mote immediate": what follows may show what kind it is.
    if found.is_empty() {
        found = said.within(from, n + REACH);
        found.retain(|k| {
            let d = &out[*k];
            matches!(d.value, Value::Response(_)) && d.to < sheet.end_of_sentence(n) && other(d)
        });
        return found;
    }
    // This sentence goes before the last.
    let here: Vec<usize> = found.iter().copied().filter(|k| out[*k].from >= start).collect();
    if here.is_empty() { found } else { here }
}

fn echoed(
    sheet: &mut Sheet,
    n: usize,
    (from, to): (usize, usize),
    echo: Echo,
    said: &Said,
    more: &mut Vec<Draft>,
) {
    let out = said.out;
    let found = leant_on(sheet, n, from, said);
    let Some(&last) = found.iter().max_by_key(|k| out[**k].to) else { return };
    let owner = sheet.owner[out[last].head];
    let had = (from..=to).any(|k| sheet.is(k, &["had", "got", "has"]) || sheet.words(k).starts_with("had "));
    let fed = had && echo == Echo::Same && found.iter().any(|k| matches!(out[*k].value, Value::Food(_)));
    let start = out[last].from;
    for k in found {
        let d = &out[k];
        let one_clause = || {
            let (a, b) = if d.to < start { (d.to + 1, start) } else { (start + 1, d.from) };
            (a..=b).all(|m| sheet.before(m) == Break::None)
        };
        let own = || {
            let sort = std::mem::discriminant(&d.value);
            let once = matches!(d.value, Value::Flights(_) | Value::Response(_) | Value::Food(_));
            let start = sheet.start_of_sentence(n);
            once && said.within(start.max(n.saturating_sub(REACH)), n + REACH).into_iter().any(|o| {
                let o = &out[o];
                o.from >= start
                    && o.head != d.head
                    && sheet.owner[o.head] == sheet.owner[n]
                    && std::mem::discriminant(&o.value) == sort
            })
        };
        let meant = sheet.owner[d.head] == owner
            && !own()
            && (echo == Echo::Same || k == last || one_clause())
            && (!fed || matches!(d.value, Value::Food(_)));
        // "Rook the same, longest sixty"
        let far = gap::longest(sheet, to).filter(|_| matches!(d.value, Value::Flights(_)));
        let Some(value) = meant.then(|| turned(&d.value, echo)).flatten() else { continue };
        let (value, to) = match (value, far) {
            (Value::Flights(f), Some((metres, last))) => {
                (Value::Flights(note::Flights { longest_m: Some(metres), ..f }), last)
            }
            (value, _) => (value, to),
        };
        let mut draft = Draft::new(sheet, value, from, to, 0.88).at(n);
        draft.planned = d.planned;
        more.push(draft);
    }
    if !more.is_empty() {
        sheet.take(from, to);
    }
}

/// What was said of the other bird, as it is said of this one.
fn turned(value: &Value, echo: Echo) -> Option<Value> {
    let denied = matches!(echo, Echo::Not(_));
    match value {
        Value::Behaviour(b) => {
            let present = match echo {
                Echo::Did => true,
                Echo::Not(_) => false,
                _ => b.present,
            };
            let degree = if present && b.present { b.degree } else { Degree::Plain };
            Some(Value::Behaviour(Behaviour { word: b.word.clone(), present, degree }))
        }
        Value::Condition(c) if c.sign == Sign::Casting => {
            let reading = match (echo, c.reading.as_str()) {
                (Echo::Not(_), "cast" | "none") => "none".to_owned(),
                (Echo::Did, "none") => "cast".to_owned(),
                (Echo::Not(_), _) => return None,
                (_, reading) => reading.to_owned(),
            };
            Some(Value::Condition(Condition { sign: Sign::Casting, reading }))
        }
        Value::Food(f) if denied => (f.outcome == Outcome::Eaten)
            .then(|| Value::Food(Food { outcome: Outcome::Refused, ..f.clone() })),
        Value::Food(f) if echo == Echo::Did && f.outcome == Outcome::Refused => {
            Some(Value::Food(Food { outcome: Outcome::Eaten, ..f.clone() }))
        }
        Value::Response(_) if echo == Echo::Not(true) => {
            Grade::new(1).map(|grade| Value::Response(Response { grade }))
        }
        _ if denied => None,
        other => Some(other.clone()),
    }
}
