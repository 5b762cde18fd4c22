//! Steps of training, where the note tells of the step itself.

mod accepted;
mod plan;
mod start;
mod ticked;

use crate::draft::Draft;
use crate::lexicon::{Cue, Sense};
use crate::sheet::Sheet;
use crate::tokens::Break;
use accepted::{accepted, headed, taken_or_refused};
use note::{Step, StepOutcome, Training, Value};
use plan::planned;
use start::{first_of, starting};
use ticked::ticked;

/// Finds the steps told of.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        let named = step(sheet, i);
        let Some(step) = named.or_else(|| misheard(sheet, i)) else { continue };
        let Some((outcome, from, to)) = outcome(sheet, i, step) else { continue };
        if named.is_none() && outcome != StepOutcome::Planned {
            continue;
        }
        let value = Value::Training(Training { step, outcome });
        // "Travel box. Rook refused it": the bird is named with what it did.
        // "perch to perch is done with Rook" too.
        let with = [to + 1, to + 2].into_iter().find(|b| {
            sheet.bird(*b).is_some()
                && sheet.live(*b)
                && sheet.ends(*b - 1, &["with"])
                && (to + 1..=*b).all(|m| sheet.before(m) == Break::None)
        });
        // "perch to perch, started Rook on that": a heading is whose that is named behind it.
        let heads = i == sheet.start_of_sentence(i) || sheet.before(i) != Break::None;
        let behind = (i + 1..=to.min(i + 12)).find(|b| heads && sheet.bird(*b).is_some() && sheet.live(*b));
        let head = if to >= sheet.end_of_sentence(i) { to } else { with.or(behind).unwrap_or(i) };
        let mut draft = Draft::new(sheet, value, from.min(i), to.max(i), 0.93).at(head);
        draft.planned = outcome == StepOutcome::Planned;
        if named.is_none() {
            draft.flag(note::Flag::MisheardWord);
        }
        out.push(draft);
        // "started on the lure" leaves "the lure" to no other rule but flights, which look for "to the lure".
        if !matches!(step, Step::Creance | Step::FreeFlight) && !sheet.has(i, Cue::ToLure) {
            sheet.used[i] = true;
        }
    }
}

fn step(sheet: &Sheet, i: usize) -> Option<Step> {
    if let Some(step) = sheet.step(i) {
        return Some(step);
    }
    // "began feeding Rook on the fist"
    let seat = i + 2;
    let fed = sheet.is(i, &["feeding"])
        && (sheet.bird(i + 1).is_some() || sheet.any(i + 1, &[Cue::Her, Cue::He]))
        && matches!(sheet.word(seat), "on" | "off")
        && (i + 1..seat + 2).all(|k| sheet.before(k) == Break::None || k > seat)
        && (seat..seat + 3).any(|k| sheet.ends(k, &["fist", "glove"]));
    if fed {
        return Some(Step::FeedingOnTheFist);
    }
    if sheet.has(i, Cue::ToLure) {
        return Some(Step::Lure);
    }
    if sheet.has(i, Cue::Free) && sheet.is(i, &["free", "loose"]) {
        return Some(Step::FreeFlight);
    }
    None
}

/// "The creons, we start on Monday": a strange word that heads what is planned.
fn misheard(sheet: &Sheet, i: usize) -> Option<Step> {
    let lexicon = sheet.lexicon;
    let word = sheet.word(i);
    let heads = i > 0
        && sheet.is(i - 1, &["the"])
        && i - 1 == sheet.start_of_sentence(i)
        && sheet.before(i + 1) == Break::Comma
        && sheet.senses(i).is_empty()
        && sheet.bird(i).is_none();
    if !heads || lexicon.ordinary.contains(word) || lexicon.known.contains(word) {
        return None;
    }
    let senses = lexicon.heard.word(&lexicon.vocabulary, word)?;
    senses.iter().find_map(|s| if let Sense::Step(step) = s { Some(*step) } else { None })
}

/// Nothing parts the two places, and no other bird is named between them.
fn same_clause(sheet: &Sheet, i: usize, k: usize) -> bool {
    let (a, b) = (k.min(i), k.max(i));
    (a + 1..=b).all(|m| sheet.before(m) == Break::None)
        && !(a + 1..b).any(|m| sheet.bird(m).is_some() && sheet.owner[m] != sheet.owner[i])
}

