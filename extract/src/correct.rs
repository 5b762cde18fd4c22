//! Corrections in speech: "six fifty, no, six fifteen".
//!
//! The later words replace the nearest earlier ones of the same sort; those are struck out.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// How far back a correction reaches, in atoms.
const REACH: usize = 18;

/// How far back it reaches over an interruption.
const INTERRUPTED: usize = 40;

/// What is corrected.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Sort {
    /// A number and what it counts or measures: the cue or meaning class, 0 for a bare one.
    Number(u8),
    Food,
    Kit,
    Behaviour,
    Quarry,
    Grade,
}

/// A piece that may be replaced: its atoms, and where its number or noun stands.
#[derive(Clone, Copy, Debug)]
struct Piece {
    sort: Sort,
    from: usize,
    to: usize,
    head: usize,
}

/// Strikes out what the speaker took back.
pub(crate) fn correct(sheet: &mut Sheet) {
    let mut i = 0;
    while i < sheet.len() {
        // "a quail to say sorry"
        let said =
            i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["say", "said", "saying", "says"]);
        if sheet.has(i, Cue::TakenBack) && !sheet.dead[i] && !said {
            i = if behind(sheet, i) { i } else { at_cue(sheet, i).unwrap_or(i) };
        }
        i += 1;
    }
}

/// "630. Hang on. … Where was I? 635, I mean.": the cue ends the sentence, and what stands before it
/// replaces what was last said of the same bird, whatever came between.
fn behind(sheet: &mut Sheet, cue: usize) -> bool {
    let ends = cue + 1 >= sheet.len() || sheet.before(cue + 1) == Break::Stop;
    let said = matches!(
        sheet.words(cue),
        "i mean" | "i meant" | "sorry i mean" | "sorry i meant" | "i should say" | "that should be" | "sorry"
    );
    if !ends || !said {
        return false;
    }
    let start = cue.saturating_sub(3);
    let Some(b) = (start..cue).filter_map(|k| piece(sheet, k)).find(|p| {
        matches!(p.sort, Sort::Number(_) | Sort::Food) && p.to + 1 == cue && sheet.corrected[p.head].is_none()
    }) else {
        return false;
    };
    let amount = |p: &Piece| sheet.num(p.head).map_or(0.0, |n| n.value);
    let mut between: Option<u16> = None;
    for k in (b.from.saturating_sub(INTERRUPTED)..b.from).rev() {
        if let Some(bird) = sheet.bird(k) {
            if between.is_some_and(|other| other != bird) {
                return false;
            }
            between = Some(bird);
        }
        let Some(a) = piece(sheet, k).filter(|a| a.sort == b.sort && a.to < b.from) else { continue };
        let alike = match b.sort {
            Sort::Food => {
                let item = |p: &Piece| (p.from..=p.to).find_map(|k| sheet.food(k));
                // The noun alone would leave its number behind.
                let counted = sheet.num(a.head).is_some() && sheet.num(b.head).is_some();
                counted && item(&a) == item(&b)
            }
            _ => (0.8..1.25).contains(&(amount(&a) / amount(&b))),
        };
        if !alike {
            continue;
        }
        // Another bird named since: each keeps its own.
        let own = (0..k).rev().find_map(|m| sheet.bird(m));
        if between.is_some_and(|bird| own != Some(bird)) {
            return false;
        }
        sheet.dead[a.from..=a.to].fill(true);
        sheet.dead[cue] = true;
        sheet.corrected[b.from] = Some(b.to);
        sheet.corrected[b.head] = Some(b.to);
        return true;
    }
    false
}

/// Words that correct only where nothing else makes sense of them.
fn weak(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["no", "not", "rather", "actually", "wait", "wrong", "strike", "scrub", "nope", "pardon"])
}

