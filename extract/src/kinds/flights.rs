//! Sets of flights: how many, how far, on a line or free, and to what.

mod aim;
mod count;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use aim::{aim, flew, flown_to, line, said_flew, stepped};
use count::{counted, planned};
use note::{Flights, Line, Step, StepOutcome, To, Units, Value};

/// A set being put together.
#[derive(Clone, Copy, Debug)]
struct Set {
    flights: Flights,
    from: usize,
    to: usize,
    head: usize,
    owner: Owner,
    /// Told of by a count or by the verb itself.
    told: bool,
    /// What an earlier clause said they flew to, if theirs says nothing.
    aimed: Option<To>,
    /// Some of its words only sound like what they mean.
    heard: bool,
}

/// Finds the sets of flights.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut set: Option<Set> = None;
    // Said before the flights it belongs to: "first time on the creance. Four flights …".
    let mut pending: (Option<Line>, Option<To>, Owner) = (None, None, Owner::Unknown);
    let mut pending_heard = false;
    // What "to it" would mean.
    let mut thing: Option<To> = None;
    let mut i = 0;
    while i < sheet.len() {
        if let Some(to) = flown_to(sheet, i).filter(|_| !sheet.dead[i]) {
            thing = Some(to);
        }
        if sheet.dead[i] || sheet.used[i] {
            i += 1;
            continue;
        }
        let owner = sheet.owner[i];
        // "Four flights. No, five, five flights for Rook": said again with its bird.
        let again = set.is_some_and(|s| {
            i <= s.to + 2
                && (s.from..=s.to).any(|k| sheet.corrected[k].is_some())
                && s.flights.count.is_some()
                && counted(sheet, i).map(|c| c.0) == s.flights.count
        });
        if again && set.is_some_and(|s| s.owner != owner) {
            set = None;
        }
        if set.is_some_and(|s| s.owner != owner) {
            close(sheet, &mut set, out);
        }
        if pending.2 != owner {
            pending = (None, None, owner);
            pending_heard = false;
        }
        if let Some((count, to)) = counted(sheet, i) {
            let again = set.is_some_and(|s| {
                s.flights.count.is_some_and(|c| c != count)
                    || s.flights.count.is_some() && sheet.when[s.head] != sheet.when[i]
            });
            if again {
                close(sheet, &mut set, out);
            }
            let fresh = set.is_none();
            let now = set.get_or_insert(Set {
                flights: Flights::default(),
                from: i,
                to,
                head: i,
                owner,
                told: true,
                aimed: None,
                heard: false,
            });
            now.flights.count = Some(count);
            now.told = true;
            now.to = now.to.max(to);
            if fresh {
                now.flights.line = pending.0;
                now.aimed = pending.1;
                now.heard = pending_heard;
                pending = (None, None, owner);
                pending_heard = false;
            }
            if sheet.has(to, Cue::Free) {
                now.flights.line = Some(Line::Free);
            }
            // "fist six times"
            let led = (i > 0
                && sheet.before(i) == Break::None
                && (sheet.has(to, Cue::Times) || sheet.is(to, &["twice"])))
            .then(|| flown_to(sheet, i - 1).or(sheet.has(i - 1, Cue::Fist).then_some(To::Fist)))
            .flatten();
            now.flights.to = now.flights.to.or(led);
            // "five short hops to the glove": counted and aimed in one.
            if let Some(aim) = stepped(sheet, to) {
                now.flights.to = now.flights.to.or(Some(aim));
            }
            // "8 x lure"
            if to == i + 2 && sheet.is(i + 1, &["x"]) {
                let aim = match sheet.words(to) {
                    "lure" | "the lure" => To::Lure,
                    "perch" => To::Perch,
                    _ => To::Fist,
                };
                now.flights.to = now.flights.to.or(Some(aim));
            }
            // "seven stoops to the lure"
            if sheet.words(to).contains(' ') && sheet.words(to).ends_with("lure") {
                now.flights.to = now.flights.to.or(Some(To::Lure));
            }
            // "out on the lure, twelve passes": only a lure is passed at.
            if sheet.is(to, &["passes", "stoops"]) && thing == Some(To::Lure) {
                now.flights.to = now.flights.to.or(Some(To::Lure));
            }
            sheet.take(i, to);
            i = to + 1;
            continue;
        }
        if let Some((metres, from, to)) = distance(sheet, i, set.as_ref()) {
            let fresh = set.is_none();
            let now = set.get_or_insert(Set {
                flights: Flights::default(),
                from,
                to,
                head: i,
                owner,
                told: false,
                aimed: None,
                heard: false,
            });
            let longest = now
                .flights
                .longest_m
                .map_or(metres, |m: f64| if sheet.corrected[i].is_some() { metres } else { m.max(metres) });
            now.flights.longest_m = Some(longest);
            now.told = true;
            if fresh {
                now.flights.line = pending.0.take();
                now.aimed = pending.1.take();
                now.heard |= pending_heard;
            }
            extend(now, from, to);
            sheet.take(i, to);
            i = to + 1;
            continue;
        }
        if let Some(line) = line(sheet, i) {
            // "six to the fist and four to the lure, all free": of both sets.
            if i > 0 && sheet.is(i - 1, &["all", "both"]) || matches!(sheet.words(i), "all free") {
                let start = sheet.start_of_sentence(i);
                for d in out.iter_mut().rev().take(4).filter(|d| d.head >= start) {
                    if let Value::Flights(f) = &mut d.value
                        && sheet.owner[d.head] == owner
                    {
                        f.line = f.line.or(Some(line));
                    }
                }
            }
            let instead = sheet.num(i).is_some() || aim::misheard_creance(sheet, i);
            let heard = sheet.atoms[i].heard || instead;
            if instead {
                sheet.used[i] = true;
            }
            match &mut set {
                Some(s) if s.flights.line.is_none_or(|l| l == line) => {
                    s.flights.line = Some(line);
                    s.heard |= heard;
                    extend(s, i, i);
                }
                // A change of line belongs to the next set.
                Some(_) => pending.0 = Some(line),
                // "first time flying free" tells of the step; the flights come after, if at all.
                None if flew(sheet, i) && !step_told(out, i) => {
                    set = Some(Set {
                        flights: Flights { line: Some(line), ..Flights::default() },
                        from: i,
                        to: i,
                        head: i,
                        owner,
                        told: said_flew(sheet, i),
                        aimed: None,
                        heard: false,
                    });
                }
                None => {
                    pending.0 = Some(line);
                    pending_heard |= heard;
                }
            }
        }
        // "three flights to it": the lure that was just spoken of.
        let it = || {
            thing.filter(|_| {
                sheet.is(i, &["to"])
                    && sheet.is(i + 1, &["it"])
                    && sheet.before(i + 1) == Break::None
                    && (sheet.before(i + 2) != Break::None
                        || sheet.grade(i + 2).is_some()
                        || sheet.any(i + 2, &[Cue::Longest, Cue::And, Cue::Today]))
            })
        };
        if let Some(to) = aim(sheet, i).or_else(it) {
            match &mut set {
                Some(s) if s.flights.to.is_none() => {
                    s.flights.to = Some(to);
                    s.heard |= sheet.atoms[i].heard;
                    extend(s, i, i);
                }
                Some(_) => {}
                None if said_flew(sheet, i) => {
                    let (line, _, _) = pending;
                    set = Some(Set {
                        flights: Flights { to: Some(to), line, ..Flights::default() },
                        from: i,
                        to: i,
                        head: i,
                        owner,
                        told: true,
                        aimed: None,
                        heard: false,
                    });
                    pending.0 = None;
                }
                None => pending.1 = Some(to),
            }
        }
        i += 1;
    }
    close(sheet, &mut set, out);
    without_totals(sheet, out);
}

