//! Text to words and numbers, each with its place in the text.
//!
//! Punctuation becomes a break before the next token. Places are counted in Unicode scalar values.

/// How strongly the text parts a token from the one before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Break {
    None,
    Comma,
    Stop,
}

/// A word, a clitic ("'s", "n't") or a number written in digits.
#[derive(Clone, Debug)]
pub(crate) struct Token {
    /// Lower case, without accents; digits without thousands commas.
    pub(crate) norm: String,
    pub(crate) start: usize,
    pub(crate) end: usize,
    pub(crate) number: bool,
    pub(crate) before: Break,
    /// A mark that ties it to the token before with no blank between: `-` `/` `:`.
    pub(crate) join: Option<char>,
    /// A currency sign stands before it.
    pub(crate) money: bool,
    /// A minus sign stands before it.
    pub(crate) minus: bool,
    /// Written with a capital.
    pub(crate) capital: bool,
    /// Probability that the speech model gave the word.
    pub(crate) p: Option<f64>,
}

const CLITICS: [&str; 6] = ["s", "d", "ll", "re", "ve", "m"];

fn plain(c: char) -> char {
    match c {
        'é' | 'è' | 'ê' | 'ë' => 'e',
        'á' | 'à' | 'â' | 'ä' => 'a',
        'ö' | 'ô' | 'ó' => 'o',
        'ü' | 'û' => 'u',
        'ï' | 'î' => 'i',
        'ç' => 'c',
        _ => c,
    }
}

fn vulgar(c: char) -> Option<f64> {
    Some(match c {
        '½' => 0.5,
        '¼' => 0.25,
        '¾' => 0.75,
        '⅛' => 0.125,
        '⅜' => 0.375,
        '⅝' => 0.625,
        '⅞' => 0.875,
        _ => return None,
    })
}

fn apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2019}' | '\u{2018}' | '\u{02bc}')
}

/// Turns a stop that only a pause put there into a comma: "Yesterday she was 891. And she had three chicks",
/// "If I had to guess. I'd say six thirty".
pub(crate) fn run_on(tokens: &mut [Token]) {
    // "screaming, like, constantly": said while thinking.
    for i in 1..tokens.len().saturating_sub(1) {
        if tokens[i].norm == "like"
            && tokens[i].before == Break::Comma
            && tokens[i + 1].before == Break::Comma
        {
            tokens[i].before = Break::None;
            tokens[i + 1].before = Break::None;
        }
    }
    let mut start = 0;
    for i in 1..tokens.len() {
        if tokens[i].before != Break::Stop {
            continue;
        }
        let goes_on = matches!(tokens[i].norm.as_str(), "and" | "which")
            && tokens.get(i + 1).is_some_and(|t| {
                t.before == Break::None
                    && matches!(t.norm.as_str(), "she" | "he" | "was" | "had" | "is" | "it")
            });
        let unfinished = tokens[start].norm == "if"
            && i - start <= 7
            && tokens[start + 1..i].iter().all(|t| t.before == Break::None);
        // "Her first hunting day. Is planned for the weekend": no question, so no sentence of its own.
        let headless = matches!(tokens[i].norm.as_str(), "is" | "are")
            && i - start >= 2
            && tokens.get(i + 1).is_some_and(|t| {
                t.before == Break::None
                    && (t.norm.ends_with("ed")
                        || matches!(t.norm.as_str(), "done" | "due" | "next" | "good" | "full" | "empty"))
            });
        if headless {
            tokens[i].before = Break::None;
        } else if goes_on || unfinished {
            tokens[i].before = Break::Comma;
        } else {
            start = i;
        }
    }
}

