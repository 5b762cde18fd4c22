//! Numbers that are no entry: durations, prices, telephone numbers, frequencies, differences.

use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Marks numbers that measure what no entry holds.
pub(crate) fn measure(sheet: &mut Sheet) {
    // A figure said again right after is the same figure: "he wants 800 for it. 800!"
    let mut said: Option<(usize, f64)> = None;
    // A telephone number goes on over its pauses: "oh seven seven double oh, nine hundred, four five six".
    let mut dialled: Option<usize> = None;
    for i in 0..sheet.len() {
        let Some(value) = sheet.num(i).map(|n| n.value) else { continue };
        if sheet.used[i] || sheet.dead[i] {
            continue;
        }
        // A long string of figures, or one with a nought before it.
        let long = sheet.num(i).is_some_and(|n| {
            n.form == Form::Long
                || n.first == n.last && n.value >= 100.0 && {
                    let written = &sheet.tokens[n.first].norm;
                    written.len() > 3 && written.starts_with('0') && !written.contains('.')
                }
        });
        let goes_on = dialled.is_some_and(|d| {
            i - d <= 2
                && (d + 1..=i).all(|k| sheet.before(k) != Break::Stop)
                && (d + 1..i).all(|k| sheet.is(k, &["double", "oh", "treble", "triple", "o", "zero"]))
        });
        if long || goes_on {
            dialled = Some(i);
            sheet.used[i] = true;
            continue;
        }
        let again = said.is_some_and(|(at, v)| v == value && i - at < 8 && value >= 50.0);
        // "he eats four chicks a day. Four. Sedge had two.": said again for wonder.
        let alone =
            sheet.before(i) == Break::Stop && sheet.before(i + 1) == Break::Stop && i + 1 < sheet.len();
        let again = again
            || alone
                && value <= 24.0
                && sheet.num(i).is_some_and(|n| n.form == Form::Plain && !n.fraction)
                && (sheet.start_of_sentence(i - 1)..i)
                    .any(|k| sheet.num(k).is_some_and(|n| n.value == value));
        if again || no_entry(sheet, i) || test_talk(sheet, i) {
            sheet.used[i] = true;
            said = Some((i, value));
        }
    }
}

/// "Testing, one, two": no number of this sentence means anything.
fn test_talk(sheet: &Sheet, i: usize) -> bool {
    // The sentence before counts too: "Sound check. One, two."
    (i.saturating_sub(6)..sheet.end_of_sentence(i).min(i + 8)).any(|k| {
        sheet.has(k, Cue::DeadTalk)
            && matches!(
                sheet.words(k),
                "sound check"
                    | "testing"
                    | "testing testing"
                    | "mic check"
                    | "check check"
                    | "soundcheck"
                    | "mic test"
                    | "test test"
                    | "one two three"
            )
    })
}

/// "10, 15, 20 and 25 metres": the unit at the end measures the whole list.
fn listed_distance(sheet: &Sheet, i: usize) -> bool {
    let mut k = i + 1;
    let mut numbers = 0;
    while k < sheet.len() && k < i + 12 && sheet.before(k) != Break::Stop {
        if sheet.num(k).is_some() {
            numbers += 1;
        } else if sheet.any(k, &[Cue::Metres, Cue::Yards, Cue::Feet]) {
            return numbers > 0;
        } else if !sheet.any(k, &[Cue::And, Cue::Or]) {
            return false;
        }
        k += 1;
    }
    false
}

/// "humidity forty-eight", "pen 12", "back in 2019": what is read off or counted is no bird.
fn gauge(sheet: &Sheet, i: usize) -> bool {
    let mut k = i;
    while k > 0
        && i - k < 4
        && sheet.before(k) == Break::None
        && (sheet.any(k - 1, &[Cue::Be, Cue::At])
            || sheet.is(k - 1, &["'s", "to", "of", "on", "reads", "says", "said", "read", "up", "weight"])
            || sheet.has(k - 1, Cue::Weigh))
    {
        k -= 1;
    }
    k > 0
        && sheet.before(k) == Break::None
        && sheet.is(
            k - 1,
            &[
                "humidity",
                "pressure",
                "voltage",
                "battery",
                "odometer",
                "mileage",
                "altitude",
                "bearing",
                "heading",
                "iso",
                "pen",
                "pens",
                "bay",
                "lot",
                "plot",
                "aviary",
                "incubator",
                "brooder",
                "thermostat",
                "freezer",
                "fridge",
                "clock",
                "milometer",
                "gps",
                "tare",
                "calibration",
                "hygrometer",
                "ring",
                "band",
                "tag",
                "anklet",
                "transmitter",
                "tracker",
            ],
        )
}

