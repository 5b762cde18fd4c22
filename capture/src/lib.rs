//! Sound and photos in: any container to 16 kHz samples, any photo to upright pixels, time and place told by the file.
pub mod cue;
pub mod listen;
pub mod mic;
pub mod photo;
pub mod segment;
pub mod sound;
pub mod spool;
pub mod watch;