/// "Nine flights in all, six to the fist and three to the lure": the sets are told apart, the sum is none.
fn without_totals(sheet: &Sheet, out: &mut Vec<Draft>) {
    let sets: Vec<(usize, Flights)> = out
        .iter()
        .enumerate()
        .filter_map(|(k, d)| if let Value::Flights(f) = &d.value { Some((k, *f)) } else { None })
        .collect();
    let Some(at) = (0..sets.len().saturating_sub(2)).find(|s| {
        let [(a, all), (b, one), (c, two)] = [sets[*s], sets[s + 1], sets[s + 2]];
        let owner = |k: usize| sheet.owner[out[k].head];
        owner(a) == owner(b)
            && owner(b) == owner(c)
            && matches!((all.count, one.count, two.count), (Some(a), Some(b), Some(c)) if a == b + c)
    }) else {
        return;
    };
    let whole = sets[at].1;
    for (k, _) in [sets[at + 1], sets[at + 2]] {
        if let Value::Flights(f) = &mut out[k].value {
            f.line = f.line.or(whole.line);
        }
    }
    out.remove(sets[at].0);
}

fn step_told(out: &[Draft], i: usize) -> bool {
    out.iter().rev().take(24).any(|d| matches!(d.value, Value::Training(_)) && (d.from..=d.to).contains(&i))
}

