//! What the model is told beforehand: how this keeper's notes sound.
//!
//! A prompt written like notes steadies the model more than a list of words does, so the birds, foods and
//! words of the trade stand in short sentences. Its numbers are not this keeper's: a number in the prompt
//! could be copied into the reading.

/// Text shown to the model before the sound.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prompt(String);

/// Room for text: the model takes 223 tokens, and English has more than three letters a token.
const LETTERS: usize = 640;

impl Prompt {
    /// Shows the model nothing.
    pub fn none() -> Self {
        Self::default()
    }

    /// Takes a text as it stands; only its last 223 tokens count.
    pub fn from_text(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// Writes a prompt for a keeper's birds (names and other names for them) and own words (foods, kit, places).
    pub fn for_keeper(names: &[String], words: &[String]) -> Self {
        let mut text = String::from(
            "Falconry notes. On the scales, 1 lb 9 oz. Weighed in at 713 grams, a day-old chick, half a quail, rabbit and two mice. \
             Cast, mutes normal, full crop, keel sharp. Five flights on the creance to the fist, longest 35 metres, then to the lure. \
             Bating, mantling, footing, rousing, hooded, keen, response four out of five. New jesses, anklets, swivel, leash, bells and telemetry. Wind light, six degrees.",
        );
        let list = |items: &[String], room: usize| {
            let mut out = String::new();
            for item in items {
                if out.len() + item.len() + 2 > room {
                    break;
                }
                if !out.is_empty() {
                    out.push_str(", ");
                }
                out.push_str(item);
            }
            out
        };
        let own = list(words, 120);
        if !own.is_empty() {
            text.push_str(&format!(" Also {own}."));
        }
        // Last, where the model looks most: whose notes these are.
        let names = list(names, LETTERS.saturating_sub(text.len()).max(80));
        if !names.is_empty() {
            text.push_str(&format!(" Birds: {names}."));
        }
        Self(text)
    }

    /// Returns the text.
    pub fn text(&self) -> &str {
        &self.0
    }
}