/// "1093, no wait, I had my hand on it, 1083": a figure read again after a word about the first.
fn read_again(sheet: &mut Sheet, cue: usize) -> Option<usize> {
    if sheet.before(cue + 1) == Break::Stop
        || !sheet.is(cue, &["no", "wait", "no wait", "hang on", "sorry", "no sorry"])
    {
        return None;
    }
    let old = cue.checked_sub(1)?;
    let a = sheet
        .num(old)
        .filter(|_| sheet.live(old) && (sheet.unbroken || sheet.before(cue) != Break::None))?
        .value;
    let end = sheet.end_of_sentence(cue).min(cue + 14);
    let new = (cue + 1..end)
        .take_while(|k| {
            sheet.bird(*k).is_none()
                && sheet.food(*k).is_none()
                && sheet.quarry(*k).is_none()
                && sheet.sign(*k).is_none_or(|s| s == note::Sign::Foot)
        })
        .find(|k| sheet.num(*k).is_some_and(|n| (0.8..1.25).contains(&(a / n.value))))?;
    let closes = new + 1 >= sheet.len() || sheet.before(new + 1) != Break::None || unit(sheet, new + 1) == 1;
    // "619 no hang on I never zeroed it 609", without a stop
    let spoken = sheet.unbroken && (cue..new).any(|k| sheet.is(k, &["hang on", "wait", "no wait"]));
    if a < 40.0 || !(spoken || sheet.before(new) != Break::None) || !closes {
        return None;
    }
    sheet.dead[old] = true;
    sheet.dead[cue..new].fill(true);
    sheet.corrected[new] = Some(new);
    Some(new)
}

/// "146. Scrub that, it was still rocking. 147.2": taken back at once, and put right a good while later.
fn withdrawn(sheet: &mut Sheet, cue: usize) -> Option<usize> {
    let said = sheet.words(cue);
    if !["scratch", "scrub", "strike", "cancel", "forget", "ignore", "wipe", "bin"].iter().any(|verb| {
        said.strip_prefix(verb).is_some_and(|rest| rest.starts_with(" that") || rest.starts_with(" it"))
    }) {
        return None;
    }
    let old = (cue.saturating_sub(3)..cue).rev().find(|k| sheet.num(*k).is_some() && sheet.live(*k))?;
    let a = sheet.num(old)?.value;
    let end = sheet.len().min(cue + INTERRUPTED);
    let own = sheet.bird(old.saturating_sub(1));
    let new = (cue + 1..end)
        .take_while(|k| sheet.bird(*k).is_none() || sheet.bird(*k) == own)
        .find(|k| sheet.num(*k).is_some_and(|n| (0.8..1.25).contains(&(a / n.value))))?;
    if a < 40.0 {
        return None;
    }
    sheet.dead[old..=cue].fill(true);
    sheet.corrected[new] = Some(new);
    Some(cue)
}

