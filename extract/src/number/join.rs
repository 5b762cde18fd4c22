//! Groups to numbers, as people say them: pairs, single figures, marks between digits.

use super::{Form, Group, Kind, Num, Reader};

impl Reader<'_> {
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
    pub(super) fn split_for_noun(
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
    pub(super) fn one_of(&self, at: usize) -> bool {
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

    pub(super) fn single(&self, g: &Group) -> Num {
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

    pub(super) fn join(&self, groups: &[Group], keep_last: bool, likely: &dyn Fn(&Num) -> bool) -> Vec<Num> {
        let mut out = Vec::new();
        let mut i = 0;
        while i < groups.len() {
            let used = self.join_at(groups, i, keep_last, likely, &mut out);
            i += used.max(1);
        }
        out
    }

    pub(super) fn join_at(
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
            // "555-0142": a telephone number.
            let written = |g: &Group| self.tokens[g.first].norm.len();
            if mark == '-' && written(b) >= 3 && b.digits.is_some() && (written(b) > 3 || b.value < 100.0) {
                out.push(combine(2, g.value, Form::Long));
                return 2;
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
