//! Body weights: grams, kilos, pounds and ounces, and bare numbers that can be nothing else.

mod aim;
mod doubt;
mod plain;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::mass::{self, PLAUSIBLE};
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use doubt::{difference, of_something, target};
use note::{Flag, GRAMS_PER_OUNCE, GRAMS_PER_POUND, Grams, MassUnit, Units, Value, Weight};

/// How sure a weight is at most where words stand beside it that belong to no way of telling one.
const UNPLAIN: f64 = 0.86;

/// A measured mass in the text.
struct Mass {
    grams: f64,
    unit: Option<MassUnit>,
    from: usize,
    to: usize,
    /// Atom of the number that decides.
    head: usize,
    off: Option<f64>,
    rival: bool,
    cost: f64,
    imperial_guess: bool,
}

/// Finds the weights.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut i = 0;
    while i < sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            i += 1;
            continue;
        }
        let Some(mass) = united(sheet, i).or_else(|| bare(sheet, i)) else {
            i += 1;
            continue;
        };
        let to = mass.to;
        // "either 941 or 944": which of them is for the keeper to say.
        let or = |k: usize| {
            sheet.is(k, &["or"]) && sheet.before(k) == Break::None && sheet.before(k + 1) == Break::None
        };
        let second = i > 1
            && or(i - 1)
            && out
                .last()
                .is_some_and(|d| matches!(d.value, Value::Weight(_)) && d.to + 2 == i && d.head != i);
        if second && sheet.corrected[i].is_none() {
            if let Some(first) = out.last_mut() {
                first.flag(Flag::AmbiguousNumber);
                first.score -= 0.3;
            }
            sheet.take(i.min(mass.from), to);
            i = to + 1;
            continue;
        }
        // "seven and a half now, seven and a quarter ounces": a "no" that was written as "now".
        let lapse = i > 1
            && sheet.is(i - 1, &["now", "know", "nor"])
            && sheet.before(i - 1) != Break::Stop
            && sheet.before(i) == Break::Comma
            && out.last().is_some_and(|d| {
                matches!(d.value, Value::Weight(_)) && d.to + 2 == i && sheet.owner[d.head] == sheet.owner[i]
            });
        if lapse {
            out.pop();
            sheet.corrected[i] = Some(to);
        }
        if !target(sheet, &mass) && !difference(sheet, &mass) && !of_something(sheet, &mass) {
            propose(sheet, &mass, out);
        }
        sheet.take(i.min(mass.from), to);
        i = to + 1;
    }
}

/// Whether a weight begins with its unit here: "a kilo 790".
pub(crate) fn opens_with_unit(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["a", "one"]) && sheet.any(i + 1, &[Cue::Kilos, Cue::Pounds])
}

/// Whether the weight said at `i` lies near `last` grams.
pub(crate) fn near_said(sheet: &Sheet, i: usize, last: f64) -> bool {
    match united(sheet, i) {
        Some(mass) => mass::distance(mass.grams, last) <= PLAUSIBLE,
        None => sheet.num(i).is_some_and(|n| mass::near_any(n, &[last])),
    }
}

fn propose(sheet: &Sheet, mass: &Mass, out: &mut Vec<Draft>) {
    let grams = mass::tenth(mass.grams);
    let Ok(value) = Grams::new(grams) else { return };
    if !(15.0..=16_000.0).contains(&grams) {
        return;
    }
    let lasts = sheet.last_grams(mass.head);
    let known = matches!(sheet.owner[mass.head], Owner::One(_));
    let mut score = 0.99 - mass.cost * 0.15;
    let value = Value::Weight(Weight { grams: value, unit: mass.unit });
    let mut draft = Draft::new(sheet, value, mass.from, mass.to, score).at(mass.head);
    if known && lasts.first().is_some_and(|l| mass::distance(grams, *l) > PLAUSIBLE) {
        draft.flag(Flag::ImplausibleWeight);
        score -= if mass.unit.is_some() { 0.03 } else { 0.08 };
    }
    if lasts.is_empty() && mass.unit.is_none() {
        score -= 0.12;
    }
    // "948 and three chicks, Mote 114 and a half": the half may be a chick's.
    let start = sheet.start_of_sentence(mass.from).max(mass.from.saturating_sub(60));
    let mixed = sheet.num(mass.head).is_some_and(|n| n.mixed && n.value.fract() > 0.0 && n.value >= 40.0);
    let fed = mixed
        && mass.unit.is_none()
        && (start..mass.from)
            .any(|k| sheet.food(k).is_some() && sheet.used[k] && sheet.owner[k] != sheet.owner[mass.head]);
    if fed {
        draft.flag(Flag::AmbiguousNumber);
        score -= 0.15;
    }
    if mass.rival {
        draft.flag(Flag::AmbiguousNumber);
        score -= 0.25;
    }
    if mass.imperial_guess {
        draft.flag(Flag::UnitAssumed);
        score -= 0.06;
    }
    if !plain::plain(sheet, mass) {
        score = score.min(UNPLAIN);
    }
    draft.score = score;
    out.push(draft);
}

