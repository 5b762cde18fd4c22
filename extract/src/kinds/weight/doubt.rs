//! Masses that are no weight of the bird: targets, guesses, differences, what else lay on the scale.

use super::Mass;
use crate::lexicon::Cue;
use crate::mass::PLAUSIBLE;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// "aiming for 620", "620 would be nice", "should be about 640".
pub(super) fn target(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    // "not nine forty as I hoped but nine fifty-two"
    let denied = i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["not", "n't"])
        && sheet.corrected[mass.head].is_none();
    let hoped = sheet.is(mass.to + 1, &["as", "like"])
        && sheet.before(mass.to + 1) == Break::None
        && (mass.to + 2..mass.to + 5)
            .any(|k| sheet.is(k, &["hoped", "planned", "wanted", "expected", "thought", "want"]));
    if denied || hoped {
        return true;
    }
    // "about nine forty I'd guess", "1010 when I got her"
    let until = sheet.end_of_sentence(mass.from).min(mass.to + 5);
    let guessed = (mass.to + 1..until).take_while(|k| sheet.before(*k) != Break::Stop).any(|k| {
        matches!(sheet.words(k), "i'd guess" | "i guess" | "i would guess" | "at a guess")
            || matches!(sheet.words(k), "guess" | "guessing" | "by eye")
                && (sheet.is(k - 1, &["i", "i'd", "'d", "a", "just", "only", "would", "my", "best"])
                    || sheet.any(k - 1, &[Cue::I]))
            || sheet.is(k, &["when"])
                && sheet.is(k + 1, &["i", "we"])
                && sheet.is(k + 2, &["got", "bought", "trapped", "caught", "had", "picked", "first"])
    });
    if guessed {
        return true;
    }
    let guess = (sheet.start_of_sentence(i).max(i.saturating_sub(12))..i)
        .any(|k| sheet.is(k, &["guess", "guessing"]));
    if guess || general(sheet, mass) || by_feel(sheet, mass) || unmade(sheet, mass) || range(sheet, mass) {
        return true;
    }
    if super::aim::aimed(sheet, mass) || of_quarry(sheet, mass) {
        return true;
    }
    // Look left within the clause, over what was taken back.
    let mut seen = 0;
    let mut k = i;
    while k > 0 && seen < 9 {
        k -= 1;
        if sheet.before(k + 1) == Break::Stop && !sheet.dead[k] {
            break;
        }
        if sheet.dead[k] {
            continue;
        }
        seen += 1;
        if sheet.before(k + 1) == Break::Comma && sheet.corrected[mass.head].is_none() {
            // "within four grams of her flying weight, 934": measured against it.
            let against = (k.saturating_sub(7)..k).any(|m| {
                sheet.is(m, &["within", "under", "over", "off", "above", "below", "short", "shy"])
                    || sheet.any(m, &[Cue::Delta])
            });
            return sheet.has(k, Cue::Want) && !reported(sheet, k) && seen == 1 && !against;
        }
        // "not nine forty as I hoped but nine fifty-two": a statement of its own.
        let fresh = sheet.is(k, &["but"]);
        if (fresh || sheet.num(k).is_some()) && sheet.corrected[mass.head].is_none() {
            break;
        }
        if sheet.has(k, Cue::Want) && !reported(sheet, k) || sheet.is(k, &["if", "unless"]) {
            return true;
        }
        // "Wilf's to come down to 144 by the weekend", "I'd have had her at 940"
        let to_come = sheet.is(k, &["to come", "to come down to", "to be", "to go", "to drop to"])
            || sheet.is(k, &["wants to", "needs to", "has to", "got to", "ought to", "need to"])
                && sheet.is(k + 1, &["come", "go", "be", "drop", "get", "lose", "come down", "go up"])
            || sheet.is(k, &["to"])
                && sheet.is(k + 1, &["come", "go", "be", "drop", "get", "lose"])
                && k > 0
                && (sheet.any(k - 1, &[Cue::Be])
                    || sheet.is(k - 1, &["'s", "has", "wants", "needs", "got", "ought", "need", "want"]));
        let would_have = sheet.words(k).ends_with("'d have")
            || sheet.words(k) == "would have"
            || sheet.is(k, &["have"])
                && k > 0
                && (sheet.is(k - 1, &["'d", "would"]) || sheet.words(k - 1).ends_with("'d"));
        if to_come || would_have {
            return true;
        }
        // "ought to be 510 and the scale's saying 572": what the scale says is no wish.
        if sheet.is(k, &["scale", "scales", "readout"]) && sheet.corrected[mass.head].is_none() {
            break;
        }
        // "he isn't, he's 631", "he's only come down to 704": a fresh statement; "let's see".
        if (sheet.any(k, &[Cue::Be]) || sheet.is(k, &["'s", "has"]))
            && k > 0
            && (sheet.any(k - 1, &[Cue::He, Cue::She]) || sheet.bird(k - 1).is_some())
            && !(k > 1 && sheet.has(k - 2, Cue::Want))
            && !sheet.is(k, &["be", "been"])
        {
            let hypothetical = k > 1
                && sheet.before(k - 1) != Break::Stop
                && (sheet.is(
                    k - 2,
                    &["if", "when", "once", "until", "till", "say", "think", "reckon", "guess", "hope"],
                ) || sheet.any(k - 2, &[Cue::Want]));
            if hypothetical {
                return true;
            }
            // "I'd say Cobble's about 630" after "if I had to guess".
            let guess = (sheet.start_of_sentence(i).max(k.saturating_sub(8))..k).any(|m| {
                sheet.is(m, &["guess", "guessing", "reckon", "bet", "probably", "maybe", "perhaps", "think"])
                    || sheet.words(m) == "i'd say" && sheet.any(k + 1, &[Cue::Approx])
            });
            return guess;
        }
        // "let me see, nine forty"; "like to see her at nine twenty" is a wish.
        let aloud =
            sheet.is(k, &["see"]) && k > 0 && sheet.is(k - 1, &["let's", "lets", "me", "we'll", "i'll"]);
        if aloud || sheet.words(k) == "let's see" {
            break;
        }
    }
    // "at 620 for Saturday"
    let day = (mass.to + 1..sheet.end_of_sentence(i).min(mass.to + 4)).any(|k| {
        sheet.has(k, Cue::FutureDay)
            && sheet.is(k, &["for", "by", "before"])
            && (mass.to + 1..=k).all(|m| sheet.before(m) == Break::None)
            && (crate::time::weekday(sheet, k + 1).is_some()
                || sheet.is(k + 1, &["tomorrow", "christmas", "next"])
                || sheet.is(k + 1, &["the"])
                    && sheet.is(k + 2, &["weekend", "season", "end", "start", "meet", "show"]))
    });
    if day {
        return true;
    }
    // "getting down towards nine twenty"
    i > 0 && sheet.before(i) == Break::None && sheet.ends(i - 1, &["towards", "toward"])
}

