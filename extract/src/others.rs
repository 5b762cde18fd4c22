//! What is said of somebody else's bird, or only heard tell of.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Strikes out what is no observation of the keeper's own birds.
pub(crate) fn strike(sheet: &mut Sheet) {
    let mut carried = false;
    let mut i = 0;
    while i < sheet.len() {
        let end = sheet.end_of_sentence(i);
        let pronoun = sheet.any(i, &[Cue::He, Cue::She, Cue::His, Cue::Her, Cue::It])
            || sheet.any(i, &[Cue::And, Cue::But, Cue::Filler])
                && sheet.any(i + 1, &[Cue::He, Cue::She, Cue::It]);
        let named = (i..end).any(|k| sheet.bird(k).is_some());
        if carried && pronoun && !named {
            kill(sheet, i, end);
        } else {
            carried = sentence(sheet, i, end);
        }
        i = end;
    }
}

fn kill(sheet: &mut Sheet, from: usize, to: usize) {
    sheet.dead[from..to].fill(true);
}

/// Handles one sentence; returns whether it ends in talk of another's bird.
fn sentence(sheet: &mut Sheet, start: usize, end: usize) -> bool {
    let mut k = start;
    let mut carried = false;
    while k < end {
        if let Some(from) = stranger(sheet, start, end, k) {
            let to = back_to_own(sheet, k + 1, end);
            kill(sheet, from, to);
            carried = to == end;
            k = to.max(k + 1);
            continue;
        }
        if sheet.has(k, Cue::Hearsay) {
            let from = clause(sheet, start, k);
            let to = (k + 1..end)
                .find(|m| {
                    sheet.before(*m) >= Break::Comma
                        || sheet.bird(*m).is_some()
                        || sheet.is(*m, &["anyway", "anyhow", "ours", "mine"])
                        || sheet.has(*m, Cue::NowWeigh) && sheet.is(*m, &["now"])
                })
                .unwrap_or(end);
            // "She was 980 at Christmas, or so I'm told": all that was told.
            let told = sheet.words(k).contains("told")
                || sheet.words(k).contains("says")
                || sheet.words(k).contains("reckon");
            let from = if told && !(start.max(k.saturating_sub(60))..k).any(|m| sheet.bird(m).is_some()) {
                start
            } else {
                from
            };
            kill(sheet, from, to);
            k = to.max(k + 1);
            continue;
        }
        k += 1;
    }
    carried
}

fn clause(sheet: &Sheet, start: usize, k: usize) -> usize {
    let mut m = k;
    while m > start && sheet.before(m) == Break::None && sheet.bird(m).is_none() && k - m < 24 {
        m -= 1;
    }
    m
}

/// Where talk of the keeper's own birds begins again.
fn back_to_own(sheet: &Sheet, from: usize, end: usize) -> usize {
    (from..end)
        .find(|k| {
            sheet.bird(*k).is_some()
                || sheet.is(*k, &["anyway", "anyhow", "ours", "mine"])
                || sheet.is(*k, &["right"]) && sheet.bird(*k + 1).is_some()
        })
        .unwrap_or(end)
}

/// Whether atom `k` is a person or stranger whose bird is talked of; from where.
fn stranger(sheet: &Sheet, start: usize, end: usize, k: usize) -> Option<usize> {
    let window = end.min(k + 14);
    let stop = (k + 1..window).find(|m| sheet.bird(*m).is_some()).unwrap_or(window);
    let bird_word = |m: usize| sheet.has(m, Cue::OtherBird) && !sheet.is(m, &["his", "theirs"]);
    let his_bird = |m: usize| {
        sheet.is(m, &["his", "theirs", "hers"])
            && (bird_word(m + 1) || sheet.any(m + 1, &[Cue::Be]) || sheet.is(m + 1, &["at"]))
    };
    if sheet.has(k, Cue::Person) {
        let theirs = (k + 1..stop).any(|m| bird_word(m) || his_bird(m) || sheet.has(m, Cue::Hearsay))
            || sheet.words(k).ends_with("'s") && (k + 1..stop).any(|m| sheet.num(m).is_some());
        let own = (k + 1..stop).any(|m| {
            sheet.is(m, &["fed", "gave", "weighed", "held", "flew", "her", "him"])
                && !bird_word(m)
                && sheet.any(m, &[Cue::Her, Cue::He])
        }) && !(k + 1..stop).any(|m| bird_word(m) || his_bird(m));
        return (theirs && !own).then_some(start.max(clause(sheet, start, k)));
    }
    // "Dave's bird", "the club's male"; never "she's", "that's".
    let owner = sheet.is(k + 1, &["'s"])
        && sheet.bird(k).is_none()
        && sheet.senses(k).is_empty()
        && sheet.num(k).is_none()
        && sheet.before(k + 2) == Break::None
        && (bird_word(k + 2)
            || bird_word(k + 3) && sheet.before(k + 3) == Break::None && sheet.senses(k + 2).is_empty());
    if owner {
        return Some(clause(sheet, start, k));
    }
    let anothers = sheet.is(k, &["another", "somebody", "someone", "a"])
        && bird_word(k + 1)
        && sheet.before(k + 1) == Break::None
        && sheet.any(k + 2, &[Cue::Flew])
        && sheet.is(k + 2, &["flying"]);
    anothers.then_some(k)
}