/// A number with a unit of mass.
fn united(sheet: &Sheet, i: usize) -> Option<Mass> {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let unit = |k: usize, cue: Cue| sheet.has(k, cue) && !sheet.dead[k];
    let (value, at, from) = match sheet.num(i) {
        // "by half a pound"
        Some(num)
            if num.fraction
                && sheet.is(i + 1, &["a"])
                && tight(i + 1)
                && tight(i + 2)
                && sheet.any(i + 2, &[Cue::Kilos, Cue::Pounds, Cue::Ounces]) =>
        {
            (num.value, i + 2, i)
        }
        Some(num) if num.form != crate::number::Form::Long => (num.value, i + 1, i),
        Some(_) => return None,
        // "a kilo and twenty", "a pound and a half"
        None if sheet.is(i, &["a", "one"])
            && tight(i + 1)
            && sheet.any(i + 1, &[Cue::Kilos, Cue::Pounds]) =>
        {
            (1.0, i + 1, i)
        }
        None if sheet.has(i, Cue::Kilos) && (i == 0 || sheet.bird(i - 1).is_some() || !tight(i)) => {
            (1.0, i, i)
        }
        None => return None,
    };
    let num = sheet.num(i);
    let lasts = sheet.last_grams(i);
    let make = |grams: f64, unit: MassUnit, to: usize, cost: f64| {
        let off = (!lasts.is_empty()).then(|| mass::nearest(grams, &lasts));
        Some(Mass {
            grams,
            unit: Some(unit),
            from,
            to,
            head: i,
            off,
            rival: false,
            cost,
            imperial_guess: false,
        })
    };
    // A small number, and what follows it is not counted by it.
    let more = |k: usize| -> Option<(f64, usize)> {
        let join = usize::from(sheet.is(k, &["and"]) && tight(k));
        let n = sheet.num(k + join).filter(|_| sheet.live(k + join) && !sheet.used[k + join])?;
        let comma = sheet.before(k + join) == Break::Comma || sheet.before(k) == Break::Comma;
        (sheet.before(k + join) != Break::Stop
            && !(comma && join == 1)
            && n.form != crate::number::Form::Long)
            .then_some((if let Some(part) = ounce_part(n) { part } else { n.value }, k + join))
    };
    let counted = |k: usize| {
        tight(k)
            && (sheet.food(k).is_some()
                || sheet.quarry(k).is_some()
                || sheet.any(
                    k,
                    &[
                        Cue::Flight,
                        Cue::Times,
                        Cue::Degrees,
                        Cue::Metres,
                        Cue::Yards,
                        Cue::OutOf,
                        Cue::DistanceOther,
                    ],
                ))
    };
    let money = num.is_some_and(|n| n.money);
    if tight(at) && unit(at, Cue::Kilos) {
        if let Some((rest, k)) = more(at + 1)
            && (1.0..1000.0).contains(&rest)
            && !counted(k + 1)
            && !(sheet.sign(k + 1).is_some() && sheet.num(k).is_some_and(|n| n.fraction))
            && (tight(k)
                || rest >= 10.0
                    && sheet.before(at + 1) == Break::Comma
                    && value.fract() == 0.0
                    && (!unit(k + 1, Cue::Kilos) || rest >= 100.0))
            && value.fract() == 0.0
        {
            // "3 kg, 650 kg" is how a model wrote three kilos six fifty.
            let grams = usize::from(
                (unit(k + 1, Cue::Grams) || unit(k + 1, Cue::Kilos) && rest >= 100.0) && tight(k + 1),
            );
            return make(value * 1000.0 + rest, MassUnit::Kg, k + grams, 0.0);
        }
        if let Some((f, k)) =
            more(at + 1).filter(|(f, k)| *f < 1.0 && !counted(k + 1) && sheet.is(at + 1, &["and"]))
        {
            return make((value + f) * 1000.0, MassUnit::Kg, k, 0.0);
        }
        return make(value * 1000.0, MassUnit::Kg, at, 0.0);
    }
    let pounds = tight(at) && unit(at, Cue::Pounds);
    if pounds || money {
        let next = if pounds { at + 1 } else { at };
        // "£2 one and a half" was two pounds one and a half.
        if let Some([p, o]) = num.map(|n| n.parts.as_slice())
            && *o < 16.0
        {
            return make(
                p * GRAMS_PER_POUND + o * GRAMS_PER_OUNCE,
                MassUnit::LbOz,
                next - 1 + usize::from(unit(next, Cue::Ounces) && tight(next)),
                0.1,
            );
        }
        // "£1.6" was one pound six.
        let (whole, written) = match num {
            Some(n) if money && n.digits.is_some_and(|d| d > 0) => {
                let d = i32::from(n.digits.unwrap_or(0));
                (n.value.trunc(), (n.value.fract() * 10f64.powi(d)).round())
            }
            _ => (value, 0.0),
        };
        if written > 0.0 && written < 16.0 {
            let ounces = usize::from(unit(next, Cue::Ounces) && tight(next));
            return make(
                whole * GRAMS_PER_POUND + written * GRAMS_PER_OUNCE,
                MassUnit::LbOz,
                next + ounces - 1,
                0.2,
            );
        }
        if let Some((ounces, k)) = more(next)
            && ounces < 16.0
            && whole.fract() == 0.0
        {
            // "and three quarters of an ounce", "and half an ounce"
            let of = k + usize::from(sheet.is(k + 1, &["of"]) && tight(k + 1));
            let an = of + usize::from(sheet.is(of + 1, &["an", "a"]) && tight(of + 1));
            let measure = if ounces < 1.0 && unit(an + 1, Cue::Ounces) && tight(an + 1) { an } else { k };
            let k = measure;
            let named = tight(k + 1) && unit(k + 1, Cue::Ounces);
            let likely =
                mass::nearest(whole * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE, &lasts) <= PLAUSIBLE;
            if named
                || !counted(k + 1) && (tight(k) || likely) && !(ounces < 1.0 && !sheet.is(next, &["and"]))
            {
                let half_pound = ounces < 1.0 && !named;
                let grams = if half_pound {
                    (whole + ounces) * GRAMS_PER_POUND
                } else {
                    whole * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE
                };
                let unit = if half_pound { MassUnit::Lb } else { MassUnit::LbOz };
                // "two pounds and a half" may be half a pound or half an ounce.
                if half_pound
                    && mass::nearest(whole * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE, &lasts)
                        < mass::nearest(grams, &lasts)
                {
                    return make(whole * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE, MassUnit::LbOz, k, 0.2);
                }
                return make(grams, unit, if named { k + 1 } else { k }, 0.0);
            }
        }
        return make(value * GRAMS_PER_POUND, MassUnit::Lb, next - 1, if money { 0.2 } else { 0.0 });
    }
    if tight(at) && unit(at, Cue::Ounces) && num.is_some() {
        let num = num?;
        if let [p, o] = num.parts.as_slice()
            && matches!(
                num.form,
                crate::number::Form::Singles | crate::number::Form::Pair | crate::number::Form::Tied(_)
            )
            && *o < 16.0
        {
            // "two six and a half ounces"
            return make(p * GRAMS_PER_POUND + o * GRAMS_PER_OUNCE, MassUnit::LbOz, at, 0.1);
        }
        // "nine ounces and a quarter"
        if value.fract() == 0.0
            && sheet.is(at + 1, &["and"])
            && let Some((f, k)) = more(at + 1)
            && f < 1.0
            && tight(k)
            && !counted(k + 1)
            && !(tight(k + 1) && sheet.is(k + 1, &["of", "a", "an"]))
            && !(tight(k + 1) && sheet.sign(k + 1).is_some())
        {
            return make((value + f) * GRAMS_PER_OUNCE, MassUnit::Oz, k, 0.0);
        }
        return make(value * GRAMS_PER_OUNCE, MassUnit::Oz, at, 0.0);
    }
    if tight(at) && unit(at, Cue::Grams) && num.is_some() {
        let num = num?;
        let choices: Vec<_> =
            mass::readings(num, Some(Units::Metric)).into_iter().filter(|r| !r.imperial).collect();
        let plain = mass::tenth(value);
        let near = choices.iter().find(|r| mass::nearest(r.grams, &lasts) <= PLAUSIBLE);
        let odd =
            num.digits.is_some_and(|d| d >= 2) || num.form != crate::number::Form::Plain || value >= 3000.0;
        let (grams, cost) = match near {
            Some(r) if odd || mass::nearest(plain, &lasts) > 0.5 => (r.grams, r.cost),
            _ => choices.first().map_or((plain, 0.0), |r| {
                if num.form == crate::number::Form::Plain { (plain, 0.0) } else { (r.grams, r.cost) }
            }),
        };
        return make(grams, MassUnit::G, at, cost.min(0.2));
    }
    None
}

