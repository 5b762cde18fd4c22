//! When each part of the note happened.
//!
//! A time at the head of a clause holds to the end of the sentence or the next time; one at the
//! end of a clause reaches back over it. Plans ("tomorrow", "by Monday") move nothing.

mod ago;
mod clock;

use crate::confidence::UNSURE;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;
use chrono::{DateTime, Datelike, Duration, FixedOffset, NaiveTime, Weekday};
use clock::{Clock, clock, last_clock};

type Moment = DateTime<FixedOffset>;

/// A time found: which atoms say it and what it means; `None` is now.
struct Said {
    to: usize,
    moment: Option<Moment>,
    /// Says when something happened, and not only a number that is a time.
    moves: bool,
}

/// Gives every atom its time and marks the numbers that are times as read.
///
/// In a note without punctuation a new name ends what was said of another time.
pub(crate) fn place(sheet: &mut Sheet, unbroken: bool) {
    let mut lasting: Option<Moment> = None;
    let mut i = 0;
    while i < sheet.len() {
        let end = sheet.end_of_sentence(i);
        sentence(sheet, i, end, &mut lasting, unbroken);
        i = end;
    }
}

fn sentence(sheet: &mut Sheet, start: usize, end: usize, lasting: &mut Option<Moment>, unbroken: bool) {
    let mut scope = *lasting;
    let mut since = start;
    let mut told = start;
    let mut i = start;
    while i < end {
        if sheet.dead[i] {
            i += 1;
            continue;
        }
        if no_clock(sheet, start, i) {
            sheet.untimely[start..end].fill(true);
        }
        if unbroken && sheet.bird(i).is_some() && i > told + 1 && sheet.before(i) != Break::None {
            sheet.when[since..i].fill(scope);
            since = i;
            scope = *lasting;
        }
        // "… at seven she'd cast, keel's good": the present tense is now again.
        if unbroken
            && scope != *lasting
            && i > told + 1
            && sheet.before(i) != Break::None
            && present(sheet, i)
        {
            sheet.when[since..i].fill(scope);
            since = i;
            scope = *lasting;
        }
        let Some(mut said) = expression(sheet, i) else {
            i += 1;
            continue;
        };
        // A day named in the next sentence is that sentence's.
        said.to = said.to.min(end - 1);
        for k in i..=said.to {
            sheet.used[k] |= sheet.num(k).is_some();
        }
        told = said.to;
        let heard = |k: usize| sheet.atoms.get(k).map_or(0..0, |a| a.first..a.last + 1);
        let doubted = (i..=said.to).flat_map(heard).any(|t| sheet.tokens[t].p.is_some_and(|p| p < UNSURE));
        // "this morning at 18": no time of a morning, and none that was.
        let to_come = said.moment.is_some_and(|m| m > sheet.context.at);
        let afternoon = sheet.has(i, Cue::ThisMorning)
            && (i + 1..=said.to).any(|k| {
                sheet
                    .num(k)
                    .is_some_and(|n| (13.0..60.0).contains(&n.value) && n.clock().is_some_and(|c| c.0 > 12))
            });
        if (doubted || to_come || afternoon) && said.moves && said.moment.is_some() {
            sheet.untimely[start..end].fill(true);
        }
        if said.moves && !planned(sheet, start, i) {
            let mut clause = clause_start(sheet, since, i);
            let told_in =
                |from: usize| (from..i).any(|k| sheet.content(k) && !sheet.used[k] && !sheet.dead[k]);
            let mut trailing = told_in(clause);
            // "last night 1101 this morning 1090": each day stands before its figure.
            if unbroken && scope != *lasting && sheet.num(said.to + 1).is_some() {
                trailing = false;
            }
            // "last night she weighed 1101 and now she's 1090": what comes next is now, not what was said.
            let goes_on = (said.to + 1..end.min(said.to + 5))
                .take_while(|k| sheet.before(*k) == Break::None || unbroken && *k == said.to + 1)
                .any(|k| sheet.content(k) && !sheet.used[k]);
            // "at seven she weighed 741 just now I offered her a mouse"
            let just_now = unbroken
                && sheet.is(i, &["just now", "right now"])
                && (sheet.any(said.to + 1, &[Cue::I, Cue::He, Cue::She])
                    || sheet.bird(said.to + 1).is_some());
            if said.moment.is_none() && scope != *lasting && (goes_on || just_now) {
                trailing = false;
            }
            // "she was 1090 on Wednesday", with nothing behind it to belong to.
            // "ate two mice last night she's four ounces": what follows is now.
            let ends = said.to + 1 >= end
                || said.moment.is_some()
                    && (present(sheet, said.to + 1) || sheet.is(said.to + 1, &["i've", "ive"]));
            if unbroken && !trailing && ends && clause == i && i > since {
                clause = clause_start(sheet, since, i - 1);
                trailing = told_in(clause);
            }
            // "141 on Sunday 144 on Monday": each figure stands before its day.
            let figures = unbroken
                && !trailing
                && scope == *lasting
                && clause == i
                && i > since
                && sheet.num(i - 1).is_some()
                && sheet.num(said.to + 1).is_some();
            if figures {
                clause = i - 1;
                trailing = told_in(clause);
            }
            if trailing {
                sheet.when[since..clause].fill(scope);
                sheet.when[clause..=said.to].fill(said.moment);
                since = said.to + 1;
                // Unbroken speech goes on as it was; a clause that ends here leaves the scope alone.
            } else {
                sheet.when[since..i].fill(scope);
                scope = said.moment;
                since = i;
            }
            if said.moment.is_some() && whole_note(sheet, start, end) {
                *lasting = said.moment;
                scope = said.moment;
            } else if said.moment.is_none() {
                *lasting = None;
            }
        }
        i = said.to + 1;
    }
    sheet.when[since..end].fill(scope);
}

