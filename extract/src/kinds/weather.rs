//! Temperature, wind and sky. A forecast is no weather.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Value, Weather};

/// Marks temperatures, so that no other rule takes their numbers.
pub(crate) fn temperatures(sheet: &mut Sheet) -> Vec<(f64, usize, usize)> {
    let mut out = Vec::new();
    for i in 0..sheet.len() {
        if sheet.used[i] || sheet.dead[i] {
            continue;
        }
        let Some(num) = sheet.num(i) else { continue };
        let value = num.value;
        let tight = sheet.before(i + 1) == Break::None;
        let minus_word = i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["minus", "negative"]);
        // "three degrees, no, minus three": the number moved to the first one's place without its sign.
        let put_right = sheet.corrected[i]
            .is_some_and(|to| to > i && to > 0 && sheet.is(to - 1, &["minus", "negative"]) && sheet.dead[to]);
        let negative = num.minus || minus_word || put_right;
        // "cloudy, plus five, windy"
        let (start, end) =
            (sheet.start_of_sentence(i).max(i.saturating_sub(8)), sheet.end_of_sentence(i).min(i + 8));
        let plus = i > 0
            && sheet.before(i) == Break::None
            && sheet.is(i - 1, &["plus"])
            && value <= 40.0
            && sheet.food(i + 1).is_none()
            && (start..end).any(|k| sheet.sky(k).is_some() || sheet.wind(k).is_some());
        let degrees = tight && sheet.any(i + 1, &[Cue::Degrees, Cue::Fahrenheit]);
        let below = tight && sheet.is(i + 1, &["below"]) && value < 40.0;
        let named = (i.saturating_sub(3)..i)
            .any(|k| ["temperature", "temp", "temps", "thermometer"].contains(&sheet.word(k)))
            && value < 45.0;
        // "nine on the thermometer"
        let read_off = tight
            && value < 45.0
            && sheet.is(i + 1, &["on"])
            && (i + 2..i + 4).any(|k| sheet.word(k) == "thermometer")
            || tight
                && value < 110.0
                && sheet.is(i + 1, &["in"])
                && sheet.is(i + 2, &["the"])
                && sheet.is(i + 3, &["shade"]);
        // "fifteen and sunny", "twelve, still, cloudy": a number that opens talk of the sky.
        let joined = i + 1 + usize::from(sheet.is(i + 1, &["and"]) && tight);
        let bare = i == sheet.start_of_sentence(i)
            && (!tight || joined > i + 1)
            && value.fract() == 0.0
            && (-25.0..=40.0).contains(&value)
            && num.form != crate::number::Form::Long
            && !num.money
            && !crate::mass::near_any(num, &sheet.last_grams(i))
            && sheet.before(joined) != Break::Stop
            && (sheet.sky(joined).is_some()
                || sheet.wind(joined).is_some()
                    && (joined + 1..joined + 4).any(|k| sheet.sky(k).is_some() || sheet.wind(k).is_some()));
        // "ten outside"
        let outside = tight
            && i == sheet.start_of_sentence(i)
            && value <= 40.0
            && sheet.is(i + 1, &["outside", "out there"])
            && (i + 2 >= sheet.len()
                || sheet.before(i + 2) != Break::None
                || sheet.any(i + 2, &[Cue::And, Cue::Today]));
        let named = named || read_off || bare || outside || plus;
        let unit =
            sheet.any(i + 1, &[Cue::Grams, Cue::Kilos, Cue::Ounces, Cue::Pounds, Cue::Metres]) && tight;
        if unit
            || !(degrees || below || named || (negative && value < 45.0))
            || num.form == crate::number::Form::Long
        {
            continue;
        }
        let mut to = if degrees || below { i + 1 } else { i };
        if degrees
            && sheet.before(to + 1) == Break::None
            && sheet.any(to + 1, &[Cue::Fahrenheit, Cue::Degrees])
        {
            to += 1;
        }
        let fahrenheit = sheet.has(i + 1, Cue::Fahrenheit) && degrees || sheet.has(to, Cue::Fahrenheit);
        if sheet.is(to + 1, &["below"]) && sheet.before(to + 1) == Break::None {
            to += 1;
        }
        // "29 degrees, frost all over the truck": a keeper of pounds and ounces counts so.
        let frosty = sheet.context.units == Some(note::Units::Avoirdupois)
            && degrees
            && value >= 10.0
            && (i..sheet.end_of_sentence(i).min(i + 12)).any(|k| sheet.sky(k).is_some_and(frozen));
        let fahrenheit = fahrenheit || frosty;
        let minus = negative || below || sheet.is(to, &["below"]);
        let value = if minus { -value } else { value };
        let celsius = if fahrenheit || !minus && (scale_of(sheet)..120.0).contains(&value) {
            (value - 32.0) / 1.8
        } else {
            value
        };
        let from = if minus_word { i - 1 } else { i };
        sheet.take(from, to);
        if celsius.abs() <= 50.0 && !forecast(sheet, i) && !indoors(sheet, i) {
            out.push(((celsius * 10.0).round() / 10.0, from, to));
        }
    }
    out
}

