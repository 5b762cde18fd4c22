//! A transcript in, proposed entries with their words out. Pure.
