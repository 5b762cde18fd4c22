//! How many flights.

use super::aim::aim;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Step;

/// A count of flights that starts at `i`, and where its words end.
pub(super) fn counted(sheet: &Sheet, i: usize) -> Option<(u32, usize)> {
    // "Flights: 6", "flights 6, response good"
    if sheet.is(i, &["flights", "recalls"])
        && (i == 0 || sheet.before(i) != Break::None)
        && let Some(num) = sheet.num(i + 1).filter(|_| sheet.live(i + 1) && !sheet.used[i + 1])
        && sheet.before(i + 1) != Break::Stop
        && (i + 2 >= sheet.len() || sheet.before(i + 2) != Break::None)
        && let Some(count) = num.count().filter(|c| c.fract() == 0.0 && (1.0..=60.0).contains(c))
    {
        return Some((count as u32, i + 1));
    }
    // "just the one flight"
    if sheet.is(i, &["the one"])
        && sheet.before(i + 1) == Break::None
        && sheet.is(i + 1, &["flight", "recall"])
    {
        return Some((1, i + 1));
    }
    // "just the one, 110 metres to the fist"
    if sheet.is(i, &["the one", "just the one", "only the one"])
        && sheet.before(i + 1) == Break::Comma
        && measured(sheet, i + 1)
    {
        return Some((1, i));
    }
    // "five times to the lure, then to the fist twice"
    let twice = sheet.is(i, &["twice", "once"])
        && i > 1
        && sheet.before(i) == Break::None
        && aim(sheet, i - 1).is_some()
        && (sheet.any(i - 2, &[Cue::And]) || super::aim::said_flew(sheet, i - 1))
        && (i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None || sheet.has(i + 1, Cue::And));
    if twice {
        return Some((if sheet.is(i, &["once"]) { 1 } else { 2 }, i));
    }
    // "a single flight to the lure"
    if sheet.is(i, &["single", "solitary"])
        && sheet.before(i + 1) == Break::None
        && sheet.is(i + 1, &["flight", "recall", "come"])
        && !planned(sheet, i)
    {
        return Some((1, i + 1));
    }
    let num = sheet.num(i)?;
    if num.money
        || num.minus
        || num.fraction
        || num.form != Form::Plain
        || num.value.fract() != 0.0
        || !(1.0..=300.0).contains(&num.value)
    {
        return None;
    }
    let count = num.value as u32;
    // "8 x 20 metres"
    let by = sheet.is(i + 1, &["x", "by"])
        && sheet.num(i + 2).is_some()
        && sheet.any(i + 3, &[Cue::Metres, Cue::Yards]);
    if by && count > 1 && sheet.before(i + 1) == Break::None {
        return Some((count, i + 1));
    }
    // "8 x lure"
    let aimed = sheet.is(i + 1, &["x"])
        && sheet.before(i + 1) == Break::None
        && sheet.before(i + 2) == Break::None
        && sheet.is(i + 2, &["lure", "fist", "glove", "perch", "the lure", "the fist", "the glove"]);
    if aimed && count <= 60 {
        return Some((count, i + 2));
    }
    // "six times he came to the fist"
    let fronted = sheet.is(i + 1, &["times"])
        && (sheet.any(i + 2, &[Cue::He, Cue::She]) || sheet.bird(i + 2).is_some())
        && sheet.is(i + 3, &["came", "flew", "returned"])
        && (i + 1..i + 4).all(|k| sheet.before(k) == Break::None);
    if fronted && count <= 60 {
        return Some((count, i + 1));
    }
    // "had three flights at larks": flown and hunted in one.
    let hunted = sheet.is(i + 1, &["flights at"])
        && sheet.before(i + 1) == Break::None
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["had", "did", "flew", "gave", "got", "made"])
        && (i + 2..i + 4).any(|k| sheet.quarry(k).is_some());
    if hunted && (2.0..=20.0).contains(&num.value) && !planned(sheet, i) {
        return Some((count, i));
    }
    // "flew twelve, longest fifty"
    let flew = i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["flew", "did", "flown", "managed", "her", "him"])
        && (sheet.is(i - 1, &["flew", "flown"])
            || i > 1 && sheet.is(i - 2, &["flew", "flown"])
            || talk(sheet, i));
    let ends = i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None;
    if flew && ends && (2.0..=60.0).contains(&num.value) && !crate::mass::near_any(num, &sheet.last_grams(i))
    {
        return Some((count, i));
    }
    // "Rook gave me four and came at once", where another bird's flights were told of.
    if gave(sheet, i)
        && (2.0..=60.0).contains(&num.value)
        && !crate::mass::near_any(num, &sheet.last_grams(i))
    {
        return Some((count, i));
    }
    // "creance flights tonight, ten at fifteen metres"
    let apart = (sheet.before(i) != Break::None || i > 0 && sheet.any(i - 1, &[Cue::And]))
        && sheet.is(i + 1, &["at", "of"])
        && sheet.num(i + 2).is_some()
        && sheet.any(i + 3, &[Cue::Metres, Cue::Yards, Cue::Feet])
        && (i + 1..i + 4).all(|k| sheet.before(k) == Break::None)
        && talk(sheet, i)
        && (2.0..=60.0).contains(&num.value);
    if apart && !planned(sheet, i) {
        return Some((count, i));
    }
    // "flights to the fist, about a dozen"
    let lead = i - usize::from(i > 0 && sheet.has(i - 1, Cue::Approx) && sheet.before(i) == Break::None);
    let behind = ends
        && lead > 0
        && sheet.before(lead) == Break::Comma
        && (2.0..=60.0).contains(&num.value)
        && !crate::mass::near_any(num, &sheet.last_grams(i))
        && (lead.saturating_sub(5)..lead)
            .rev()
            .take_while(|k| sheet.num(*k).is_none() && sheet.before(*k + 1) != Break::Stop)
            .find(|k| sheet.is(*k, &["flights", "recalls"]))
            .is_some_and(|f| {
                (f + 1..lead).all(|k| sheet.before(k) == Break::None)
                    && (aim(sheet, lead - 1).is_some()
                        || f + 1 == lead
                        || line_word(sheet, lead - 1)
                        || sheet.step(lead - 1) == Some(Step::Creance))
                    && (f == 0 || sheet.num(f - 1).is_none())
            });
    if behind && !planned(sheet, lead) {
        return Some((count, i));
    }
    // "five on the creance, then ten free"
    let told = (sheet.start_of_sentence(i).max(i.saturating_sub(14))..i)
        .any(|m| sheet.is(m, &["creance", "flights", "flight"]) || sheet.has(m, Cue::Line));
    let loose = line_word(sheet, i + 1)
        && sheet.before(i + 1) == Break::None
        && (i + 2 >= sheet.len() || sheet.before(i + 2) != Break::None);
    if told && loose && num.value <= 60.0 && !planned(sheet, i) {
        return Some((count, i));
    }
    let mut k = i + 1;
    let mut skipped = 0;
    while skipped < 3
        && sheet.before(k) == Break::None
        && k < sheet.len()
        && !sheet.has(k, Cue::Flight)
        && (sheet.is(
            k,
            &[
                "odd",
                "plus",
                "or",
                "so",
                "good",
                "short",
                "long",
                "more",
                "nice",
                "quick",
                "straight",
                "clean",
                "decent",
                "strong",
                "lovely",
                "further",
                "practice",
                "of",
                "full",
                "solid",
                "great",
                "small",
                "separate",
                "successful",
                "fist",
                "lure",
                "line",
                "creance",
                "indoor",
                "perfect",
                "little",
                "brilliant",
                "proper",
                "extra",
                "instant",
                "immediate",
                "free",
                "slow",
                "poor",
                "training",
                "excellent",
            ],
        ) || sheet.grade(k).is_some()
            || sheet.any(k, &[Cue::Strong, Cue::Plain])
            || line_word(sheet, k)
            || sheet.kit(k).is_some() && sheet.has(k + 1, Cue::Flight))
    {
        k += 1;
        skipped += 1;
    }
    if sheet.before(k) != Break::None || k >= sheet.len() {
        return None;
    }
    if planned(sheet, i) {
        return None;
    }
    let jumped =
        sheet.step(i.saturating_sub(1)) == Some(Step::JumpingToTheFist) && sheet.before(i) == Break::None;
    if jumped && sheet.is(k, &["times"]) {
        return Some((count, k));
    }
    // "needed calling three times" tells of one answer, not of three flights.
    let needed = (i.saturating_sub(5)..i).any(|m| sheet.is(m, &["needed", "need", "needs", "had"]))
        && (i.saturating_sub(3)..i).any(|m| sheet.is(m, &["calling", "called", "call", "calls"]));
    if needed && sheet.has(k, Cue::Times) {
        return None;
    }
    // "six free flights"
    let free = sheet.has(k, Cue::Free) && matches!(sheet.words(k), "free flights" | "free flight");
    if free && sheet.live(k) && num.value > 1.0 {
        return Some((count, k));
    }
    // "thirteen flights of stairs"
    if sheet.is(k + 1, &["of"])
        && (k + 2..k + 4).any(|m| sheet.is(m, &["stairs", "steps", "stair", "fancy", "geese", "arrows"]))
    {
        return None;
    }
    if sheet.has(k, Cue::Flight) && sheet.live(k) {
        let word = sheet.words(k);
        let odd = matches!(
            word,
            "calls"
                | "come"
                | "comes"
                | "fly"
                | "flies"
                | "goes"
                | "fights"
                | "flites"
                | "lights"
                | "jumps"
                | "trips"
                | "rounds"
                | "laps"
                | "call"
                | "hops"
                | "flight s"
                | "recall"
                | "reps"
                | "stoops"
        );
        // "two fights" is "two flights" where flying is talked of.
        if odd && !talk(sheet, i) && !matches!(word, "recalls" | "flites") {
            return None;
        }
        if sheet.is(k, &["stoops"]) && !sheet.words(k).contains("lure") && !sheet.has(k + 1, Cue::ToLure) {
            return None;
        }
        return Some((count, k));
    }
    // "five short hops to the glove"
    if super::aim::stepped(sheet, k).is_some() && matches!(sheet.word(k), "hops" | "jumps") && num.value > 1.0
    {
        return Some((count, k));
    }
    if sheet.has(k, Cue::Times) && sheet.before(k) == Break::None {
        let to =
            sheet.any(k + 1, &[Cue::Fist, Cue::ToLure, Cue::ToPerch]) && sheet.before(k + 1) == Break::None;
        let verb = (i.saturating_sub(6)..i).any(|m| {
            sheet.has(m, Cue::Flew) && (m + 1..=i).all(|x| sheet.before(x) == Break::None)
                || aim(sheet, m).is_some() && (m + 1..=i).all(|x| sheet.before(x) != Break::Stop)
        });
        // "Fist six times, instant"
        let led = i > 0
            && (i == 1 || sheet.before(i - 1) != Break::None)
            && sheet.before(i) == Break::None
            && sheet.is(i - 1, &["fist", "glove", "lure", "to fist", "to lure", "to glove"]);
        // "down to the glove, 5 times, longest 30 metres"
        let measured = !sheet.is(k, &["time"]) && measured(sheet, k + 1);
        return (to || led || measured || verb && !sheet.is(k, &["time"])).then_some((count, k));
    }
    // "ten more to the lure", "eight to the fist"
    let more = skipped > 0 || k == i + 1;
    let to = sheet.any(k, &[Cue::ToLure, Cue::ToPerch])
        || sheet.has(k, Cue::Fist) && sheet.words(k).starts_with("to ");
    // "five to the far perch"
    let to = to
        || sheet.is(k, &["to"])
            && (k + 2..k + 4).any(|m| super::aim::far(sheet, m) && aim(sheet, m).is_some())
            && !crate::mass::near_any(num, &sheet.last_grams(i));
    let before = (sheet.start_of_sentence(i).max(i.saturating_sub(14))..i)
        .any(|m| sheet.is(m, &["creance", "flights", "flight"]) || sheet.has(m, Cue::Line) && m + 1 < i);
    let line = line_word(sheet, k)
        && sheet.before(k) == Break::None
        && (sheet.any(k + 1, &[Cue::Fist, Cue::ToLure, Cue::ToPerch]) || before);
    // "five on the creance, then ten free"
    let on = sheet.has(k, Cue::Line)
        || sheet.is(k, &["on"])
            && sheet.is(k + 1, &["the", "a"])
            && sheet.step(k + 2) == Some(Step::Creance)
            && sheet.before(k + 2) == Break::None;
    let line = line || on && num.value <= 40.0 && !crate::mass::near_any(num, &sheet.last_grams(i));
    let far = num.value > 60.0;
    (more && (to || line) && !far).then_some((count, k - 1))
}

