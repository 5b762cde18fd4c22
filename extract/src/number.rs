//! Spoken and written numbers.
//!
//! A run of number words is cut into groups ("nine", "forty-two") and the groups are joined into
//! numbers as people say them ("nine forty-two" is 942, but may be nine and forty-two, or 9:42).
//! A [`Num`] keeps its groups, so that what stands around it can decide later.

use crate::tokens::{Break, Token};

/// How a number was put together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// One group: "six hundred and forty-two", "642", "half".
    Plain,
    /// Hundreds and the rest: "nine forty-two", "ten oh five".
    Pair,
    /// Single digits: "six four two"; two of them may be pounds and ounces.
    Singles,
    /// Digits tied by a mark: "7-12", "9/12", "9:42".
    Tied(char),
    /// A long string of digits: a telephone number.
    Long,
}

/// A number and how it was said.
#[derive(Clone, Debug)]
pub(crate) struct Num {
    /// First and last token.
    pub(crate) first: usize,
    pub(crate) last: usize,
    /// The plainest reading.
    pub(crate) value: f64,
    /// The groups as said.
    pub(crate) parts: Vec<f64>,
    pub(crate) form: Form,
    /// Written in digits, with so many decimals.
    pub(crate) digits: Option<u8>,
    /// A currency sign or a minus stood before it.
    pub(crate) money: bool,
    pub(crate) minus: bool,
    /// Only a fraction: "half", "three quarters".
    pub(crate) fraction: bool,
    /// A fraction was added: "six and a half".
    pub(crate) mixed: bool,
}

impl Num {
    /// Returns the number as an amount: "3/4" is three quarters.
    pub(crate) fn amount(&self) -> f64 {
        match (self.form, self.parts.as_slice()) {
            (Form::Tied('/'), [a, b]) if a < b && [2.0, 3.0, 4.0, 8.0, 16.0].contains(b) => a / b,
            _ => self.value,
        }
    }
    /// Returns the number as a count of things, if it can be one.
    pub(crate) fn count(&self) -> Option<f64> {
        let plain = matches!(self.form, Form::Plain) && !self.money && !self.minus;
        (plain && self.value <= 500.0).then_some(self.value)
    }
    /// Returns the clock time that it may be, as hours and minutes.
    pub(crate) fn clock(&self) -> Option<(u32, u32)> {
        let whole = |v: f64| (v.fract() == 0.0 && (0.0..10_000.0).contains(&v)).then_some(v as u32);
        let (h, m) = match (self.form, self.parts.as_slice()) {
            (Form::Plain, [v]) if self.digits == Some(2) => {
                (whole(v.trunc())?, ((v.fract() * 100.0).round()) as u32)
            }
            (Form::Plain, [v]) if *v < 25.0 => (whole(*v)?, 0),
            (Form::Plain, [v]) if (100.0..2400.0).contains(v) => (whole(*v)? / 100, whole(*v)? % 100),
            (Form::Pair | Form::Tied(_) | Form::Singles, [h, m]) => (whole(*h)?, whole(*m)?),
            _ => return None,
        };
        (h < 24 && m < 60).then_some((h, m))
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    /// 1-9, or a single digit figure.
    One,
    /// "oh" and a digit.
    Oh,
    /// 10-99.
    Two,
    /// Anything longer, or with decimals.
    Many,
    /// Only a fraction.
    Fraction,
}

#[derive(Clone, Copy, Debug)]
struct Group {
    first: usize,
    last: usize,
    value: f64,
    kind: Kind,
    digits: Option<u8>,
    mixed: bool,
}

fn small(word: &str) -> Option<u32> {
    const WORDS: [&str; 20] = [
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
    ];
    let at = match word {
        "twelf" => 12,
        _ => WORDS.iter().position(|w| *w == word)?,
    };
    (at > 0).then_some(at as u32)
}

fn tens(word: &str) -> Option<u32> {
    const WORDS: [&str; 8] = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
    match word {
        "fourty" => return Some(40),
        "twenties" => return Some(20),
        _ => {}
    }
    WORDS.iter().position(|w| *w == word).map(|at| (at as u32 + 2) * 10)
}

fn fraction_part(word: &str) -> Option<f64> {
    Some(match word {
        "half" | "halves" => 0.5,
        "quarter" | "quarters" => 0.25,
        "third" | "thirds" => 1.0 / 3.0,
        "eighth" | "eighths" => 0.125,
        "sixteenth" | "sixteenths" => 0.0625,
        _ => return None,
    })
}

fn oh(word: &str) -> bool {
    matches!(word, "oh" | "o" | "zero" | "nought" | "naught" | "ow")
}

/// Reads tokens as numbers.
pub(crate) struct Reader<'t> {
    pub(crate) tokens: &'t [Token],
    /// No number reaches past this token.
    pub(crate) end: usize,
}

