//! The command line: glue only.
fn main() {}