/// "this morning … at 80": a figure that no clock shows and no bird weighs, where a time of day is told.
fn no_clock(sheet: &Sheet, start: usize, i: usize) -> bool {
    let figure = i + 1;
    let Some(num) = sheet.num(figure).filter(|_| sheet.is(i, &["at"]) && sheet.before(figure) == Break::None)
    else {
        return false;
    };
    let day = (start.max(i.saturating_sub(24))..i).any(|k| {
        sheet.any(k, &[Cue::ThisMorning, Cue::LastNight, Cue::Yesterday, Cue::DayBefore, Cue::Today])
            || weekday(sheet, k).is_some()
    });
    day && !sheet.used[figure]
        && num.value > 24.0
        && num.value < 100.0
        && !measured(sheet, figure + 1)
        && !crate::mass::near_any(num, &sheet.last_grams(figure))
        && expression(sheet, i).is_none()
}
/// "she's", "keel's", "mutes are": said of the present.
fn present(sheet: &Sheet, i: usize) -> bool {
    let s = |k: usize| {
        matches!(sheet.words(k), "'s" | "is" | "are" | "has" | "she's" | "he's" | "it's" | "shes" | "hes")
    };
    s(i) && sheet.any(i, &[Cue::He, Cue::She])
        || sheet.before(i + 1) == Break::None
            && s(i + 1)
            && (sheet.any(i, &[Cue::He, Cue::She]) || sheet.sign(i).is_some() || sheet.kit(i).is_some())
}

/// "Forgot to do this yesterday, so for yesterday, …": the whole note is about then.
fn whole_note(sheet: &Sheet, start: usize, end: usize) -> bool {
    (start..end.min(start + 40)).any(|k| {
        sheet.is(
            k,
            &["forgot", "forgotten", "belated", "notes", "record", "entry", "missed", "late", "didn't"],
        ) || sheet.is(k, &["for", "from"])
            && sheet.any(k + 1, &[Cue::Yesterday, Cue::LastNight, Cue::DayBefore])
    })
}

/// "by Monday", "she'll be … on Sunday": no time of what was.
fn planned(sheet: &Sheet, start: usize, i: usize) -> bool {
    let prev = sheet.prev(i);
    let weekday = weekday(sheet, i).is_some();
    if weekday && prev.is_some_and(|p| sheet.has(p, Cue::FutureDay)) {
        return true;
    }
    weekday
        && (start.max(i.saturating_sub(12))..i).any(|k| {
            sheet.any(k, &[Cue::Will, Cue::Plan, Cue::Want])
                || sheet.is(k, &["coming", "going", "'ll", "will"])
        })
}