fn extend(set: &mut Set, from: usize, to: usize) {
    // The words of a set stay together; a far-off remark does not stretch them over half the note.
    if from <= set.to + 14 {
        set.from = set.from.min(from);
        set.to = set.to.max(to);
    }
}

fn close(sheet: &Sheet, set: &mut Option<Set>, out: &mut Vec<Draft>) {
    let Some(s) = set.take() else { return };
    let perches = || between_perches(sheet, out, &s).then_some(To::Perch);
    let f = Flights { to: s.flights.to.or(s.aimed).or_else(perches), ..s.flights };
    let worth = f.count.is_some() || f.longest_m.is_some() || s.told && (f.line.is_some() || f.to.is_some());
    if !worth || !s.told || f.count == Some(0) {
        return;
    }
    let score = if f.count.is_some() { 0.96 } else { 0.85 };
    let mut draft = Draft::new(sheet, Value::Flights(f), s.from, s.to, score).at(s.head);
    if s.heard {
        draft.flag(note::Flag::MisheardWord);
    }
    out.push(draft);
}

/// "First time perch to perch. Eight flights": the step that was just told says what they flew to.
fn between_perches(sheet: &Sheet, out: &[Draft], set: &Set) -> bool {
    let free = set.flights.line.is_none() && set.flights.count.is_some();
    free && out.iter().rev().take(6).any(|d| {
        let step = matches!(
            &d.value,
            Value::Training(t)
                if t.step == Step::PerchToPerch && t.outcome == StepOutcome::Done
        );
        step && sheet.owner[d.head] == set.owner && d.to < set.head && set.head - d.to <= 12
    })
}