/// "At 950 she won't fly", "starts to sulk at 910", "went over nine hundred again, 931": a mark on the scale.
fn general(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    let (start, end) = (sheet.start_of_sentence(i), sheet.end_of_sentence(i));
    if i == 0 || sheet.before(i) != Break::None {
        return false;
    }
    let edge = sheet.ends(i - 1, &["above", "over", "below", "under", "past", "through", "beyond"]);
    let opens = i - 1 == start;
    let who = |k: usize| sheet.any(k, &[Cue::He, Cue::She]) || sheet.bird(k).is_some();
    let next = mass.to + 1;
    if opens && who(next) && sheet.before(next) != Break::Stop {
        let habit = (next + 1..end.min(next + 4)).any(|k| {
            sheet.is(
                k,
                &[
                    "won't", "wo", "doesn't", "does", "wouldn't", "'ll", "will", "never", "always", "goes",
                    "gets",
                ],
            )
        });
        return edge || sheet.is(i - 1, &["at"]) && habit;
    }
    let left = || start.max(i.saturating_sub(7))..i - 1;
    let habit = left().any(|k| {
        sheet.is(k, &["starts", "tends", "goes", "always", "usually", "normally"])
            && (sheet.is(i - 1, &["at"]) || edge)
    });
    // "went over nine hundred again, 931": the weight itself follows.
    let moved = |k: usize| {
        matches!(sheet.word(k), "go" | "goes" | "went" | "gone" | "got" | "crept" | "slipped" | "broke")
    };
    let follows = || {
        let lasts = sheet.last_grams(mass.head);
        (next..end.min(next + 8)).any(|k| sheet.num(k).is_some_and(|n| crate::mass::near_any(n, &lasts)))
    };
    let crossed = edge && (moved(i - 1) || left().any(moved)) && follows();
    habit || crossed
}

