//! The page in the hand: confirm, day book, birds, evidence, words, settings.