/// A distance in metres that starts at `i`, with its words.
fn distance(sheet: &Sheet, i: usize, set: Option<&Set>) -> Option<(f64, usize, usize)> {
    let num = sheet.num(i)?;
    if num.money || num.minus || num.form == Form::Long {
        return None;
    }
    let unit = i + 1;
    let tight = sheet.before(unit) == Break::None;
    let scale = if !tight {
        None
    } else if sheet.has(unit, Cue::Metres) && !sheet.is(unit, &["matters", "maters"]) {
        Some(1.0)
    } else if sheet.has(unit, Cue::Yards) {
        Some(0.9144)
    } else if sheet.has(unit, Cue::Feet) && (sheet.food(i.saturating_sub(1)).is_none()) {
        Some(0.3048)
    } else {
        None
    };
    // Look left for "longest".
    let mut from = i;
    let (mut strong, mut told) = (false, false);
    for k in (i.saturating_sub(9)..i).rev() {
        if sheet.before(k + 1) == Break::Stop
            || sheet.bird(k).is_some()
            || sheet.num(k).is_some() && !sheet.dead[k]
        {
            break;
        }
        if sheet.is(k, &["longest", "furthest", "farthest", "max", "maximum", "best", "biggest"])
            || sheet.words(k).contains("longest")
            || sheet.words(k).contains("furthest")
            || matches!(
                sheet.words(k),
                "out to"
                    | "the best"
                    | "best one"
                    | "best was"
                    | "as far as"
                    | "pushed her to"
                    | "pushed him to"
                    | "stretched her to"
                    | "stretched him to"
                    | "pushed out to"
                    | "distance of"
                    | "distance was"
                    | "top distance"
                    | "increased to"
            )
        {
            strong = true;
            from = k;
            // "six metres the longest and 316": that distance is told.
            let the = usize::from(k > 0 && sheet.is(k - 1, &["the"]));
            told = k > the
                && sheet.any(k - 1 - the, &[Cue::Metres, Cue::Yards, Cue::Feet])
                && (k - the..=k).all(|m| sheet.before(m) == Break::None);
            break;
        }
    }
    let Some(scale) = scale else {
        // "longest sixty", the unit left out.
        let ends = i + 1 >= sheet.len()
            || sheet.before(i + 1) != Break::None
            || sheet.any(i + 1, &[Cue::And, Cue::But])
            || sheet.bird(i + 1).is_some();
        let bare = strong
            && !told
            && ends
            && set.is_some()
            && num.form == Form::Plain
            && (2.0..600.0).contains(&num.value);
        let yards = sheet.context.units == Some(Units::Avoirdupois);
        return bare.then(|| (metres(num.value, if yards { 0.9144 } else { 1.0 }), from, i));
    };
    let value = num.value;
    let mut to = unit;
    if high(sheet, i, unit) {
        return None;
    }
    if sheet.is(to + 1, &["or"]) && sheet.is(to + 2, &["so"]) && sheet.before(to + 1) == Break::None {
        to += 2;
    }
    let sentence = sheet.start_of_sentence(i).max(i.saturating_sub(24))..sheet.end_of_sentence(i).min(i + 8);
    let here = sentence.clone().any(|k| {
        aim(sheet, k).is_some() && stepped(sheet, k).is_none()
            || sheet.has(k, Cue::Flight)
            || sheet.is(k, &["flew", "flown", "flying"])
            || line(sheet, k).is_some()
    });
    let near = set.is_some_and(|s| {
        i <= s.to + 6 && !sheet.is(unit + 1, &["downwind", "away", "off", "down", "upwind", "from"])
    });
    if planned(sheet, i) && !near {
        return None;
    }
    (strong || here || near).then(|| (metres(value, scale), from, to))
}

fn metres(value: f64, scale: f64) -> f64 {
    (value * scale * 10.0).round() / 10.0
}

/// How high a falcon pitched, or how far the car stood: no length of a flight.
fn high(sheet: &Sheet, i: usize, unit: usize) -> bool {
    let before = (i.saturating_sub(5)..i)
        .rev()
        .take_while(|k| sheet.before(*k + 1) != Break::Stop && sheet.num(*k).is_none())
        .any(|k| {
            sheet.has(k, Cue::Height) && !sheet.is(k, &["high"])
                || sheet.is(k, &["pitched", "pitch", "height", "waited", "waiting", "climbed", "mounted"])
                || sheet.behaviour(k).is_some_and(|b| {
                    matches!(
                        sheet.lexicon.behaviours()[usize::from(b)].word.as_str(),
                        "waiting on" | "soaring"
                    )
                })
        });
    let after = sheet.before(unit + 1) == Break::None
        && (sheet.is(unit + 1, &["up", "high", "overhead", "above", "pitch", "tall", "deep", "wide"])
            || sheet.has(unit + 1, Cue::Height));
    before || after
}