/// "By the feel of her she's about 220", "roughly 640, not had her on the scales": a hand's guess.
fn by_feel(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(14));
    // "by the feel of him he's about 720, the scales say 706": another figure stands between.
    let other = |k: usize| (k..i).any(|m| sheet.num(m).is_some() && !sheet.dead[m]);
    let near = |words: &[&str], from: usize, to: usize| {
        (from..to).find(|k| sheet.is(*k, words)).filter(|k| !other(*k))
    };
    let until = sheet.end_of_sentence(i).min(mass.to + 6);
    let lead = |k: usize| (k.saturating_sub(2)..k).any(|m| sheet.is(m, &["by", "from", "on"]));
    let hand = near(&["feel", "feeling", "eye"], start, until).is_some_and(lead);
    let hefted = near(&["hand", "heft"], start, until)
        .is_some_and(|k| lead(k) || sheet.is(k.saturating_sub(1), &["in"]));
    let loose = (i.saturating_sub(2)..i)
        .any(|k| sheet.any(k, &[Cue::Approx]) && (k + 1..=i).all(|m| sheet.before(m) == Break::None))
        || sheet.is(mass.to + 1, &["or so", "ish", "give or take", "or thereabouts"])
        || sheet.is(mass.to + 1, &["or"]) && sheet.is(mass.to + 2, &["so", "thereabouts", "near"]);
    if hand || !loose || hefted {
        return hand || hefted && loose;
    }
    // The scales were not used: said beside it, in this sentence or the next.
    let end = sheet.end_of_sentence(sheet.end_of_sentence(i)).min(mass.to + 16);
    let start = i.saturating_sub(16);
    (start..end).any(|k| {
        let scales = sheet.is(
            k,
            &["scale", "scales", "balance", "weighed", "weigh", "weighing", "on the scales", "on the scale"],
        );
        let at = sheet.start_of_sentence(k).max(k.saturating_sub(7));
        let without = (at..k).any(|m| sheet.has(m, Cue::Neg));
        let broken = (k + 1..sheet.end_of_sentence(k).min(k + 5)).any(|m| {
            sheet.damage(m)
                || sheet.is(m, &["dead", "flat", "broken", "gone", "bust", "packed", "forgotten", "died"])
        });
        scales && (without || broken)
    })
}

/// "I'd put 225 in the book by mistake", "I wrote 640, that's wrong": a figure that is none.
fn unmade(sheet: &Sheet, mass: &Mass) -> bool {
    let (start, end) = (sheet.start_of_sentence(mass.from), sheet.end_of_sentence(mass.from));
    let wrote = (start.max(mass.from.saturating_sub(4))..mass.from).any(|k| {
        sheet.is(
            k,
            &[
                "put", "wrote", "written", "logged", "entered", "recorded", "typed", "noted", "said",
                "put down",
            ],
        )
    });
    let rest = mass.to + 1..end.min(mass.to + 10);
    rest.take_while(|k| sheet.num(*k).is_none()).any(|k| {
        let mistake = sheet.is(k, &["mistake", "error", "wrongly", "misread", "typo", "mistakenly"]);
        let ignore = sheet.is(k, &["ignore", "disregard", "forget", "bin", "delete", "wrong"])
            && (wrote || sheet.is(k + 1, &["that", "it"]) && sheet.before(k + 2) != Break::None);
        mistake || ignore
    })
}

/// "two hundred to two fifty", "between 620 and 640": where birds of the kind lie, not where she does.
fn range(sheet: &Sheet, mass: &Mass) -> bool {
    let other = |k: usize| {
        sheet.num(k).is_some_and(|n| {
            crate::mass::readings(n, sheet.context.units)
                .iter()
                .any(|r| (0.6..1.67).contains(&(r.grams / mass.grams)) && r.cost < 0.3)
        })
    };
    let tight = |k: usize| sheet.before(k) == Break::None;
    let unit = |k: usize| usize::from(sheet.any(k, &[Cue::Grams, Cue::Kilos, Cue::Ounces]));
    let next = mass.to + 1;
    let (i, word) = (mass.from, |k: usize, w: &[&str]| sheet.is(k, w) && tight(k));
    let upper = word(next, &["to"]) && tight(next + 1) && other(next + 1);
    let lower = i > 1 && word(i - 1, &["to"]) && tight(i) && {
        let p = i - 2;
        let p = p - unit(p).min(p);
        other(p) && !(p > 0 && sheet.is(p - 1, &["from", "went from", "down from", "up from"]))
    };
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(5));
    let between = (start..i).any(|k| sheet.is(k, &["between"]))
        && (word(next, &["and"]) && other(next + 1)
            || i > 1 && word(i - 1, &["and"]) && other(i - 2 - unit(i - 2).min(i - 2)));
    upper || lower || between
}

