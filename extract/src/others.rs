//! What is said of somebody else's bird, or only heard tell of.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Strikes out what is no observation of the keeper's own birds.
pub(crate) fn strike(sheet: &mut Sheet) {
    let mut carried = false;
    let mut i = 0;
    while i < sheet.len() {
        let end = sheet.end_of_sentence(i);
        let pronoun = sheet.any(i, &[Cue::He, Cue::She, Cue::His, Cue::Her, Cue::It])
            || sheet.any(i, &[Cue::And, Cue::But, Cue::Filler])
                && sheet.any(i + 1, &[Cue::He, Cue::She, Cue::It]);
        let named = (i..end).any(|k| sheet.bird(k).is_some());
        // "That your Harris? 630, is he? Takes pigeons?"
        let asked = carried && end - i <= 5 && {
            let tag = |k: usize| sheet.any(k, &[Cue::Be]) && sheet.any(k + 1, &[Cue::He, Cue::She]);
            (i..end).any(tag)
                || sheet
                    .is(i, &["takes", "flies", "eats", "hunts", "goes", "comes", "weighs", "likes", "does"])
        };
        if carried && (pronoun || asked) && !named {
            kill(sheet, i, end);
        } else {
            carried = sentence(sheet, i, end);
        }
        i = end;
    }
}

fn kill(sheet: &mut Sheet, from: usize, to: usize) {
    sheet.dead[from..to].fill(true);
}

/// Handles one sentence; returns whether it ends in talk of another's bird.
fn sentence(sheet: &mut Sheet, start: usize, end: usize) -> bool {
    let mut k = start;
    let mut carried = false;
    while k < end {
        if let Some(from) = stranger(sheet, start, end, k) {
            let to = back_to_own(sheet, k + 1, end);
            kill(sheet, from, to);
            carried = to == end;
            k = to.max(k + 1);
            continue;
        }
        // "the scale's saying 572": no hearsay.
        let scale = (k.saturating_sub(3)..k).any(|m| {
            sheet.is(m, &["scale", "scales", "display", "readout"])
                && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
        });
        // "just so I remember, she's to be 920": the keeper's own.
        let own = sheet.is(k, &["i remember"]) && k > start && sheet.is(k - 1, &["so", "that"]);
        if sheet.has(k, Cue::Hearsay) && !scale && !own || bygone_year(sheet, k) {
            let from = clause(sheet, start, k);
            let to = (k + 1..end)
                .find(|m| {
                    sheet.before(*m) >= Break::Comma
                        || sheet.bird(*m).is_some()
                        || sheet.is(*m, &["anyway", "anyhow", "ours", "mine"])
                        || sheet.has(*m, Cue::NowWeigh) && sheet.is(*m, &["now"])
                })
                .unwrap_or(end);
            // "She was 980 at Christmas, or so I'm told": all that was told.
            let told = sheet.words(k).contains("told")
                || sheet.words(k).contains("says")
                || sheet.words(k).contains("reckon");
            let from = if told && !(start.max(k.saturating_sub(60))..k).any(|m| sheet.bird(m).is_some()) {
                start
            } else {
                from
            };
            kill(sheet, from, to);
            k = to.max(k + 1);
            continue;
        }
        k += 1;
    }
    carried
}

/// "In 2021 she flew at 915": a year gone by, where no bird weighs as much.
fn bygone_year(sheet: &Sheet, k: usize) -> bool {
    let led =
        k > 0 && sheet.before(k) == Break::None && sheet.is(k - 1, &["in", "since", "back in", "during"]);
    led && sheet.num(k).is_some_and(|n| {
        let year = f64::from(chrono::Datelike::year(&sheet.context.at));
        n.value.fract() == 0.0
            && (1950.0..year).contains(&n.value)
            && !crate::mass::near_any(n, &sheet.names.iter().filter_map(|n| n.last_grams).collect::<Vec<_>>())
    })
}

fn clause(sheet: &Sheet, start: usize, k: usize) -> usize {
    let mut m = k;
    while m > start && sheet.before(m) == Break::None && sheet.bird(m).is_none() && k - m < 24 {
        m -= 1;
    }
    m
}