fn at_cue(sheet: &mut Sheet, cue: usize) -> Option<usize> {
    if let Some(to) = read_again(sheet, cue) {
        return Some(to);
    }
    // "Hazel was bating. Pike, no, calm": an answer about the bird named.
    if sheet.is(cue, &["no", "nope"])
        && cue > 0
        && sheet.bird(cue - 1).is_some()
        && sheet.start_of_sentence(cue) + 1 == cue
        && !sheet.has(cue + 1, Cue::TakenBack)
        && sheet.bird(cue + 1).is_none()
    {
        return None;
    }
    let mut next = cue + 1;
    let mut strong = !weak(sheet, cue);
    // "1082, no, hang on a tick, 1028": what stands between commas says nothing of its own.
    let aside = |k: usize| {
        sheet.before(cue + 1) == Break::Comma
            && sheet.before(k) != Break::Stop
            && k < cue + 8
            && !sheet.content(k)
            && sheet.bird(k).is_none()
    };
    while next < sheet.len()
        && next < cue + 12
        && piece(sheet, next).is_none()
        && (passes(sheet, next) || aside(next))
        // "no, that's Rook. Sedge is 940": the bird was put right, and the next sentence is its own.
        && !(sheet.before(next) == Break::Stop && (cue + 1..next).any(|k| sheet.bird(k).is_some()))
    {
        strong |= sheet.has(next, Cue::TakenBack) && !weak(sheet, next);
        next += 1;
    }
    let Some(mut b) = piece(sheet, next) else { return withdrawn(sheet, cue) };
    // "no bating" and "not keen" deny; "no, keen" corrects.
    if !strong && !matches!(b.sort, Sort::Number(_)) && sheet.before(cue + 1) == Break::None {
        return None;
    }
    if !strong
        && matches!(b.sort, Sort::Number(n) if n > 0)
        && sheet.before(cue + 1) == Break::None
        && sheet.is(cue, &["not"])
    {
        return None;
    }
    let mut found = earlier(sheet, cue, &b, strong);
    // "no 30, 1014": the cue's own last word was misheard as a number.
    if found.is_none()
        && b.sort == Sort::Number(0)
        && let Some(second) = piece(sheet, b.to + 1)
            .filter(|p| matches!(p.sort, Sort::Number(_)) && sheet.before(p.from) == Break::Comma)
    {
        found = earlier(sheet, cue, &second, true);
        if found.is_some() {
            sheet.dead[b.head] = true;
            b = second;
        }
    }
    let a = found?;
    let number = |p: &Piece| sheet.num(p.head).is_some();
    let bare = matches!(b.sort, Sort::Number(0));
    if ounces_of(sheet, &a) && matches!(b.sort, Sort::Number(0 | 3)) {
        let mut a = a;
        // Two groups are the whole measure: "two pounds seven, scratch that, two six".
        if sheet.num(b.head).is_some_and(|n| n.parts.len() > 1 || n.value >= 16.0) {
            a.from -= 2;
            sheet.dead[a.from..cue].fill(true);
            sheet.dead[cue..b.from].fill(true);
            sheet.corrected[b.head] = Some(b.to);
        } else {
            // "two pounds seven, scratch that, six and a half": the pounds stand.
            sheet.atoms[a.head].num = sheet.atoms[b.head].num.clone();
            sheet.corrected[a.head] = Some(b.to);
            sheet.dead[cue..=b.to].fill(true);
        }
        return Some(b.from.saturating_sub(1).max(cue));
    }
    // "two ounces of beef, make that one ounce": the beef stands.
    let measured = a.sort == b.sort
        && matches!(b.sort, Sort::Number(1..=4))
        && sheet.is(a.to + 1, &["of"])
        && sheet.before(a.to + 1) == Break::None
        && !sheet.is(b.to + 1, &["of"]);
    if (bare || measured) && !matches!(a.sort, Sort::Number(0)) && number(&a) {
        // "three flights, make that four": the number moves to where the noun is.
        sheet.atoms[a.head].num = sheet.atoms[b.head].num.clone();
        // "four degrees, sorry, minus four"
        let minus =
            b.from > 0 && sheet.is(b.from - 1, &["minus", "negative"]) && sheet.before(b.from) == Break::None;
        if let Some(num) = sheet.atoms[a.head].num.as_mut().filter(|_| minus) {
            num.minus = true;
        }
        sheet.corrected[a.head] = Some(b.to);
        for k in cue..=b.to {
            sheet.dead[k] = true;
        }
    } else if b.sort == Sort::Quarry
        && sheet.quarry(a.head).is_some()
        && (a.head..cue).any(|k| sheet.before(k + 1) == Break::Stop)
    {
        // "killed a starling. No, sorry, it was a lark": the verb stands with the first.
        let senses = sheet.atoms[b.head].senses;
        sheet.atoms[a.head].mean(senses);
        sheet.corrected[a.head] = Some(b.to);
        sheet.corrected[a.from] = Some(b.to);
        for k in cue..=b.to {
            sheet.dead[k] = true;
        }
    } else if bare && a.sort == Sort::Food {
        // "a quail, make that two": the same, where the first was only an article.
        sheet.dead[a.from] = a.from != a.head;
        sheet.atoms[a.from].num = sheet.atoms[b.head].num.clone();
        if a.from != a.head {
            sheet.dead[a.from] = false;
            sheet.atoms[a.from].mean(&[]);
        }
        sheet.corrected[a.from] = Some(b.to);
        for k in cue..=b.to {
            sheet.dead[k] = true;
        }
    } else {
        for k in a.from..=a.to {
            sheet.dead[k] = true;
        }
        for k in cue..b.from {
            sheet.dead[k] |= k == cue || sheet.any(k, &[Cue::TakenBack, Cue::Filler]);
        }
        // Where nothing but the pieces of one measure stands between, all of it goes.
        if (a.to + 1..cue).all(|k| sheet.num(k).is_some() || unit(sheet, k) > 0) {
            for k in a.to + 1..cue {
                sheet.dead[k] = true;
            }
        }
        sheet.corrected[b.from] = Some(b.to);
        sheet.corrected[b.head] = Some(b.to);
    }
    Some(b.from.saturating_sub(1).max(cue))
}

/// Whether the piece is the ounces behind a number of pounds.
fn ounces_of(sheet: &Sheet, piece: &Piece) -> bool {
    matches!(piece.sort, Sort::Number(0 | 3))
        && piece.from >= 2
        && sheet.has(piece.from - 1, Cue::Pounds)
        && sheet.num(piece.from - 2).is_some()
}

