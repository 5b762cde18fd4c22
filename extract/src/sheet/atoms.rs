//! Tokens joined to atoms: names, numbers and the longest phrases of the lexicon.

use super::{Atom, Named};
use crate::lexicon::{Cue, Found, Lexicon, Sense};
use crate::number::{Num, Reader};
use crate::tokens::{Break, Token};
use crate::{Context, mass};

/// The names and aliases as lower-case words.
fn spellings(context: &Context, names: &[Named]) -> Vec<(Vec<String>, u16)> {
    let words = |name: &str| crate::tokens::tokens(name).into_iter().map(|t| t.norm).collect::<Vec<_>>();
    let mut out = Vec::new();
    for (k, named) in names.iter().enumerate() {
        out.push((words(&named.name), k as u16));
        if let Some(bird) = context.birds.get(k) {
            out.extend(bird.aliases.iter().map(|a| (words(a), k as u16)));
        }
    }
    out.retain(|(w, _)| !w.is_empty());
    out.sort_by_key(|(w, _)| std::cmp::Reverse(w.len()));
    out
}

fn name_at(tokens: &[Token], at: usize, spellings: &[(Vec<String>, u16)]) -> Option<(usize, u16)> {
    spellings.iter().find_map(|(words, bird)| {
        let fits = |last: &dyn Fn(&str, &str) -> bool| {
            at + words.len() <= tokens.len()
                && words.iter().enumerate().all(|(k, w)| {
                    let t = &tokens[at + k];
                    let end = k + 1 == words.len();
                    (k == 0 || t.before == Break::None) && if end { last(&t.norm, w) } else { t.norm == *w }
                })
        };
        // "Ferns 933" is "Fern's 933".
        let plain = fits(&|t, w| t == w);
        let loose = || fits(&|t, w| w.len() > 2 && t.strip_suffix('s') == Some(w));
        (plain || loose()).then_some((words.len(), *bird))
    })
}

pub(super) fn atoms<'a>(
    tokens: &[Token],
    ids: &[Option<u32>],
    context: &'a Context,
    lexicon: &'a Lexicon,
    names: &[Named],
) -> Vec<Atom<'a>> {
    let spellings = spellings(context, names);
    let reader = Reader { tokens, end: tokens.len() };
    let lasts: Vec<f64> = names.iter().filter_map(|n| n.last_grams).collect();
    // "three ten bits" are three tidbits.
    let stop = |at: usize| {
        lexicon
            .heard
            .find(ids, tokens, at)
            .is_some_and(|f| f.len > 1 && f.senses.iter().any(|s| matches!(s, Sense::Food(_))))
    };
    let noun = |at: usize| {
        at < tokens.len()
            && tokens[at].before == Break::None
            && lexicon.said.find(ids, tokens, at).is_some_and(|f| f.senses.iter().any(counted))
            // "tallow three thirty one moth two eighty four": a bird of the roster is not counted.
            && (name_at(tokens, at, &spellings).is_none() || common_noun(tokens, at, lexicon, ids))
    };
    let likely = |num: &Num| mass::near_any(num, &lasts);
    let mut out: Vec<Atom<'a>> = Vec::with_capacity(tokens.len());
    let mut at = 0;
    while at < tokens.len() {
        let atom = |len: usize, senses: &'a [Sense], bird| {
            let mut atom = Atom { bird, ..Atom::new(tokens, at, at + len - 1) };
            atom.mean(senses);
            atom
        };
        let number = |num: Num| {
            let atom = Atom::new(tokens, num.first, num.last);
            Atom { num: Some(num), ..atom }
        };
        if let Some((len, bird)) =
            name_at(tokens, at, &spellings).filter(|_| !common_noun(tokens, at, lexicon, ids))
        {
            out.push(atom(len, &[], Some(bird)));
            at += len;
            continue;
        }
        if let Some(found) = lexicon.own.find(ids, tokens, at) {
            out.push(atom(found.len, found.senses, None));
            at += found.len;
            continue;
        }
        let mut found = lexicon.said.find(ids, tokens, at);
        // "a chick head for it": the part of the food right before it.
        if found.is_some_and(|f| f.len > 1 && f.senses.iter().all(|s| matches!(s, Sense::Cue(_))))
            && tokens[at].before == Break::None
            && out.last().is_some_and(|a| a.senses.iter().any(|s| matches!(s, Sense::Food(_))))
            && let Some(part) = lexicon.said.find_up_to(ids, tokens, at, 1)
            && part.senses.iter().any(|s| matches!(s, Sense::Part(_)))
            && tokens[at].norm != "back"
        {
            found = Some(part);
        }
        let for_bird = |f: &Found| {
            let end = at + f.len;
            f.len > 1
                && tokens[at].norm == "pounds"
                && tokens[end - 1].norm == "for"
                && name_at(tokens, end, &spellings).is_some_and(|(len, _)| {
                    tokens.get(end + len).is_none_or(|t| t.norm != "'s" || t.before != Break::None)
                })
        };
        // "nine and a half pounds for Thora" is her weight and no price.
        while let Some(f) = found.filter(|f| {
            for_bird(f) || overruled(f, at, tokens, &reader, &|k| lexicon.said.find(ids, tokens, k))
        }) {
            found = lexicon.said.find_up_to(ids, tokens, at, f.len - 1);
        }
        let long = found.is_some_and(|f| f.len > 1);
        if !long && reader.starts(at) && !pronoun(tokens, at, &noun) {
            // "three out of five ten seventy": a mark is out of five or ten, and what follows is another number.
            let marked = at > 1
                && tokens[at - 1].norm == "of"
                && tokens[at - 2].norm == "out"
                && matches!(tokens[at].norm.as_str(), "five" | "ten" | "5" | "10");
            let end = (at + 1..tokens.len().min(at + 24))
                .take_while(|k| tokens[*k].before == Break::None)
                .find(|k| reader.starts(*k) && stop(*k));
            let end = if marked { Some(at + 1) } else { end };
            let run = Reader { tokens, end: end.unwrap_or(tokens.len()) }.run(at, &noun, &likely);
            let end = run.last().map(|n| n.last + 1);
            for num in run {
                out.push(number(num));
            }
            if let Some(end) = end.filter(|e| *e > at) {
                at = end;
                continue;
            }
        }
        if let Some(num) = homophone(tokens, at, &likely, &reader) {
            let last = num.last;
            out.push(number(num));
            at = last + 1;
            continue;
        }
        match found {
            Some(found) => {
                out.push(atom(found.len, found.senses, None));
                at += found.len;
            }
            None => {
                out.push(atom(1, &[], None));
                at += 1;
            }
        }
    }
    out
}

