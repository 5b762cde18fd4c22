//! Weights as data: list, get, convert, verify and remove.
