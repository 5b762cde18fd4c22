//! The page, asked as a browser asks it, on a record of its own in a folder of its own.

#[path = "../support/mod.rs"]
#[allow(dead_code)]
mod support;

mod confirming;
mod house;
mod pages;
mod sockets;
mod strangers;
mod uploads;