/// "3/4" of an ounce behind pounds.
fn ounce_part(num: &crate::number::Num) -> Option<f64> {
    match (num.form, num.parts.as_slice()) {
        (crate::number::Form::Tied('/'), [a, b]) if a < b && [2.0, 4.0, 8.0, 16.0].contains(b) => Some(a / b),
        _ => None,
    }
}

/// A number without a unit.
fn bare(sheet: &Sheet, i: usize) -> Option<Mass> {
    let num = sheet.num(i)?;
    if num.money {
        return None;
    }
    let lasts = sheet.last_grams(i);
    let readings = mass::readings(num, sheet.context.units);
    let mut choice = mass::choose(&readings, &lasts)?;
    // "the wee one, 205": as it was said it is another bird's, and no two pounds five.
    let every: Vec<f64> = sheet.names.iter().filter_map(|n| n.last_grams).collect();
    if choice.imperial
        && sheet.context.units != Some(Units::Avoirdupois)
        && let Some(plain) = readings.iter().find(|r| !r.imperial && r.cost == 0.0)
        && mass::nearest(plain.grams, &every) <= PLAUSIBLE
    {
        choice.grams = plain.grams;
        choice.imperial = false;
        choice.off = Some(mass::nearest(plain.grams, &lasts));
        choice.cost = 0.0;
    }
    let near = choice.off.is_some_and(|o| o <= PLAUSIBLE);
    let corrected = sheet.corrected[i].is_some();
    if !(near || corrected || slot(sheet, i)) || followed_by_noun(sheet, i, near) {
        return None;
    }
    if lasts.is_empty() && !slot(sheet, i) {
        return None;
    }
    // A small count that happens to be possible in ounces is no weight without a slot for one.
    if choice.imperial
        && num.parts.len() == 1
        && num.digits != Some(1)
        && num.value < 40.0
        && (!slot(sheet, i) || !near)
    {
        return None;
    }
    if choice.imperial
        && sheet.context.units != Some(Units::Avoirdupois)
        && (!near || !slot(sheet, i) && num.parts.len() == 1 && num.digits.is_none())
    {
        return None;
    }
    let metric_guess = choice.imperial != (sheet.context.units == Some(Units::Avoirdupois));
    let rival = choice.rival && !near || (!near && num.parts.len() > 1 && choice.cost > 0.25);
    Some(Mass {
        grams: choice.grams,
        unit: None,
        from: i,
        to: i,
        head: i,
        off: choice.off,
        rival,
        cost: choice.cost,
        imperial_guess: metric_guess && choice.imperial,
    })
}