/// "2, 1 and a half": pounds and ounces with a pause between, where a bird weighs as much.
pub(crate) fn pounds_and_ounces(tokens: &mut [Token], context: &crate::Context) {
    if context.units != Some(note::Units::Avoirdupois) {
        return;
    }
    let lasts: Vec<f64> = context.birds.iter().filter_map(|b| b.last_grams).collect();
    let small = |t: &Token, top: u32| t.norm.parse::<u32>().ok().filter(|n| (1..top).contains(n));
    for i in 1..tokens.len() {
        if tokens[i].before != Break::Comma {
            continue;
        }
        let (Some(pounds), Some(ounces)) = (small(&tokens[i - 1], 13), small(&tokens[i], 16)) else {
            continue;
        };
        let part = tokens.get(i + 1..).unwrap_or_default().iter().take(3).map(|t| t.norm.as_str());
        let part = match part.collect::<Vec<_>>()[..] {
            ["and", "a", "half"] => 0.5,
            ["and", "a", "quarter"] => 0.25,
            ["and", "three", "quarters"] => 0.75,
            _ => continue,
        };
        let grams =
            f64::from(pounds) * note::GRAMS_PER_POUND + (f64::from(ounces) + part) * note::GRAMS_PER_OUNCE;
        if crate::mass::nearest(grams, &lasts) <= crate::mass::PLAUSIBLE {
            tokens[i].before = Break::None;
        }
    }
}

/// Splits text into tokens. Linear in its length.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let chars: Vec<char> = text.chars().collect();
    let mut out: Vec<Token> = Vec::with_capacity(chars.len() / 5 + 1);
    let (mut i, mut before, mut join, mut money, mut minus) = (0, Break::None, None, false, false);
    let mut sign = None;
    while i < chars.len() {
        let c = chars[i];
        let start = i;
        if c.is_ascii_digit() || vulgar(c).is_some() {
            let (norm, end) = digits(&chars, i);
            i = end;
            // "1st", "2nd": ordinals are words.
            let tail: String = chars[i..chars.len().min(i + 2)].iter().collect::<String>().to_lowercase();
            let ends = chars.get(i + 2).is_none_or(|c| !c.is_alphanumeric());
            let ordinal = ends && ["st", "nd", "rd", "th"].contains(&tail.as_str());
            if ordinal {
                i += 2;
            }
            let norm = if ordinal { norm + &tail } else { norm };
            // The sign before the digits is part of what was written.
            let start = sign.filter(|s| s + 1 == start).unwrap_or(start);
            out.push(Token {
                norm,
                start,
                end: i,
                number: !ordinal,
                before,
                join,
                money,
                minus,
                capital: false,
                p: None,
            });
            (before, join, money, minus) = (Break::None, None, false, false);
        } else if c.is_alphabetic() || c == '°' {
            let word_end = word(&chars, i);
            push_words(&mut out, &chars, i, word_end, before, join, money);
            i = word_end;
            (before, join, money, minus) = (Break::None, None, false, false);
        } else {
            let tight = start > 0 && chars[start - 1].is_alphanumeric();
            let next = chars.get(i + 1).copied();
            match c {
                '.' => {
                    let run = chars[i..].iter().take_while(|c| **c == '.').count();
                    let initials = tight
                        && next.is_some_and(char::is_alphanumeric)
                        && (start < 2 || !chars[start - 2].is_alphanumeric());
                    let decimal = next.is_some_and(|n| n.is_ascii_digit()) && !tight;
                    if run > 1 {
                        before = before.max(Break::Comma);
                    } else if !initials && !decimal && !abbreviated(&out, &chars[i + 1..]) {
                        // "D.O.C." ends initials, not always a sentence: the next capital decides.
                        before = Break::Stop;
                    }
                    i += run - 1;
                }
                '!' | '?' | ';' | '\n' => before = Break::Stop,
                '-' if tight && next.is_some_and(char::is_alphanumeric) => join = Some('-'),
                '/' | ':' if tight && next.is_some_and(char::is_alphanumeric) => join = Some(c),
                '-' | '\u{2212}' if next.is_some_and(|n| n.is_ascii_digit()) => {
                    minus = true;
                    sign = Some(start);
                }
                ',' | '-' | '\u{2013}' | '\u{2014}' | '(' | ')' | '\u{2026}' | ':' => {
                    if matches!(c, '\u{2013}' | '\u{2014}')
                        && tight
                        && next.is_some_and(|n| n.is_ascii_digit())
                    {
                        join = Some('-');
                    } else {
                        before = before.max(Break::Comma);
                    }
                }
                '£' | '$' | '€' => {
                    money = true;
                    sign = Some(start);
                }
                '%' => {
                    out.push(Token {
                        norm: "percent".into(),
                        start,
                        end: i + 1,
                        number: false,
                        before,
                        join: None,
                        money: false,
                        minus: false,
                        capital: false,
                        p: None,
                    });
                    before = Break::None;
                }
                '&' => {
                    out.push(Token {
                        norm: "and".into(),
                        start,
                        end: i + 1,
                        number: false,
                        before,
                        join: None,
                        money: false,
                        minus: false,
                        capital: false,
                        p: None,
                    });
                    before = Break::None;
                }
                _ => {}
            }
            i += 1;
        }
    }
    out
}