fn outcome(sheet: &Sheet, i: usize, step: Step) -> Option<(StepOutcome, usize, usize)> {
    use StepOutcome as O;
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(14));
    let end = sheet.end_of_sentence(i).min(i + 12);
    let left = |reach: usize| (start.max(i.saturating_sub(reach))..i).rev();
    let same = |k: usize| same_clause(sheet, i, k);
    let kit_only =
        matches!(step, Step::Lure | Step::Hood | Step::Telemetry | Step::Whistle | Step::TravelBox);
    let aimed = sheet.has(i, Cue::ToLure) || sheet.has(i, Cue::Free) && sheet.step(i).is_none();
    // "I was going to start her on the creance, but it rained"
    let given_up = left(9).any(|k| {
        sheet.is(
            k,
            &[
                "going to",
                "going to start",
                "gonna",
                "hoping to",
                "about to",
                "meant to",
                "supposed to",
                "planning to",
            ],
        ) && k > 0
            && sheet.ends(k - 1, &["was", "were"])
    });
    if given_up {
        return None;
    }
    // Plans first.
    if let Some(k) = planned(sheet, i, step, aimed) {
        return Some((O::Planned, k.min(i), k.max(i)));
    }
    if let Some(k) = left(4).find(|k| {
        sheet.has(*k, Cue::Refused) && same(*k) || sheet.is(*k, &["refused", "refuses"]) && same(*k)
    }) {
        let direct = (k + 1..i).all(|m| {
            sheet.any(m, &[Cue::On, Cue::Filler])
                || sheet.is(
                    m,
                    &[
                        "the", "to", "her", "his", "a", "go", "in", "into", "even", "take", "be", "point",
                        "blank", "at",
                    ],
                )
        });
        if direct && !aimed && !matches!(step, Step::Whistle | Step::Hunting | Step::Lure) {
            return Some((O::Refused, k, i));
        }
    }
    if matches!(
        step,
        Step::FeedingOnTheFist
            | Step::SteppingToTheFist
            | Step::JumpingToTheFist
            | Step::Hood
            | Step::TravelBox
    ) {
        let not = left(6).find(|k| {
            sheet.has(*k, Cue::Neg)
                && same(*k)
                && sheet.is(*k, &["n't", "not", "wouldn't", "didn't", "won't"])
        });
        let verb = left(4).any(|k| {
            sheet.is(k, &["take", "go", "accept", "have", "wear", "enter", "load", "get", "settle", "travel"])
        });
        if let Some(k) = not.filter(|_| verb || !kit_only)
            && (sheet.is(k.saturating_sub(1), &["would", "wouldn", "did", "wo"])
                || verb
                || sheet.is(k, &["wouldn't", "won't", "didn't"]))
        {
            return Some((O::Refused, k, i));
        }
    }
    // "hood: refused"
    let closes = |k: usize| k + 1 >= sheet.len() || sheet.before(k + 1) != Break::None;
    let heading = (i == start || sheet.before(i) != Break::None)
        && sheet.before(i + 1) != Break::Stop
        && sheet.is(i + 1, &["refused", "refuses", "declined"])
        && closes(i + 1);
    if heading && !matches!(step, Step::Whistle | Step::Hunting | Step::Lure | Step::Creance) && !aimed {
        return Some((O::Refused, i, i + 1));
    }
    // "tried the hood on him and he refused it"
    let spurned = (i + 1..end).find(|k| {
        sheet.has(*k, Cue::Refused)
            && (sheet.is(k + 1, &["it", "that", "again"]) || sheet.before(k + 1) != Break::None)
            || sheet.has(*k, Cue::Neg)
                && sheet.is(k + 1, &["go", "get", "walk", "step"])
                && sheet.ends(k + 2, &["in", "near"])
            || sheet.is(
                *k,
                &[
                    "wouldn't have it",
                    "wasn't having it",
                    "not having it",
                    "wasn't having any of it",
                    "wouldn't entertain it",
                    "wouldn't go in",
                    "wouldn't go in it",
                ],
            )
    });
    let offered = left(6).any(|k| sheet.is(k, &["tried", "offered", "showed", "try", "trying"]))
        || sheet.ends(i, &["training", "work", "practice"])
        || sheet.is(i + 1, &["training", "work", "practice"]) && sheet.before(i + 1) == Break::None;
    if let Some(k) =
        spurned.filter(|k| offered && (i + 1..*k).all(|m| sheet.step(m).is_none() && sheet.food(m).is_none()))
        && (taken_or_refused(step) || step == Step::PerchToPerch)
    {
        let it = usize::from(sheet.is(k + 1, &["it", "that"]));
        return Some((O::Refused, i, k + it));
    }
    if !aimed && let Some((outcome, k)) = headed(sheet, i, step) {
        return Some((outcome, i, k));
    }
    if let Some(k) = left(8).find(|k| sheet.has(*k, Cue::Start) && same(*k) && starting(sheet, *k, i)) {
        return (!aimed || step == Step::Lure).then_some((O::Started, k, i));
    }
    // "moved Dot on to perch to perch"
    let moved_on = i.checked_sub(1).filter(|on| {
        sheet.is(*on, &["on to", "onto", "on", "up to", "to"])
            && sheet.before(i) == Break::None
            && (on.saturating_sub(3)..*on).any(|m| {
                sheet
                    .is(m, &["moved", "progressed", "graduated", "brought", "advanced", "promoted", "moving"])
                    && same(m)
            })
    });
    if let Some(on) = moved_on.filter(|_| !aimed) {
        return Some((O::Started, on.saturating_sub(2), i));
    }
    // "first time on the creance", "took the hood for the first time", "first free flight".
    let first = left(12)
        .find(|k| sheet.has(*k, Cue::First) && same(*k) && first_of(sheet, *k, i))
        // "fitted Rook's first transmitter": the kit.
        .filter(|k| step != Step::Telemetry || !(start..*k).any(|m| sheet.any(m, &[Cue::Fit, Cue::Put])))
        .or_else(|| {
            (i + 1..end).find(|k| {
                let near = *k == i + 1
                    || *k <= i + 7
                        && sheet.before(*k) == Break::Comma
                        && (i + 1..*k).all(|m| !sheet.content(m) || sheet.bird(m).is_some());
                let tacked_on = near
                    && (sheet.before(*k + 1) != Break::None
                        || sheet.before(*k) == Break::Comma
                        || sheet.is(*k + 1, &["ever", "of", "today", "tonight"]));
                sheet.has(*k, Cue::First)
                    && (same(*k) || tacked_on)
                    && (sheet.words(*k).contains("first time")
                        || tacked_on && sheet.is(*k, &["first go", "first go at"]))
            })
        });
    // "perch to perch tonight, which is new to her", "hopping to the fist, she hopped for the first time"
    let first = first.or_else(|| {
        let m = (i + 1..end.min(i + 6)).find(|m| sheet.before(*m) == Break::Comma)?;
        let to_her = |k: usize| sheet.any(k, &[Cue::Her, Cue::He]) || sheet.bird(k).is_some();
        (m..end.min(m + 4)).find(|k| {
            let new = sheet.is(*k, &["new"]) && sheet.is(k + 1, &["to", "for"]) && to_her(k + 2);
            let same_verb = sheet.has(*k, Cue::First)
                && sheet.words(*k).contains("first time")
                && sheet.any(m, &[Cue::He, Cue::She])
                && *k == m + 2
                && sheet.word(m + 1).get(..3) == sheet.word(i).get(..3);
            (new || same_verb) && !kit_only && (m + 1..=*k).all(|x| sheet.before(x) == Break::None)
        })
    });
    // "another first, Jinks stepped to the fist"
    let first = first.or_else(|| {
        left(6).find(|k| {
            matches!(sheet.words(*k), "another first" | "a first" | "a first for her" | "a first for him")
                && *k == start
        })
    });
    if let Some(k) = first {
        return Some((O::Done, k.min(i), k.max(i)));
    }
    if aimed {
        return None;
    }
    // "she's fully manned", "made to the hood"
    let made = matches!(
        sheet.words(i),
        "manned" | "fully manned" | "well manned" | "made to the hood" | "fully made to the hood"
    );
    if made
        && left(3).any(|k| sheet.any(k, &[Cue::Be]) || sheet.is(k, &["'s"]))
        && !left(3).any(|k| sheet.has(k, Cue::Neg))
    {
        return Some((O::Done, i, i));
    }
    // "did an hour of manning", "a session of hood training"
    let session = |k: usize| {
        sheet.is(
            k,
            &[
                "hour", "hours", "minutes", "session", "sessions", "evening", "bit of", "some", "more",
                "did", "spent",
            ],
        ) || sheet.has(k, Cue::DistanceOther)
    };
    let bird = sheet.bird(i + 1).is_some()
        && sheet.before(i + 1) == Break::None
        && !sheet.is(i + 2, &["'s"])
        && !left(3).any(|k| sheet.has(k, Cue::Neg));
    let lasted = |reach: usize| (i + 1..end.min(i + reach)).any(|k| session(k) && (k == i + 1 || same(k)));
    // "manned Thora for forty minutes", "manning Thora for an hour"
    let manned = matches!(sheet.words(i), "manned her" | "manned him" | "manned") && lasted(4)
        || bird && sheet.is(i, &["manned"])
        || bird && sheet.is(i, &["manning"]) && lasted(8);
    // "Manning Hazel downtown, an hour on the fist", "manning again by the fire, an hour of it"
    let again = sheet.is(i + 1, &["again", "tonight", "today", "this", "by", "in", "done"]);
    let told = sheet.is(i, &["manning"])
        && i == sheet.start_of_sentence(i)
        && (bird && (i + 2..end.min(i + 12)).any(session) || again && (i + 2..end.min(i + 10)).any(session));
    if manned || told {
        return Some((O::Done, i, i));
    }
    if step == Step::Manning
        && sheet.is(i, &["manning", "man in", "carriage"])
        && (left(4).any(|k| session(k) && same(k))
            || sheet.before(i) == Break::Comma && left(9).any(session) && sheet.before(i + 1) != Break::None)
    {
        let from = (start.max(i.saturating_sub(4))..i).find(|k| session(*k) && same(*k)).unwrap_or(i);
        return Some((O::Done, from, i));
    }
    // "hunting starts on Monday"
    let starts =
        (i + 1..end.min(i + 3)).find(|k| sheet.is(*k, &["starts", "begins", "commences"]) && same(*k));
    let then = |k: usize| {
        (k + 1..end.min(k + 6)).find(|m| {
            sheet.is(*m, &["tomorrow", "next week", "soon"])
                || ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
                    .iter()
                    .any(|d| sheet.words(*m).trim_start_matches("on ").starts_with(d))
        })
    };
    if let Some(day) = starts.and_then(then) {
        return Some((O::Planned, i, day));
    }
    // "hood training begun", "creance work started"
    let begun = (i + 1..end.min(i + 6)).find(|k| {
        sheet.is(
            *k,
            &["begun", "started", "underway", "began", "under way", "introduced", "has started", "has begun"],
        ) && same(*k)
            && (i + 1..*k).all(|m| {
                sheet.any(m, &[Cue::Be])
                    || sheet.bird(m).is_some() && sheet.is(m - 1, &["for", "with"])
                    || sheet.is(
                        m,
                        &["training", "work", "has", "now", "just", "flying", "conditioning", "for", "with"],
                    )
            })
            && (sheet.before(*k + 1) != Break::None
                || sheet.is(*k + 1, &["with", "today", "on", "for", "this", "properly", "in", "at"])
                || sheet.bird(*k + 1).is_some())
    });
    // "whistle training with Rook, only just begun"
    let opens = i == sheet.start_of_sentence(i) || sheet.before(i) != Break::None;
    let begun = begun.or_else(|| {
        let tail = (i + 1..end.min(i + 7)).find(|k| sheet.before(*k) == Break::Comma)?;
        let k = (tail..end.min(tail + 3)).find(|k| !sheet.is(*k, &["only", "just", "only just", "now"]))?;
        let of_whom = (i + 1..tail).all(|m| {
            sheet.bird(m).is_some()
                || sheet.any(m, &[Cue::Her, Cue::He])
                || sheet.is(m, &["with", "for", "work", "training"])
        });
        let said = sheet.is(k, &["begun", "started", "under way", "underway", "just started", "just begun"]);
        (opens
            && !aimed
            && of_whom
            && said
            && closes(k)
            && (tail + 1..=k).all(|m| sheet.before(m) == Break::None))
        .then_some(k)
    });
    if let Some(k) = begun {
        return Some((O::Started, i, k));
    }
    // "perch to perch, started Rook on that"
    let that = (i + 1..end.min(i + 6)).find(|k| {
        sheet.is(*k, &["that", "it", "this"])
            && sheet.before(*k) == Break::None
            && (sheet.before(*k + 1) != Break::None
                || *k + 1 >= sheet.len()
                || sheet.any(*k + 1, &[Cue::Today, Cue::ThisMorning, Cue::Yesterday]))
            && sheet.any(*k - 1, &[Cue::On])
            && (i + 1..*k).any(|m| sheet.has(m, Cue::Start))
            && (i + 1..*k - 1).all(|m| {
                sheet.any(m, &[Cue::Start, Cue::Her, Cue::He, Cue::I, Cue::Filler]) || sheet.bird(m).is_some()
            })
    });
    if let Some(k) = that.filter(|_| opens && sheet.before(i + 1) == Break::Comma && !aimed) {
        return Some((O::Started, i, k));
    }
    let done = (i + 1..end.min(i + 5))
        .find(|k| {
            (sheet.has(*k, Cue::Done) || sheet.is(*k, &["done with", "finished with", "through with"]))
                && (same(*k) || sheet.is(*k, &["done with"]))
                // "the box did it", whatever it did.
                && !sheet.is(*k, &["managed", "passed", "success", "finally", "did it", "got it"])
                // "the hood's cracked" tells of the leather.
                && !(kit_only && sheet.is(*k, &["cracked"]) && !sheet.words(i).contains(' '))
                && (i + 1..*k).all(|m| {
                    sheet.any(m, &[Cue::Be, Cue::Filler])
                        || sheet.is(
                            m,
                            &[
                                "'s", "is", "now", "well", "and", "all", "has", "been", "finally", "pretty",
                                "much", "training", "work", "with", "for",
                            ],
                        )
                        || (sheet.bird(m).is_some() || sheet.any(m, &[Cue::Her, Cue::He]))
                            && sheet.is(m - 1, &["with", "for"])
                })
        })
        .or_else(|| {
            left(4).find(|k| {
                sheet.has(*k, Cue::Done)
                    && !(step == Step::Telemetry && sheet.is(*k, &["cracked"]))
                    && sheet.is(
                        *k,
                        &["finished", "completed", "mastered", "cracked", "sorted", "finishing", "passed"],
                    )
                    && same(*k)
                    // "Rook's done jumping to the fist"
                    || sheet.is(*k, &["done"])
                        && *k + 1 == i
                        && same(*k)
                        && *k > start
                        && (sheet.any(*k - 1, &[Cue::Be])
                            || sheet.is(*k - 1, &["'s", "has"])
                            || sheet.ends(*k - 1, &["'s"]))
                        && sheet.words(i).contains("ing ")
                    || sheet.is(
                        *k,
                        &["finished on", "finished with", "through with", "done with"],
                    ) && same(*k)
                        && (*k + 1..i).all(|m| {
                            sheet.is(m, &["the", "with", "her", "his", "on"])
                                || sheet.bird(m).is_some()
                                || sheet.is(m, &["'s"])
                        })
            })
        });
    if let Some(k) = done {
        return Some((O::Done, k.min(i), k.max(i)));
    }
    if let Some(found) = accepted(sheet, i, step, start, end) {
        return Some(found);
    }
    if let Some(k) = ticked(sheet, i, step) {
        return Some((O::Done, i, k));
    }
    match step {
        // "Entered Moss on rabbits"; "entered the field" is no step.
        Step::Entering => {
            let bird = sheet.bird(i + 1).is_some() && sheet.before(i + 1) == Break::None;
            let on = (i + 1..end.min(i + 4)).any(|k| {
                (sheet.is(k, &["on", "at"])) && sheet.quarry(k + 1).is_some() || sheet.words(k) == "on"
            });
            let words = sheet.words(i);
            // "Torran was entered today", "entering at last"
            let was = i > start
                && sheet.before(i) == Break::None
                && (sheet.any(i - 1, &[Cue::Be])
                    || sheet.is(i - 1, &["'s", "been", "now", "finally", "properly"]));
            // "that's him entered"
            let was = was
                || i > start
                    && (sheet.any(i - 1, &[Cue::Her, Cue::He])
                        || sheet.bird(i - 1).is_some()
                            && i > start + 1
                            && sheet.ends(i - 2, &["'s", "that", "is"]))
                    && sheet.before(i) == Break::None
                    && sheet.words(i) == "entered"
                    && (closes(i) || on);
            let last = words.starts_with("enter")
                && (sheet.is(i + 1, &["at last", "finally"]) || i > start && sheet.is(i - 1, &["at last"]));
            if last {
                return Some((O::Done, i, i));
            }
            let said = words.starts_with("entered") && (bird || was || words != "entered" || on);
            (said && !(left(3).any(|k| sheet.has(k, Cue::Neg)))).then_some((
                O::Done,
                i,
                i + usize::from(bird),
            ))
        }
        Step::FeedingOnTheFist | Step::SteppingToTheFist | Step::JumpingToTheFist => {
            let tacked = (sheet.before(i + 1) == Break::Comma && sheet.is(i + 1, &["finally", "at last"]))
                .then_some(i + 1);
            let finally = tacked.or_else(|| {
                (start..end).find(|k| {
                    (sheet.is(*k, &["finally"])
                        || matches!(sheet.words(*k), "at last" | "without any fuss" | "all on her own"))
                        && same(*k)
                })
            });
            finally.map(|k| (O::Done, k.min(i), k.max(i)))
        }
        _ => None,
    }
}
