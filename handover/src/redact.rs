//! Keeping other birds out of one bird's history.

use note::{Entry, Value};
use regex::Regex;
use store::{Bird, Store, StoreError};

/// What stands where another bird was named.
const ANOTHER: &str = "[another bird]";

/// The names of all birds but one; `None` where there is no other.
pub(crate) struct Others(Option<Regex>);

impl Others {
    pub(crate) fn of(store: &Store, bird: &Bird) -> store::Result<Self> {
        let own: Vec<String> = names(bird).collect();
        let mut out: Vec<String> = store
            .all_birds()?
            .iter()
            .filter(|other| other.id != bird.id)
            .flat_map(|other| names(other).collect::<Vec<_>>())
            .filter(|name| !own.contains(name))
            .collect();
        // Longest first, so that "Old Flint" goes before "Flint".
        out.sort_by_key(|name| std::cmp::Reverse(name.len()));
        out.dedup();
        let any: Vec<String> = out.iter().map(|name| regex::escape(name)).collect();
        if any.is_empty() {
            return Ok(Self(None));
        }
        let names = Regex::new(&format!("(?i){}", any.join("|")));
        // Never without it: that would hand over other birds' names.
        let names =
            names.map_err(|e| StoreError::Refused(format!("the other birds' names are too many ({e})")))?;
        Ok(Self(Some(names)))
    }

    /// Whether a text names another bird.
    pub(crate) fn named_in(&self, text: &str) -> bool {
        self.find(text).is_some()
    }

    /// Puts "[another bird]" wherever one is named.
    pub(crate) fn without(&self, text: &str) -> String {
        let (mut out, mut rest) = (String::new(), text);
        while let Some((from, to)) = self.find(rest) {
            out.push_str(&rest[..from]);
            out.push_str(ANOTHER);
            rest = &rest[to..];
        }
        out + rest
    }

    /// Takes other birds' names out of an entry; returns whether any was there.
    pub(crate) fn take_out(&self, entry: &mut Entry) -> bool {
        let mut any = false;
        if self.named_in(&entry.quote) {
            entry.quote = String::new();
            entry.span = [0, 0];
            any = true;
        }
        let texts: Vec<&mut String> = match &mut entry.value {
            Value::Remark(remark) => vec![&mut remark.text],
            Value::Equipment(equipment) => vec![&mut equipment.item],
            Value::Condition(condition) => vec![&mut condition.reading],
            Value::Food(food) => vec![&mut food.item],
            Value::Quarry(quarry) => vec![&mut quarry.species],
            Value::Behaviour(behaviour) => vec![&mut behaviour.word],
            _ => vec![],
        };
        for text in texts {
            if self.named_in(text) {
                *text = self.without(text);
                any = true;
            }
        }
        any
    }

    /// Finds another bird's name as a word of its own; byte positions in the text.
    fn find(&self, text: &str) -> Option<(usize, usize)> {
        let names = self.0.as_ref()?;
        let mut from = 0;
        while let Some(found) = names.find_at(text, from) {
            let before = text[..found.start()].chars().next_back();
            let after = text[found.end()..].chars().next();
            if !before.is_some_and(char::is_alphanumeric) && !after.is_some_and(char::is_alphanumeric) {
                return Some((found.start(), found.end()));
            }
            from = found.start() + text[found.start()..].chars().next().map_or(1, char::len_utf8);
        }
        None
    }
}

fn names(bird: &Bird) -> impl Iterator<Item = String> + '_ {
    std::iter::once(&bird.details.name)
        .chain(&bird.details.aliases)
        .map(|name| name.trim().to_lowercase())
        .filter(|name| !name.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_birds_are_taken_out_as_words_of_their_own() {
        let names = ["old flint", "flint", "bird", "ängla"];
        let others = Others(Regex::new(&format!("(?i){}", names.join("|"))).ok());
        let cases = [
            ("squabbled with FLINT again", "squabbled with [another bird] again"),
            ("Old Flint's perch", "[another bird]'s perch"),
            ("flinty ground, birdsong", "flinty ground, birdsong"),
            ("the bird, the bird", "the [another bird], the [another bird]"),
            ("Ängla and flint", "[another bird] and [another bird]"),
            ("", ""),
        ];
        for (text, want) in cases {
            assert_eq!(others.without(text), want);
            assert_eq!(others.named_in(text), text != want);
        }
        assert_eq!(Others(None).without("flint"), "flint");
    }
}
