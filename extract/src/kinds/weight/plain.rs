//! Whether nothing but the words of weighing stands around a weight.
//!
//! "She weighed in at 938 this morning" says what it says. "The train's at nine forty" has a word in its
//! clause that belongs to no way of telling a weight, so it may be one of the many figures that are none.

use super::Mass;
use crate::lexicon::{Cue, Sense};
use crate::sheet::Sheet;
use crate::tokens::Break;

/// How far the clause is looked through to either side, in atoms.
const LEFT: usize = 10;
const RIGHT: usize = 3;

/// Whether each word of the clause around the mass belongs to telling a weight.
pub(super) fn plain(sheet: &Sheet, mass: &Mass) -> bool {
    let mut k = mass.from;
    while k > 0 && mass.from - k < LEFT && sheet.before(k) == Break::None {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.bird(k).is_some() || bounds(sheet, k) {
            break;
        }
        if !weighing(sheet, k) {
            return false;
        }
    }
    let mut k = mass.to + 1;
    while k < sheet.len() && k - mass.to <= RIGHT && sheet.before(k) == Break::None {
        if sheet.dead[k] || sheet.bird(k).is_some() || bounds(sheet, k) || sheet.any(k, &[Cue::And, Cue::But])
        {
            break;
        }
        if !weighing(sheet, k) {
            return false;
        }
        k += 1;
    }
    true
}

/// Another thing said of the bird: the clause of the weight ends there.
fn bounds(sheet: &Sheet, k: usize) -> bool {
    let told = |s: &Sense| {
        matches!(
            s,
            Sense::Food(_)
                | Sense::Behaviour(_)
                | Sense::Sign(_)
                | Sense::Quarry(_)
                | Sense::Grade(..)
                | Sense::Step(_)
        )
    };
    sheet.senses(k).iter().any(told) || sheet.used[k] && sheet.content(k)
}

fn weighing(sheet: &Sheet, k: usize) -> bool {
    const CUES: [Cue; 40] = [
        Cue::He,
        Cue::She,
        Cue::His,
        Cue::Her,
        Cue::Be,
        Cue::Weigh,
        Cue::NowWeigh,
        Cue::Today,
        Cue::Yesterday,
        Cue::DayBefore,
        Cue::LastNight,
        Cue::ThisMorning,
        Cue::Morning,
        Cue::Evening,
        Cue::Oclock,
        Cue::Filler,
        Cue::TakenBack,
        Cue::Yes,
        Cue::Approx,
        Cue::Exact,
        Cue::Up,
        Cue::Down,
        Cue::Delta,
        Cue::And,
        Cue::But,
        Cue::Both,
        Cue::Other,
        Cue::Monday,
        Cue::Tuesday,
        Cue::Wednesday,
        Cue::Thursday,
        Cue::Friday,
        Cue::At,
        Cue::HalfPast,
        Cue::QuarterPast,
        Cue::QuarterTo,
        Cue::Past,
        Cue::ToHour,
        Cue::Noon,
        Cue::Ago,
    ];
    const WORDS: [&str; 80] = [
        "the", "a", "an", "'s", "in", "on", "of", "to", "has", "had", "have", "put", "come", "came", "gone",
        "went", "going", "back", "from", "with", "for", "i", "we", "me", "my", "that", "that's", "this",
        "got", "gives", "gave", "bird", "girl", "boy", "lad", "lass", "old", "little", "young", "big", "one",
        "fasted", "empty", "dry", "wet", "end", "final", "flew", "flown", "flying", "fly", "flies",
        "tonight", "here", "out", "off", "home", "take", "took", "taken", "first", "thing", "later",
        "saturday", "sunday", "her", "him", "weigh", "block", "perch", "glove", "hood", "hooded", "until",
        "hour", "hours", "minutes", "days", "an hour", "again",
    ];
    sheet.any(k, &CUES)
        || sheet.is(k, &WORDS)
        || sheet.num(k).is_some() && sheet.used[k]
        || sheet.kit(k).is_some_and(|kit| {
            matches!(
                sheet.lexicon.equipment()[usize::from(kit)].item_word(),
                "scale" | "hood" | "perch" | "glove" | "jesses" | "bell"
            )
        })
}