/// "2 lbs. 6 oz. today": a point that ends an abbreviated unit and no sentence.
fn abbreviated(out: &[Token], rest: &[char]) -> bool {
    let next = rest.iter().find(|c| !c.is_whitespace());
    let unit = out.last().map_or("", |t| t.norm.as_str());
    match unit {
        "lb" | "lbs" => next.is_some_and(|c| c.is_ascii_digit() || c.is_lowercase()),
        "oz" | "ozs" => next.is_some_and(|c| c.is_lowercase()),
        _ => false,
    }
}

/// Reads digits, thousands commas, one decimal point and a vulgar fraction.
fn digits(chars: &[char], from: usize) -> (String, usize) {
    let digit = |k: usize| chars.get(k).is_some_and(char::is_ascii_digit);
    let (mut norm, mut i) = (String::new(), from);
    while i < chars.len() {
        let c = chars[i];
        if c.is_ascii_digit() {
            norm.push(c);
        } else if c == ','
            && i > from
            && digit(i + 1)
            && digit(i + 2)
            && digit(i + 3)
            && !digit(i + 4)
            && i - from <= 3
        {
            // A thousands comma.
        } else if c == '.' && i > from && digit(i + 1) && !norm.contains('.') {
            norm.push('.');
        } else {
            break;
        }
        i += 1;
    }
    if let Some(part) = chars.get(i).copied().and_then(vulgar)
        && !norm.contains('.')
    {
        let whole = if norm.is_empty() { "0" } else { &norm };
        norm = format!("{whole}{}", &part.to_string()[1..]);
        i += 1;
    }
    (norm, i)
}

/// Finds the end of a word with its inner apostrophes.
fn word(chars: &[char], from: usize) -> usize {
    let mut i = from;
    while i < chars.len() {
        let inner = apostrophe(chars[i]) && chars.get(i + 1).is_some_and(|c| c.is_alphabetic());
        if !(chars[i].is_alphabetic() || chars[i] == '°' || inner) {
            break;
        }
        i += 1;
    }
    i
}

fn push_words(
    out: &mut Vec<Token>,
    chars: &[char],
    start: usize,
    end: usize,
    before: Break,
    join: Option<char>,
    money: bool,
) {
    let mut norm = String::with_capacity(end - start);
    for &c in &chars[start..end] {
        if c.is_ascii_alphabetic() {
            norm.push(c.to_ascii_lowercase());
        } else if apostrophe(c) {
            norm.push('\'');
        } else {
            norm.extend(plain(c).to_lowercase().map(plain));
        }
    }
    let capital = chars[start].is_uppercase();
    let token = |norm: &str, start, end, before, join, capital| Token {
        norm: norm.to_owned(),
        start,
        end,
        number: false,
        before,
        join,
        money,
        minus: false,
        capital,
        p: None,
    };
    // The cut counts scalar values from the end, the same in `norm` and in the text.
    if let Some(stem) = norm.strip_suffix("n't").filter(|s| !s.is_empty()) {
        out.push(token(stem, start, end - 3, before, join, capital));
        out.push(token("n't", end - 3, end, Break::None, None, false));
        return;
    }
    // "t'fist": northern for "the fist"; "t'other" is a word of its own.
    if norm.starts_with("t'") && norm.len() > 3 && !norm.starts_with("t'other") {
        out.push(token("the", start, start + 2, before, join, capital));
        out.push(token(&norm[2..], start + 2, end, Break::None, None, false));
        return;
    }
    // "wouldna", "didnae": Scots for the same.
    for end_in in ["nae", "na"] {
        let stem = norm.strip_suffix(end_in).filter(|s| {
            matches!(
                *s,
                "would"
                    | "could"
                    | "should"
                    | "did"
                    | "does"
                    | "has"
                    | "had"
                    | "was"
                    | "is"
                    | "were"
                    | "have"
            )
        });
        if let Some(stem) = stem {
            let cut = end - end_in.len();
            out.push(token(stem, start, cut, before, join, capital));
            out.push(token("n't", cut, end, Break::None, None, false));
            return;
        }
    }
    // "chickheads", "rabbitleg": a food and its part written as one word.
    if let Some(cut) = compound(&norm) {
        let at = start + cut;
        out.push(token(&norm[..cut], start, at, before, join, capital));
        out.push(token(&norm[cut..], at, end, Break::None, None, false));
        return;
    }
    if let Some((stem, clitic)) = norm.rsplit_once('\'')
        && !stem.is_empty()
        && CLITICS.contains(&clitic)
    {
        let cut = end - clitic.len() - 1;
        out.push(token(stem, start, cut, before, join, capital));
        out.push(token(&format!("'{clitic}"), cut, end, Break::None, None, false));
        return;
    }
    out.push(token(&norm, start, end, before, join, capital));
}

