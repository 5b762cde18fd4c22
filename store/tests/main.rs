//! The record on real files. One binary; a module per matter:
//! `story` a keeper's week from first note to backup; `pairing` photos and weights.

mod common;
mod days;
mod pairing;
mod story;