/// "I reckon" and "plan" that do not govern a weight said as fact.
fn reported(sheet: &Sheet, k: usize) -> bool {
    // "below" and "limit" only count beside "never", "not", "go".
    if sheet.is(k, &["below", "floor", "limit", "ceiling", "must"]) {
        return !(k.saturating_sub(3)..k)
            .any(|m| sheet.has(m, Cue::Neg) || sheet.is(m, &["go", "let", "drop", "under"]));
    }
    sheet.is(k, &["reckon", "thinking", "need", "needs", "plan"]) && sheet.before(k + 1) != Break::None
}

/// "up eight grams", "six grams heavier": a difference, no weight.
pub(super) fn difference(sheet: &Sheet, mass: &Mass) -> bool {
    let lasts = sheet.last_grams(mass.head);
    let small = lasts.is_empty() && mass.grams < 60.0
        || !lasts.is_empty() && lasts.iter().all(|l| mass.grams < l * 0.4);
    let near = mass.off.is_some_and(|o| o <= PLAUSIBLE);
    let next = mass.to + 1;
    let after = sheet.before(next) == Break::None
        && (sheet.has(next, Cue::Delta) || sheet.any(next, &[Cue::Up, Cue::Down]));
    let p = sheet.prev(mass.from);
    let before = p.is_some_and(|p| {
        sheet.before(mass.from) == Break::None
            && (sheet.any(p, &[Cue::Up, Cue::Down])
                || sheet.is(p, &["by"])
                || sheet.any(p, &[Cue::Approx]) && p > 0 && sheet.any(p - 1, &[Cue::Up, Cue::Down])
                || sheet.is(p, &["from"])
                || sheet.is(p, &["another", "extra", "a"]) && small)
    });
    // "down from 650": where she was, not where she is.
    // "went from 622 before flying to 635 after": both were read.
    let flown = sheet.before(next) == Break::None && sheet.is(next, &["before", "after", "this morning"]);
    let from = p.is_some_and(|p| {
        !flown
            && sheet.before(mass.from) == Break::None
            && (sheet.is(p, &["from"]) || sheet.words(p).ends_with(" from"))
    });
    from || (small && (after || before)) || (small && mass.unit.is_some()) || !near && after && small
}