/// Where a food and its part are written as one word; the byte and character of the cut.
fn compound(norm: &str) -> Option<usize> {
    const FOODS: [&str; 8] =
        ["chick", "quail", "rabbit", "pigeon", "pheasant", "partridge", "squirrel", "hare"];
    const PARTS: [&str; 14] = [
        "head", "heads", "neck", "necks", "leg", "legs", "wing", "wings", "breast", "breasts", "heart",
        "hearts", "liver", "feet",
    ];
    let food = FOODS.iter().find(|f| norm.starts_with(**f))?;
    PARTS.contains(&&norm[food.len()..]).then_some(food.len())
}

/// Gives each token the lowest probability among the speech model's words that it came from.
///
/// Words are aligned by order: each is looked for in the text from where the last one ended.
pub(crate) fn weigh(tokens: &mut [Token], text: &str, words: &[note::Word]) {
    let chars: Vec<char> = text.chars().collect();
    let (mut at, mut t) = (0, 0);
    for word in words {
        let letters: Vec<char> = word.word.trim().chars().collect();
        if letters.is_empty() {
            continue;
        }
        // Look a little ahead only, so that a stray word cannot throw the rest out of step.
        let ahead = chars.len().min(at + 64);
        let Some(found) = (at..ahead).find(|&k| chars[k..].starts_with(&letters)) else { continue };
        let end = found + letters.len();
        while t < tokens.len() && tokens[t].end <= found {
            t += 1;
        }
        let mut k = t;
        while k < tokens.len() && tokens[k].start < end {
            let p = tokens[k].p.map_or(word.p, |p: f64| p.min(word.p));
            tokens[k].p = Some(p);
            k += 1;
        }
        at = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn norms(text: &str) -> Vec<String> {
        tokens(text).into_iter().map(|t| t.norm).collect()
    }

    #[test]
    fn words_numbers_and_clitics_part() {
        for (text, want) in [
            ("She's 10.40, no", "she|'s|10.40|no"),
            ("didn't bate", "did|n't|bate"),
            ("1,040 grams", "1040|grams"),
            ("642g 4°C", "642|g|4|°c"),
            ("6½ oz", "6.5|oz"),
            ("7-Eleven 9/12", "7|eleven|9|12"),
            ("2nd o\u{2019}clock", "2nd|o'clock"),
            ("two D.O.C.s", "two|d|o|c|s"),
        ] {
            assert_eq!(norms(text).join("|"), want, "{text}");
        }
    }

    #[test]
    fn spans_count_scalar_values() {
        let text = "Ärger 5 é";
        for t in tokens(text) {
            let quote: String = text.chars().skip(t.start).take(t.end - t.start).collect();
            assert!(!quote.is_empty() && quote.trim() == quote);
        }
    }
}
