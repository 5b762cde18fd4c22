//! Steps that are still to come.

use super::same_clause;
use super::start::starting;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Step;

/// The word that makes the step at `i` a plan.
pub(super) fn planned(sheet: &Sheet, i: usize, step: Step, aimed: bool) -> Option<usize> {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(14));
    let end = sheet.end_of_sentence(i).min(i + 12);
    let left = |reach: usize| (start.max(i.saturating_sub(reach))..i).rev();
    let same = |k: usize| same_clause(sheet, i, k);
    // "planning to start her on the creance", "first hunting day is planned".
    let nearer = |k: &usize| {
        (*k + 1..i).all(|m| {
            !sheet.any(m, &[Cue::Start])
                || sheet.is(m, &["start", "starting", "begin", "starts", "begins"])
                || sheet.dead[m]
                || sheet.has(*k, Cue::Will)
        }) || !sheet.is(*k, &["tomorrow"])
    };
    let plan = left(9)
        .filter(nearer)
        .find(|k| {
            let to_be = sheet.is(*k, &["be"]) && *k > start && sheet.is(*k - 1, &["to"]);
            let will_be = to_be || sheet.is(*k, &["will be", "to be", "is to be", "'ll be", "shall be"]);
            // "I want her at nine ten before she sees a line": the plan is another.
            let until = (*k + 1..i).any(|m| sheet.is(m, &["before", "until", "till"]));
            (sheet.has(*k, Cue::Plan) || will_be) && !until && same(*k) && planning(sheet, *k)
        })
        .or_else(|| {
            (i + 1..end)
                .take_while(|k| {
                    !sheet.any(*k, &[Cue::And, Cue::But]) && sheet.step(*k).is_none_or(|s| s == step)
                })
                .find(|k| {
                    // "manning to begin tonight", "perch to perch from Monday"
                    let to_begin = *k <= i + 2
                        && (sheet.is(*k, &["to begin", "to start", "to follow"])
                            || sheet.is(*k, &["to"]) && sheet.is(*k + 1, &["begin", "start", "follow"])
                            || sheet.is(*k, &["from"]) && crate::time::weekday(sheet, *k + 1).is_some());
                    to_begin && same(*k)
                        || (sheet.is(*k, &["planned", "tomorrow", "pencilled"])
                            || matches!(
                                sheet.words(*k),
                                "next week"
                                    | "at the weekend"
                                    | "next weekend"
                                    | "this weekend"
                                    | "by the weekend"
                                    | "next month"
                                    | "coming up"
                                    | "lined up"
                                    | "next up"
                                    | "booked for"
                                    | "on the cards"
                                    | "is next"
                                    | "pencilled in"
                                    | "next step"
                                    | "due to"
                                    | "next time"
                            ))
                            && (same(*k) && sheet.before(*k) == Break::None || taken_up(sheet, i, *k))
                })
        });
    // "next Tuesday we start hunting"
    let coming = || {
        (start..end).find(|k| {
            sheet.is(*k, &["next", "this coming", "coming"])
                && sheet.before(k + 1) == Break::None
                && crate::time::weekday(sheet, k + 1).is_some()
        })
    };
    // "entering her on Saturday": told as it will be, with no word of what was.
    let dated = || {
        let ing = |k: usize| {
            sheet.atoms.get(k).is_some_and(|a| sheet.tokens[a.first].norm.ends_with("ing")) && sheet.live(k)
        };
        let was = (start..end).any(|k| {
            sheet.is(
                k,
                &["was", "were", "had", "did", "took", "went", "came", "flew", "got", "made", "finally"],
            )
        });
        (i + 1..end).find(|k| {
            crate::time::weekday(sheet, *k).is_some()
                && (ing(start) || ing(i))
                && !was
                && !sheet.words(*k).starts_with("last")
        })
    };
    // "gets entered Saturday"
    let gets = || {
        let present =
            i > start && sheet.is(i - 1, &["gets", "is being", "goes"]) && sheet.before(i) == Break::None;
        (i + 1..end).find(|k| present && crate::time::weekday(sheet, *k).is_some())
    };
    // "plan for tomorrow: first free flight"
    let headed = || {
        let planned = sheet.is(start, &["plan", "plans", "planned", "tomorrow", "next"]) && start < i;
        (planned && (start + 1..=i).filter(|k| sheet.before(*k) != Break::None).count() <= 1).then_some(start)
    };
    let coming =
        || coming().or_else(dated).or_else(gets).or_else(headed).or_else(|| appointed(sheet, i, start, end));
    // "tomorrow I'll fly her free for the first time"
    let loose = aimed
        && step == Step::FreeFlight
        && (start..end).any(|k| {
            sheet.has(k, Cue::First)
                || sheet.words(k).starts_with("tomorrow")
                || crate::time::weekday(sheet, k).is_some()
        })
        && plan.is_some_and(|k| !sheet.is(k, &["could", "might"]));
    // "I want to start her on the whistle"
    let wanted = || left(6).find(|k| sheet.is(*k, &["i want to"]) && same(*k) && planning(sheet, *k));
    // "she's to be entered at rabbits": the step says so itself.
    let bound = sheet.is(i, &["to be entered"])
        && i > start
        && sheet.before(i) == Break::None
        && (sheet.any(i - 1, &[Cue::Be]) || sheet.is(i - 1, &["'s", "due"]) || sheet.bird(i - 1).is_some());
    plan.or_else(coming)
        .filter(|_| !aimed || loose)
        .or_else(|| wanted().filter(|_| !aimed))
        .or(bound.then_some(i))
}

