//! From characters and a unit to a mass.

use note::{GRAMS_PER_OUNCE, GRAMS_PER_POUND, Grams, MassUnit};

/// Tells whether characters are a number such as a display shows: digits, at most one point within or before
/// them, a minus only in front; or pounds and ounces with a colon between.
pub fn is_number(text: &str) -> bool {
    parse(text).is_some()
}

enum Number {
    Plain(f64),
    Pair(f64, f64),
}

fn plain(text: &str) -> Option<f64> {
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    let points = text.bytes().filter(|b| *b == b'.').count();
    (digits > 0 && points <= 1 && digits + points == text.len() && !text.ends_with('.'))
        .then(|| text.parse().ok())?
}

fn parse(text: &str) -> Option<Number> {
    if let Some((a, b)) = text.split_once(':') {
        return Some(Number::Pair(plain(a).filter(|_| !a.contains('.'))?, plain(b)?));
    }
    match text.strip_prefix('-') {
        Some(rest) => plain(rest).map(|v| Number::Plain(-v)),
        None => plain(text).map(Number::Plain),
    }
}

/// Converts a reading to grams. `None` when no unit was seen, the number is negative, or it is no number.
///
/// Factors: NIST Handbook 44, Appendix C (exact). What was pounds or ounces is given to a tenth of a gram: no scale
/// of these marks shows finer. Grams stay as shown.
pub fn grams(reading: &str, unit: Option<MassUnit>) -> Option<Grams> {
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    let mass = match (parse(reading)?, unit?) {
        (Number::Plain(v), MassUnit::G) => v,
        // A milligram is far below what any scale here shows; it takes out what binary fractions leave over.
        (Number::Plain(v), MassUnit::Kg) => (v * 1e6).round() / 1e3,
        (Number::Plain(v), MassUnit::Oz) => tenth(v * GRAMS_PER_OUNCE),
        (Number::Plain(v), MassUnit::Lb) => tenth(v * GRAMS_PER_POUND),
        (Number::Pair(lb, oz), MassUnit::LbOz | MassUnit::Lb | MassUnit::Oz) if oz < 16.0 => {
            tenth(lb * GRAMS_PER_POUND + oz * GRAMS_PER_OUNCE)
        }
        _ => return None,
    };
    Grams::new(mass).ok()
}

/// Tells whether a display that shows this reading can carry this unit: pounds and ounces together have a colon.
pub(crate) fn suits(reading: &str, unit: MassUnit) -> bool {
    match unit {
        MassUnit::LbOz => reading.contains(':'),
        MassUnit::G | MassUnit::Kg => !reading.contains([':', '/']),
        MassUnit::Lb | MassUnit::Oz => !reading.contains('/'),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked from NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g, 1 oz = 28.349 523 125 g.
    #[test]
    fn readings_become_grams() {
        use MassUnit::{G, Kg, Lb, LbOz, Oz};
        for (reading, unit, want) in [
            ("642", Some(G), Some(642.0)),
            ("0.846", Some(Kg), Some(846.0)),
            ("1085.5", Some(G), Some(1085.5)),
            (".5", Some(Kg), Some(500.0)),
            ("22.65", Some(Oz), Some(642.1)),
            ("2.5", Some(Lb), Some(1_134.0)),
            ("1:8.5", Some(LbOz), Some(694.6)),
            ("2:03", Some(Lb), Some(992.2)),
            ("1:16", Some(LbOz), None),
            ("1.5:2", Some(LbOz), None),
            ("1.005", Some(Kg), Some(1005.0)),
            ("185.15", Some(G), Some(185.15)),
            ("34.5", Some(Oz), Some(978.1)),
            ("642", None, None),
            ("-3", Some(G), None),
            ("12:08", Some(G), None),
            ("129/72/87", Some(G), None),
            ("", Some(G), None),
            ("1.2.3", Some(G), None),
            ("999999", Some(G), None),
        ] {
            let got = grams(reading, unit).map(Grams::get);
            match (got, want) {
                (Some(g), Some(w)) => assert!((g - w).abs() < 1e-9, "{reading} {unit:?}: {g}"),
                _ => assert_eq!(got, want, "{reading} {unit:?}"),
            }
        }
    }

    #[test]
    fn what_is_no_number_is_told() {
        for (text, number) in [
            ("0.00", true),
            ("-0.0045", true),
            ("05.51", true),
            ("1:8.5", true),
            ("-", false),
            ("4.", false),
            ("1-2", false),
            ("..", false),
            (":5", false),
            ("", false),
        ] {
            assert_eq!(is_number(text), number, "{text}");
        }
    }
}