/// Words between a cue and what it puts in place: "no, sorry, she's …", "I mean, put the …".
fn passes(sheet: &Sheet, i: usize) -> bool {
    sheet.any(i, &[Cue::TakenBack, Cue::Filler, Cue::Yes, Cue::He, Cue::She, Cue::It, Cue::Be, Cue::Put])
        || sheet.bird(i).is_some()
        || sheet.is(
            i,
            &[
                "'s", "the", "a", "to", "did", "had", "at", "of", "that", "should", "be", "i", "said",
                "gave", "her", "him", "took", "fitted", "says", "reads", "weighed", "me", "read", "it",
                "make", "left", "minus", "negative",
            ],
        )
}

/// A number class for what follows the number at `i`: which unit or noun.
fn unit(sheet: &Sheet, i: usize) -> u8 {
    const UNITS: [&[Cue]; 9] = [
        &[Cue::Grams],
        &[Cue::Kilos],
        &[Cue::Ounces],
        &[Cue::Pounds],
        &[Cue::Metres, Cue::Yards, Cue::Feet],
        &[Cue::Degrees, Cue::Fahrenheit],
        &[Cue::Flight],
        &[Cue::Times],
        &[Cue::OutOf],
    ];
    UNITS.iter().position(|u| sheet.any(i, u)).map_or(0, |k| k as u8 + 1)
}

fn articles(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["a", "an", "the", "some", "another"])
}

/// Reads a replaceable piece that starts at `i`.
fn piece(sheet: &Sheet, i: usize) -> Option<Piece> {
    if !sheet.live(i) {
        return None;
    }
    // "a kilo 130", "a kilo and a half"
    if sheet.is(i, &["a", "one"])
        && sheet.any(i + 1, &[Cue::Kilos, Cue::Pounds])
        && sheet.before(i + 1) == Break::None
    {
        let and = usize::from(sheet.has(i + 2, Cue::And) && sheet.before(i + 2) == Break::None);
        let rest = i + 2 + and + usize::from(sheet.is(i + 2 + and, &["a"]));
        let more = sheet.num(rest).is_some() && sheet.before(rest) == Break::None && sheet.live(rest);
        return Some(Piece {
            sort: Sort::Number(unit(sheet, i + 1)),
            from: i,
            to: if more { rest } else { i + 1 },
            head: i,
        });
    }
    if sheet.num(i).is_some() {
        let next = i + 1;
        if sheet.before(next) != Break::None {
            return Some(Piece { sort: Sort::Number(0), from: i, to: i, head: i });
        }
        let class = unit(sheet, next);
        if class > 0 {
            return Some(Piece { sort: Sort::Number(class), from: i, to: next, head: i });
        }
        let skip = usize::from(sheet.is(next, &["of", "a", "an"]));
        let skip = skip + usize::from(skip == 1 && sheet.is(next + 1, &["a", "an", "the"]));
        if sheet.food(next + skip).is_some() {
            return Some(Piece { sort: Sort::Food, from: i, to: food_end(sheet, next + skip), head: i });
        }
        if sheet.quarry(next).is_some() {
            return Some(Piece { sort: Sort::Quarry, from: i, to: next, head: i });
        }
        return Some(Piece { sort: Sort::Number(0), from: i, to: i, head: i });
    }
    let noun = if articles(sheet, i) { i + 1 } else { i };
    let noun = if noun > i && sheet.is(noun, &["whole", "full", "big", "small", "single", "little"]) {
        noun + 1
    } else {
        noun
    };
    let noun = if sheet.is(noun, &["new", "old"]) || sheet.has(noun, Cue::Fit) && noun > i {
        noun + 1
    } else {
        noun
    };
    if sheet.food(noun).is_some() {
        return Some(Piece { sort: Sort::Food, from: i, to: food_end(sheet, noun), head: noun });
    }
    if sheet.kit(noun).is_some() {
        return Some(Piece { sort: Sort::Kit, from: i, to: noun, head: noun });
    }
    if sheet.quarry(noun).is_some() {
        return Some(Piece { sort: Sort::Quarry, from: i, to: noun, head: noun });
    }
    if sheet.behaviour(i).is_some() {
        return Some(Piece { sort: Sort::Behaviour, from: i, to: i, head: i });
    }
    if sheet.grade(i).is_some() {
        return Some(Piece { sort: Sort::Grade, from: i, to: i, head: i });
    }
    None
}