/// "chased a rook" where a bird is called Rook: with an article it is the quarry.
fn common_noun(tokens: &[Token], at: usize, lexicon: &Lexicon, said: &[Option<u32>]) -> bool {
    let article = at > 0
        && tokens[at].before == Break::None
        && match tokens[at - 1].norm.as_str() {
            "a" | "an" | "another" | "some" | "no" => true,
            // "three thirty two moth two eighty": the end of a longer number counts no bird.
            "two" | "three" => {
                let reader = Reader { tokens, end: tokens.len() };
                let runs = at > 1 && tokens[at - 1].before == Break::None && reader.starts(at - 2);
                let weighed = tokens.get(at + 1).is_some_and(|t| t.before == Break::None);
                !runs && !(weighed && reader.starts(at + 1))
            }
            _ => false,
        };
    article
        && !tokens[at].capital
        && lexicon.said.find(said, tokens, at).is_some_and(|f| {
            f.senses.iter().any(|s| matches!(s, Sense::Quarry(_) | Sense::Food(_) | Sense::Kit(_)))
        })
}

/// Whether what begins inside an everyday phrase goes on past its end: "that one | point nine
/// kilos", "one day | old".
fn overruled<'l>(
    found: &Found,
    at: usize,
    tokens: &[Token],
    reader: &Reader,
    said: &dyn Fn(usize) -> Option<Found<'l>>,
) -> bool {
    if found.len < 2 || !found.senses.iter().all(|s| matches!(s, Sense::Cue(_))) {
        return false;
    }
    let end = at + found.len;
    // "quarter of a quail" is no time.
    if found.senses.contains(&Sense::Cue(Cue::QuarterTo))
        && tokens[end - 1].norm == "of"
        && !(end < tokens.len() && reader.starts(end) && tokens[end].norm != "a")
    {
        return true;
    }
    let next = tokens.get(end).filter(|t| t.before == Break::None);
    // "longest one | metre" too.
    const GOES_ON: [&str; 8] = ["point", "hundred", "thousand", "metre", "meter", "yard", "kilo", "pound"];
    let number = next.is_some_and(|t| GOES_ON.contains(&t.norm.as_str())) && reader.starts(end - 1);
    let trade = |k: usize| {
        said(k).is_some_and(|f| k + f.len > end && f.senses.iter().any(|s| matches!(s, Sense::Food(_))))
    };
    // "get her | to the lure": what it flew to.
    let aimed = end - at > 2
        && tokens[end - 1].norm == "to"
        && said(end - 1).is_some_and(|f| {
            let aim = |s: &Sense| matches!(s, Sense::Cue(Cue::ToLure | Cue::ToPerch | Cue::Fist));
            f.len > 1 && f.senses.iter().any(aim)
        });
    // "had the back of | a rat"
    let part = found.senses.contains(&Sense::Cue(Cue::Ordinary))
        && tokens[end - 1].norm == "of"
        && tokens[end - 2].norm == "back"
        && at > 0
        && matches!(
            tokens[at - 1].norm.as_str(),
            "had" | "ate" | "her" | "him" | "and" | "given" | "got" | "fed"
        )
        && (end..end + 2)
            .any(|k| said(k).is_some_and(|f| f.senses.iter().any(|s| matches!(s, Sense::Food(_)))));
    // "ten flights at | fifteen metres"
    let measured = end - at == 2
        && tokens[end - 1].norm == "at"
        && matches!(tokens[at].norm.as_str(), "flights" | "flight")
        && next.is_some()
        && reader.starts(end)
        && reader.run(end, &|_| true, &|_| false).first().is_some_and(|n| {
            tokens.get(n.last + 1).is_some_and(|t| {
                t.before == Break::None
                    && matches!(
                        t.norm.as_str(),
                        "metres" | "meters" | "metre" | "meter" | "m" | "yards" | "yard" | "feet" | "foot"
                    )
            })
        });
    number
        || aimed
        || part
        || measured
        || found.senses.contains(&Sense::Cue(Cue::Ordinary)) && (at + 1..end).any(trade)
}

