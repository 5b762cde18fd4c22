//! What the model is told beforehand: how this keeper's notes sound.
//!
//! A prompt written like notes steadies the model more than a list of words does, and its figures decide
//! how the model writes figures: with weights as digits it writes "642", with "1 lb 9 oz" and "four out of
//! five" it wrote "six 42". The figures are nobody's: a keeper's own could be copied into the reading.

/// Text shown to the model before the sound.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prompt(String);

/// Notes as keepers speak them, with the words of the trade that the model would spell as common ones.
const NOTES: &str = "713 grams, two chicks, half crop, cast, mutes normal, bating. 984, keen, instant. Five flights on the creance \
     to the fist, longest 35 metres, then free to the lure, flew well. 2 lb 7, half a quail, day-old chick, a pheasant leg, three titbits. \
     248, mantling, footing, rousing, hood, jesses, telemetry. 867, 1,256, 108.5. Windy, 9 degrees.";
/// Letters for the birds' names and for the keeper's own words: with [`NOTES`] less than the 223 tokens that count.
const ROOM_FOR_NAMES: usize = 160;
const ROOM_FOR_WORDS: usize = 120;

impl Prompt {
    /// Shows the model nothing.
    pub fn none() -> Self {
        Self::default()
    }

    /// Takes a text as it stands; only its last 223 tokens count.
    pub fn from_text(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// Writes a prompt for a keeper's birds (names and other names for them) and own words (foods, kit, places),
    /// the most wanted first: what does not fit is left out.
    pub fn for_keeper(names: &[String], words: &[String]) -> Self {
        let parts = [list(names, ROOM_FOR_NAMES), NOTES.to_owned(), list(words, ROOM_FOR_WORDS)];
        Self(parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(" "))
    }

    /// Names the birds and nothing else: for a model that was taught the trade and how notes are written.
    pub fn for_taught(names: &[String]) -> Self {
        Self(list(names, ROOM_FOR_NAMES))
    }

    /// Returns the text.
    pub fn text(&self) -> &str {
        &self.0
    }
}

/// Writes as many items as fit, as a sentence.
fn list(items: &[String], room: usize) -> String {
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
    if !out.is_empty() {
        out.push('.');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn birds_come_first_and_own_words_last() {
        let prompt = Prompt::for_keeper(&["Wisp".into(), "Bramble".into()], &["turkey neck".into()]);
        assert!(prompt.text().starts_with("Wisp, Bramble. 713 grams"), "{}", prompt.text());
        assert!(prompt.text().ends_with("9 degrees. turkey neck."), "{}", prompt.text());
    }

    #[test]
    fn a_long_list_is_cut_between_names() {
        let many: Vec<String> = (0..200).map(|i| format!("Bird{i}")).collect();
        let prompt = Prompt::for_keeper(&many, &many);
        assert!(prompt.text().len() < NOTES.len() + ROOM_FOR_NAMES + ROOM_FOR_WORDS + 4);
        assert!(prompt.text().contains("Bird0, Bird1, "));
    }

    #[test]
    fn a_taught_model_is_told_the_names_alone() {
        assert_eq!(Prompt::for_taught(&["Wisp".into(), "Bramble".into()]).text(), "Wisp, Bramble.");
        assert_eq!(Prompt::for_taught(&[]), Prompt::none());
    }

    #[test]
    fn without_birds_the_notes_stand_alone() {
        assert_eq!(Prompt::for_keeper(&[], &[]).text(), NOTES);
        assert_eq!(Prompt::none().text(), "");
    }
}