/// "my phone is oh seven seven double oh, nine oh oh, five one two": three groups and more after a word for a code.
fn dialled(sheet: &Sheet, i: usize) -> bool {
    let digits = |k: usize| sheet.num(k).is_some() || sheet.is(k, &["double", "treble", "triple", "oh"]);
    let joined = |k: usize| digits(k) && sheet.before(k) != Break::Stop;
    let mut start = i;
    while start > 0 && i - start < 12 && joined(start) && digits(start - 1) {
        start -= 1;
    }
    let mut end = i + 1;
    while end < sheet.len() && end - i < 12 && joined(end) {
        end += 1;
    }
    let groups = (start..end).filter(|k| sheet.num(*k).is_some()).count();
    groups >= 3
        && !(start.saturating_sub(2)..start).any(|k| one_number(sheet, k))
        && shortly_before(sheet, start, 3, Cue::Code)
}

/// Whether one of the few words before, in the same sentence and since the last name, is a cue.
fn shortly_before(sheet: &Sheet, i: usize, reach: usize, cue: Cue) -> bool {
    (i.saturating_sub(reach)..i)
        .rev()
        .take_while(|k| sheet.before(*k + 1) != Break::Stop && sheet.bird(*k).is_none())
        .any(|k| {
            // "the cattle grid" has no number.
            sheet.has(k, cue) && !(k > 0 && sheet.is(k, &["grid"]) && sheet.is(k - 1, &["cattle"]))
        })
}

/// A word behind which one number stands and no more.
fn one_number(sheet: &Sheet, k: usize) -> bool {
    sheet.is(
        k,
        &[
            "channel",
            "page",
            "room",
            "flat",
            "dial",
            "on the dial",
            "volume",
            "junction",
            "tuned to",
            "set to",
            "model",
            "version",
        ],
    )
}

/// "channel five, 890 grams": the dial has its number, and what follows the pause is another.
fn dial_told(sheet: &Sheet, i: usize) -> bool {
    let Some(code) = (i.saturating_sub(3)..i).rev().find(|k| sheet.has(*k, Cue::Code)) else { return false };
    if sheet.is(code, &["dial"]) && sheet.is(code + 1, &["says", "reads", "said", "read", "showed", "shows"])
    {
        return true;
    }
    if sheet.before(i) == Break::None {
        return false;
    }
    let told = (code + 1..i).any(|k| sheet.num(k).is_some());
    let weighed =
        sheet.before(i + 1) == Break::None && sheet.any(i + 1, &[Cue::Grams, Cue::Kilos, Cue::Ounces]);
    told && (one_number(sheet, code) || weighed)
}

fn no_entry(sheet: &Sheet, i: usize) -> bool {
    let Some(num) = sheet.num(i) else { return false };
    if num.value < 100.0 && listed_distance(sheet, i) {
        return true;
    }
    // "216.017" is a transmitter's: no scale for birds shows thousandths of a gram.
    let frequency = num.form == Form::Plain && num.digits == Some(3) && num.value >= 100.0;
    if num.form == Form::Long || frequency {
        return true;
    }
    let next = i + 1;
    let tight = sheet.before(next) == Break::None;
    let degrees = sheet.any(next, &[Cue::Degrees, Cue::Fahrenheit]);
    if tight
        && sheet.has(next, Cue::DistanceOther)
        && !degrees
        && !sheet.any(next, &[Cue::Times, Cue::Flight])
        && sheet.food(next).is_none()
    {
        return true;
    }
    // "a ten-minute walk" is read the same; "half an hour".
    if tight && sheet.is(next, &["an", "a"]) && sheet.has(next + 1, Cue::DistanceOther) {
        return true;
    }
    if led_to(sheet, i) || clock_now(sheet, i) || misdialled(sheet, i) || priced_on(sheet, i) {
        return true;
    }
    if tight && sheet.is(next, &["megahertz", "mhz", "kilohertz", "kilometres", "kilometers", "miles"]) {
        return true;
    }
    let before = |reach: usize, cue: Cue| shortly_before(sheet, i, reach, cue);
    if before(3, Cue::Code) && !dial_told(sheet, i) || gauge(sheet, i) || dialled(sheet, i) {
        return true;
    }
    if num.money {
        // "£2 dead" is two pounds where birds are weighed in pounds; the weight rule decides.
        let weight = crate::mass::near_any(num, &sheet.last_grams(i))
            || num.value < 20.0 && sheet.context.units == Some(note::Units::Avoirdupois);
        return !weight || before(5, Cue::Price) || sheet.has(next, Cue::Price);
    }
    // "11 pounds 50 it cost me"
    let cost = sheet.has(next, Cue::Pounds)
        && (next + 1..next + 4)
            .take_while(|k| sheet.before(*k) == Break::None && !sheet.any(*k, &[Cue::And, Cue::But]))
            .any(|k| sheet.is(k, &["cost", "costs", "charged", "paid"]));
    if cost {
        return true;
    }
    // "paid with two chicken necks"
    if tight && num.value <= 12.0 && sheet.food(next).is_some() && before(4, Cue::Price) {
        return (i.saturating_sub(4)..i).any(|k| sheet.is(k, &["bought", "sold", "selling", "for sale"]));
    }
    let paid = num.digits == Some(2) && sheet.before(next) == Break::Comma && sheet.has(next, Cue::Price);
    (tight && sheet.has(next, Cue::Price))
        || paid
        || before(4, Cue::Price) && !sheet.any(next, &[Cue::Grams, Cue::Kilos])
}

