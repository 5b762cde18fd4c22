//! The record on real files. One binary; a module per matter:
//! `story` a keeper's week from first note to backup; `pairing` photos and weights;
//! `days` weigh-ins with what followed; `keeping` backup, damage, other versions, two devices at once.

mod common;
mod days;
mod keeping;
mod pairing;
mod story;
