//! Quarry taken, missed and chased.

mod counts;
mod them;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use counts::{count, first_of, missed_all, put_right, said_again, slips, taken_of_them, tally, told_count};
use note::{Quarry, QuarryOutcome, Value};
use them::of_them;

/// Finds the quarry.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    put_right(sheet, out);
    // The quarry spoken of last, and its entry.
    let mut spoken: Option<(usize, u16, Option<usize>)> = None;
    let mut named = 1;
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        if let Some((at, species, Some(entry))) = spoken
            && another(sheet, at, i)
            && let Value::Quarry(first) = &out[entry].value
        {
            // "took a rabbit, then another"
            let value = Value::Quarry(Quarry { count: 1, ..first.clone() });
            out.push(Draft::new(sheet, value, i, i, 0.88).at(i));
            sheet.take(i, i);
            spoken = Some((i, species, Some(entry)));
            continue;
        }
        if missed_all(sheet, i, out) {
            continue;
        }
        let open = spoken
            .and_then(|s| s.2)
            .is_none_or(|e| matches!(&out[e].value, Value::Quarry(q) if q.outcome == QuarryOutcome::Chased));
        if let Some((at, species, entry)) = spoken
            && let Some((count, outcome, to)) =
                of_them(sheet, at, i, entry.is_none().then_some(named), open.then_some(named))
        {
            let kind = species;
            let species = sheet.lexicon.quarry()[usize::from(species)].word.clone();
            let value = Value::Quarry(Quarry { species, count, outcome });
            let draft = Draft::new(sheet, value, i, to, 0.88).at(i);
            // "three slips at rabbits, missed two": the slips are told by what came of them.
            let slips = entry.filter(|e| {
                out[*e].head == at
                    && matches!(&out[*e].value, Value::Quarry(q)
                        if q.outcome == QuarryOutcome::Chased
                            // "entered on rabbits, one chased, one taken": each has its own verb.
                            && !(out[*e].to > at && participle(sheet, out[*e].to).is_some())
                            // "chased one over the hill and missed another": two.
                            && !sheet.is(to, &["another", "another one", "one more", "a second"])
                            && (q.count > 1 || !sheet.is(to, &["one"]) || slipped(sheet, out[*e].from, at)))
            });
            match slips {
                Some(e) => out[e] = draft,
                None => {
                    spoken = Some((at, kind, entry.or(Some(out.len()))));
                    out.push(draft);
                }
            }
            sheet.take(i, to);
            continue;
        }
        let Some(species) = sheet.quarry(i) else { continue };
        let (mut count, from) = count(sheet, i);
        spoken = Some((i, species, None));
        named = slips(sheet, i).unwrap_or(count);
        let told = outcome(sheet, i, from)
            .or_else(|| first_of(sheet, i).map(|at| (QuarryOutcome::Taken, at, i)))
            .or_else(|| tally(sheet, i));
        let Some((outcome, verb, to)) = told else { continue };
        // "flushed six ducks, no slip": nothing was flown at.
        if outcome == QuarryOutcome::Chased
            && sheet.is(verb, &["flushed", "put up", "jumped"])
            && sheet.is(i + 1, &["no"])
            && sheet.is(i + 2, &["slip", "slips", "chance"])
        {
            continue;
        }
        if from == i
            && outcome != QuarryOutcome::Taken
            && let Some(slips) = slips(sheet, i)
        {
            count = slips;
        }
        if from == i
            && outcome != QuarryOutcome::Taken
            && let Some(said) = told_count(sheet, i, to)
        {
            count = said;
        }
        if outcome == QuarryOutcome::Taken
            && let Some(said) = taken_of_them(sheet, i, verb, to)
        {
            count = said;
        }
        if outcome == QuarryOutcome::Missed && to > i && sheet.is(to, &["both"]) {
            count = 2;
        }
        // "missed a pheasant and missed it again"
        let again = (i + 1..sheet.end_of_sentence(i).min(i + 6)).any(|k| {
            sheet.has(k, Cue::Missed)
                && sheet.is(k + 1, &["it"])
                && sheet.is(k + 2, &["again", "a second time", "twice"])
        });
        // "missed a squirrel twice"
        let again = again
            || sheet.before(i + 1) == Break::None
                && (sheet.is(i + 1, &["twice"]) || sheet.is(i + 1, &["two"]) && sheet.is(i + 2, &["times"]));
        if outcome == QuarryOutcome::Missed && count == 1 && again {
            count = 2;
        }
        // "She took a hare. She took a hare!": said twice for joy.
        if outcome == QuarryOutcome::Taken && said_again(sheet, i) {
            sheet.take(from, i.max(to));
            continue;
        }
        let kind = species;
        let species = sheet.lexicon.quarry()[usize::from(species)].word.clone();
        let value = Value::Quarry(Quarry { species, count, outcome });
        let draft = Draft::new(sheet, value, verb, i.max(to), 0.95).at(i);
        spoken = Some((i, kind, Some(out.len())));
        out.push(draft);
        sheet.take(from, i);
        if to > i {
            let verb = to > i + 1 && sheet.has(to - 1, Cue::Missed);
            // "grouse, one taken"
            let number = to > i + 1 && (sheet.num(to - 1).is_some() || sheet.is(to - 1, &["one"]));
            sheet.take(to - usize::from(verb || number), to);
        }
    }
}