fn clause_start(sheet: &Sheet, from: usize, i: usize) -> usize {
    let mut k = i;
    // "six tidbits and a chick yesterday": one meal.
    let meal = |k: usize| {
        k > from + 1
            && sheet.has(k - 1, Cue::And)
            && (sheet.food(k - 2).is_some() || sheet.part(k - 2).is_some())
            && sheet.before(k - 1) == Break::None
            && (k..k + 3).any(|m| sheet.food(m).is_some())
            && (k..k + 3)
                .take_while(|m| sheet.food(*m).is_none())
                .all(|m| sheet.num(m).is_some() || sheet.is(m, &["a", "an", "the", "some"]))
    };
    // "minus one and thick fog at seven": one look at the sky.
    let sky = |k: usize| {
        let said = |m: usize| sheet.sky(m).is_some() || sheet.wind(m).is_some();
        k > from + 1
            && sheet.has(k - 1, Cue::And)
            && sheet.before(k - 1) == Break::None
            && (k..k + 3).any(said)
            && (said(k - 2)
                || sheet.any(k - 2, &[Cue::Degrees, Cue::Fahrenheit])
                || k > from + 2 && sheet.has(k - 3, Cue::Minus))
    };
    while k > from
        && sheet.before(k) == Break::None
        && (!sheet.any(k - 1, &[Cue::And, Cue::But]) || meal(k) || sky(k))
    {
        k -= 1;
    }
    k
}

/// Which day of the week an atom names, if any.
pub(crate) fn weekday(sheet: &Sheet, i: usize) -> Option<Weekday> {
    const DAYS: [(Cue, Weekday); 7] = [
        (Cue::Monday, Weekday::Mon),
        (Cue::Tuesday, Weekday::Tue),
        (Cue::Wednesday, Weekday::Wed),
        (Cue::Thursday, Weekday::Thu),
        (Cue::Friday, Weekday::Fri),
        (Cue::Saturday, Weekday::Sat),
        (Cue::Sunday, Weekday::Sun),
    ];
    DAYS.iter().find(|(cue, _)| sheet.has(i, *cue)).map(|(_, day)| *day)
}

/// The same day at another hour.
fn on(day: Moment, hour: u32, minute: u32) -> Option<Moment> {
    let time = NaiveTime::from_hms_opt(hour % 24, minute, 0)?;
    day.date_naive().and_time(time).and_local_timezone(*day.offset()).single()
}

/// A clock after "at" (or straight after a day), from atom `i`.
fn at_clock(sheet: &Sheet, i: usize) -> Option<Clock> {
    if sheet.before(i) != Break::None {
        return None;
    }
    if sheet.has(i, Cue::At) {
        // "up on yesterday at 945" is a weight.
        let weight = |c: &Clock| {
            !c.sure
                && sheet
                    .num(i + 1)
                    .is_some_and(|n| n.value >= 60.0 && crate::mass::near_any(n, &sheet.last_grams(i + 1)))
        };
        return clock(sheet, i + 1)
            .filter(|c| sheet.before(i + 1) == Break::None && !measured(sheet, c.to + 1) && !weight(c));
    }
    clock(sheet, i).filter(|c| c.sure)
}

/// Whether a unit or a thing follows, so that the number before it is no time.
fn measured(sheet: &Sheet, i: usize) -> bool {
    sheet.before(i) == Break::None
        && (sheet.any(
            i,
            &[
                Cue::Grams,
                Cue::Kilos,
                Cue::Ounces,
                Cue::Pounds,
                Cue::Metres,
                Cue::Yards,
                Cue::Feet,
                Cue::Degrees,
                Cue::Flight,
                Cue::DistanceOther,
                Cue::OutOf,
            ],
        ) || sheet.food(i).is_some()
            || sheet.quarry(i).is_some())
        && !sheet.any(i, &[Cue::Morning, Cue::Evening, Cue::Oclock])
}