/// Whether the number stands where a weight is said: after a name, "she's", "weighed", or alone.
fn slot(sheet: &Sheet, i: usize) -> bool {
    let next = i + 1;
    let closed = next >= sheet.len()
        || sheet.before(next) != Break::None
        || sheet.any(
            next,
            &[Cue::Exact, Cue::Today, Cue::And, Cue::But, Cue::Yesterday, Cue::LastNight, Cue::ThisMorning],
        );
    // "714 Rook, full crop"
    let called = sheet.bird(next).is_some()
        && sheet.before(next) == Break::None
        && (sheet.before(next + 1) != Break::None || next + 1 >= sheet.len());
    let Some(p) = sheet.prev(i) else {
        return closed || called || sheet.is(next, &["for", "on"]) && sheet.bird(next + 1).is_some();
    };
    // "231 is all there is of her": a figure that opens its sentence and could be hers.
    let told = i == sheet.start_of_sentence(i)
        && sheet.before(next) == Break::None
        && (sheet.any(next, &[Cue::Be]) || sheet.is(next, &["'s"]))
        && sheet.num(i).is_some_and(|n| {
            sheet.last_grams(i).iter().any(|l| mass::distance(n.value, *l) <= 2.0 * PLAUSIBLE)
        });
    if sheet.before(i) != Break::None {
        let meant = sheet.is(next, &["for", "on"]) && sheet.bird(next + 1).is_some();
        return closed || called || meant || told || sheet.bird(p).is_some();
    }
    // "seventeen and a half for Cob"
    let meant =
        sheet.is(next, &["for"]) && sheet.before(next) == Break::None && sheet.bird(next + 1).is_some();
    // "ten before flying and ten and a half after"
    let second = sheet.any(p, &[Cue::And])
        && sheet.before(p) == Break::None
        && sheet.before(next) == Break::None
        && sheet.is(next, &["after", "before", "afterwards"])
        && (p.saturating_sub(8)..p).any(|k| sheet.num(k).is_some() && sheet.used[k]);
    // "the scale's saying 572"
    let scale = sheet.is(p, &["saying", "showing", "reading"])
        && (p.saturating_sub(3)..p).any(|k| sheet.is(k, &["scale", "scales", "display", "readout"]));
    // "went out at ten and a quarter": no time is told so.
    let at = sheet.ends(p, &["at"]) && sheet.num(i).is_some_and(|n| n.mixed);
    meant
        || second
        || at
        || scale
        || sheet.bird(p).is_some()
        || sheet.any(p, &[Cue::Weigh, Cue::Be, Cue::Filler])
        || sheet.is(p, &["'s"])
        || sheet.any(p, &[Cue::He, Cue::She])
        || closed && sheet.any(p, &[Cue::Approx, Cue::Up, Cue::Down])
}