/// "a slip at a rabbit", "a flight at a grouse": what came of it is told next.
fn slipped(sheet: &Sheet, from: usize, to: usize) -> bool {
    (from..=to)
        .any(|k| ["slip", "flight", "go at", "chance", "shot"].iter().any(|w| sheet.words(k).contains(w)))
}
/// "then another", "and another one", right behind the quarry at `q`.
fn another(sheet: &Sheet, q: usize, i: usize) -> bool {
    sheet.is(i, &["another", "another one", "a second", "a second one"])
        && i > q
        && i - q <= 9
        && sheet.any(i - 1, &[Cue::And])
        && sheet.owner[q] == sheet.owner[i]
        && (i + 1 >= sheet.len()
            || sheet.before(i + 1) != Break::None
            || sheet.is(i + 1, &["by", "in", "on", "at", "from", "off", "under", "near"]))
        && (q + 1..i).all(|k| sheet.quarry(k).is_none())
}
/// What became of it, by the nearest verb before or right after.
///
/// Returns it with the first and the last atom that say so.
pub(super) fn outcome(sheet: &Sheet, i: usize, from: usize) -> Option<(QuarryOutcome, usize, usize)> {
    let (start, end) =
        (sheet.start_of_sentence(i).max(from.saturating_sub(14)), sheet.end_of_sentence(i).min(i + 9));
    // "one lark missed, one lark taken": the word right behind it.
    let was = i + 1 + usize::from(sheet.is(i + 1, &["was", "were"]) && sheet.before(i + 1) == Break::None);
    let breath = sheet.unbroken && was == i + 1 && sheet.before(was) == Break::Comma;
    if (sheet.before(was) == Break::None || breath)
        && let Some(outcome) = participle(sheet, was)
    {
        return Some((outcome, from, was));
    }
    // "the rabbit she caught had a scab": said in a clause of its own.
    let who = i + 1;
    let clause = from < i || sheet.is(i.saturating_sub(1), &["the", "that"]);
    if clause
        && sheet.before(who) == Break::None
        && sheet.before(who + 1) == Break::None
        && (sheet.bird(who).is_some() || sheet.any(who, &[Cue::He, Cue::She]))
        && sheet.is(who + 1, &["caught", "took", "killed", "missed", "chased", "bagged"])
        && let Some(outcome) = verb(sheet, who + 1)
    {
        return Some((outcome, from, who + 1));
    }
    // "took her out for jackrabbits": what was gone out for.
    let sought = from > 1
        && sheet.before(from) == Break::None
        && (sheet.is(from - 1, &["for"]) && sheet.ends(from - 2, &["out", "up", "down"])
            || sheet.is(from - 1, &["out for", "looking for", "in search of", "hunting for"]));
    if sought && sheet.words(i).ends_with('s') {
        return None;
    }
    let mut found: Option<(QuarryOutcome, usize)> = None;
    if sheet.words(from).contains("brace") {
        found = Some((QuarryOutcome::Taken, from));
    }
    // A verb right before is quoted with it.
    let near = |k: usize| {
        if from - k <= 2 && (k + 1..=from).all(|m| sheet.before(m) == Break::None) { k } else { from }
    };
    let mut k = from;
    while k > start {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.bird(k).is_some() && sheet.owner[k] != sheet.owner[i] {
            break;
        }
        // Another's verb: "he chased a squirrel I hate squirrels".
        // "killed a moorhen on the brook, then a duck": the same verb again.
        let again = from > 0
            && sheet.is(from - 1, &["then", "and", "and then", "plus", "also"])
            && (k + 1..from)
                .all(|m| !sheet.any(m, &[Cue::He, Cue::She, Cue::I, Cue::But]) && verb(sheet, m).is_none());
        if sheet.quarry(k).is_some()
            && sheet.used[k]
            && !again
            && !(k + 1..from).all(|m| {
                sheet.dead[m] || sheet.any(m, &[Cue::And]) || sheet.is(m, &["a", "an", "another", "also"])
            })
        {
            break;
        }
        if let Some(o) = verb(sheet, k).filter(|_| {
            !(sheet.is(k, &["got"])
                && from - k > 1 + usize::from(sheet.is(k + 1, &["the", "that", "her", "his"])))
        }) {
            // "no screaming bagged a cottontail": that "no" has its own word.
            let denied = (k.saturating_sub(3)..k).any(|m| {
                sheet.has(m, Cue::Neg)
                    && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
                    && !(sheet.is(m, &["no", "nil", "zero", "without"]) && m + 1 < k)
            });
            if denied && o == QuarryOutcome::Taken {
                found = Some((QuarryOutcome::Missed, near(k)));
            } else if !denied {
                found = Some((o, near(k)));
            }
            break;
        }
        if sheet.any(k, &[Cue::Ate, Cue::Gave, Cue::Offered, Cue::Refused])
            && sheet.before(k + 1) == Break::None
            && !sheet.is(k, &["for", "on", "just", "only", "got", "into", "took"])
        {
            break;
        }
    }
    if found.is_none() && sheet.is(from, &["no"]) {
        return None;
    }
    // After it: "and missed it", "in the bag", "got away".
    let far = sheet.end_of_sentence(i).min(i + 18);
    let mut m = i + 1;
    while m < far {
        // Only the bag is told of so late: "flight at a grouse, a huge stoop, knocked it down, in the bag".
        if m >= end && !sheet.is(m, &["in the bag", "for the bag", "in hand"]) {
            if sheet.quarry(m).is_some() {
                break;
            }
            m += 1;
            continue;
        }
        if sheet.dead[m] {
            m += 1;
            continue;
        }
        let other = sheet.bird(m).is_some() && sheet.owner[m] != sheet.owner[i];
        if sheet.quarry(m).is_some() || other {
            break;
        }
        if sheet.has(m, Cue::Missed) {
            // "chased a rabbit, missed a hare": the next one's verb.
            let next_ones = (m + 1..(m + 5).min(end))
                .take_while(|x| sheet.before(*x) == Break::None && sheet.bird(*x).is_none())
                .any(|x| sheet.quarry(x).is_some());
            let escaped = escaped(sheet, i, m);
            let its = escaped
                || sheet.is(m + 1, &["it", "them", "both", "that", "him", "her"])
                || m + 1 >= end
                || sheet.before(m + 1) != Break::None
                || sheet.has(m + 1, Cue::But)
                || sheet.any(m + 1, &[Cue::On, Cue::At])
                || sheet.is(m + 1, &["by", "in"]);
            if !next_ones
                && (its || sheet.words(m).contains(' '))
                && (escaped || found.is_none_or(|f| f.0 != QuarryOutcome::Taken))
            {
                return Some((QuarryOutcome::Missed, found.map_or(from, |f| f.1), its_end(sheet, m)));
            }
        }
        let bag =
            matches!(sheet.words(m), "in the bag" | "for the bag" | "on the bag" | "to the bag" | "in hand");
        let took_it = sheet.is(m, &["had", "got"])
            && sheet.is(m + 1, &["it"])
            && sheet.before(m + 1) == Break::None
            && (m + 2 >= end || sheet.before(m + 2) != Break::None)
            || sheet.has(m, Cue::Took)
                && (sheet.is(m + 1, &["it", "them", "one", "that", "both"]) && sheet.quarry(m + 2).is_none()
                    || sheet.is(m, &["taken", "caught", "killed"])
                        && (m + 1 >= end
                            || sheet.before(m + 1) != Break::None
                            || sheet.is(
                                m + 1,
                                &["on", "in", "at", "by", "off", "from", "this", "under", "down"],
                            )
                            || crate::time::weekday(sheet, m + 1).is_some()
                            || sheet.any(m + 1, &[Cue::And, Cue::But, Cue::Today, Cue::Yesterday])))
                && !sheet.is(m, &["got", "hit", "landed"]);
        // "and never caught it"
        let denied = (m.saturating_sub(3)..m)
            .any(|x| x > i && sheet.has(x, Cue::Neg) && (x + 1..=m).all(|y| sheet.before(y) == Break::None));
        if took_it && denied {
            return Some((QuarryOutcome::Missed, found.map_or(from, |f| f.1), its_end(sheet, m)));
        }
        if (bag || took_it) && found.is_none_or(|f| f.0 != QuarryOutcome::Missed) {
            return Some((QuarryOutcome::Taken, found.map_or(from, |f| f.1), m));
        }
        let was_chased = sheet.is(m, &["chased", "pursued"])
            && (m + 1 >= end
                || sheet.before(m + 1) != Break::None
                || sheet.any(m + 1, &[Cue::And, Cue::But])
                || sheet
                    .is(m + 1, &["up", "into", "away", "off", "down", "through", "across", "over", "round"]));
        if was_chased && found.is_none() {
            return Some((QuarryOutcome::Chased, from, m));
        }
        // "put up a hare and she coursed it"
        if found.is_none()
            && sheet.has(m, Cue::Chased)
            && sheet.before(m + 1) == Break::None
            && sheet.is(m + 1, &["it", "them"])
        {
            return Some((QuarryOutcome::Chased, from, m + 1));
        }
        m += 1;
    }
    found.map(|(o, verb)| (o, verb, i))
}