fn frozen(sky: note::Sky) -> bool {
    matches!(sky, note::Sky::Frost | note::Sky::Snow)
}

/// Above how many bare degrees Fahrenheit is meant: who weighs in pounds counts so from about freezing.
fn scale_of(sheet: &Sheet) -> f64 {
    if sheet.context.units == Some(note::Units::Avoirdupois) { 31.0 } else { 50.1 }
}

fn indoors(sheet: &Sheet, i: usize) -> bool {
    (i.saturating_sub(6)..sheet.len().min(i + 5)).any(|k| {
        sheet.is(
            k,
            &["freezer", "fridge", "oven", "incubator", "brooder", "hatcher", "turned", "house", "water"],
        )
    })
}

fn forecast(sheet: &Sheet, i: usize) -> bool {
    let (start, end) =
        (sheet.start_of_sentence(i).max(i.saturating_sub(14)), sheet.end_of_sentence(i).min(i + 14));
    let clause = |k: usize| (k.min(i) + 1..=k.max(i)).all(|m| sheet.before(m) == Break::None);
    // "gales by Friday"
    let day = |k: usize| {
        crate::time::weekday(sheet, k).is_some()
            && k > i
            && sheet.is(k - 1, &["by", "for", "until", "till", "come", "next", "this"])
            && clause(k)
    };
    // "they always say rain", "the radio says gales"
    let they_say = (start..i).any(|k| {
        sheet.is(k, &["they", "radio", "telly", "app", "wireless", "news", "paper"])
            && (k + 1..i.min(k + 4))
                .any(|m| sheet.is(m, &["say", "says", "said", "reckon", "reckons", "promise", "promises"]))
            && clause(k)
            && !back_to_now(sheet, k, i)
    });
    if they_say {
        return true;
    }
    (start..end).any(|k| {
        day(k)
            || announced(sheet, k) && k < i && !back_to_now(sheet, k, i)
            || sheet.has(k, Cue::Forecast)
                && (sheet.is(k, &["tomorrow"]) && k < i
                    || clause(k)
                        && !sheet.is(k, &["might", "could"])
                        && !(sheet.is(k, &["later", "tonight"]) && k < i)
                        && !(k > i && other_clause(sheet, i, k))
                    || clause(k) && k < i)
    })
}

/// Words that tell of a forecast as far as the sentence goes: "calling for snow tonight, gusts of forty".
fn announced(sheet: &Sheet, k: usize) -> bool {
    // "the forecast was wrong, it's clear"
    if (k + 1..k + 4).any(|m| sheet.is(m, &["wrong", "rubbish", "right", "out", "useless"])) {
        return false;
    }
    sheet.word(k).starts_with("forecast")
        || sheet.is(
            k,
            &[
                "calling for",
                "they're calling for",
                "they're giving",
                "giving out",
                "given out",
                "the radio said",
                "the app says",
                "met office",
                "weatherman",
                "weather man",
                "outlook",
                "warning of",
                "warnings",
                "predicted",
                "they're saying",
            ],
        )
}

