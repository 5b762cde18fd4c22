//! How sure a reading is: a fit of what was seen to how often such readings are right.

/// What speaks for and against a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evidence {
    /// The mean probability of the characters times the share of the cuts that gave them, over all lines, 0 to 1.
    pub text: f64,
    /// How sure the detector is that digits of a display stand here, over all lines, 0 to 1.
    pub digits: f64,
    /// How sure it is that the first line is the reading itself, 0 to 1.
    pub main: f64,
    /// Lines that make up the reading.
    pub lines: usize,
    /// Whether it has a colon, as a time has.
    pub colon: bool,
    /// Whether pounds or ounces stand beside it.
    pub pounds: bool,
    /// Whether rows were left out of it.
    pub left_out: bool,
    /// Whether another row nearly as high stands in the picture.
    pub company: bool,
    /// Whether it was read with the picture turned on its side.
    pub turned: bool,
    /// Whether it is a single character: a lone shape is soon taken for a digit.
    pub single: bool,
    /// Height of the digits, pixels.
    pub tall: f32,
}

/// What is left where more lines stand there than were taken: which of them is meant is never sure.
const WHICH_LINE: f64 = 0.9;
/// What is left of two numbers parted by a colon with no pounds or ounces beside them: more likely a time than a weight.
const TIME: f64 = 0.5;

/// Offset, then a weight for each number that `Evidence::numbers` gives; `models/display/calibrate.py` fits them.
const WEIGHTS: [f64; 11] =
    [-1.492, 0.431, 0.687, 0.139, -0.028, -1.106, -0.402, -0.856, -0.647, -0.677, 0.160];

impl Evidence {
    /// Returns the numbers that the fit weighs: log odds, then what is so (1) or not (0), then the logarithm of the
    /// digits' height by 24 pixels.
    pub fn numbers(&self) -> [f64; 10] {
        let odds = |p: f64| {
            let p = p.clamp(1e-4, 1.0 - 1e-3);
            (p / (1.0 - p)).ln()
        };
        let is = |b: bool| if b { 1.0 } else { 0.0 };
        [
            odds(self.text),
            odds(self.digits),
            odds(self.main),
            is(self.lines > 1),
            is(self.colon),
            is(self.left_out),
            is(self.company),
            is(self.turned),
            is(self.single),
            (f64::from(self.tall.max(1.0)) / 24.0).ln().min(0.0),
        ]
    }

    /// Returns the probability that the whole reading is right.
    pub(crate) fn confidence(&self) -> f64 {
        let sum: f64 = self.numbers().iter().zip(&WEIGHTS[1..]).map(|(n, w)| n * w).sum();
        let fitted = 1.0 / (1.0 + (-WEIGHTS[0] - sum).exp());
        let which = if self.left_out || self.lines > 1 && self.company { WHICH_LINE } else { 1.0 };
        let time = if self.colon && !self.pounds { TIME } else { 1.0 };
        fitted * which * time
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: Evidence = Evidence {
        text: 0.99,
        digits: 0.97,
        main: 0.95,
        lines: 1,
        colon: false,
        pounds: false,
        left_out: false,
        company: false,
        turned: false,
        single: false,
        tall: 60.0,
    };

    #[test]
    fn what_speaks_against_a_reading_lowers_its_confidence() {
        let good = GOOD.confidence();
        assert!(good > 0.9 && good < 1.0, "{good}");
        for (what, worse) in [
            ("doubtful characters", Evidence { text: 0.6, ..GOOD }),
            ("a doubtful place", Evidence { digits: 0.5, ..GOOD }),
            ("a lesser row", Evidence { main: 0.4, ..GOOD }),
            ("rows left out", Evidence { left_out: true, ..GOOD }),
            ("pounds and ounces", Evidence { colon: true, pounds: true, ..GOOD }),
            ("another row beside it", Evidence { company: true, ..GOOD }),
            ("a lone digit", Evidence { single: true, ..GOOD }),
        ] {
            let c = worse.confidence();
            assert!(c < good && c > 0.0, "{what}: {c}");
        }
        assert!(Evidence { left_out: true, ..GOOD }.confidence() < 0.9);
        assert!(Evidence { colon: true, ..GOOD }.confidence() < 0.5);
        let blind = Evidence { text: 0.0, digits: 0.0, main: 0.0, tall: 0.0, ..GOOD };
        assert!(blind.confidence() < 0.01);
    }
}