fn expression(sheet: &Sheet, i: usize) -> Option<Said> {
    let now = sheet.context.at;
    let said = |to: usize, moment: Option<Moment>| Some(Said { to, moment, moves: true });
    // "the same as yesterday", "better than last night", "nothing since yesterday": only measured against it.
    let day = sheet.any(i, &[Cue::LastNight, Cue::Yesterday, Cue::DayBefore]) || weekday(sheet, i).is_some();
    if day
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.ends(i - 1, &["than", "as", "like", "since", "versus", "against", "unlike"])
    {
        return Some(Said { to: i, moment: None, moves: false });
    }
    if sheet.has(i, Cue::LastNight) {
        let night = on(now.checked_sub_signed(Duration::days(1))?, 21, 0)?;
        if let Some(c) = at_clock(sheet, i + 1) {
            let moment = match c.hour % 12 {
                h @ 1..=4 if c.pm != Some(true) => on(now, h, c.minute),
                h => on(night, if c.hour > 12 { c.hour } else { h + 12 }, c.minute),
            };
            return said(c.to, moment);
        }
        return said(i, Some(night));
    }
    if sheet.has(i, Cue::ThisMorning) {
        if let Some(c) = at_clock(sheet, i + 1) {
            let hour = if c.hour == 12 { 0 } else { c.hour };
            return said(c.to, on(now, hour, c.minute));
        }
        // "this morning" alone says no time; it only ends what was said of another day.
        return said(i, None);
    }
    if sheet.any(i, &[Cue::Yesterday, Cue::DayBefore]) {
        let days = if sheet.has(i, Cue::DayBefore) { 2 } else { 1 };
        let day = now.checked_sub_signed(Duration::days(days))?;
        if let Some(mut c) = at_clock(sheet, i + 1) {
            let words = sheet.words(i);
            if c.pm.is_none() && words.ends_with("morning") {
                c.pm = Some(false);
            } else if c.pm.is_none() && (words.ends_with("evening") || words.ends_with("afternoon")) {
                c.pm = Some(true);
            }
            let moment = last_clock(day, &c)
                .filter(|m| m.date_naive() == day.date_naive())
                .or_else(|| on(day, c.hour, c.minute));
            return said(c.to, moment);
        }
        return said(i, Some(day));
    }
    if let Some(day) = weekday(sheet, i) {
        let back = (i64::from(now.weekday().num_days_from_monday()) - i64::from(day.num_days_from_monday()))
            .rem_euclid(7);
        let back = if back == 0 { 7 } else { back };
        let date = now.checked_sub_signed(Duration::days(back))?;
        if let Some(mut c) = at_clock(sheet, i + 1) {
            let words = sheet.words(i);
            if words.ends_with("morning") {
                c.pm = Some(false);
            } else if words.ends_with("evening") || words.ends_with("afternoon") {
                c.pm = Some(true);
            }
            let moment = last_clock(on(date, 23, 59)?, &c).or_else(|| on(date, c.hour, c.minute));
            return said(c.to, moment);
        }
        return said(i, Some(date));
    }
    if let Some(to) = ago::ago(sheet, i) {
        return Some(to);
    }
    if sheet.has(i, Cue::Today) {
        if let Some(c) = at_clock(sheet, i + 1) {
            let pm = sheet.words(i).contains("evening")
                || sheet.words(i).contains("afternoon")
                || sheet.is(i, &["tonight"]);
            let c = Clock { pm: c.pm.or(pm.then_some(true)), ..c };
            return said(c.to, last_clock(now, &c).filter(|m| m.date_naive() == now.date_naive()));
        }
        let talk =
            sheet.is(i, &["now"]) && sheet.before(i + 1) == Break::Comma && sheet.before(i) == Break::Stop;
        return (!talk || i == 0).then_some(Said { to: i, moment: None, moves: true });
    }
    if sheet.has(i, Cue::At) && sheet.before(i + 1) == Break::None {
        return at_expression(sheet, i);
    }
    // "It's ten to eight": a time, but nobody's.
    let c = clock(sheet, i).filter(|c| c.sure && !measured(sheet, c.to + 1))?;
    // "at noon", "9.15am": said outright, where "it's" does not only tell the time of speaking.
    let half_day = sheet.any(c.to, &[Cue::Morning, Cue::Evening, Cue::Noon, Cue::Midnight])
        || i > 0 && sheet.before(i) == Break::None && sheet.ends(i - 1, &["at"]);
    let clock_talk =
        i > 0 && (sheet.any(i - 1, &[Cue::Be, Cue::It]) || sheet.is(i - 1, &["for", "until", "till"]));
    if half_day && !clock_talk && !sheet.any(c.to + 1, &[Cue::ThisMorning, Cue::LastNight, Cue::Yesterday]) {
        return Some(Said { to: c.to, moment: last_clock(now, &c), moves: true });
    }
    let then = sheet.any(c.to + 1, &[Cue::ThisMorning, Cue::LastNight, Cue::Yesterday])
        && sheet.before(c.to + 1) != Break::Stop;
    if then {
        return dated(sheet, c);
    }
    // "10:12" may be a weight read off the scale.
    let other = sheet.num(i).is_some_and(|n| {
        n.fraction || n.form == Form::Tied(':') && crate::mass::near_any(n, &sheet.last_grams(i))
    });
    (!other).then_some(Said { to: c.to, moment: None, moves: false })
}