/// "the lure weighs 640", "a rabbit of 640 grams": something else was weighed.
pub(super) fn of_something(sheet: &Sheet, mass: &Mass) -> bool {
    let next = mass.to + 1;
    // "a ten kilo bag", "a two pound trout"
    if mass.unit.is_some()
        && sheet.before(next) == Break::None
        && (thing(sheet, next)
            || sheet.is(next, &["weight", "weights", "test weight", "check weight"])
            || sheet.is(next + 1, &["weight", "weights"])
                && sheet.before(next + 1) == Break::None
                && sheet
                    .is(next, &["brass", "iron", "steel", "lead", "calibration", "test", "check", "kitchen"])
            || matches!(sheet.word(next), "bag" | "box" | "sack" | "tub") && sheet.food(next).is_none()
            || sheet.quarry(next).is_some()
                && mass.from > 0
                && sheet.is(mass.from - 1, &["a", "an", "one", "the", "another"]))
    {
        return true;
    }
    // "1.6 kilos, the rabbit that is"
    let stranger = mass.off.is_none_or(|off| off > PLAUSIBLE);
    let named_behind = sheet.before(next) == Break::Comma
        && sheet.is(next, &["the", "that"])
        && sheet.before(next + 1) == Break::None
        && (sheet.quarry(next + 1).is_some() || thing(sheet, next + 1))
        && (stranger && (sheet.before(next + 2) != Break::None || next + 2 >= sheet.len())
            || sheet.is(next + 2, &["that"]) && sheet.any(next + 3, &[Cue::Be]));
    if named_behind {
        return true;
    }
    let start = sheet.start_of_sentence(mass.from).max(mass.from.saturating_sub(10));
    // "the empty perch weighs 640", "935 with the glove on it, no bird"
    let end = sheet.end_of_sentence(mass.from).min(mass.to + 14);
    let empty = (start..end).any(|k| {
        sheet.is(k, &["empty"])
            && (sheet.kit(k + 1).is_some() || sheet.is(k + 1, &["scale", "scales", "box"]))
            || sheet.is(k, &["no", "without"])
                && (sheet.is(k + 1, &["bird", "hawk", "falcon"])
                    || sheet.is(k + 1, &["a", "the"]) && sheet.is(k + 2, &["bird", "hawk", "falcon"]))
    });
    if empty {
        return true;
    }
    let mut k = mass.from;
    let mut found = None;
    let mut pronoun = false;
    while k > start {
        k -= 1;
        if sheet.bird(k).is_some() {
            break;
        }
        let kit = sheet.kit(k).is_some()
            && !sheet.is(k, &["scale", "scales", "balance", "perch", "block", "ring", "glove", "bell"]);
        // "with the hood on": worn, not weighed.
        let worn = kit
            && (sheet.is(k + 1, &["on", "off"]) && sheet.before(k + 1) == Break::None
                || (k.saturating_sub(2)..k).any(|m| sheet.is(m, &["with", "without"])));
        let kit = kit && !worn;
        let beast = thing(sheet, k) || sheet.quarry(k).is_some() || myself(sheet, k);
        if kit || beast {
            found = Some((k, beast && !kit));
            break;
        }
        if sheet.any(k, &[Cue::He, Cue::She]) {
            // "the dog's been in, she weighed 640": a fresh subject.
            pronoun = true;
            break;
        }
    }
    let Some((thing, beast)) = found.filter(|_| !pronoun) else { return false };
    let scales = |k: usize| {
        sheet.is(k, &["weighed", "weighs", "weigh", "weight", "weighing", "scale", "scales"])
            || sheet.words(k) == "weighed in at"
            || sheet.any(k, &[Cue::Weigh]) && !sheet.is(k, &["at", "after", "before"])
    };
    let weighed = (thing.saturating_sub(4)..mass.from).any(scales);
    let alone = usize::from(sheet.is(thing + 1, &["alone", "itself", "empty"]));
    let is = sheet.is(thing + 1 + alone, &["'s", "is", "was"]);
    let near = mass.off.is_some_and(|o| o <= 0.03);
    if beast {
        let joined = (thing + 1..=mass.from).all(|m| sheet.before(m) == Break::None);
        // "off the dog, 640": beside it, not it.
        let beside = thing > 0
            && (sheet.is(thing - 1, &["from", "by", "past"])
                || thing > 1
                    && sheet.is(thing - 2, &["at", "by", "from", "with", "past", "near", "beside", "off"]));
        let said = is
            || (thing + 1..mass.from).any(|m| scales(m) || sheet.is(m, &["of", "at", "is", "was", "came"]))
            || myself(sheet, thing);
        return if joined {
            said && alone == 1 || said && !beside && (mass.unit.is_some() || !near || weighed)
        } else {
            weighed && mass.unit.is_some() && !near && !beside
        };
    }
    (weighed || is) && (!near || weighed)
}

/// Another animal, a person, or goods that may lie on a scale.
fn thing(sheet: &Sheet, k: usize) -> bool {
    sheet.any(k, &[Cue::OtherBeast])
        || sheet.step(k) == Some(note::Step::TravelBox) && sheet.ends(k, &["box"])
        || sheet.is(
            k,
            &[
                "bag", "bags", "bucket", "box", "boxes", "freezer", "parcel", "package", "crate", "carrier",
                "bin", "tub", "sack", "sacks", "feed", "glove", "pack", "packet", "tray", "pallet", "bale",
                "fish", "trout", "salmon", "pike", "carp", "pup", "puppy", "kitten", "lamb", "ewe", "ram",
                "calf", "pig", "goose", "deer", "roe", "fox", "badger", "suitcase", "rucksack", "cheese",
                "potatoes", "flour", "sand", "gravel", "coal", "logs", "luggage", "jar", "tin",
            ],
        )
}

/// "I'm 82 kilos", "I weigh", "weighed myself".
fn myself(sheet: &Sheet, k: usize) -> bool {
    sheet.is(k, &["myself"])
        || matches!(sheet.words(k), "i weigh" | "i'm")
        || sheet.is(k, &["i"])
            && (sheet.is(k + 1, &["'m", "weigh"])
                || sheet.is(k + 1, &["weighed"]) && sheet.is(k + 2, &["in"]))
}

/// "a big hare it was, near enough four kilos": what was caught, where no bird of ours weighs as much.
fn of_quarry(sheet: &Sheet, mass: &Mass) -> bool {
    let i = mass.from;
    let (start, end) =
        (sheet.start_of_sentence(i).max(i.saturating_sub(16)), sheet.end_of_sentence(i).min(i + 16));
    let quarry = (start..end).find(|k| sheet.quarry(*k).is_some());
    let far = |last: f64| mass.grams > 2.0 * last || mass.grams < 0.4 * last;
    let ours = (start..end).any(|k| sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]));
    let known = sheet.last_grams(i);
    quarry.is_some() && !ours && !known.is_empty() && known.into_iter().all(far)
}
