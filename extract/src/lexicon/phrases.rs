//! Phrases and their meanings: the longest one at a place wins.

use super::sense::Sense;
use crate::tokens::{Break, Token, tokens};
use std::collections::HashMap;

/// The words that some phrase is made of, each with its number.
#[derive(Clone, Debug, Default)]
pub(crate) struct Vocabulary(HashMap<String, u32>);

impl Vocabulary {
    fn id_of(&mut self, word: String) -> u32 {
        let next = u32::try_from(self.0.len()).unwrap_or(u32::MAX);
        *self.0.entry(word).or_insert(next)
    }

    /// Turns tokens into the ids that [`Phrases::find`] compares; `None` for a word of no phrase.
    pub(crate) fn ids(&self, tokens: &[Token]) -> Vec<Option<u32>> {
        tokens.iter().map(|t| if t.number { None } else { self.0.get(&t.norm).copied() }).collect()
    }
}

/// Phrases by the numbers of their first and second words.
#[derive(Clone, Debug, Default)]
pub(crate) struct Phrases {
    by_first: Vec<Opening>,
}

/// What may begin with a word: the word by itself, and longer phrases by their second word.
#[derive(Clone, Debug, Default)]
struct Opening {
    alone: Vec<Sense>,
    /// In the order of the second words once settled, the longer phrases of each first.
    longer: Vec<(u32, Vec<Phrase>)>,
}

#[derive(Clone, Debug)]
struct Phrase {
    /// The words from the third on.
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
    pub(crate) fn add(&mut self, vocabulary: &mut Vocabulary, phrase: &str, sense: Sense) {
        let ids: Vec<u32> = tokens(phrase).into_iter().map(|t| vocabulary.id_of(t.norm)).collect();
        let Some((&first, rest)) = ids.split_first() else { return };
        let first = first as usize;
        if self.by_first.len() <= first {
            self.by_first.resize_with(first + 1, Opening::default);
        }
        let opening = &mut self.by_first[first];
        let Some((&second, rest)) = rest.split_first() else {
            if !opening.alone.contains(&sense) {
                opening.alone.push(sense);
            }
            return;
        };
        let at = opening.longer.iter().position(|(id, _)| *id == second).unwrap_or_else(|| {
            opening.longer.push((second, Vec::new()));
            opening.longer.len() - 1
        });
        let list = &mut opening.longer[at].1;
        match list.iter_mut().find(|p| p.rest == rest) {
            Some(p) if p.senses.contains(&sense) => {}
            Some(p) => p.senses.push(sense),
            None => list.push(Phrase { rest: rest.to_vec(), senses: vec![sense] }),
        }
    }

    /// Puts longer phrases first; needed once after the last [`Self::add`].
    pub(crate) fn settle(&mut self) {
        for opening in &mut self.by_first {
            opening.longer.sort_by_key(|(second, _)| *second);
            for (_, list) in &mut opening.longer {
                list.sort_by(|a, b| b.rest.len().cmp(&a.rest.len()).then_with(|| a.rest.cmp(&b.rest)));
            }
        }
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
        let opening = self.by_first.get(ids[at]? as usize)?;
        let goes_on =
            |k: usize, id: u32| ids.get(k).is_some_and(|i| *i == Some(id)) && tokens[k].before == Break::None;
        let second = ids.get(at + 1).copied().flatten().filter(|_| most > 1);
        let longer = second
            .and_then(|id| opening.longer.binary_search_by_key(&id, |(second, _)| *second).ok())
            .filter(|_| tokens[at + 1].before == Break::None)
            .and_then(|group| {
                opening.longer[group].1.iter().find_map(|p| {
                    let len = p.rest.len() + 2;
                    let fits =
                        len <= most && p.rest.iter().enumerate().all(|(k, id)| goes_on(at + 2 + k, *id));
                    fits.then_some(Found { len, senses: &p.senses })
                })
            });
        longer.or_else(|| {
            (most > 0 && !opening.alone.is_empty()).then_some(Found { len: 1, senses: &opening.alone })
        })
    }

    /// Returns the meanings of a single word.
    pub(crate) fn word(&self, vocabulary: &Vocabulary, word: &str) -> Option<&[Sense]> {
        let opening = self.by_first.get(*vocabulary.0.get(word)? as usize)?;
        (!opening.alone.is_empty()).then_some(opening.alone.as_slice())
    }

    /// Returns the meanings of a whole phrase.
    pub(crate) fn meanings(&self, vocabulary: &Vocabulary, phrase: &str) -> Option<Vec<Sense>> {
        let tokens = tokens(phrase);
        if tokens.is_empty() {
            return None;
        }
        let ids = vocabulary.ids(&tokens);
        let found = self.find(&ids, &tokens, 0)?;
        (found.len == tokens.len()).then(|| found.senses.to_vec())
    }
}
