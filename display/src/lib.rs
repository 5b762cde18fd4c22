//! A photo of a scale in, the digits on its display out. Pure.
