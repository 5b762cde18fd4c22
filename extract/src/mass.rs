//! What a spoken number may mean as a body weight.

use crate::number::{Form, Num};
use note::{GRAMS_PER_OUNCE, GRAMS_PER_POUND, Units};

/// How far from the last weight a weight may be before it is implausible: the contract's 8 %.
pub(crate) const PLAUSIBLE: f64 = 0.08;

/// One reading of a bare number as a weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reading {
    pub(crate) grams: f64,
    /// Said in pounds or ounces without naming them.
    pub(crate) imperial: bool,
    /// How far-fetched the reading is; 0 is what the words say.
    pub(crate) cost: f64,
}

/// Returns how far `grams` lies from `last`, as a share of `last`.
pub(crate) fn distance(grams: f64, last: f64) -> f64 {
    (grams - last).abs() / last
}

/// Rounds to the contract's tenth of a gram.
pub(crate) fn tenth(grams: f64) -> f64 {
    (grams * 10.0).round() / 10.0
}

/// Returns the nearest distance to any of the last weights.
pub(crate) fn nearest(grams: f64, lasts: &[f64]) -> f64 {
    lasts.iter().map(|l| distance(grams, *l)).fold(f64::INFINITY, f64::min)
}

/// Whether some reading of the number lies near one of the last weights.
pub(crate) fn near_any(num: &Num, lasts: &[f64]) -> bool {
    readings(num, None).iter().any(|r| nearest(r.grams, lasts) <= PLAUSIBLE)
}

/// Lists the readings of a number said without a unit, the plainest first.
pub(crate) fn readings(num: &Num, units: Option<Units>) -> Vec<Reading> {
    let avoirdupois = units == Some(Units::Avoirdupois);
    let mut out = Vec::with_capacity(6);
    let mut add = |grams: f64, imperial: bool, cost: f64| {
        if grams > 0.0 && grams < 20_000.0 {
            let system = if imperial == avoirdupois { 0.0 } else { 0.4 };
            out.push(Reading { grams: tenth(grams), imperial, cost: cost + system });
        }
    };
    if num.form == Form::Long || num.minus || (num.fraction && !avoirdupois) {
        return out;
    }
    let pounds = |p: f64, o: f64| p * GRAMS_PER_POUND + o * GRAMS_PER_OUNCE;
    match (num.form, num.parts.as_slice()) {
        (Form::Plain, [v]) => {
            add(*v, false, 0.0);
            if let Some(decimals) = num.digits {
                written(*v, decimals, &mut add);
                if decimals > 0 && v.trunc() < 20.0 {
                    // "1.6" for one pound six, "2.11" for two pounds eleven.
                    let ounces = (v.fract() * 10f64.powi(i32::from(decimals))).round();
                    if ounces < 16.0 {
                        add(pounds(v.trunc(), ounces), true, 0.1);
                    }
                }
                if decimals == 0 && (10.0..1000.0).contains(v) {
                    // "26" for two six, "211" for two eleven.
                    let (p, o) = if *v < 100.0 {
                        ((v / 10.0).floor(), v % 10.0)
                    } else {
                        ((v / 100.0).floor(), v % 100.0)
                    };
                    if o < 16.0 && o > 0.0 {
                        add(pounds(p, o), true, 0.2);
                    }
                }
            }
            if *v < 100.0 {
                add(v * GRAMS_PER_OUNCE, true, 0.05);
            }
            if *v < 12.0 && v.fract() != 0.0 && !num.mixed && !num.fraction {
                // Kilos left unsaid: "one point seven nine".
                add(v * 1000.0, false, 0.15);
            }
        }
        (Form::Pair, [a, b]) => {
            add(a * 100.0 + b, false, 0.0);
            if *b < 16.0 && *a < 20.0 {
                add(pounds(*a, *b), true, 0.0);
            }
        }
        (Form::Singles, [a, b]) => {
            add(pounds(*a, *b), true, 0.0);
            if b.fract() == 0.0 {
                add(a * 10.0 + b, false, 0.1);
            } else {
                // "one oh six point eight" loses its "oh" easily.
                add(a * 100.0 + b, false, 0.3);
            }
        }
        (Form::Singles, [a, b, c]) => {
            add(a * 100.0 + b * 10.0 + c, false, 0.0);
            if b * 10.0 + c < 16.0 {
                add(pounds(*a, b * 10.0 + c), true, 0.2);
            }
        }
        (Form::Singles, [a, b, c, d]) => add(a * 1000.0 + b * 100.0 + c * 10.0 + d, false, 0.0),
        (Form::Tied(mark), [a, b]) => {
            let dear = if mark == ':' { 0.2 } else { 0.1 };
            if *b >= 10.0 {
                add(a * 100.0 + b, false, dear);
            } else {
                add(a * 10.0 + b, false, 0.3);
                add(a * 100.0 + b, false, 0.35);
            }
            if *b < 16.0 && *a < 20.0 {
                add(pounds(*a, *b), true, dear);
            }
        }
        _ => {}
    }
    out.sort_by(|x, y| x.cost.total_cmp(&y.cost));
    out
}

