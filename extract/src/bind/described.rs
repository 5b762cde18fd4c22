//! A bird of the roster by what it is: "the merlin", "the tiercel", "the female".

use crate::lexicon::Cue;
use crate::sheet::{Named, Sheet};
use crate::tokens::Break;

/// The one bird that "the gos" or "the female" can be at `n`; where several fit, none.
pub(crate) fn described(sheet: &Sheet, n: usize) -> Option<u16> {
    let candidate = sheet.has(n, Cue::OtherBird) || matches!(sheet.word(n), "boy" | "girl");
    if !candidate || sheet.names.len() < 2 || sheet.dead[n] || sheet.bird(n).is_some() {
        return None;
    }
    let tight = |k: usize| sheet.before(k) == Break::None;
    let led = n > 0 && tight(n) && sheet.is(n - 1, &["the", "our", "my"]);
    // "Female 938, male 641": where a name would head its clause.
    let heads = (n == 0 || !tight(n)) && (sheet.num(n + 1).is_some() || sheet.is(n + 1, &["'s"]));
    if !led && !heads {
        return None;
    }
    let word = sheet.words(n);
    // "the boy was 641"; else it may be a child.
    let lad =
        matches!(word, "boy" | "girl") && led && (sheet.any(n + 1, &[Cue::Be]) || sheet.num(n + 1).is_some());
    if !(lad || sheet.has(n, Cue::OtherBird) && !matches!(word, "his" | "theirs" | "hawk" | "bird")) {
        return None;
    }
    // "the goshawk at the club", "the male in that pen": not ours.
    let elsewhere = tight(n + 1)
        && sheet.is(n + 1, &["at", "up", "down", "over", "across", "from", "in", "next", "that", "who"])
        && sheet.num(n + 2).is_none();
    if elsewhere {
        return None;
    }
    let falcon = |b: &Named| {
        ["peregrine", "falcon", "lanner", "saker", "gyr", "barbary"].iter().any(|s| b.species.contains(s))
    };
    let fits = |b: &Named| match word {
        "male" | "boy" | "tiercel" | "tercel" | "musket" => b.male == Some(true),
        "female" | "girl" => b.male == Some(false),
        "falcon" => falcon(b) && b.male != Some(true),
        "gos" | "goshawk" => b.species.contains("gos"),
        "harris" | "harris hawk" | "harris's hawk" => b.species.contains("harris"),
        "redtail" | "red tail" => b.species.contains("red") && b.species.contains("tail"),
        "spar" | "sparrowhawk" => b.species.contains("sparrow") || b.species == "spar",
        "owl" | "barn owl" => b.species.contains("owl"),
        _ => !b.species.is_empty() && b.species.contains(word),
    };
    let mut fit = (0..sheet.names.len()).filter(|k| fits(&sheet.names[*k]));
    fit.next().filter(|_| fit.next().is_none()).and_then(|k| u16::try_from(k).ok())
}
