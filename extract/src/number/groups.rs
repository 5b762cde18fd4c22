//! Words and figures to groups: "nine", "forty-two", "a hundred and five", "two and a half".

use super::{Group, Kind, Reader};
use crate::tokens::Break;

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

impl Reader<'_> {
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

    pub(super) fn measure_word(&self, at: usize) -> bool {
        matches!(
            self.word(at),
            "hundred"
                | "thousand"
                | "half"
                | "quarter"
                | "third"
                | "dozen"
                | "couple"
                | "eighth"
                | "pair"
                | "brace"
        )
    }

    pub(super) fn decimal_at(&self, at: usize) -> bool {
        let digit = self.word(at + 2);
        self.word(at + 1) == "point"
            && self.runs_on(at + 2)
            && (small(digit).is_some_and(|v| v < 10) || oh(digit))
    }

    /// A number below a hundred in words, or after an "oh".
    pub(super) fn below_hundred(&self, at: usize) -> Option<(u32, usize)> {
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
    pub(super) fn and_fraction(&self, at: usize) -> Option<(f64, usize)> {
        if self.word(at) != "and" || !self.runs_on(at) || !self.runs_on(at + 1) {
            return None;
        }
        self.fraction(at + 1).or_else(|| self.slashed(at + 1)).or_else(|| self.written_part(at + 1))
    }

    /// "an 8 ounces", "a 4th": a fraction of which only the lower figure was written.
    fn written_part(&self, at: usize) -> Option<(f64, usize)> {
        let token = self.tokens.get(at + 1).filter(|_| self.runs_on(at + 1))?;
        let part = match token.norm.as_str() {
            "8" | "8th" => 0.125,
            "4" | "4th" => 0.25,
            "16" | "16th" => 0.0625,
            _ => return None,
        };
        let ounces = self.runs_on(at + 2) && matches!(self.word(at + 2), "ounce" | "ounces" | "oz");
        (matches!(self.word(at), "a" | "an") && (ounces || !token.number)).then_some((part, at + 2))
    }

    /// "3/4" behind a whole number; not where it tells how full a crop is.
    pub(super) fn slashed(&self, at: usize) -> Option<(f64, usize)> {
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
    pub(super) fn read_out(&self, at: usize, noun: &dyn Fn(usize) -> bool) -> Option<(f64, usize)> {
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

    pub(super) fn group(&self, at: usize, noun: &dyn Fn(usize) -> bool) -> Option<Group> {
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
            // "1049 and a half a pigeon": the half is the pigeon's.
            && !(group.value >= 40.0 && matches!(self.word(end), "a" | "an") && noun(end + 1))
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

    pub(super) fn word_group(&self, at: usize) -> Option<Group> {
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
                "couple" | "pair" | "brace" => {
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
            // "two brace of partridge"
            "brace" => {
                let of = usize::from(self.word(end + 1) == "of" && self.runs_on(end + 1));
                return Some(make(end + of, f64::from(value) * 2.0, Kind::Two));
            }
            _ => 0.0,
        };
        if scale > 0.0 {
            let (value, end) = self.add_rest(f64::from(value) * scale, end + 1);
            return Some(make(end - 1, value, Kind::Many));
        }
        Some(make(end - 1, f64::from(value), if value < 10 { Kind::One } else { Kind::Two }))
    }

    /// Adds "[and] forty-two", "[and] three hundred and five" after hundreds or thousands.
    pub(super) fn add_rest(&self, value: f64, at: usize) -> (f64, usize) {
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
    pub(super) fn decimals(&self, group: &mut Group, noun: &dyn Fn(usize) -> bool) {
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
}