/// "forecast was rain, but right now it's dry and clear": back to what is, behind the forecast at `k`.
fn back_to_now(sheet: &Sheet, k: usize, i: usize) -> bool {
    let Some(but) = (k + 1..i).find(|m| sheet.is(*m, &["but", "though", "however", "yet"])) else {
        return false;
    };
    (but + 1..i).any(|m| {
        sheet.any(m, &[Cue::Today])
            || sheet
                .is(m, &["it's", "it", "so far", "here", "outside", "we've", "i've", "speak", "as we speak"])
    })
}

/// "clear with a breeze so we'll get out later": what comes later is something else.
fn other_clause(sheet: &Sheet, i: usize, k: usize) -> bool {
    (i + 1..k).any(|m| sheet.any(m, &[Cue::But]))
        && (i + 1..=k).any(|m| sheet.any(m, &[Cue::I, Cue::He, Cue::She]) || sheet.bird(m).is_some())
}

/// Finds the weather and puts it together.
pub(crate) fn find(sheet: &mut Sheet, temperatures: &[(f64, usize, usize)], out: &mut Vec<Draft>) {
    let mut seen: Vec<(Weather, usize, usize)> = temperatures
        .iter()
        .map(|(t, a, b)| (Weather { temperature_c: Some(*t), ..Weather::default() }, *a, *b))
        .collect();
    for i in 0..sheet.len() {
        if sheet.used[i] || sheet.dead[i] || !is_weather(sheet, i) || forecast(sheet, i) {
            continue;
        }
        let wind = if sheet.is(i, &["calm"]) { Some(note::Wind::Calm) } else { sheet.wind(i) };
        let sky = if wind.is_none() { sheet.sky(i) } else { None };
        sheet.used[i] = true;
        seen.push((Weather { temperature_c: None, wind, sky }, i, i));
    }
    seen.extend(measured_wind(sheet));
    seen.sort_by_key(|s| s.1);
    // One entry for each time told of.
    let mut sets: Vec<(Weather, usize, usize, usize)> = Vec::new();
    for (w, a, b) in seen {
        let at = sheet.when[a];
        match sets.iter_mut().find(|s| sheet.when[s.1] == at) {
            Some((set, _, to, last)) => {
                set.temperature_c = set.temperature_c.or(w.temperature_c);
                // "windy, gusting hard": what it blew at its hardest.
                set.wind = match (set.wind, w.wind) {
                    (Some(_), Some(note::Wind::Strong)) => Some(note::Wind::Strong),
                    (said, other) => said.or(other),
                };
                set.sky = set.sky.or(w.sky);
                if a <= *last + 6 {
                    *to = (*to).max(b);
                    *last = b;
                }
            }
            None => sets.push((w, a, b, b)),
        }
        if sets.len() > 8 {
            break;
        }
    }
    for (weather, from, to, _) in sets {
        out.push(Draft::new(sheet, Value::Weather(weather), from, to, 0.97));
    }
}