/// "640 people": a thing is counted that is no entry.
fn followed_by_noun(sheet: &Sheet, i: usize, near: bool) -> bool {
    let next = i + 1;
    if next >= sheet.len() || sheet.before(next) != Break::None {
        return false;
    }
    if sheet.any(next, &[Cue::OutOf])
        && sheet.is(next, &["out", "of"])
        && !sheet.words(next).starts_with("out of")
        && !near
    {
        return true;
    }
    if sheet.words(next) == "out of"
        || sheet.any(
            next,
            &[Cue::Flight, Cue::Times, Cue::Metres, Cue::Yards, Cue::Feet, Cue::Degrees, Cue::DistanceOther],
        )
    {
        return true;
    }
    let plural = sheet.senses(next).is_empty()
        && sheet.bird(next).is_none()
        && sheet.num(next).is_none()
        && sheet.word(next).len() > 3
        && sheet.word(next).ends_with('s')
        && !sheet.word(next).ends_with("ss");
    // "eleven boys and a dog"
    let people = sheet.word(next).ends_with('s')
        && (sheet.any(next, &[Cue::Person, Cue::OtherBeast])
            || sheet.is(next, &["boys", "girls", "kids", "scouts", "cubs", "men", "ladies"]));
    if people {
        return true;
    }
    // "200 chicks": counted, even where a bird weighs as much.
    let goods = (sheet.food(next).is_some() || sheet.kit(next).is_some() || sheet.quarry(next).is_some())
        && sheet.words(next).ends_with('s')
        && sheet.num(i).is_some_and(|n| n.value.fract() == 0.0 && !n.mixed);
    goods || plural && !near || sheet.food(next).is_some() && !near
}
