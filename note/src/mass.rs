//! Body mass, always in grams inside the program.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Grams in one avoirdupois pound, exact (NIST Handbook 44, Appendix C: 0.453 592 37 kg).
pub const GRAMS_PER_POUND: f64 = 453.592_37;
/// Grams in one avoirdupois ounce, exact: a sixteenth of a pound.
pub const GRAMS_PER_OUNCE: f64 = GRAMS_PER_POUND / 16.0;

/// A mass in grams: finite, not negative, at most 100 kg.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Grams(f64);

/// Occurs when a number cannot be a mass that this program deals with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NotAMass(pub f64);

impl fmt::Display for NotAMass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is no mass between 0 and 100 kg", self.0)
    }
}
impl std::error::Error for NotAMass {}

impl Grams {
    /// Takes a number of grams between 0 and 100 000.
    pub fn new(grams: f64) -> Result<Self, NotAMass> {
        if grams.is_finite() && (0.0..=100_000.0).contains(&grams) {
            Ok(Self(grams))
        } else {
            Err(NotAMass(grams))
        }
    }
    /// Returns the number of grams.
    pub fn get(self) -> f64 {
        self.0
    }
    /// Rounds to a tenth of a gram, the precision of the entry contract.
    pub fn to_tenth(self) -> Self {
        Self((self.0 * 10.0).round() / 10.0)
    }
    /// Converts from avoirdupois pounds and ounces.
    pub fn from_pounds_ounces(pounds: f64, ounces: f64) -> Result<Self, NotAMass> {
        Self::new(pounds * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE)
    }
    /// Splits into whole pounds and the ounces left over.
    pub fn pounds_ounces(self) -> (u32, f64) {
        let pounds = (self.0 / GRAMS_PER_POUND).floor();
        (pounds as u32, (self.0 - pounds * GRAMS_PER_POUND) / GRAMS_PER_OUNCE)
    }
}

impl TryFrom<f64> for Grams {
    type Error = NotAMass;
    fn try_from(grams: f64) -> Result<Self, NotAMass> {
        Self::new(grams)
    }
}
impl From<Grams> for f64 {
    fn from(grams: Grams) -> f64 {
        grams.0
    }
}
impl fmt::Display for Grams {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.fract() == 0.0 { write!(f, "{:.0} g", self.0) } else { write!(f, "{:.1} g", self.0) }
    }
}

/// The unit in which a weight was spoken or shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum MassUnit {
    /// Grams.
    #[serde(rename = "g")]
    G,
    /// Kilograms, also "four kilos three hundred".
    #[serde(rename = "kg")]
    Kg,
    /// Avoirdupois ounces.
    #[serde(rename = "oz")]
    Oz,
    /// Avoirdupois pounds.
    #[serde(rename = "lb")]
    Lb,
    /// Pounds and ounces together.
    #[serde(rename = "lb oz")]
    LbOz,
}

/// How well a bird answered, 1 (none or refused) to 5 (immediate).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct Grade(u8);

impl Grade {
    /// Takes a grade of 1 to 5; `None` outside.
    pub fn new(grade: u8) -> Option<Self> {
        (1..=5).contains(&grade).then_some(Self(grade))
    }
    /// Returns the number, 1 to 5.
    pub fn get(self) -> u8 {
        self.0
    }
}
impl TryFrom<u8> for Grade {
    type Error = String;
    fn try_from(grade: u8) -> Result<Self, String> {
        Self::new(grade).ok_or_else(|| format!("{grade} is no grade from 1 to 5"))
    }
}
impl From<Grade> for u8 {
    fn from(grade: Grade) -> u8 {
        grade.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST Handbook 44 (2024), Appendix C: 1 lb = 453.592 37 g, 1 oz = 28.349 523 125 g, exactly.
    #[test]
    fn avoirdupois_factors_are_exact() {
        assert_eq!(GRAMS_PER_POUND, 453.592_37);
        assert_eq!(GRAMS_PER_OUNCE, 28.349_523_125);
        let worked = Grams::from_pounds_ounces(1.0, 8.5).unwrap();
        assert!((worked.get() - 694.563_317).abs() < 1e-6);
        let (pounds, ounces) = Grams::new(1000.0).unwrap().pounds_ounces();
        assert_eq!(pounds, 2);
        assert!((ounces - 3.273_962).abs() < 1e-6);
    }

    #[test]
    fn no_mass_is_negative_endless_or_absurd() {
        for bad in [-0.1, f64::NAN, f64::INFINITY, 100_000.1] {
            assert!(Grams::new(bad).is_err(), "{bad}");
        }
    }
}