/// "Force five", "a twelve mile an hour wind": by the Beaufort scale (WMO Manual on Codes, code table 1100).
fn measured_wind(sheet: &mut Sheet) -> Vec<(Weather, usize, usize)> {
    let mut out = Vec::new();
    for i in 0..sheet.len() {
        let Some(value) = sheet.num(i).map(|n| n.value).filter(|_| !sheet.dead[i]) else { continue };
        let tight = |k: usize| sheet.before(k) == Break::None;
        let forced =
            i > 0 && tight(i) && sheet.is(i - 1, &["force"]) && value <= 12.0 && value.fract() == 0.0;
        let unit = |k: usize| {
            if sheet.is(k, &["mph", "mile", "miles"]) && tight(k) {
                Some(1.0)
            } else if sheet.is(k, &["knots", "knot"]) && tight(k) {
                Some(1.151)
            } else {
                None
            }
        };
        let speed = unit(i + 1).map(|scale| value * scale).filter(|_| {
            (i + 2..sheet.len().min(i + 6)).any(|k| {
                sheet.is(
                    k,
                    &["wind", "winds", "breeze", "gusts", "westerly", "northerly", "easterly", "southerly"],
                )
            }) || (i.saturating_sub(5)..i)
                .any(|k| sheet.is(k, &["wind", "winds", "wind's", "gusting", "blowing"]))
        });
        // The lower limits of forces 1, 4 and 6: 1, 13 and 25 miles an hour.
        let wind = match (forced, speed) {
            (true, _) if value < 1.0 => note::Wind::Calm,
            (true, _) if value < 4.0 => note::Wind::Light,
            (true, _) if value < 6.0 => note::Wind::Moderate,
            (true, _) => note::Wind::Strong,
            (_, Some(s)) if s < 1.0 => note::Wind::Calm,
            (_, Some(s)) if s < 13.0 => note::Wind::Light,
            (_, Some(s)) if s < 25.0 => note::Wind::Moderate,
            (_, Some(_)) => note::Wind::Strong,
            _ => continue,
        };
        if forecast(sheet, i) {
            continue;
        }
        sheet.used[i] = true;
        let from = i - usize::from(forced);
        let named = (i + 1..sheet.len().min(i + 6))
            .take_while(|k| sheet.before(*k) == Break::None)
            .find(|k| sheet.is(*k, &["wind", "winds", "breeze", "gusts"]));
        let to = if forced { i } else { named.unwrap_or(i + 1) };
        out.push((Weather { wind: Some(wind), ..Weather::default() }, from, to));
    }
    out
}

