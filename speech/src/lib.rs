//! Samples in, a transcript with word times and probabilities out.
