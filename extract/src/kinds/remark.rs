//! What else is worth keeping: health worries, vet visits, visitors, plans.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use note::{Remark, Value};

/// Finds sentences worth keeping in the keeper's words.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut i = 0;
    while i < sheet.len() {
        let end = sheet.end_of_sentence(i);
        if let Some((from, to)) = worth(sheet, i, end, out) {
            let value = Value::Remark(Remark { text: String::new() });
            out.push(Draft::new(sheet, value, from, to, 0.8).at(from));
        }
        i = end;
    }
}

fn worth(sheet: &Sheet, start: usize, end: usize, out: &[Draft]) -> Option<(usize, usize)> {
    let live = |k: &usize| !sheet.dead[*k];
    // What the vet says of her is worth keeping though it is hearsay.
    let health = (start..end).find(|k| sheet.has(*k, Cue::Vet));
    let visit = (start..end).filter(live).find(|k| sheet.has(*k, Cue::Visit) && visit(sheet, *k));
    let todo = (start..end).filter(live).find(|k| sheet.has(*k, Cue::Todo) && task(sheet, *k, end));
    let key = health.or(visit).or_else(|| harm(sheet, start, end)).or_else(|| {
        todo.filter(|k| {
            // A plan that no entry holds yet.
            let held = out.iter().rev().take(60).any(|d| {
                d.from < end && d.to >= start && (!sheet.unbroken || d.from <= k + 3 && d.to + 3 >= *k)
            });
            !held
        })
    })?;
    // Without stops the words around the key are kept.
    let (from, to) = if end - start > 30 {
        (start.max(key.saturating_sub(6)), (end - 1).min(key + 10))
    } else {
        (start, end - 1)
    };
    Some((from, to))
}

fn visit(sheet: &Sheet, k: usize) -> bool {
    !sheet.is(
        k,
        &[
            "class", "fair", "show", "talk", "party", "tour", "children", "display", "press", "visit",
            "guides", "cubs",
        ],
    ) || sheet.is(k.saturating_sub(1), &["a", "an", "the", "school", "flying", "village", "of"])
}

/// "a branch through the roof of the mews": something of the birds' quarters came to harm.
fn harm(sheet: &Sheet, start: usize, end: usize) -> Option<usize> {
    let any = |k: usize, words: &[&str]| {
        let atom = &sheet.atoms[k];
        (atom.first..=atom.last).any(|t| words.contains(&sheet.tokens[t].norm.as_str()))
    };
    // A bird that flew from a tree to the mews tells of no harm.
    let named = (start..end).any(|k| sheet.bird(k).is_some());
    let amiss = (start..end).any(|k| {
        !named && any(k, &["branch", "tree"])
            || any(
                k,
                &[
                    "blown",
                    "blew",
                    "flooded",
                    "flood",
                    "leak",
                    "leaks",
                    "leaking",
                    "leaked",
                    "smashed",
                    "ripped",
                    "torn",
                    "tore",
                    "hole",
                    "damaged",
                    "damage",
                    "collapsed",
                    "rotten",
                    "broken",
                    "fell",
                    "fallen",
                    "chewed",
                    "burst",
                    "cracked",
                    "vandalised",
                ],
            )
    });
    (start..end).filter(|k| !sheet.dead[*k]).find(|k| {
        amiss
            && any(
                *k,
                &[
                    "mews",
                    "aviary",
                    "aviaries",
                    "roof",
                    "fence",
                    "fencing",
                    "gate",
                    "shed",
                    "door",
                    "window",
                    "netting",
                    "mesh",
                    "shelter",
                    "weathering",
                ],
            )
    })
}

fn task(sheet: &Sheet, k: usize, end: usize) -> bool {
    sheet.is(
        k,
        &[
            "order",
            "ordered",
            "ordering",
            "booked",
            "booking",
            "appointment",
            "remember",
            "remind",
            "buy",
            "need",
            "arranged",
            "borrow",
            "collect",
        ],
    ) || sheet.words(k).contains(' ')
        || (k..end).any(|m| {
            sheet.is(m, &["tomorrow", "monday", "saturday", "sunday", "weekend", "licence", "permission"])
        })
}