/// "home by 6.40", "told him try 570", "it's 642 you want": no scale was read.
fn led_to(sheet: &Sheet, i: usize) -> bool {
    let p = i.wrapping_sub(1);
    i > 0
        && sheet.before(i) == Break::None
        && sheet.num(i).is_some_and(|n| n.value >= 1.0 && !n.fraction)
        && (sheet.is(p, &["try", "trying"])
            || sheet.is(p, &["by"])
                && p > 0
                && sheet.before(p) == Break::None
                && sheet.is(
                    p - 1,
                    &["home", "back", "there", "done", "finished", "in", "out", "up", "away", "bed"],
                )
            || sheet.is(p, &["want"]) && p > 0 && sheet.is(p - 1, &["you"])
            || sheet.is(p, &["wanted", "wants", "asked", "asking", "charged", "offered"])
                && sheet.is(i + 1, &["for"])
                && sheet.before(i + 1) == Break::None
                && sheet.bird(i + 2).is_none())
}

/// "It's 2.15 already" at a quarter past two: the clock was read and no scale.
fn clock_now(sheet: &Sheet, i: usize) -> bool {
    use chrono::Timelike;
    let said = i > 0
        && sheet.before(i) == Break::None
        && (sheet.is(i - 1, &["it's"])
            || sheet.is(i - 1, &["'s", "is"]) && i > 1 && sheet.is(i - 2, &["it", "time", "this"]));
    let Some(num) = sheet.num(i).filter(|_| said) else { return false };
    let (hour, minute) = match num.parts.as_slice() {
        [h, m] if num.form != Form::Plain => (*h, *m),
        _ if num.digits == Some(2) => (num.value.trunc(), (num.value.fract() * 100.0).round()),
        _ => return false,
    };
    let at = sheet.context.at;
    let now = f64::from(at.hour() % 12 * 60 + at.minute());
    let shown = hour % 12.0 * 60.0 + minute;
    let off = (shown - now).abs();
    hour <= 12.0 && minute < 60.0 && off.min(720.0 - off) <= 20.0
}

/// "Hello? No, wrong number. This is 641": two people and a telephone.
fn misdialled(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(sheet.start_of_sentence(i).saturating_sub(1));
    let end = sheet.end_of_sentence(i).min(i + 12);
    (start.max(i.saturating_sub(12))..end)
        .any(|k| sheet.word(k) == "wrong" && (sheet.ends(k, &["number"]) || sheet.is(k + 1, &["number"])))
        && (start.max(i.saturating_sub(14))..i).all(|k| sheet.bird(k).is_none())
}

/// "charged her 900 a month, 950 in summer": another price in the same breath.
fn priced_on(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(10));
    let weighed = |k: usize| {
        sheet.bird(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::Weigh, Cue::Grams])
            || sheet.is(k, &["she's", "she"])
    };
    let Some(priced) = (start..i)
        .rev()
        .take_while(|k| !weighed(*k))
        .find(|k| sheet.num(*k).is_some_and(|n| n.value >= 20.0) && sheet.used[*k])
    else {
        return false;
    };
    (priced.saturating_sub(4)..priced + 4).any(|k| k < i && sheet.has(k, Cue::Price))
        && (priced + 1..=i).all(|k| sheet.before(k) != Break::Stop)
}
