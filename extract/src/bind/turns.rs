//! Weights said in one breath, each of which is the bird's that it lies near.

use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;

/// "1135 and 689, Nettle and Flint": two weights in one breath are two birds' where each lies near its own.
pub(super) fn in_turn(sheet: &mut Sheet, i: usize) {
    let two = sheet.num(i).is_some()
        && sheet.is(i + 1, &["and"])
        && sheet.num(i + 2).is_some()
        && (i + 1..i + 3).all(|k| sheet.before(k) == Break::None)
        && (sheet.before(i + 3) != Break::None || sheet.any(i + 3, &[Cue::And, Cue::But, Cue::Today]));
    if !two {
        return;
    }
    let near = |k: usize, bird: u16| {
        let last = sheet.names[usize::from(bird)].last_grams;
        last.is_some_and(|l| crate::kinds::weight::near_said(sheet, k, l))
    };
    let fits = |k: usize| {
        let mut fit = (0..sheet.names.len() as u16).filter(|b| near(k, *b));
        fit.next().filter(|_| fit.next().is_none())
    };
    let (Some(first), Some(second)) = (fits(i), fits(i + 2)) else { return };
    let spoken_of =
        |bird: u16| (i.saturating_sub(40)..sheet.len().min(i + 10)).any(|k| sheet.bird(k) == Some(bird));
    let in_hand = |bird: u16| match sheet.owner[i] {
        Owner::One(b) => b == bird,
        Owner::Two(a, b) => a == bird || b == bird,
        Owner::Many(all) => bird < 64 && all >> bird & 1 == 1,
        Owner::Unknown => false,
    };
    if first != second && [first, second].into_iter().all(|b| in_hand(b) || spoken_of(b)) {
        sheet.owner[i] = Owner::One(first);
        sheet.owner[i + 2] = Owner::One(second);
    }
}

/// "947, 631, 213": as many weights in a row as there are birds, each near its own.
pub(super) fn of_all(sheet: &mut Sheet, i: usize) {
    let birds = sheet.names.len();
    if !(2..=6).contains(&birds) || i > 0 && sheet.before(i) == Break::None || i + birds > sheet.len() {
        return;
    }
    let row = (i..i + birds).all(|k| {
        sheet.num(k).is_some_and(|n| n.value >= 15.0 && !n.money)
            && (k == i || sheet.before(k) == Break::Comma)
    });
    if !row || i + birds < sheet.len() && sheet.before(i + birds) == Break::None {
        return;
    }
    let near = |k: usize, b: u16| {
        let value = sheet.num(k).map_or(0.0, |n| n.value);
        let last = sheet.names[usize::from(b)].last_grams;
        last.is_some_and(|l| {
            crate::kinds::weight::near_said(sheet, k, l)
                && (value < 100.0
                    || crate::mass::distance(value, l) <= crate::mass::PLAUSIBLE
                    || sheet.num(k).is_some_and(|n| n.parts.len() > 1))
        })
    };
    let mut found: Vec<u16> = Vec::with_capacity(birds);
    for k in i..i + birds {
        let mut fit = (0..birds as u16).filter(|b| near(k, *b));
        let (Some(one), None) = (fit.next(), fit.next()) else { return };
        if found.contains(&one) {
            return;
        }
        found.push(one);
    }
    for (k, bird) in (i..i + birds).zip(found) {
        sheet.owner[k] = Owner::One(bird);
    }
}

/// "All cast. 982, 205, 311.": of birds spoken of together, a weight is the one's that it lies near.
pub(super) fn of_one(sheet: &mut Sheet, i: usize) {
    let among: Vec<u16> = match sheet.owner[i] {
        Owner::Two(a, b) => vec![a, b],
        Owner::Many(all) => (0..64).filter(|b| all >> b & 1 == 1).collect(),
        _ => return,
    };
    // "both 640" is said of both.
    let mut k = i;
    while k > 0 && i - k < 6 && sheet.before(k) == Break::None {
        k -= 1;
        if sheet.has(k, Cue::Both) {
            return;
        }
    }
    let small = sheet.num(i).is_none_or(|n| n.value < 40.0);
    if small && !sheet.any(i + 1, &[Cue::Pounds, Cue::Ounces, Cue::Kilos]) {
        return;
    }
    let near = |b: u16| {
        sheet.names[usize::from(b)].last_grams.is_some_and(|l| crate::kinds::weight::near_said(sheet, i, l))
    };
    let mut fit: Vec<u16> = among.into_iter().filter(|b| near(*b)).collect();
    if fit.len() > 1 {
        // "205" may be two pounds five too; as it was said it goes first.
        let value = sheet.num(i).map_or(0.0, |n| n.value);
        let plain = |b: &u16| {
            let last = sheet.names[usize::from(*b)].last_grams;
            last.is_some_and(|l| crate::mass::distance(value, l) <= crate::mass::PLAUSIBLE)
        };
        fit.retain(plain);
    }
    if let [one] = fit[..] {
        sheet.owner[i] = Owner::One(one);
    }
}
