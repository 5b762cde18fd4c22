//! A transcript in, proposed entries with their words out.
//!
//! The layers, each built on the one before: `tokens` (words and digits with their places),
//! `number` (spoken numbers, several readings kept), `sheet` (phrases of the lexicon), `breath`
//! (commas for notes without punctuation), `sound` (words that only sound like the trade's), `correct`, `others`, `bind`, `time` (what was taken
//! back, whose bird, which bird, when), `kinds` (one file for each kind of entry) and `settle`
//! (the note as a whole).
//!
//! Absent on purpose: files, clocks, the network, sound and SQL. The time of the note, the birds
//! and the lexicon are arguments, so reading the same note twice gives the same entries.

mod bind;
mod breath;
mod confidence;
mod context;
mod correct;
mod draft;
mod kinds;
mod lexicon;
pub mod lines;
mod mass;
mod measure;
mod number;
mod others;
mod settle;
mod sheet;
mod sound;
mod time;
mod tokens;

pub use context::Context;
pub use lexicon::{FoodItem, Lexicon, LexiconError, Term};

/// Reads a note and returns the entries that it proposes.
///
/// `words` are the speech model's words with their probabilities, aligned to `text` by order.
/// Total: any text gives entries or none. Time and memory are linear in the length of `text`.
pub fn read(
    text: &str,
    words: Option<&[note::Word]>,
    context: &Context,
    lexicon: &Lexicon,
) -> Vec<note::Entry> {
    let mut tokens = tokens::tokens(text);
    if let Some(words) = words {
        tokens::weigh(&mut tokens, text, words);
    }
    tokens::run_on(&mut tokens);
    tokens::pounds_and_ounces(&mut tokens, context);
    let mut sheet = sheet::Sheet::new(tokens, context, lexicon);
    let unbroken = breath::pause(&mut sheet, text);
    sound::resolve(&mut sheet);
    others::strike(&mut sheet);
    correct::correct(&mut sheet);
    bind::bind(&mut sheet);
    time::place(&mut sheet, unbroken);
    let mut drafts = Vec::new();
    measure::measure(&mut sheet);
    kinds::condition::find(&mut sheet, &mut drafts);
    let marks = kinds::response::marks(&mut sheet, &mut drafts);
    let temperatures = kinds::weather::temperatures(&mut sheet);
    kinds::training::find(&mut sheet, &mut drafts);
    kinds::flights::find(&mut sheet, &mut drafts);
    kinds::food::find(&mut sheet, &mut drafts);
    kinds::quarry::find(&mut sheet, &mut drafts);
    kinds::equipment::find(&mut sheet, &mut drafts);
    kinds::weight::find(&mut sheet, &mut drafts);
    kinds::weather::find(&mut sheet, &temperatures, &mut drafts);
    kinds::response::find(&mut sheet, &marks, &mut drafts);
    kinds::behaviour::find(&mut sheet, &mut drafts);
    kinds::echo::find(&mut sheet, &mut drafts);
    kinds::remark::find(&mut sheet, &mut drafts);
    settle::settle(&sheet, drafts, text)
}