fn food_end(sheet: &Sheet, food: usize) -> usize {
    if sheet.part(food + 1).is_some() && sheet.before(food + 1) == Break::None { food + 1 } else { food }
}

/// Finds the piece that is taken back.
fn earlier(sheet: &Sheet, cue: usize, b: &Piece, strong: bool) -> Option<Piece> {
    let floor = cue.saturating_sub(REACH);
    let value = |p: &Piece| sheet.num(p.head).map(|n| n.value);
    let mut k = cue;
    while k > floor {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        // Another bird's words are not meant.
        if sheet.bird(k).is_some() && k + 2 < cue && b.sort != Sort::Kit {
            let own = (k..cue).any(|m| sheet.content(m) && sheet.bird(m).is_none());
            if own && !strong {
                return None;
            }
        }
        let Some(mut a) = piece(sheet, k) else { continue };
        let near = a.to + 4 >= cue;
        let fits = match (a.sort, b.sort) {
            (Sort::Number(x), Sort::Number(y)) => {
                let ratio = match (value(&a), value(b)) {
                    (Some(x), Some(y)) if x > 0.0 && y > 0.0 => x / y,
                    _ => 1.0,
                };
                let close = if near { (0.1..10.0).contains(&ratio) } else { (0.5..2.0).contains(&ratio) };
                (x == y || x == 0 || y == 0) && (close || x == y && x > 0)
            }
            (Sort::Food, Sort::Number(0)) => near || strong && value(b).is_some_and(|v| v <= 12.0),
            (Sort::Quarry, Sort::Number(0)) => near && value(b).is_some_and(|v| v <= 12.0),
            (Sort::Number(0), Sort::Food) => {
                near && sheet.num(b.head).is_some() && value(&a).is_some_and(|v| v <= 12.0)
            }
            (Sort::Food, Sort::Food) => near || strong,
            (Sort::Quarry, Sort::Quarry | Sort::Food) | (Sort::Food, Sort::Quarry) => near,
            (x, y) => x == y && (near || strong),
        };
        if fits {
            // Take the article or the number before a noun with it.
            if a.head > 0
                && a.from == a.head
                && !matches!(a.sort, Sort::Number(_) | Sort::Behaviour | Sort::Grade)
                && sheet.before(a.from) == Break::None
            {
                let lead = a.from - 1;
                let half = lead > 0
                    && sheet.before(lead) == Break::None
                    && sheet.num(lead - 1).is_some_and(|n| n.fraction)
                    && sheet.live(lead - 1);
                if articles(sheet, lead) && sheet.live(lead) {
                    // "half a quail" goes as a whole.
                    a.from = if half { lead - 1 } else { lead };
                } else if sheet.num(lead).is_some() && sheet.live(lead) {
                    a.from = lead;
                    a.head = lead;
                }
            }
            // "30 grams of beef, no, 40": the number is meant.
            if a.sort == Sort::Food
                && b.sort == Sort::Number(0)
                && a.from > 2
                && sheet.is(a.from - 1, &["of"])
                && sheet.num(a.from - 3).is_some()
                && unit(sheet, a.from - 2) > 0
                && (a.from - 2..=a.from).all(|m| sheet.before(m) == Break::None)
            {
                let head = a.from - 3;
                return Some(Piece {
                    sort: Sort::Number(unit(sheet, head + 1)),
                    from: head,
                    to: head + 1,
                    head,
                });
            }
            // "a kilo and a half, no, 1.56 kilos"
            let joined = a.from - usize::from(a.from > 0 && sheet.has(a.from - 1, Cue::And));
            if a.sort == Sort::Number(0)
                && matches!(b.sort, Sort::Number(2 | 4))
                && joined > 1
                && sheet.any(joined - 1, &[Cue::Pounds, Cue::Kilos])
                && sheet.is(joined - 2, &["a", "one"])
                && (joined - 1..=a.from).all(|m| sheet.before(m) == Break::None)
            {
                a.from = joined - 2;
            }
            // "two pounds seven, no, two pounds six": all of the measure goes.
            let mass = |k: usize| sheet.any(k, &[Cue::Pounds, Cue::Kilos]);
            if a.sort == Sort::Number(0)
                && matches!(b.sort, Sort::Number(2 | 4))
                && a.from >= 2
                && mass(a.from - 1)
                && sheet.num(a.from - 2).is_some()
            {
                a.from -= 2;
            }
            return Some(a);
        }
    }
    None
}