/// Readings of digits as speech models write them: "10.62" for 1062, "3004.2" for 304.2.
fn written(v: f64, decimals: u8, add: &mut impl FnMut(f64, bool, f64)) {
    let scale = 10f64.powi(i32::from(decimals));
    if decimals > 0 {
        add((v * scale).round(), false, if decimals == 2 { 0.1 } else { 0.3 });
    }
    let whole = v.trunc();
    // "8708" for eight seventy eight.
    if (1000.0..10_000.0).contains(&whole) && (whole / 10.0).trunc() % 10.0 == 0.0 && whole % 10.0 > 0.0 {
        add((whole / 10.0).trunc() + whole % 10.0 + v.fract(), false, 0.2);
    }
    // "three hundred [and] four point two" written one after the other.
    if (1000.0..100_000.0).contains(&whole) {
        let hundreds = (whole / 1000.0).trunc();
        let rest = whole % 1000.0;
        if rest < 10.0 && hundreds < 10.0 {
            add(hundreds * 100.0 + rest + v.fract(), false, 0.1);
        }
        // "60042" for six hundred and forty-two.
        let hundreds = (whole / 10_000.0).trunc();
        if whole >= 10_000.0 && whole % 10_000.0 < 100.0 {
            add(hundreds * 100.0 + whole % 100.0 + v.fract(), false, 0.1);
        }
        // "90042" was the above; "9042" for nine hundred and forty-two.
        let rest = whole % 1000.0;
        if whole < 10_000.0 && (10.0..100.0).contains(&rest) {
            add((whole / 1000.0).trunc() * 100.0 + rest + v.fract(), false, 0.3);
        }
    }
}

/// A weight chosen from the readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Choice {
    pub(crate) grams: f64,
    pub(crate) imperial: bool,
    /// Distance from the last weight, if one is known.
    pub(crate) off: Option<f64>,
    /// Another reading was as good.
    pub(crate) rival: bool,
    pub(crate) cost: f64,
}

/// Chooses the reading that the last weights bear out, else the plainest that is at all possible.
pub(crate) fn choose(readings: &[Reading], lasts: &[f64]) -> Option<Choice> {
    let near = |r: &&Reading| nearest(r.grams, lasts) <= PLAUSIBLE;
    let mut fits: Vec<&Reading> = readings.iter().filter(near).collect();
    fits.sort_by(|a, b| {
        let weight = |r: &Reading| r.cost + nearest(r.grams, lasts) * 2.0;
        weight(a).total_cmp(&weight(b))
    });
    if let Some(best) = fits.first() {
        let rival = fits.iter().any(|r| (r.grams - best.grams).abs() > 0.2 && r.cost <= best.cost + 0.1);
        return Some(Choice {
            grams: best.grams,
            imperial: best.imperial,
            off: Some(nearest(best.grams, lasts)),
            rival,
            cost: best.cost,
        });
    }
    let possible = |r: &&Reading| {
        lasts.is_empty() && (40.0..9000.0).contains(&r.grams)
            || lasts.iter().any(|l| (0.55..1.7).contains(&(r.grams / l)))
    };
    // Far-fetched readings need a last weight to bear them out: "37.3" alone is not 373 g.
    let plain = |r: &&Reading| !lasts.is_empty() || r.cost <= 0.05 || r.imperial;
    let options: Vec<&Reading> = readings.iter().filter(possible).filter(plain).collect();
    let best = options.first()?;
    let rival = options.iter().any(|r| (r.grams - best.grams).abs() > 0.2 && r.cost <= best.cost + 0.15);
    Some(Choice {
        grams: best.grams,
        imperial: best.imperial,
        off: (!lasts.is_empty()).then(|| nearest(best.grams, lasts)),
        rival,
        cost: best.cost,
    })
}