/// "to 23" for two twenty-three, "for 42" for four forty-two: only where a bird weighs that much.
fn homophone(tokens: &[Token], at: usize, likely: &dyn Fn(&Num) -> bool, reader: &Reader) -> Option<Num> {
    let digit = match tokens[at].norm.as_str() {
        "to" | "too" => 2.0,
        "for" | "fore" => 4.0,
        "ate" => 8.0,
        "won" => 1.0,
        _ => return None,
    };
    let next = tokens.get(at + 1).filter(|t| t.before == Break::None)?;
    if !(next.number && next.norm.len() == 2) && !reader.starts(at + 1) {
        return None;
    }
    let rest = reader.run(at + 1, &|_| false, &|_| false);
    let rest =
        rest.first().filter(|n| n.form == crate::number::Form::Plain && (10.0..100.0).contains(&n.value))?;
    let num = Num {
        first: at,
        last: rest.last,
        value: digit * 100.0 + rest.value,
        parts: vec![digit, rest.value],
        form: crate::number::Form::Pair,
        digits: None,
        money: false,
        minus: false,
        fraction: false,
        mixed: rest.mixed,
    };
    let ends = tokens.get(rest.last + 1).is_none_or(|t| t.before != Break::None);
    (likely(&num) && ends).then_some(num)
}

/// Whether a thing of this meaning is counted or measured by the number before it.
fn counted(sense: &Sense) -> bool {
    match sense {
        Sense::Food(_) | Sense::Kit(_) | Sense::Quarry(_) | Sense::Part(_) => true,
        Sense::Cue(c) => {
            matches!(
                c,
                Cue::Flight | Cue::Times | Cue::Metres | Cue::Yards | Cue::Feet | Cue::Degrees | Cue::OutOf
            )
        }
        _ => false,
    }
}

/// "the first one", "that one": no number.
fn pronoun(tokens: &[Token], at: usize, noun: &dyn Fn(usize) -> bool) -> bool {
    if tokens[at].norm != "one" || noun(at + 1) {
        return false;
    }
    // "make that one point nine two kilos"
    let counts = tokens.get(at + 1).is_some_and(|t| {
        t.before == Break::None
            && matches!(t.norm.as_str(), "point" | "hundred" | "thousand" | "kilo" | "pound" | "ounce" | "oh")
    });
    if counts {
        return false;
    }
    // "fed her two sparrows, make that one"
    if at > 1 && tokens[at - 1].norm == "that" && tokens[at - 2].norm == "make" {
        return false;
    }
    const BEFORE: [&str; 27] = [
        "first", "last", "this", "that", "the", "which", "each", "every", "another", "second", "next", "big",
        "other", "no", "any", "good", "new", "old", "third", "wrong", "right", "little", "young", "only",
        "bad", "poor", "slow",
    ];
    at > 0 && tokens[at].before == Break::None && BEFORE.contains(&tokens[at - 1].norm.as_str())
}