/// "missed", "taken", "chased", where it ends what is said of the quarry before it.
pub(super) fn participle(sheet: &Sheet, k: usize) -> Option<QuarryOutcome> {
    // "one gull taken off the silo"
    let off = sheet.is(k, &["taken off", "taken from"])
        || sheet.is(k, &["taken", "caught", "killed"])
            && sheet.is(k + 1, &["off", "from", "in", "on", "by", "at"]);
    if off && sheet.before(k + 1) == Break::None && sheet.live(k) {
        return Some(QuarryOutcome::Taken);
    }
    // "one rook missed flew well": a note without commas goes on to the flying.
    let goes_on = sheet.unbroken
        && (sheet.any(k + 1, &[Cue::Flew, Cue::Flight, Cue::FlyingTalk]) || sheet.grade(k + 1).is_some());
    // "two hares missed one taken"
    let counts_on = sheet.unbroken
        && (sheet.num(k + 1).is_some() || sheet.is(k + 1, &["one"]))
        && sheet.is(k + 2, &["missed", "taken", "caught", "killed", "chased", "lost"]);
    let ends = k + 1 >= sheet.len()
        || sheet.before(k + 1) != Break::None
        || goes_on
        || counts_on
        || sheet.any(k + 1, &[Cue::And, Cue::But]) && !sheet.is(k + 1, &["with", "after", "before", "as"]);
    if !ends || !sheet.live(k) {
        return None;
    }
    match sheet.words(k) {
        "missed" | "lost" | "escaped" => Some(QuarryOutcome::Missed),
        "taken" | "caught" | "killed" | "bagged" | "nailed" | "grabbed" | "accounted for" => {
            Some(QuarryOutcome::Taken)
        }
        "chased" | "flown at" | "coursed" | "pursued" => Some(QuarryOutcome::Chased),
        _ => None,
    }
}
/// Whether the quarry at `q` is followed by what came of it with a pronoun: "and she coursed it to the wood".
pub(super) fn told_of_it(sheet: &Sheet, q: usize) -> bool {
    (q + 1..sheet.end_of_sentence(q).min(q + 8)).any(|m| {
        sheet.any(m, &[Cue::Took, Cue::Missed, Cue::Chased])
            && !sheet.dead[m]
            && sheet.before(m + 1) == Break::None
            && sheet.is(m + 1, &["it", "them"])
    })
}
/// "but it broke free", "and it got away": what was held is lost again.
fn escaped(sheet: &Sheet, quarry: usize, m: usize) -> bool {
    let turn = (quarry + 1..m)
        .rev()
        .find(|k| sheet.any(*k, &[Cue::But, Cue::It, Cue::He, Cue::She]) || sheet.is(*k, &["which"]));
    turn.is_some_and(|k| sheet.any(k, &[Cue::But, Cue::It]) || sheet.is(k, &["which"]))
        && (sheet.words(m).contains(' ') || sheet.is(m, &["escaped"]))
        && !sheet.is(m, &["close to", "let go of"])
}

