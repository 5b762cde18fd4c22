//! What is known of foods as fed. The basis of every energy is stated; nothing is multiplied twice.
//!
//! Sources: Small Animal Clinical Nutrition, 5th ed., Table 71-5 (whole prey, Atwater-type values);
//! Duke, Ciganek & Evanson 1973 (metabolisable energy measured in great horned owls, 10 to 14 % lower);
//! USDA National Nutrient Database SR28 (cuts, NDB numbers beside each). Absent: parts without a source.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What an energy figure means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Measured in a bird: what it can use.
    Metabolisable,
    /// By Atwater factors: close to metabolisable.
    Atwater,
    /// Heat of burning: multiplied by [`GROSS_TO_USABLE`].
    Gross,
}

/// Share of gross energy that a raptor can use (0.68 to 0.85: Duke et al. 1973, Barton & Houston 1993).
pub const GROSS_TO_USABLE: f64 = 0.75;
/// Measured over Atwater energy in an owl on whole prey: 4.151/4.8 and 4.304/4.8 kcal per g dry matter,
/// the middle (Duke et al. 1973 over SACN 5th ed.).
pub const ATWATER_TO_USABLE: f64 = 0.88;

/// What is known of one food, as fed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FoodFact {
    /// Canonical item, or the keeper's own word.
    pub item: Cow<'static, str>,
    /// Mass of one, grams; `None` for food that is only weighed.
    #[serde(default)]
    pub mass_g: Option<f64>,
    /// Kilocalories in a gram as fed, on `basis`.
    pub kcal_per_g: f64,
    /// What the energy means.
    pub basis: Basis,
    /// Water, as a share of mass as fed.
    #[serde(default)]
    pub water: Option<f64>,
    /// Whether it brings a casting.
    #[serde(default)]
    pub casting: bool,
}

impl FoodFact {
    /// Returns the kilocalories a bird can use from one gram as fed.
    pub fn usable_kcal_per_g(&self) -> f64 {
        self.kcal_per_g
            * match self.basis {
                Basis::Metabolisable => 1.0,
                Basis::Atwater => ATWATER_TO_USABLE,
                Basis::Gross => GROSS_TO_USABLE,
            }
    }
}

const fn food(
    item: &'static str,
    mass_g: Option<f64>,
    kcal_per_g: f64,
    basis: Basis,
    water: Option<f64>,
    casting: bool,
) -> FoodFact {
    FoodFact { item: Cow::Borrowed(item), mass_g, kcal_per_g, basis, water, casting }
}

use Basis::{Atwater, Metabolisable};

/// The built-in foods, by the canonical words of the entry contract.
#[rustfmt::skip]
pub static TABLE: &[FoodFact] = &[
    // P: SACN 5th ed., Table 71-5.
    food("day-old chick", Some(40.0), 1.30, Atwater, Some(0.73), true),
    food("mouse", Some(27.0), 1.70, Atwater, Some(0.65), true),
    food("rat", Some(330.0), 1.60, Atwater, Some(0.66), true),
    // P energy: USDA SR28, NDB 05157 quail meat and skin. Mass of a whole bird: C, 140 to 220 g.
    food("quail", Some(180.0), 1.92, Atwater, Some(0.6965), true),
    // P energy: NDB 05161 squab, meat only. Mass: C, 250 to 400 g.
    food("pigeon", Some(300.0), 1.42, Atwater, Some(0.728), true),
    // P: NDB 05153, 17177, 17180, 13227. Weighed, not counted.
    food("pheasant", None, 1.81, Atwater, Some(0.6777), true),
    food("rabbit", None, 1.36, Atwater, Some(0.7282), false),
    food("hare", None, 1.14, Atwater, Some(0.7451), false),
    food("beef", None, 1.28, Atwater, Some(0.7303), false),
    // P energy of dry matter: Duke et al. 1973, turkey poults 4.151 kcal/g; water as a chick. Mass: C, 45 to 70 g.
    food("turkey", Some(55.0), 1.12, Metabolisable, Some(0.73), true),
    // M: like mice; masses from memory.
    food("gerbil", Some(70.0), 1.70, Atwater, Some(0.66), true),
    food("hamster", Some(100.0), 1.70, Atwater, Some(0.66), true),
    food("sparrow", Some(27.0), 1.50, Atwater, Some(0.68), true),
    food("starling", Some(80.0), 1.50, Atwater, Some(0.68), true),
    // M: lean game and meat, from memory.
    food("squirrel", None, 1.20, Atwater, Some(0.74), false),
    food("partridge", None, 1.34, Atwater, Some(0.70), false),
    food("duck", None, 1.50, Atwater, Some(0.70), false),
    food("chicken", None, 1.40, Atwater, Some(0.72), false),
    food("venison", None, 1.20, Atwater, Some(0.74), false),
    food("meat", None, 1.30, Atwater, Some(0.73), false),
    // Gap: nothing published on what washing takes out. C: about a quarter; set your own.
    food("washed meat", None, 0.95, Atwater, Some(0.80), false),
    // C: a small bite of lean meat.
    food("tidbit", Some(3.0), 1.28, Atwater, Some(0.73), false),
    // Stones: no energy, and passed or cast.
    food("rangle", Some(0.0), 0.0, Metabolisable, None, false),
];

/// Shares of a small whole prey that its parts make up. M: from memory; the yolk 2 to 8 g of 40 (D, Hatchery Signals).
const PARTS: &[(&str, f64)] = &[
    ("head", 0.14),
    ("neck", 0.05),
    ("leg", 0.12),
    ("wing", 0.06),
    ("breast", 0.14),
    ("heart", 0.01),
    ("liver", 0.03),
    ("back", 0.18),
    ("foot", 0.03),
    ("yolk", 0.10),
];

/// Returns the share of the whole item that a part makes up; `None` for a part not known.
pub fn part_share(part: &str) -> Option<f64> {
    if part.eq_ignore_ascii_case("whole") {
        return Some(1.0);
    }
    PARTS.iter().find(|(name, _)| name.eq_ignore_ascii_case(part)).map(|&(_, share)| share)
}
