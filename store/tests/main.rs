//! The record on real files. One binary; a module per matter:
//! `story` a keeper's week from first note to backup; `pairing` photos and weights;
//! `days` weigh-ins with what followed; `keeping` backup, damage, other versions, two devices at once;
//! `crash` kills and disks that are full, closed or read-only; `replay` random lives of a record.

mod common;
mod crash;
mod days;
mod keeping;
mod pairing;
mod replay;
mod story;
