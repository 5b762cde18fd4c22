//! Spoken and written numbers.
//!
//! A run of number words is cut into groups ("nine", "forty-two") and the groups are joined into
//! numbers as people say them ("nine forty-two" is 942, but may be nine and forty-two, or 9:42).
//! A [`Num`] keeps its groups, so that what stands around it can decide later.

mod groups;
mod join;

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
}

#[cfg(test)]
mod tests;