/// How far it was follows right behind a comma: "longest 30 metres", "15 metres the longest".
fn measured(sheet: &Sheet, next: usize) -> bool {
    let metres = |k: usize| sheet.any(k, &[Cue::Metres, Cue::Yards, Cue::Feet]);
    sheet.before(next) == Break::Comma
        && (sheet.any(next, &[Cue::Longest]) && (next + 1..next + 4).any(metres)
            || sheet.num(next).is_some() && metres(next + 1))
}

fn line_word(sheet: &Sheet, k: usize) -> bool {
    sheet.has(k, Cue::Free) && sheet.is(k, &["free", "loose", "flying free", "flown free", "flying loose"])
}

fn talk(sheet: &Sheet, i: usize) -> bool {
    let (start, end) =
        (sheet.start_of_sentence(i).max(i.saturating_sub(20)), sheet.end_of_sentence(i).min(i + 20));
    (start..end).any(|k| {
        aim(sheet, k).is_some() || sheet.is(k, &["flew", "creance", "free"]) || sheet.ends(k, &["longest"])
    })
}

/// Whether what is said is a plan: "six flights tomorrow".
pub(super) fn planned(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(8));
    (start..i).rev().take_while(|k| sheet.before(*k + 1) == Break::None).any(|k| {
        sheet.any(k, &[Cue::Plan])
            && sheet.is(k, &["will", "'ll", "plan", "planning", "tomorrow", "gonna", "want", "might"])
            || sheet.words(k) == "going to"
            || sheet.words(k) == "want to"
            || sheet.words(k) == "hoping to"
    })
}

/// "gave me four": flights, where they were spoken of just before and nothing else could be counted.
fn gave(sheet: &Sheet, i: usize) -> bool {
    let led = i > 1
        && sheet.is(i - 1, &["me", "us"])
        && sheet.is(i - 2, &["gave", "given"])
        && i > 2
        && (sheet.bird(i - 3).is_some() || sheet.any(i - 3, &[Cue::He, Cue::She]))
        && sheet.before(i) == Break::None
        && sheet.before(i - 1) == Break::None;
    let ends =
        i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None || sheet.any(i + 1, &[Cue::And, Cue::But]);
    if !led || !ends {
        return false;
    }
    let measured = sheet.before(i + 1) == Break::Comma && measured(sheet, i + 1);
    let flights = (i.saturating_sub(24)..i)
        .rev()
        .take_while(|k| sheet.food(*k).is_none() && sheet.quarry(*k).is_none() || sheet.bird(*k).is_some())
        .any(|k| sheet.is(k, &["flights", "flight", "recalls"]) && sheet.live(k));
    measured || flights
}
