//! What birds spend: the published equations, each with its source.
//!
//! Absent: wind, wet and shelter, for which no model was found; a factor in the settings stands for
//! shelter. Masses in grams unless the name says kilograms.

use crate::Energy;

/// Kilojoules in a kilocalorie (thermochemical; SACN 5th ed. uses the same factor).
pub const KJ_PER_KCAL: f64 = 4.184;
/// Kilocalories a day in one watt.
pub const KCAL_PER_DAY_PER_WATT: f64 = 86.4 / KJ_PER_KCAL;

/// Returns basal power in kJ/day of a resting non-passerine: 307.5·M^0.734, M in kg.
///
/// Aschoff & Pohl 1970, as quoted in an energy budget of *Mergus squamatus*.
pub fn basal_kj_per_day(kilograms: f64) -> f64 {
    307.5 * kilograms.powf(0.734)
}

/// Returns resting power in watts of falconiforms: 34.62·M^0.64 mW.
///
/// Wasser 1986, Condor 88:57–62. The low bracket: species of hot climates.
pub fn falconiform_watts(grams: f64) -> f64 {
    34.62e-3 * grams.powf(0.64)
}

/// Returns least thermal conductance in W/°C of falconiforms: 2.96·M^0.55 mW/°C.
///
/// Wasser 1986, Condor 88:57–62.
pub fn conductance(grams: f64) -> f64 {
    2.96e-3 * grams.powf(0.55)
}

/// Returns field metabolic rate in kJ/day of birds: 10.5·M^0.681.
///
/// Nagy, Girard & Brown 1999, Annu. Rev. Nutr. 19:247–277.
pub fn field_kj_per_day(grams: f64) -> f64 {
    10.5 * grams.powf(0.681)
}

/// Returns heat loss in watts below the critical temperature: conductance times the difference.
pub fn cold_watts(grams: f64, body_c: f64, ambient_c: f64) -> f64 {
    conductance(grams) * (body_c - ambient_c).max(0.0)
}

/// Returns kJ in a gram of lost mass of which `fat` is lipid and the rest lean wet tissue.
///
/// 39.4 kJ/g lipid (Groscolas et al. 1991), 4.82 kJ/g lean: 27.1 % protein at 17.8 kJ/g.
pub fn tissue_kj_per_g(fat: f64) -> f64 {
    39.4 * fat + 0.271 * 17.8 * (1.0 - fat)
}

impl Energy {
    /// Returns the kcal a day that hold a bird of this mass.
    pub fn maintenance(&self, grams: f64) -> f64 {
        self.maintenance_kcal * (grams / 1000.0).powf(self.maintenance_exponent)
    }

    /// Returns the kcal a day that cold adds before any shelter.
    pub fn cold_kcal(&self, grams: f64, ambient_c: f64) -> f64 {
        let basal = basal_kj_per_day(grams / 1000.0) / KJ_PER_KCAL;
        (cold_watts(grams, self.body_c, ambient_c) * KCAL_PER_DAY_PER_WATT - basal).max(0.0)
    }

    /// Returns the kcal of `metres` of flapping flight.
    pub fn flight_kcal(&self, grams: f64, metres: f64) -> f64 {
        let basal = basal_kj_per_day(grams / 1000.0) / KJ_PER_KCAL;
        basal * self.flight_multiple * metres / self.flight_speed / 86_400.0
    }

    /// Returns the kcal in a gram of weight gained or lost.
    pub fn tissue_kcal(&self) -> f64 {
        self.tissue_kj_per_g / KJ_PER_KCAL
    }
}
