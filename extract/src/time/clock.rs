//! Times of the clock, as they are said and written.

use super::{Moment, measured, on};
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;
use chrono::Duration;

/// A clock time in speech.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    pub(super) hour: u32,
    pub(super) minute: u32,
    /// Said to be in the afternoon or evening, or in the morning.
    pub(super) pm: Option<bool>,
    /// Cannot be a weight: "half past six", "seven o'clock".
    pub(super) sure: bool,
    pub(super) to: usize,
}

fn small(sheet: &Sheet, i: usize) -> Option<u32> {
    let num = sheet
        .num(i)
        .filter(|n| n.form == Form::Plain && n.value.fract() == 0.0 && n.value < 60.0 && !n.money)?;
    Some(num.value as u32)
}

pub(super) fn clock(sheet: &Sheet, i: usize) -> Option<Clock> {
    let found = |hour: u32, minute: u32, sure: bool, to: usize| Clock { hour, minute, pm: None, sure, to };
    let hour = |k: usize| small(sheet, k).filter(|h| (1..=24).contains(h));
    // "this morning at 80 cast" is how a model wrote "at eight he'd cast".
    if let Some(tens) = sheet.num(i).filter(|n| n.digits == Some(0) && n.form == Form::Plain).map(|n| n.value)
        && (20.0..=90.0).contains(&tens)
        && tens % 10.0 == 0.0
        && i > 1
        && sheet.is(i - 1, &["at"])
        && sheet.any(i - 2, &[Cue::ThisMorning, Cue::LastNight, Cue::Yesterday])
        && sheet.before(i - 1) == Break::None
    {
        return Some(found((tens / 10.0) as u32, 0, true, i));
    }
    // "at oh seven hundred", "at 0640"
    if sheet.is(i, &["oh", "zero", "o"])
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["at", "by", "before", "since", "until"])
        && sheet.before(i + 1) == Break::None
        && let Some((h, m)) = sheet.num(i + 1).and_then(crate::number::Num::clock)
        && (1..10).contains(&h)
        && sheet.num(i + 1).is_some_and(|n| n.value >= 100.0)
    {
        return Some(Clock { hour: h, minute: m, pm: Some(false), sure: true, to: i + 1 });
    }
    if let Some(num) = sheet.num(i).filter(|n| n.first == n.last && n.form == Form::Plain)
        && let written = &sheet.tokens[num.first].norm
        && written.len() == 4
        && written.starts_with('0')
        && let Some((h, m)) = num.clock()
    {
        return Some(Clock { hour: h, minute: m, pm: Some(false), sure: true, to: i });
    }
    let mut clock = if sheet.has(i, Cue::HalfPast) {
        found(hour(i + 1)?, 30, true, i + 1)
    } else if sheet.has(i, Cue::QuarterPast) {
        found(hour(i + 1)?, 15, true, i + 1)
    } else if sheet.has(i, Cue::QuarterTo) {
        found((hour(i + 1)? + 23) % 24, 45, true, i + 1)
    } else if sheet.has(i, Cue::Noon) {
        return Some(Clock { hour: 12, minute: 0, pm: Some(true), sure: true, to: i });
    } else if sheet.has(i, Cue::Midnight) {
        return Some(Clock { hour: 0, minute: 0, pm: Some(false), sure: true, to: i });
    } else if sheet.num(i).is_some_and(|n| n.fraction && n.value == 0.5)
        && sheet.before(i + 1) == Break::None
        && hour(i + 1).is_some_and(|h| h <= 12)
    {
        found(hour(i + 1)?, 30, true, i + 1)
    } else if let Some(m) = small(sheet, i).filter(|m| m % 5 == 0 && *m > 0 && *m < 31)
        && sheet.before(i + 1) == Break::None
        && sheet.before(i + 2) == Break::None
        && let Some(h) = hour(i + 2).filter(|h| *h <= 12)
        && sheet.any(i + 1, &[Cue::Past, Cue::ToHour])
    {
        if sheet.has(i + 1, Cue::Past) {
            found(h, m, true, i + 2)
        } else {
            found((h + 23) % 24, 60 - m, true, i + 2)
        }
    } else {
        match sheet.num(i) {
            // "at 6 30": the colon was not written.
            Some(num)
                if num.form == Form::Plain
                    && num.digits == Some(0)
                    && (1.0..=12.0).contains(&num.value)
                    && i > 0
                    && sheet.is(i - 1, &["at", "at about", "at around"])
                    && sheet.before(i + 1) == Break::None
                    && sheet.num(i + 1).is_some_and(|m| {
                        m.digits == Some(0) && m.form == Form::Plain && (10.0..60.0).contains(&m.value)
                    })
                    && !measured(sheet, i + 2) =>
            {
                found(num.value as u32, sheet.num(i + 1)?.value as u32, true, i + 1)
            }
            Some(num) => {
                let (h, m) = num.clock()?;
                found(h, m, num.form == Form::Tied(':'), i)
            }
            // "at 7th" is how a model wrote "at seven".
            None => {
                let word = sheet.word(i);
                let digits = word.trim_end_matches(|c: char| c.is_ascii_alphabetic());
                let ordinal =
                    digits.len() < word.len() && digits.len() <= 2 && i > 0 && sheet.has(i - 1, Cue::At);
                let h = digits.parse::<u32>().ok().filter(|h| ordinal && (1..=12).contains(h))?;
                found(h, 0, false, i)
            }
        }
    };
    let next = clock.to + 1;
    // "nine thirty on the dot", "938 sharp": a weight where a bird weighs that much.
    let weight = sheet.is(next, &["on the dot", "sharp"])
        && !(i > 0 && sheet.has(i - 1, Cue::At))
        && sheet.num(i).is_some_and(|n| n.value >= 60.0 && crate::mass::near_any(n, &sheet.last_grams(i)));
    if sheet.has(next, Cue::Oclock) && sheet.before(next) == Break::None && !weight {
        clock.sure = true;
        clock.to = next;
    }
    let next = clock.to + 1;
    clock.sure |= by_the_clock(sheet, next);
    if sheet.any(next, &[Cue::Morning, Cue::Evening]) && sheet.before(next) == Break::None {
        clock.pm = Some(sheet.has(next, Cue::Evening));
        clock.sure = true;
        clock.to = next;
    }
    Some(clock)
}

/// "7.10 by the kitchen clock", "ten past on my watch".
fn by_the_clock(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["by", "on", "according to"])
        && sheet.before(i) == Break::None
        && (i + 1..i + 5)
            .take_while(|k| sheet.before(*k) == Break::None)
            .any(|k| sheet.is(k, &["clock", "watch", "church clock", "phone"]))
}

/// The last such clock time not after `now`.
pub(super) fn last_clock(now: Moment, clock: &Clock) -> Option<Moment> {
    let hours: Vec<u32> = match clock.pm {
        _ if clock.hour > 12 || clock.hour == 0 => vec![clock.hour],
        Some(true) => vec![clock.hour % 12 + 12],
        Some(false) => vec![clock.hour % 12],
        None => vec![clock.hour % 12, clock.hour % 12 + 12],
    };
    let at = |day: i64, hour: u32| on(now.checked_sub_signed(Duration::days(day))?, hour, clock.minute);
    let mut all: Vec<Moment> = (0..2).flat_map(|d| hours.iter().filter_map(move |h| at(d, *h))).collect();
    all.retain(|m| *m <= now);
    all.into_iter().max()
}