/// Where talk of the keeper's own birds begins again.
fn back_to_own(sheet: &Sheet, from: usize, end: usize) -> usize {
    (from..end)
        .find(|k| {
            sheet.bird(*k).is_some()
                || sheet.is(*k, &["anyway", "anyhow", "ours", "mine", "mine's"])
                    && !(*k > 0 && sheet.is(k - 1, &["of"]))
                || sheet.is(*k, &["right"]) && sheet.bird(*k + 1).is_some()
                // "a wild falcon had a go at him and he went off": he is ours.
                || sheet.any(*k, &[Cue::And, Cue::But])
                    && sheet.any(*k + 1, &[Cue::He, Cue::She])
                    && *k > 1
                    && sheet.is(*k - 1, &["him", "her"])
                    && sheet.is(*k - 2, &["at", "with", "to", "by", "past", "off", "on"])
        })
        .unwrap_or(end)
}

/// Words between "his" and the bird that is his.
const OF_HIS: [&str; 14] = [
    "own", "new", "big", "old", "young", "wee", "little", "other", "first", "second", "best", "last",
    "latest", "lovely",
];

/// Whether atom `k` is a person or stranger whose bird is talked of; from where.
fn stranger(sheet: &Sheet, start: usize, end: usize, k: usize) -> Option<usize> {
    let window = end.min(k + 14);
    let stop = (k + 1..window).find(|m| sheet.bird(*m).is_some()).unwrap_or(window);
    // "round to see the birds": the keeper's own.
    let shown = |m: usize| {
        sheet.is(m, &["birds", "hawks", "falcons", "owls"])
            && m > 0
            && sheet.is(m - 1, &["the", "my", "our", "all"])
    };
    // "asked was she an eagle": nobody's bird.
    let likeness = |m: usize| {
        m > 1
            && sheet.is(m - 1, &["a", "an"])
            && (sheet.any(m - 2, &[Cue::He, Cue::She, Cue::It]) || sheet.is(m - 2, &["that", "this"]))
    };
    let bird_word = |m: usize| {
        sheet.has(m, Cue::OtherBird) && !sheet.is(m, &["his", "theirs"]) && !shown(m) && !likeness(m)
    };
    let his_bird = |m: usize| {
        sheet.is(m, &["his", "theirs", "hers"])
            && (bird_word(m + 1) || sheet.any(m + 1, &[Cue::Be]) || sheet.is(m + 1, &["at"]))
    };
    // "her sister flew at 930", "Pike's brother is 640": kin, and none of the roster.
    let kin = sheet.is(
        k,
        &[
            "sister", "sisters", "brother", "brothers", "mother", "father", "sibling", "siblings", "dam",
            "sire",
        ],
    );
    let of_bird = k > 0
        && sheet.before(k) == Break::None
        && (sheet.any(k - 1, &[Cue::Her, Cue::His])
            || k > 1 && sheet.is(k - 1, &["'s"]) && sheet.bird(k - 2).is_some());
    if kin && of_bird {
        let from = if sheet.is(k - 1, &["'s"]) { k - 2 } else { k - 1 };
        return Some(start.max(from));
    }
    // "Sarah rang to say hers is down at 930"
    let hers_is = sheet.is(k, &["hers", "theirs"])
        && sheet.before(k + 1) == Break::None
        && (sheet
            .any(k + 1, &[Cue::Be, Cue::Weigh, Cue::Flew, Cue::Ate, Cue::Took, Cue::Refused, Cue::Missed])
            || sheet.is(k + 1, &["'s", "has", "had", "eats", "won't"]));
    if hers_is {
        return Some(clause(sheet, start, k));
    }
    // "Lottie down the road has hers at 940", "the breeder had her at 945"
    let keeps = sheet.is(k, &["has", "had", "keeps", "kept", "flies", "flew", "runs", "flying", "keeping"])
        && sheet.is(k + 1, &["hers", "his", "theirs"])
        && (sheet.any(k + 2, &[Cue::At, Cue::Down, Cue::Up, Cue::Weigh])
            || sheet.is(k + 2, &["flying", "on"]));
    let breeder = sheet.is(k, &["had", "kept", "flew", "flying", "has"])
        && sheet.is(k + 1, &["her", "him"])
        && sheet.any(k + 2, &[Cue::At])
        && (start.max(k.saturating_sub(4))..k).any(|m| sheet.has(m, Cue::Person));
    if keeps || breeder {
        return Some(clause(sheet, start, k));
    }
    let tight = |m: usize| sheet.before(m) == Break::None;
    // "my last bird flew at 940", "the goshawk up the road weighs 940"
    let bygone = sheet.is(k, &["last", "previous", "late"])
        && k > 0
        && tight(k)
        && sheet.any(k - 1, &[Cue::I, Cue::His, Cue::Her])
        && tight(k + 1)
        && bird_word(k + 1);
    let place = |m: usize| {
        sheet.is(
            m,
            &["road", "lane", "street", "valley", "way", "hill", "village", "club", "centre", "center"],
        )
    };
    let away = bird_word(k)
        && tight(k + 1)
        && (sheet.is(k + 1, &["up", "down", "across", "over", "along", "at"])
            && sheet.is(k + 2, &["the"])
            && place(k + 3)
            || sheet.words(k + 1) == "next door"
            || ["up the ", "down the ", "across the "].iter().any(|w| sheet.words(k + 1).starts_with(w)));
    // "my vet's falcon is nine forty"
    let owned = sheet.any(k, &[Cue::Vet, Cue::Person])
        && sheet.words(k).ends_with("'s")
        && tight(k + 1)
        && (bird_word(k + 1) || tight(k + 2) && bird_word(k + 2) && sheet.senses(k + 1).is_empty());
    // "himself over the road has a gos", "them at the club": people by their place.
    // Most words open none of these.
    let word = sheet.word(k);
    let placed = matches!(
        word,
        "himself"
            | "herself"
            | "him"
            | "her"
            | "them"
            | "those"
            | "lot"
            | "yer"
            | "your"
            | "yon"
            | "he"
            | "she"
            | "they"
    ) && sheet.is(
        k,
        &[
            "himself",
            "herself",
            "him",
            "her",
            "them",
            "those",
            "lot",
            "yer man",
            "your man",
            "yon fella",
            "yon man",
            "he",
            "she",
            "they",
        ],
    ) && tight(k + 1)
        && sheet.is(k + 1, &["up", "down", "across", "over", "along", "at", "from"])
        && (sheet.is(k + 2, &["the"]) && place(k + 3)
            || sheet.is(k + 1, &["over"]) && sheet.words(k + 2) == "there")
        || matches!(word, "over" | "up" | "down" | "across")
            && ["over the ", "up the ", "down the ", "across the "]
                .iter()
                .any(|w| sheet.words(k).starts_with(w))
            && place(k + 1)
            && (start..k).all(|m| sheet.bird(m).is_none())
            && (k + 1..end.min(k + 6)).any(bird_word);
    // "the man across the valley feeds his three quail a day"
    let neighbour = sheet.has(k, Cue::Person)
        && tight(k + 1)
        && sheet.is(k + 1, &["up", "down", "across", "over", "along", "at", "in", "from", "next"])
        && (k + 2..end.min(k + 6)).any(place)
        && (k + 3..end.min(k + 9)).any(|m| {
            sheet.is(
                m,
                &[
                    "feeds", "feeding", "flies", "flying", "has", "keeps", "gives", "weighs", "runs",
                    "hunts", "flew",
                ],
            )
        })
        && (k + 1..end.min(k + 9)).all(|m| sheet.bird(m).is_none());
    // "met Colin, his Harris took two", "Joan's here, her merlin is screaming", "Terry, whose male is 640"
    let possessed = matches!(word, "his" | "her" | "their" | "whose" | "your")
        && (sheet.any(k, &[Cue::His]) && sheet.is(k, &["his", "their"])
            || sheet.is(k, &["her", "their", "whose", "your"]))
        && tight(k + 1)
        && (bird_word(k + 1)
            || sheet.is(k, &["whose"]) && sheet.is(k + 1, &["lad", "lass", "boy", "girl"])
            // "her own big Harris"
            || (k + 2..end.min(k + 4))
                .take_while(|m| tight(*m) && sheet.is(*m - 1, &OF_HIS))
                .any(bird_word))
        && !sheet.is(k + 1, &["bird", "birds"]);
    // "Trev's here with his two, a Harris at 705"
    let brought = word == "with"
        && tight(k + 1)
        && tight(k + 2)
        && sheet.is(k + 1, &["his", "her", "their"])
        && (sheet.num(k + 2).is_some() || sheet.is(k + 2, &["pair", "lot", "birds", "team"]))
        && !(tight(k + 3) && sheet.content(k + 3))
        && (start..k).all(|m| sheet.bird(m).is_none());
    // "Hank's eagle-to-be came in at 1360": somebody's, whatever it is, on somebody's scales.
    let weighed = sheet.bird(k).is_none()
        && sheet.senses(k).is_empty()
        && sheet.atoms[k].num.is_none()
        && sheet.tokens[sheet.atoms[k].first].capital
        && sheet.is(k + 1, &["'s"])
        && tight(k + 2)
        && sheet.bird(k + 2).is_none()
        && !sheet.content(k + 2)
        && tight(k + 3)
        && sheet.any(k + 3, &[Cue::Weigh])
        && !sheet.any(k + 2, &[Cue::OtherBeast])
        && (k + 4..end.min(k + 7))
            .any(|m| sheet.num(m).is_some() && !sheet.any(m + 1, &[Cue::Degrees, Cue::Fahrenheit]));
    // "that tiercel of his, 680"
    let of_his = bird_word(k)
        && tight(k + 1)
        && sheet.is(k + 1, &["of"])
        && sheet.is(k + 2, &["his", "hers", "theirs", "yours"])
        && tight(k + 2);
    // "a wild sparrowhawk took a starling", "watched a buzzard mantling"
    let species = |m: usize| {
        sheet.has(m, Cue::OtherBird)
            && !sheet.is(
                m,
                &[
                    "hawk", "falcon", "bird", "male", "female", "hawks", "falcons", "birds", "his", "theirs",
                    "tiercel",
                ],
            )
    };
    let roving = matches!(word, "wild" | "haggard" | "passing" | "local")
        && tight(k + 1)
        && (species(k + 1)
            || species(k + 2)
            || bird_word(k + 1)
                && k > start
                && sheet.is(k - 1, &["the", "a", "another", "that"])
                && !(k > start + 1 && (sheet.any(k - 2, &[Cue::Be]) || sheet.is(k - 2, &["'s"]))))
        || matches!(word, "saw" | "watched" | "seen" | "spotted" | "disturbed")
            && tight(k + 1)
            && sheet.is(k + 1, &["a", "an", "another", "two"])
            && (species(k + 2) || tight(k + 3) && species(k + 3));
    // "the bird I flew before this one"
    let former = bird_word(k)
        && tight(k + 1)
        && (sheet.any(k + 1, &[Cue::I]) || sheet.is(k + 1, &["we"]))
        && (k + 2..end.min(k + 6))
            .any(|m| sheet.is(m, &["before", "then", "previously"]) || sheet.words(m) == "used to");
    if bygone
        || away
        || owned
        || placed
        || neighbour
        || possessed
        || brought
        || weighed
        || of_his
        || roving
        || former
    {
        return Some(clause(sheet, start, k));
    }
    // "there's nothing like a merlin ringing up", "a merlin will starve while you tie your lace"
    let likened = || {
        (start.max(k.saturating_sub(12))..k).any(|m| sheet.is(m, &["nothing"]) || sheet.ends(m, &["like"]))
    };
    let general = sheet.is(k, &["a", "any", "every"])
        && tight(k + 1)
        && bird_word(k + 1)
        && (likened()
            || tight(k + 2)
                && sheet.is(
                    k + 2,
                    &[
                        "will", "'ll", "can", "needs", "should", "won't", "wo", "ca", "never", "always",
                        "wants",
                    ],
                ));
    if general {
        return Some(k);
    }
    if sheet.has(k, Cue::Person) {
        let thing = sheet.kit(k + 1).is_some()
            || sheet
                .is(k + 1, &["house", "field", "place", "land", "farm", "ground", "wood", "garden", "help"]);
        let theirs = (k + 1..stop).any(|m| bird_word(m) || his_bird(m) || sheet.has(m, Cue::Hearsay))
            || sheet.words(k).ends_with("'s") && !thing && (k + 1..stop).any(|m| sheet.num(m).is_some());
        let own = (k + 1..stop).any(|m| {
            sheet.is(m, &["fed", "gave", "weighed", "held", "flew", "her", "him"])
                && !bird_word(m)
                && sheet.any(m, &[Cue::Her, Cue::He])
        }) && !(k + 1..stop).any(|m| bird_word(m) || his_bird(m));
        return (theirs && !own).then_some(start.max(clause(sheet, start, k)));
    }
    // "Dave's bird", "the club's male"; never "she's", "that's".
    let owner = sheet.is(k + 1, &["'s"])
        && sheet.bird(k).is_none()
        && (sheet.senses(k).is_empty() || sheet.is(k, &["vet", "club", "zoo", "centre", "neighbour"]))
        && sheet.num(k).is_none()
        && sheet.before(k + 2) == Break::None
        && (bird_word(k + 2)
            || bird_word(k + 3) && sheet.before(k + 3) == Break::None && sheet.senses(k + 2).is_empty());
    if owner {
        return Some(clause(sheet, start, k));
    }
    let anothers = sheet.is(k, &["another", "somebody", "someone", "a"])
        && bird_word(k + 1)
        && sheet.before(k + 1) == Break::None
        && sheet.any(k + 2, &[Cue::Flew])
        && sheet.is(k + 2, &["flying"]);
    anothers.then_some(k)
}
