//! Phrases and their meanings: the longest one at a place wins.

use super::sense::Sense;
use crate::tokens::{Break, Token, tokens};
use std::collections::HashMap;

/// Phrases by their first word.
#[derive(Clone, Debug, Default)]
pub(crate) struct Phrases {
    words: HashMap<String, u32>,
    by_first: HashMap<u32, Vec<Phrase>>,
}

#[derive(Clone, Debug)]
struct Phrase {
    rest: Vec<u32>,
    senses: Vec<Sense>,
}

/// A phrase found: how many tokens it took and what it may mean.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found<'l> {
    pub(crate) len: usize,
    pub(crate) senses: &'l [Sense],
}

impl Phrases {
    /// Adds a meaning to a phrase.
    pub(crate) fn add(&mut self, phrase: &str, sense: Sense) {
        let ids: Vec<u32> = tokens(phrase).into_iter().map(|t| self.id_of(t.norm)).collect();
        let Some((&first, rest)) = ids.split_first() else { return };
        let list = self.by_first.entry(first).or_default();
        match list.iter_mut().find(|p| p.rest == rest) {
            Some(p) if p.senses.contains(&sense) => {}
            Some(p) => p.senses.push(sense),
            None => list.push(Phrase { rest: rest.to_vec(), senses: vec![sense] }),
        }
    }

    /// Puts longer phrases first; needed once after the last [`Self::add`].
    pub(crate) fn settle(&mut self) {
        for list in self.by_first.values_mut() {
            list.sort_by(|a, b| b.rest.len().cmp(&a.rest.len()).then_with(|| a.rest.cmp(&b.rest)));
        }
    }

    fn id_of(&mut self, word: String) -> u32 {
        let next = u32::try_from(self.words.len()).unwrap_or(u32::MAX);
        *self.words.entry(word).or_insert(next)
    }

    /// Turns tokens into the ids that [`Self::find`] compares; `None` for a word of no phrase.
    pub(crate) fn ids(&self, tokens: &[Token]) -> Vec<Option<u32>> {
        tokens.iter().map(|t| if t.number { None } else { self.words.get(&t.norm).copied() }).collect()
    }

    /// Finds the longest phrase that starts at token `at` and crosses no comma or stop.
    pub(crate) fn find(&self, ids: &[Option<u32>], tokens: &[Token], at: usize) -> Option<Found<'_>> {
        self.find_up_to(ids, tokens, at, usize::MAX)
    }

    /// As [`Self::find`], of at most `most` tokens.
    pub(crate) fn find_up_to(
        &self,
        ids: &[Option<u32>],
        tokens: &[Token],
        at: usize,
        most: usize,
    ) -> Option<Found<'_>> {
        let list = self.by_first.get(&ids[at]?)?;
        list.iter().find_map(|p| {
            let len = p.rest.len() + 1;
            let fits = len <= most
                && at + len <= ids.len()
                && p.rest
                    .iter()
                    .enumerate()
                    .all(|(k, id)| ids[at + 1 + k] == Some(*id) && tokens[at + 1 + k].before == Break::None);
            fits.then_some(Found { len, senses: &p.senses })
        })
    }

    /// Returns the meanings of a single word.
    pub(crate) fn word(&self, word: &str) -> Option<&[Sense]> {
        let list = self.by_first.get(self.words.get(word)?)?;
        list.iter().find(|p| p.rest.is_empty()).map(|p| p.senses.as_slice())
    }

    /// Returns the meanings of a whole phrase.
    pub(crate) fn meanings(&self, phrase: &str) -> Option<Vec<Sense>> {
        let tokens = tokens(phrase);
        if tokens.is_empty() {
            return None;
        }
        let ids = self.ids(&tokens);
        let found = self.find(&ids, &tokens, 0)?;
        (found.len == tokens.len()).then(|| found.senses.to_vec())
    }
}