/// Whether the word is weather here: some of them are said of birds too.
fn is_weather(sheet: &Sheet, i: usize) -> bool {
    // "hands like ice", "dry as dust": what something is compared to.
    let compared = i > 1
        && sheet.is(i - 1, &["like", "as"])
        && sheet.before(i) == Break::None
        && sheet.before(i - 1) == Break::None
        && !(sheet.is(i - 2, &["'s", "was", "is", "it's"]) && sheet.has(i.saturating_sub(3), Cue::It));
    if compared {
        return false;
    }
    let word = sheet.words(i);
    let either = matches!(
        word,
        "calm"
            | "still"
            | "clear"
            | "dull"
            | "flat"
            | "wet"
            | "bright"
            | "ice"
            | "grey"
            | "gray"
            | "storm"
            | "light air"
            | "cloud"
            | "mist"
            | "hail"
            | "glorious"
            | "clouds"
            | "shower"
            | "showers"
    );
    if sheet.wind(i).is_none() && sheet.sky(i).is_none() && word != "calm" {
        return false;
    }
    // "snowing still": as it did.
    if word == "still"
        && i > 0
        && sheet.before(i) == Break::None
        && sheet
            .ends(i - 1, &["snowing", "raining", "blowing", "pouring", "drizzling", "freezing", "gusting"])
    {
        return false;
    }
    // "no rain", "not windy"
    if i > 0 && sheet.before(i) == Break::None && sheet.any(i - 1, &[Cue::Neg]) && !sheet.dead[i - 1] {
        return false;
    }
    if i > 1
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["much", "any", "more", "longer", "been"])
        && sheet.has(i - 2, Cue::Neg)
    {
        return false;
    }
    // "a rain gauge", "the snow plough"
    let next = i + 1;
    let gauge = !sheet.is(
        next,
        &[
            "overnight",
            "again",
            "earlier",
            "about",
            "around",
            "everywhere",
            "early",
            "'s",
            "coming",
            "came",
            "falling",
            "driving",
            "hammering",
            "lashing",
        ],
    ) && next < sheet.len()
        && sheet.before(next) == Break::None
        && sheet.senses(next).is_empty()
        && sheet.num(next).is_none()
        && sheet.bird(next).is_none();
    if gauge
        && sheet.sky(i).is_some()
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["a", "the", "this", "that", "my", "our"])
    {
        return false;
    }
    // "the signal's clear as a bell"
    let sound = sheet.words(i).starts_with("clear as")
        && (sheet.start_of_sentence(i).max(i.saturating_sub(14))..i).any(|k| sheet.kit(k).is_some());
    if sound {
        return false;
    }
    if !either {
        // "the wind took her", "into the rain": what the wind does is still weather only as a state.
        return true;
    }
    let (mut a, mut b) = (i, i);
    while a > 0 && sheet.before(a) == Break::None && i - a < 8 {
        a -= 1;
    }
    while b + 1 < sheet.len() && sheet.before(b + 1) == Break::None && b - i < 8 {
        b += 1;
    }
    let subject = (a..=b).any(|k| {
        sheet.bird(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::She, Cue::Her, Cue::His])
            || sheet.behaviour(k).is_some() && k != i && !(sheet.is(k, &["calm"]) && sheet.used[k])
            || sheet.sign(k).is_some()
    });
    let weather = |k: usize| {
        k != i
            && k < sheet.len()
            && (sheet.wind(k).is_some()
                || sheet.is(k, &["calm"])
                    && (sheet.used[k] || k == i + 2 && sheet.has(i + 1, Cue::And) && !subject)
                || sheet.sky(k).is_some()
                || sheet.any(k, &[Cue::Degrees, Cue::Fahrenheit])
                || sheet.is(
                    k,
                    &[
                        "cold",
                        "cool",
                        "mild",
                        "hot",
                        "warm",
                        "dry",
                        "muggy",
                        "chilly",
                        "freezing",
                        "bitter",
                        "thermometer",
                    ],
                )
                || sheet.has(k, Cue::Minus) && sheet.num(k + 1).is_some()
                || sheet.num(k).is_some_and(|n| n.minus))
    };
    // "she still took a rabbit", "it still rang": a word of time before a verb, not of the wind.
    if word == "still"
        && a < i
        && sheet.before(i + 1) == Break::None
        && i < b
        && !(weather(i + 1) && (sheet.wind(i + 1).is_some() || sheet.sky(i + 1).is_some()))
        && !sheet.any(i + 1, &[Cue::And, Cue::But, Cue::Today, Cue::Morning])
        && !sheet.is(i + 1, &["day", "morning", "evening", "night", "air", "out", "outside", "conditions"])
    {
        return false;
    }
    // "Calm the day, three degrees", "calm tonight, 9 degrees": the day's, with the rest of the weather.
    let day = i + 1 + usize::from(sheet.is(i + 1, &["the"]));
    let of_the_day = word == "calm"
        && a == i
        && !subject
        && sheet.before(day) == Break::None
        && (sheet.is(day, &["day", "the day", "night", "the night"])
            || sheet.any(day, &[Cue::Today, Cue::Evening]))
        && (day > i + 1 || !sheet.is(day, &["day", "night"]))
        && (sheet.before(day + 1) == Break::Comma || sheet.any(day + 1, &[Cue::And]))
        && (day + 1..day + 4).any(weather);
    if of_the_day {
        return true;
    }
    if matches!(word, "calm" | "dull" | "flat") {
        return !subject
            && (weather(i + 1)
                || weather(i + 2)
                || i > 0 && weather(i - 1)
                || i > 1 && weather(i - 2)
                || sheet.is(i + 1, &["day", "morning", "evening", "and"]) && weather(i + 2)
                || i > 0 && sheet.is(i - 1, &["it's", "'s"]) && i > 1 && sheet.is(i - 2, &["it"]));
    }
    // "she's 941, wet": the bird is.
    if word == "wet" && i > 0 && sheet.num(i - 1).is_some() {
        return false;
    }
    let alone = a == i && b == i;
    let near = (i.saturating_sub(4)..=i + 4).any(weather);
    let it = (a..i)
        .any(|k| sheet.is(k, &["it", "sky", "day", "weather", "morning", "it's", "out", "outside", "today"]));
    let later = (i..=b)
        .any(|k| sheet.is(k, &["day", "morning", "evening", "outside", "out", "sky", "skies", "today"]));
    (alone && word != "still" && word != "clear"
        || near
        || it && word != "clear" && word != "still"
        || later
        || alone && !subject)
        && !(subject && !near)
}