impl Reader<'_> {
    fn word(&self, at: usize) -> &str {
        self.tokens.get(at).map_or("", |t| if t.number { "" } else { &t.norm })
    }
    /// Whether token `at` follows the one before without a break.
    fn runs_on(&self, at: usize) -> bool {
        self.tokens.get(at).is_some_and(|t| t.before == Break::None)
    }

    /// Whether a number may start at token `at`.
    pub(crate) fn starts(&self, at: usize) -> bool {
        let t = &self.tokens[at];
        if t.number {
            return true;
        }
        let w = t.norm.as_str();
        small(w).is_some()
            || tens(w).is_some()
            || matches!(w, "zero" | "nought" | "half" | "quarter" | "hundred" | "dozen")
            || (matches!(w, "a" | "an") && self.runs_on(at + 1) && self.measure_word(at + 1))
            || (w == "oh" && self.decimal_at(at))
    }

    fn measure_word(&self, at: usize) -> bool {
        matches!(
            self.word(at),
            "hundred" | "thousand" | "half" | "quarter" | "third" | "dozen" | "couple" | "eighth" | "pair"
        )
    }

    fn decimal_at(&self, at: usize) -> bool {
        let digit = self.word(at + 2);
        self.word(at + 1) == "point"
            && self.runs_on(at + 2)
            && (small(digit).is_some_and(|v| v < 10) || oh(digit))
    }

    /// A number below a hundred in words, or after an "oh".
    fn below_hundred(&self, at: usize) -> Option<(u32, usize)> {
        let w = self.word(at);
        if let Some(t) = tens(w) {
            if self.runs_on(at + 1)
                && let Some(o) = small(self.word(at + 1)).filter(|v| *v < 10)
            {
                return Some((t + o, at + 2));
            }
            return Some((t, at + 1));
        }
        small(w).map(|v| (v, at + 1))
    }

    /// "and a half", "and three quarters", "and 3/4", from the "and".
    fn and_fraction(&self, at: usize) -> Option<(f64, usize)> {
        if self.word(at) != "and" || !self.runs_on(at) || !self.runs_on(at + 1) {
            return None;
        }
        self.fraction(at + 1).or_else(|| self.slashed(at + 1))
    }

    /// "3/4" behind a whole number; not where it tells how full a crop is.
    fn slashed(&self, at: usize) -> Option<(f64, usize)> {
        let figures = |k: usize| {
            let token = self.tokens.get(k).filter(|t| t.number && t.norm.len() <= 2)?;
            token.norm.parse::<u8>().ok()
        };
        let (above, below) = (figures(at)?, figures(at + 1)?);
        let tied = self.runs_on(at)
            && matches!(self.tokens[at].join, None | Some('-'))
            && self.tokens[at + 1].join == Some('/')
            && self.tokens.get(at + 2).is_none_or(|t| t.join.is_none());
        let proper = matches!(below, 2 | 3 | 4 | 8 | 16) && 0 < above && above < below;
        let crop = matches!(self.word(at + 2), "crop" | "cropped" | "full" | "of");
        (tied && proper && !crop).then(|| (f64::from(above) / f64::from(below), at + 2))
    }

    /// "half", "a quarter", "three quarters", "three-eighths".
    pub(crate) fn fraction(&self, at: usize) -> Option<(f64, usize)> {
        if let Some(f) = fraction_part(self.word(at)).filter(|_| !self.word(at).ends_with('s')) {
            return Some((f, at + 1));
        }
        let next = fraction_part(self.word(at + 1)).filter(|_| self.runs_on(at + 1))?;
        let n = match self.word(at) {
            "a" | "an" | "one" => 1.0,
            w => match small(w).filter(|v| *v < 10) {
                Some(n) => f64::from(n),
                None => self.tokens.get(at).filter(|t| t.number)?.norm.parse().ok().filter(|v| *v < 10.0)?,
            },
        };
        // "two third ..." is an ordinal; a plain "two half" is no fraction either.
        let whole = n * next;
        (whole < 1.0 || self.word(at + 1).ends_with('s')).then_some((whole, at + 2))
    }

    /// Three or four figures read out one by one with an "oh" among them: "six four oh", "one oh six two".
    fn read_out(&self, at: usize, noun: &dyn Fn(usize) -> bool) -> Option<(f64, usize)> {
        let figure = |k: usize| match self.word(k) {
            w if oh(w) => Some(0),
            w => small(w).filter(|v| *v < 10),
        };
        let mut figures: Vec<u32> = Vec::new();
        while figures.len() < 6
            && (figures.is_empty() || self.runs_on(at + figures.len()))
            && let Some(v) = figure(at + figures.len())
        {
            figures.push(v);
        }
        let counts = noun(at + figures.len());
        let len = if counts && figures.len() == 4 { 3 } else { figures.len() };
        figures.truncate(len);
        let zero = |k: usize| figures.get(k) == Some(&0);
        let plain = len == 3 && zero(1) && !zero(2);
        if figures.first() == Some(&0)
            || !(3..=4).contains(&len)
            || !figures.contains(&0)
            || plain
            || counts && len == 3 && !zero(2)
        {
            return None;
        }
        Some((f64::from(figures.iter().fold(0, |sum, f| sum * 10 + f)), at + len))
    }

    fn group(&self, at: usize, noun: &dyn Fn(usize) -> bool) -> Option<Group> {
        let t = self.tokens.get(at)?;
        let make = |last: usize, value: f64, kind, digits| Group {
            first: at,
            last,
            value,
            kind,
            digits,
            mixed: false,
        };
        if let Some((value, end)) = self.read_out(at, noun) {
            let mut group = make(end - 1, value, Kind::Many, None);
            if self.word(end) == "point" && self.runs_on(end) {
                self.decimals(&mut group, noun);
            }
            return Some(group);
        }
        if let Some((f, end)) = self.fraction(at) {
            if self.word(end) == "dozen" || (matches!(self.word(end), "a") && self.word(end + 1) == "dozen") {
                let end = if self.word(end) == "dozen" { end } else { end + 1 };
                return Some(make(end, f * 12.0, Kind::Two, None));
            }
            return Some(make(end - 1, f, Kind::Fraction, None));
        }
        let mut group = if t.number {
            let decimals = t.norm.split_once('.').map_or(0, |(_, d)| d.len());
            let value: f64 = t.norm.parse().ok()?;
            let kind = match (decimals, t.norm.len()) {
                (0, 1) => Kind::One,
                (0, 2) if t.norm.starts_with('0') => Kind::Oh,
                (0, 2) => Kind::Two,
                _ => Kind::Many,
            };
            let mut group = make(at, value, kind, Some(u8::try_from(decimals).unwrap_or(u8::MAX)));
            let scale = match self.word(at + 1) {
                "hundred" => 100.0,
                "thousand" => 1000.0,
                "dozen" => 12.0,
                _ => 1.0,
            };
            if scale > 1.0 && self.runs_on(at + 1) {
                let (value, end) = self.add_rest(value * scale, at + 2);
                group = make(end - 1, value, Kind::Many, None);
            }
            // "600 and 42"
            if group.value % 100.0 == 0.0
                && group.value >= 100.0
                && decimals == 0
                && self.word(at + 1) == "and"
                && self.runs_on(at + 1)
            {
                let rest = self
                    .tokens
                    .get(at + 2)
                    .filter(|t| t.number && t.norm.len() < 3 && t.before == Break::None);
                if let Some(rest) = rest.and_then(|t| t.norm.parse::<f64>().ok()).filter(|_| !noun(at + 3)) {
                    group = make(at + 2, group.value + rest, Kind::Many, None);
                }
            }
            group
        } else {
            self.word_group(at)?
        };
        if self.word(group.last + 1) == "point" && self.runs_on(group.last + 1) {
            self.decimals(&mut group, noun);
        }
        if group.value.fract() == 0.0
            && group.value < 100.0
            && let Some((f, end)) = self.slashed(group.last + 1)
        {
            group.value += f;
            group.last = end - 1;
            group.mixed = true;
        } else if let Some((f, end)) = self.and_fraction(group.last + 1)
            && group.value.fract() == 0.0
            && !(self.word(group.last + 2) == "half" && self.word(group.last + 3) == "a")
        {
            group.value += f;
            group.last = end - 1;
            group.mixed = true;
        } else if group.value.fract() == 0.0
            && self.runs_on(group.last + 1)
            && self.word(group.last + 1) == "and"
            && let Some(f) = self
                .tokens
                .get(group.last + 2)
                .filter(|t| t.number && t.norm.starts_with("0."))
                .and_then(|t| t.norm.parse::<f64>().ok())
        {
            group.value += f;
            group.last += 2;
            group.mixed = true;
        }
        Some(group)
    }

    fn word_group(&self, at: usize) -> Option<Group> {
        let make = |last: usize, value: f64, kind| Group {
            first: at,
            last,
            value,
            kind,
            digits: None,
            mixed: false,
        };
        let w = self.word(at);
        if matches!(w, "a" | "an") {
            if !self.runs_on(at + 1) {
                return None;
            }
            return match self.word(at + 1) {
                "dozen" => Some(make(at + 1, 12.0, Kind::Two)),
                "couple" | "pair" => {
                    let of = usize::from(self.word(at + 2) == "of" && self.runs_on(at + 2));
                    Some(make(at + 1 + of, 2.0, Kind::One))
                }
                "hundred" => {
                    let (value, end) = self.add_rest(100.0, at + 2);
                    Some(make(end - 1, value, Kind::Many))
                }
                "thousand" => {
                    let (value, end) = self.add_rest(1000.0, at + 2);
                    Some(make(end - 1, value, Kind::Many))
                }
                _ => None,
            };
        }
        if w == "dozen" {
            return Some(make(at, 12.0, Kind::Two));
        }
        if w == "hundred" {
            let (value, end) = self.add_rest(100.0, at + 1);
            return Some(make(end - 1, value, Kind::Many));
        }
        if oh(w) {
            if self.word(at + 1) == "point" {
                return Some(make(at, 0.0, Kind::Many));
            }
            let ones = small(self.word(at + 1)).filter(|v| *v < 10 && self.runs_on(at + 1));
            return match ones {
                Some(v) => Some(make(at + 1, f64::from(v), Kind::Oh)),
                None if matches!(w, "zero" | "nought" | "naught") => Some(make(at, 0.0, Kind::One)),
                None if w == "oh" || w == "o" => {
                    let digit = self
                        .tokens
                        .get(at + 1)
                        .filter(|t| t.number && t.norm.len() == 1 && self.runs_on(at + 1));
                    digit.and_then(|t| t.norm.parse().ok()).map(|v| make(at + 1, v, Kind::Oh))
                }
                None => None,
            };
        }
        let (value, end) = self.below_hundred(at)?;
        let next = if self.runs_on(end) { self.word(end) } else { "" };
        let scale = match next {
            "hundred" => 100.0,
            "thousand" => 1000.0,
            "dozen" => return Some(make(end, f64::from(value) * 12.0, Kind::Two)),
            _ => 0.0,
        };
        if scale > 0.0 {
            let (value, end) = self.add_rest(f64::from(value) * scale, end + 1);
            return Some(make(end - 1, value, Kind::Many));
        }
        Some(make(end - 1, f64::from(value), if value < 10 { Kind::One } else { Kind::Two }))
    }

    /// Adds "[and] forty-two", "[and] three hundred and five" after hundreds or thousands.
    fn add_rest(&self, value: f64, at: usize) -> (f64, usize) {
        let (mut value, mut end) = (value, at);
        loop {
            if !self.runs_on(end) {
                return (value, end);
            }
            let from = if self.word(end) == "and" && self.runs_on(end + 1) { end + 1 } else { end };
            // "a hundred and half a chick", "two hundred and a quarter" are no sums here.
            if self.fraction(from).is_some() {
                return (value, end);
            }
            if value % 1000.0 == 0.0
                && let Some((h, after)) = small(self.word(from)).map(|h| (h, from + 1))
                && self.word(after) == "hundred"
                && self.runs_on(after)
            {
                value += f64::from(h) * 100.0;
                end = after + 1;
                continue;
            }
            if value % 1000.0 == 0.0 && self.word(from) == "a" && self.word(from + 1) == "hundred" {
                value += 100.0;
                end = from + 2;
                continue;
            }
            if value % 100.0 != 0.0 {
                return (value, end);
            }
            let digits = self.tokens.get(from).filter(|t| t.number && !t.money && t.norm.len() < 3);
            let rest = match digits.and_then(|t| t.norm.parse::<u32>().ok()) {
                Some(v) if from > end => Some((v, from + 1)),
                Some(_) => None,
                None if oh(self.word(from)) => {
                    small(self.word(from + 1)).filter(|v| *v < 10).map(|v| (v, from + 2))
                }
                None => self.below_hundred(from),
            };
            match rest {
                Some((v, after)) => {
                    value += f64::from(v);
                    end = after;
                }
                None => return (value, end),
            }
        }
    }

    /// Takes "point five", "point eight one" onto a group.
    fn decimals(&self, group: &mut Group, noun: &dyn Fn(usize) -> bool) {
        let from = group.last + 2;
        let (mut text, mut end) = (String::new(), from);
        while self.runs_on(end) {
            let w = self.word(end);
            if let Some(v) = small(w).filter(|v| *v < 10) {
                text.push_str(&v.to_string());
            } else if oh(w) {
                text.push('0');
            } else if text.is_empty()
                && let Some((v, after)) = self.below_hundred(end)
            {
                text.push_str(&v.to_string());
                end = after;
                break;
            } else if let Some(t) =
                self.tokens.get(end).filter(|t| t.number && text.is_empty() && !t.norm.contains('.'))
            {
                text.push_str(&t.norm);
                end += 1;
                break;
            } else {
                break;
            }
            end += 1;
        }
        // "one oh eight point five two mice": the last digit counts the mice.
        if text.len() > 1 && end - from > 1 && noun(end) {
            text.pop();
            end -= 1;
        }
        if let Ok(part) = format!("0.{text}").parse::<f64>()
            && !text.is_empty()
        {
            group.value = group.value.trunc() + part;
            group.last = end - 1;
            if group.kind != Kind::Oh {
                group.kind = match group.kind {
                    Kind::One => Kind::One,
                    Kind::Two => Kind::Two,
                    _ => Kind::Many,
                };
            }
        }
    }

    /// Reads all numbers of the run that starts at token `at`.
    ///
    /// `noun` tells whether a countable thing stands at a token, `likely` whether a mass in grams is
    /// near a bird's last weight.
    pub(crate) fn run(
        &self,
        at: usize,
        noun: &dyn Fn(usize) -> bool,
        likely: &dyn Fn(&Num) -> bool,
    ) -> Vec<Num> {
        let mut groups = Vec::new();
        let mut next = at;
        while next < self.tokens.len().min(self.end)
            && (next == at || self.runs_on(next))
            && groups.len() < 24
        {
            let joined = next > at && self.tokens[next].join == Some('-');
            match self.group(next, noun) {
                Some(g) if g.last != usize::MAX && g.last >= next => {
                    // A pronoun "one" or a leading "oh" is no number; the caller sorts out the former.
                    next = g.last + 1;
                    groups.push(g);
                }
                _ if joined => break,
                _ => break,
            }
        }
        let after = next;
        if noun(after)
            && !groups.is_empty()
            && let Some(split) = self.split_for_noun(at, after, &groups, noun, likely)
        {
            return split;
        }
        self.join(&groups, noun(after), likely)
    }

    /// "six thirty four twelve flights": the last words count the noun, the rest is a weight.
    fn split_for_noun(
        &self,
        at: usize,
        after: usize,
        groups: &[Group],
        noun: &dyn Fn(usize) -> bool,
        likely: &dyn Fn(&Num) -> bool,
    ) -> Option<Vec<Num>> {
        let lone = groups.len() == 1;
        if lone && (groups[0].value <= 60.0 || groups[0].kind != Kind::Many || groups[0].digits.is_some()) {
            return None;
        }
        for take in 1..=2 {
            let cut = after.checked_sub(take)?;
            if cut <= at {
                break;
            }
            let Some(tail) = self.group(cut, noun).filter(|g| g.last + 1 == after) else { continue };
            if tail.value > 60.0 || matches!(tail.kind, Kind::Oh) || tail.value > 1.0 && self.one_of(after) {
                continue;
            }
            let head = Reader { tokens: &self.tokens[..cut], end: cut };
            let rest = head.run(at, &|_| false, likely);
            let whole = rest.last().is_some_and(|n| n.last + 1 == cut);
            if whole && rest.iter().any(likely) {
                let mut all = rest;
                all.push(self.single(&tail));
                return Some(all);
            }
        }
        None
    }

    /// Whether the thing at a token is said of one only: "quail head", "chick and a half".
    fn one_of(&self, at: usize) -> bool {
        const PARTS: [&str; 7] = ["head", "leg", "wing", "neck", "heart", "back", "foot"];
        let next = self.word(at + 1);
        match self.word(at) {
            "day" => !matches!(self.word(at + 2), "chicks" | "cockerels") && next != "olds",
            "chick" | "mouse" | "rat" | "rabbit" | "gerbil" | "hamster" | "sparrow" | "starling"
            | "cockerel" | "hare" | "squirrel" => {
                !(PARTS.contains(&next.trim_end_matches('s')) && next.ends_with('s'))
            }
            "quail" | "pigeon" | "partridge" | "pheasant" | "duck" => PARTS.contains(&next),
            word => PARTS.contains(&word),
        }
    }

    fn single(&self, g: &Group) -> Num {
        Num {
            first: g.first,
            last: g.last,
            value: g.value,
            parts: vec![g.value],
            form: Form::Plain,
            digits: g.digits,
            money: self.tokens[g.first].money,
            minus: self.tokens[g.first].minus,
            fraction: g.kind == Kind::Fraction,
            mixed: g.mixed,
        }
    }

    fn join(&self, groups: &[Group], keep_last: bool, likely: &dyn Fn(&Num) -> bool) -> Vec<Num> {
        let mut out = Vec::new();
        let mut i = 0;
        while i < groups.len() {
            let used = self.join_at(groups, i, keep_last, likely, &mut out);
            i += used.max(1);
        }
        out
    }

    fn join_at(
        &self,
        groups: &[Group],
        i: usize,
        keep_last: bool,
        likely: &dyn Fn(&Num) -> bool,
        out: &mut Vec<Num>,
    ) -> usize {
        let g = &groups[i];
        let tie = |k: usize| groups.get(k).and_then(|g| self.tokens[g.first].join);
        let combine = |n: usize, value: f64, form| {
            let last = &groups[i + n - 1];
            Num {
                first: g.first,
                last: last.last,
                value,
                parts: groups[i..i + n].iter().map(|g| g.value).collect(),
                form,
                digits: (n == 1).then_some(g.digits).flatten(),
                money: self.tokens[g.first].money,
                minus: self.tokens[g.first].minus,
                fraction: false,
                mixed: last.mixed,
            }
        };
        // Digits tied by a mark.
        if let Some(mark) = tie(i + 1)
            && (g.digits.is_some() || mark != '-')
            && g.kind != Kind::Fraction
        {
            let b = &groups[i + 1];
            if tie(i + 2).is_some() {
                let n = (i + 1..groups.len()).take_while(|k| tie(*k).is_some()).count() + 1;
                // "6-4-2" is a number read out in single figures; longer strings are none.
                if n == 3 && groups[i..i + 3].iter().all(|g| g.kind == Kind::One) {
                    let value = groups[i].value * 100.0 + groups[i + 1].value * 10.0 + groups[i + 2].value;
                    out.push(combine(3, value, Form::Singles));
                } else {
                    out.push(combine(n, g.value, Form::Long));
                }
                return n;
            }
            let scale = if b.kind == Kind::One { 10.0 } else { 100.0 };
            if b.value < 100.0 || mark == '/' {
                if mark == '/'
                    && g.value < b.value
                    && b.value <= 16.0
                    && [2.0, 4.0, 8.0, 16.0].contains(&b.value)
                    && g.value < 16.0
                    && g.value > 0.0
                    && keep_last
                {
                    let mut half = combine(2, g.value / b.value, Form::Plain);
                    half.parts = vec![half.value];
                    half.fraction = true;
                    out.push(half);
                } else {
                    out.push(combine(2, g.value * scale + b.value, Form::Tied(mark)));
                }
                return 2;
            }
        }
        if g.kind == Kind::Fraction || self.tokens[g.first].minus {
            out.push(self.single(g));
            return 1;
        }
        let digit = |g: &Group| g.kind == Kind::One || (g.kind == Kind::Oh);
        let singles = groups[i..]
            .iter()
            .enumerate()
            .take_while(|(k, g)| (*k == 0 && g.kind == Kind::One) || (*k > 0 && digit(g)))
            .count();
        let spare = usize::from(keep_last && i + singles == groups.len());
        // "oh seven seven double oh": a telephone number, whatever follows in the run.
        if singles >= 6 || (singles >= 4 && groups.len() - i > 5) {
            out.push(combine(singles, g.value, Form::Long));
            return singles;
        }
        // "one oh eight point five": a digit, then "oh" and the rest; "six four two".
        if singles >= 2 && groups[i + 1].kind == Kind::Oh {
            if singles - spare == 3 {
                let four = combine(
                    3,
                    g.value * 1000.0 + groups[i + 1].value * 10.0 + groups[i + 2].value,
                    Form::Plain,
                );
                if likely(&Num { parts: vec![four.value], ..four.clone() }) {
                    out.push(Num { parts: vec![four.value], ..four });
                    return 3;
                }
            }
            if singles - spare >= 2 {
                out.push(combine(2, g.value * 100.0 + groups[i + 1].value, Form::Pair));
                return 2;
            }
        } else if singles >= 3 && g.digits.is_none() == groups[i + 1].digits.is_none() {
            let three =
                combine(3, g.value * 100.0 + groups[i + 1].value * 10.0 + groups[i + 2].value, Form::Singles);
            let two = combine(2, g.value * 10.0 + groups[i + 1].value, Form::Singles);
            if singles - spare >= 3 && (likely(&three) || !likely(&two)) {
                if singles - spare == 4 {
                    let four = g.value * 1000.0
                        + groups[i + 1].value * 100.0
                        + groups[i + 2].value * 10.0
                        + groups[i + 3].value;
                    let four = combine(4, four, Form::Singles);
                    if likely(&four) || !likely(&three) {
                        out.push(four);
                        return 4;
                    }
                }
                out.push(three);
                return 3;
            }
        }
        if let Some(b) = groups.get(i + 1) {
            let last = i + 2 == groups.len() && keep_last;
            let written = g.digits.is_some() || b.digits.is_some();
            let hundreds = matches!(g.kind, Kind::One | Kind::Two)
                && g.value.fract() == 0.0
                && g.value >= 1.0
                && !g.mixed;
            let rest = b.kind == Kind::Oh || (b.kind == Kind::Two && b.value >= 10.0 && b.value < 100.0);
            if hundreds && rest {
                let pair = combine(2, g.value * 100.0 + b.value, Form::Pair);
                // Figures side by side are one number only when a bird's weight says so.
                let sure = !written || b.kind == Kind::Oh && b.digits.is_none();
                if (sure && !last) || likely(&pair) {
                    out.push(pair);
                    return 2;
                }
            }
            // "600 and 42", "600 42".
            if written
                && g.value % 100.0 == 0.0
                && g.value >= 100.0
                && b.value < 100.0
                && b.kind != Kind::Fraction
                && !last
            {
                let sum = combine(2, g.value + b.value, Form::Plain);
                if likely(&sum) {
                    out.push(Num { parts: vec![g.value + b.value], ..sum });
                    return 2;
                }
            }
            // "two six and a half": pounds and ounces, if a bird's weight says so or nothing counts.
            if g.kind == Kind::One
                && b.value < 16.0
                && !last
                && b.kind != Kind::Fraction
                && !self.tokens[b.first].money
            {
                let two = combine(2, g.value * 10.0 + b.value, Form::Singles);
                if likely(&two) || (b.kind == Kind::One && !b.mixed && !written) {
                    out.push(two);
                    return 2;
                }
            }
        }
        out.push(self.single(g));
        1
    }
}

#[cfg(test)]
mod tests;
