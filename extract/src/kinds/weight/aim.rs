//! Figures that are aimed at: "620 is the target", "it's 930 I want her at", "I'd be happier with 890".

use super::Mass;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Whether the figure is where the bird should be and not where she is.
pub(super) fn aimed(sheet: &Sheet, mass: &Mass) -> bool {
    cleft(sheet, mass) || named_aim(sheet, mass) || supposed(sheet, mass)
}

/// "620 is the target", "640 would do me": said behind the figure.
fn named_aim(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    let end = sheet.end_of_sentence(i).min(mass.to + 6);
    for k in mass.to + 1..end {
        if sheet.before(k) != Break::None || sheet.num(k).is_some() {
            break;
        }
        if sheet.is(k, &["target", "ideal", "goal", "aim", "want", "wanted"])
            || sheet.words(k) == "target weight"
            || sheet.words(k) == "flying weight"
            || matches!(
                sheet.words(k),
                "would be" | "would do" | "'d do" | "will do" | "would suit" | "'d be"
            )
            || sheet.is(k, &["would", "'d"]) && matches!(sheet.word(k + 1), "be" | "do" | "suit")
        {
            let compares = (mass.to + 1..k).any(|m| {
                sheet.any(m, &[Cue::Delta, Cue::Than])
                    || sheet.is(m, &["over", "under", "above", "below", "near", "not", "on", "from", "than"])
            });
            return !compares;
        }
        if sheet.any(k, &[Cue::And, Cue::But]) && !sheet.is(k, &["where", "as"]) {
            break;
        }
    }
    false
}

/// "it's 930 I want her at", "920 is where I'd like her", "we're after 915": the figure that is aimed at.
fn cleft(sheet: &Sheet, mass: &Mass) -> bool {
    let tight = |k: usize| k < sheet.len() && sheet.before(k) == Break::None;
    let i = mass.from;
    let after = i > 1
        && tight(i)
        && sheet.is(i - 1, &["after", "chasing"])
        && tight(i - 1)
        && (sheet.is(i - 2, &["'re", "'m"]) || sheet.ends(i - 2, &["'re", "'m"]));
    if after {
        return true;
    }
    const WISHES: [&str; 16] = [
        "aiming", "aim", "looking", "after", "like", "shooting", "working", "need", "waiting", "prefer",
        "fancy", "want", "wanted", "hoping", "happiest", "happier",
    ];
    let wishes = |k: usize| {
        let atom = &sheet.atoms[k];
        sheet.has(k, Cue::Want)
            || (atom.first..=atom.last).any(|t| WISHES.contains(&sheet.tokens[t].norm.as_str()))
    };
    let mut k = mass.to + 1;
    let is = tight(k) && (sheet.any(k, &[Cue::Be]) || sheet.is(k, &["'s", "'d"]));
    if is {
        k += 1;
    }
    // "920 is where I want her", "925's the figure I'm after"
    let relative = tight(k)
        && (matches!(sheet.word(k), "where" | "what" | "that" | "which")
            || is
                && sheet.is(k, &["the"])
                && sheet.is(k + 1, &["number", "figure", "weight", "mark", "one"]));
    // "where I want" may be one phrase.
    if relative && !sheet.ends(k, &["want", "like", "need"]) {
        k += 1 + usize::from(sheet.is(k, &["the"]));
    }
    let speaker = tight(k)
        && (sheet.any(k, &[Cue::I])
            || sheet.ends(k, &["i", "we"])
            || sheet.word(k) == "i"
            || sheet.word(k) == "we"
            || relative && (sheet.word(k) == "where" || sheet.any(k, &[Cue::He, Cue::She])));
    // "940 I'm pleased to say" and "938 I like it": the wish needs its clause to close on the bird.
    let led = relative || (i.saturating_sub(2)..i).any(|m| sheet.is(m, &["it"]) || sheet.word(m) == "it");
    let end = (k..sheet.len().min(k + 8)).find(|m| !tight(*m)).unwrap_or(sheet.len().min(k + 8));
    speaker && led && (k..end).any(wishes)
}

/// "I'd be happier with 890", "she should fly at 895", "ten off and she'd be at 895": what is not so yet.
fn supposed(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    let tight = |k: usize| sheet.before(k) == Break::None;
    let mut k = i;
    while k > 0 && i - k < 5 && tight(k) && sheet.num(k - 1).is_none() && sheet.bird(k - 1).is_none() {
        k -= 1;
        let happier =
            sheet.is(k, &["happier", "happy", "content", "better"]) && sheet.is(k + 1, &["with", "at"]);
        let should = sheet.is(k, &["should"]) && sheet.any(k + 1, &[Cue::Flew]);
        let would = sheet.is(k, &["be"]) && k > 0 && sheet.is(k - 1, &["'d", "would", "she'd", "he'd"])
            || matches!(sheet.words(k), "she'd be" | "he'd be" | "'d be" | "would be");
        if happier || should || would {
            return true;
        }
    }
    false
}