fn at_expression(sheet: &Sheet, i: usize) -> Option<Said> {
    let now = sheet.context.at;
    let c = clock(sheet, i + 1)?;
    if measured(sheet, c.to + 1) {
        return None;
    }
    // "about six this morning": the day makes it a time.
    let heavy = sheet
        .num(i + 1)
        .is_some_and(|n| n.value >= 25.0 && crate::mass::near_any(n, &sheet.last_grams(i + 1)));
    if !heavy
        && sheet.is(i, &["about", "around", "at about", "at around"])
        && sheet.any(c.to + 1, &[Cue::ThisMorning, Cue::LastNight])
        && sheet.before(c.to + 1) == Break::None
    {
        return dated(sheet, c);
    }
    if !c.sure {
        // "came in at nine forty" is a weight, "at nine forty" a time.
        let verb = sheet.prev(i).filter(|_| sheet.before(i) == Break::None);
        let weighs = verb.is_some_and(|v| {
            sheet.any(v, &[Cue::Weigh, Cue::Be, Cue::Up, Cue::Down, Cue::Flew])
                || sheet.any(v, &[Cue::He, Cue::She])
                || sheet.bird(v).is_some()
        });
        let Some(num) = sheet.num(i + 1) else {
            return Some(Said { to: c.to, moment: last_clock(now, &c), moves: sheet.is(i, &["at"]) });
        };
        let near = crate::mass::near_any(num, &sheet.last_grams(i + 1));
        let short = num.value < 13.0 && num.form == Form::Plain && num.digits.unwrap_or(0) == 0;
        let wanted = (i.saturating_sub(6)..i).any(|k| sheet.has(k, Cue::Want));
        if !short && (weighs || near || wanted)
            || !sheet.is(i, &["at"]) && !short
            || !sheet.is(
                i,
                &[
                    "at",
                    "by",
                    "until",
                    "about",
                    "around",
                    "since",
                    "just after",
                    "just before",
                    "at about",
                    "at around",
                ],
            ) && !c.sure
        {
            return None;
        }
        let nearly = sheet.is(i, &["just after", "just before", "at about", "at around"]) && short;
        if !sheet.is(i, &["at"]) && !(sheet.is(i, &["by", "until", "since"]) && short) && !nearly {
            return None;
        }
    }
    let moves_at = !sheet.is(i, &["by", "until", "before", "since"]);
    if moves_at
        && sheet.any(c.to + 1, &[Cue::ThisMorning, Cue::LastNight, Cue::Yesterday])
        && sheet.before(c.to + 1) == Break::None
    {
        return dated(sheet, c);
    }
    let moves = sheet.words(i).starts_with("at")
        || sheet.words(i).starts_with("just")
        || c.sure && sheet.is(i, &["about", "around"]);
    Some(Said { to: c.to, moment: last_clock(now, &c), moves })
}

/// "at seven this morning", "at eight last night".
fn dated(sheet: &Sheet, c: Clock) -> Option<Said> {
    let now = sheet.context.at;
    let day = c.to + 1;
    let moment = if sheet.has(day, Cue::ThisMorning) {
        on(now, if c.hour == 12 { 0 } else { c.hour }, c.minute)
    } else if sheet.has(day, Cue::LastNight) {
        on(
            now.checked_sub_signed(Duration::days(1))?,
            if c.hour < 12 && c.hour > 4 { c.hour + 12 } else { c.hour },
            c.minute,
        )
    } else {
        let evening = sheet.words(day).ends_with("evening") || sheet.words(day).ends_with("afternoon");
        let yesterday = now.checked_sub_signed(Duration::days(1))?;
        let pm = c.pm.or(if evening {
            Some(true)
        } else if sheet.words(day).ends_with("morning") {
            Some(false)
        } else {
            None
        });
        last_clock(yesterday, &Clock { pm, ..c })
            .filter(|m| m.date_naive() == yesterday.date_naive())
            .or_else(|| on(yesterday, c.hour, c.minute))
    };
    Some(Said { to: day, moment, moves: true })
}