fn planning(sheet: &Sheet, k: usize) -> bool {
    // "I'll call the manning done" judges what was.
    let judging = sheet.is(k, &["i'll", "we'll", "you'll"])
        && sheet.is(k + 1, &["call", "say", "give", "mark", "admit", "allow", "grant", "be", "swear", "put"]);
    !judging && !(k.saturating_sub(2)..k).any(|m| sheet.has(m, Cue::Neg))
}

/// "Entering Rook, that's planned for October": the step is taken up again by a word.
fn taken_up(sheet: &Sheet, i: usize, k: usize) -> bool {
    let Some(m) = (i + 1..k).find(|m| sheet.before(*m) == Break::Comma) else { return false };
    sheet.is(m, &["that", "that's", "this", "it", "it's", "which"])
        && (i + 1..m).all(|x| sheet.bird(x).is_some() || sheet.any(x, &[Cue::Her, Cue::He]))
        && (m + 1..k).all(|x| sheet.any(x, &[Cue::Be]) || sheet.is(x, &["'s"]))
        && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
}

/// "Thursday we start her on the whistle", "the hood, we begin on Monday": a day, and a start that is told as to come.
fn appointed(sheet: &Sheet, i: usize, start: usize, end: usize) -> Option<usize> {
    let present = |m: usize| {
        m > start
            && sheet.is(m, &["start", "starts", "begin", "begins"])
            && sheet.before(m) == Break::None
            && (sheet.any(m - 1, &[Cue::I, Cue::He, Cue::She]) || sheet.bird(m - 1).is_some())
    };
    let ahead = (start.max(i.saturating_sub(8))..i)
        .rev()
        .find(|m| present(*m) && starting(sheet, *m, i) && same_clause(sheet, i, *m));
    let the = usize::from(i > start && sheet.is(i - 1, &["the"]));
    let behind = (i - the == start && sheet.before(i + 1) == Break::Comma)
        .then(|| (i + 2..end.min(i + 4)).find(|m| present(*m)))
        .flatten();
    let m = ahead.or(behind)?;
    (start..end).find(|k| {
        let day = crate::time::weekday(sheet, *k).is_some() && !sheet.words(*k).starts_with("last")
            || sheet.is(*k, &["tomorrow", "next week", "next weekend", "next month"]);
        // A note without marks was given a comma before "we".
        let none =
            |x: usize| sheet.before(x) == Break::None || sheet.unbroken && sheet.before(x) == Break::Comma;
        day && (k.min(&m) + 1..=*k.max(&m)).all(none)
    })
}