/// "missed it": the pronoun belongs to the words.
fn its_end(sheet: &Sheet, m: usize) -> usize {
    if sheet.before(m + 1) == Break::None && sheet.is(m + 1, &["it", "them", "both"]) { m + 1 } else { m }
}

/// "at the second attempt", "on the first slip", behind the quarry at `q`.
pub(super) fn at_attempt(sheet: &Sheet, q: usize) -> bool {
    sheet.before(q + 1) == Break::None
        && (q + 1..q + 6).any(|m| {
            sheet.is(m, &["attempt", "slip", "flight", "try", "go", "flush", "stoop", "point", "off"])
                || sheet.step(m) == Some(note::Step::FreeFlight)
        })
        && sheet.is(q + 1, &["at", "on", "first", "second", "off"])
}

/// Whether what was held is told to have escaped, behind the quarry at `q`: "but it kicked loose".
pub(super) fn got_away(sheet: &Sheet, q: usize) -> bool {
    (q + 1..sheet.end_of_sentence(q).min(q + 14)).any(|m| sheet.has(m, Cue::Missed) && escaped(sheet, q, m))
}

/// "in a hole", "up a tree", "to ground", behind the quarry at `q`.
pub(super) fn driven_off(sheet: &Sheet, q: usize) -> bool {
    sheet.before(q + 1) == Break::None
        && sheet.is(q + 1, &["in", "into", "up", "down", "to", "under"])
        && (q + 2..q + 4).any(|m| {
            sheet.is(
                m,
                &[
                    "hole", "ground", "tree", "cover", "burrow", "bank", "drain", "hedge", "culvert", "pipe",
                    "brush", "bramble", "brambles", "briars",
                ],
            )
        })
}

