//! Birds and their dated events.

use super::Moment;
use note::{BirdId, Units};
use serde::{Deserialize, Serialize};

/// What a keeper tells of a bird. Masses in grams.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct BirdDetails {
    /// The name, as entries carry it; unique among the birds that are here.
    pub name: String,
    /// Other names in use.
    pub aliases: Vec<String>,
    /// Common name of the species.
    pub species: Option<String>,
    /// `male` or `female`.
    pub sex: Option<String>,
    /// ISO date.
    pub hatched: Option<String>,
    /// Number on the leg ring.
    pub ring: Option<String>,
    /// Number of the microchip.
    pub chip: Option<String>,
    /// Where she came from: breeder, wild taken under licence, rehabilitation.
    pub origin: Option<String>,
    /// Permits and certificates, in the keeper's words.
    pub permits: Option<String>,
    /// Never below: set by the keeper with a vet.
    pub floor_g: Option<f64>,
    /// The weight aimed for.
    pub target_g: Option<f64>,
    /// Weight when fed freely.
    pub fed_up_g: Option<f64>,
    /// The unit system that her weights are said in.
    pub units: Units,
    /// What she wears on the scale.
    pub furniture: Vec<Furniture>,
    /// Anything else.
    pub remarks: Option<String>,
}

impl BirdDetails {
    /// Returns the grams worn on the scale; `None` when nothing is known of them.
    pub fn furniture_g(&self) -> Option<f64> {
        let worn: Vec<f64> = self.furniture.iter().filter(|f| f.worn).map(|f| f.grams).collect();
        (!self.furniture.is_empty()).then(|| worn.iter().sum())
    }
}

/// A thing that a bird wears on the scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Furniture {
    /// Jesses, bell, transmitter, hood.
    pub item: String,
    /// Its mass in grams.
    pub grams: f64,
    /// Whether she wears it when she is weighed.
    pub worn: bool,
}

/// A bird of the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bird {
    /// Her id.
    pub id: BirdId,
    /// What the keeper told of her.
    pub details: BirdDetails,
    /// Set once she was transferred, lost or died; cleared when she comes back.
    pub gone: Option<BirdEventKind>,
    /// Set when her earlier history came from another keeper.
    pub from_keeper: Option<String>,
    /// When she was entered.
    pub added: Moment,
}

impl Bird {
    /// Returns what the advice needs to know of her.
    pub fn for_advice(&self) -> note::Bird {
        let d = &self.details;
        note::Bird {
            bird: d.name.clone(),
            species: d.species.clone(),
            sex: d.sex.clone(),
            hatched: d.hatched.clone(),
            floor_g: d.floor_g,
            target_g: d.target_g,
            fed_up_g: d.fed_up_g,
            furniture_g: d.furniture_g(),
            units: d.units,
        }
    }
}

note::words! {
    /// A dated event in a bird's life, as an inspector asks for it.
    BirdEventKind {
        Acquired = "acquired", Transferred = "transferred", Lost = "lost", Found = "found", Died = "died",
        Ringed = "ringed", Chipped = "chipped", Vet = "vet", Other = "other",
    }
}

impl BirdEventKind {
    /// Whether the bird is no longer here after it.
    pub fn takes_away(self) -> bool {
        matches!(self, Self::Transferred | Self::Lost | Self::Died)
    }
    /// Whether the bird is here again after it.
    pub fn brings_back(self) -> bool {
        matches!(self, Self::Acquired | Self::Found)
    }
}

/// A dated event of a bird.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BirdEvent {
    /// Its journal line.
    pub seq: i64,
    /// When it happened.
    pub at: Moment,
    /// What happened.
    pub kind: BirdEventKind,
    /// From whom, to whom, why: the keeper's words.
    pub text: String,
    /// Who entered it.
    pub by: String,
}

// ------------------------------------------------------------------------- evidence