fn verb(sheet: &Sheet, k: usize) -> Option<QuarryOutcome> {
    let stoop =
        sheet.behaviour(k).is_some_and(|b| sheet.lexicon.behaviours()[usize::from(b)].word == "stooping");
    if sheet.has(k, Cue::Missed) && !sheet.is(k, &["missing"]) {
        return Some(QuarryOutcome::Missed);
    }
    // "I flushed ducks": the keeper or the dog did.
    let flushed = sheet.is(k, &["flushed", "put up", "bolted", "bumped"])
        && k > 0
        && sheet.before(k) == Break::None
        && (sheet.any(k - 1, &[Cue::I, Cue::OtherBeast, Cue::Person]) || sheet.is(k - 1, &["i", "we"]));
    // "the cat killed a mouse"
    let anothers = k > 0
        && sheet.before(k) == Break::None
        && sheet.has(k - 1, Cue::OtherBeast)
        && sheet.any(k, &[Cue::Took, Cue::Chased, Cue::Missed])
        && !sheet.word(k - 1).starts_with("ferret");
    if flushed || anothers {
        return None;
    }
    if sheet.has(k, Cue::Chased) && !(sheet.is(k, &["after", "followed"]) || sheet.words(k) == "put in")
        || stoop && sheet.is(k + 1, &["at", "on"])
        || stoop && sheet.words(k).ends_with(" at")
    {
        return Some(QuarryOutcome::Chased);
    }
    // "lost a duck in the reeds"
    let lost = sheet.is(k, &["lost"])
        && (k + 1..sheet.len().min(k + 3))
            .any(|m| sheet.quarry(m).is_some() && sheet.before(m) == Break::None);
    if lost {
        return Some(QuarryOutcome::Missed);
    }
    // "put a jackrabbit in a hole", "ran it to ground"
    // "had a rabbit at the second attempt"
    let tried = sheet.is(k, &["had", "got"])
        && (k + 1..sheet.len().min(k + 4)).any(|m| sheet.quarry(m).is_some() && at_attempt(sheet, m));
    if tried {
        return Some(QuarryOutcome::Taken);
    }
    let driven = sheet.is(k, &["put", "'d put", "ran", "drove", "pushed"])
        && (k + 1..sheet.len().min(k + 4)).any(|m| sheet.quarry(m).is_some() && driven_off(sheet, m));
    if driven {
        return Some(QuarryOutcome::Chased);
    }
    let first = sheet.step(k) == Some(note::Step::Entering)
        && matches!(sheet.words(k), "first kill" | "first head" | "first quarry");
    // "entered at last, one rabbit"
    let entered = sheet.step(k) == Some(note::Step::Entering)
        && sheet.word(k) == "entered"
        && (k + 1..sheet.len().min(k + 5)).any(|m| {
            sheet.before(m) == Break::Comma
                && (sheet.is(m, &["a", "an", "one"]) || sheet.num(m).is_some())
                && (sheet.quarry(m + 1).is_some() || sheet.quarry(m + 2).is_some())
        });
    if sheet.has(k, Cue::Took) || first || entered {
        return Some(QuarryOutcome::Taken);
    }
    None
}
