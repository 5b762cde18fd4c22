//! WAV files on the disk itself: written so that they are whole, mended where a crash cut them off.

use super::name::{Name, What};
use super::{Medium, SpoolError};
use crate::segment::RATE;
use std::{
    fs::{self, File, OpenOptions},
    io::{self, BufWriter, Read, Seek, SeekFrom, Write},
    path::Path,
    time::{Duration, Instant},
};

/// Bytes before the first sample in the WAV files written here.
const HEADER: u64 = 44;

/// Time after which written sound is forced through to the disk itself.
const FORCE_EVERY: Duration = Duration::from_millis(900);

/// A file whose `flush` reaches the disk itself, though not more than about once a second.
pub(super) struct Forced {
    file: File,
    forced: Instant,
}

impl Forced {
    pub(super) fn create(path: &Path) -> io::Result<Self> {
        Ok(Self { file: File::create(path)?, forced: Instant::now() })
    }
}

impl Write for Forced {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.forced.elapsed() >= FORCE_EVERY {
            self.file.sync_data()?;
            self.forced = Instant::now();
        }
        Ok(())
    }
}

impl Seek for Forced {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

pub(super) fn spec() -> hound::WavSpec {
    hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    }
}

pub(super) fn to_io(error: hound::Error) -> io::Error {
    match error {
        hound::Error::IoError(e) => e,
        other => io::Error::other(other),
    }
}

pub(super) fn append<W: Write + Seek>(writer: &mut hound::WavWriter<W>, samples: &[i16]) -> io::Result<()> {
    for &sample in samples {
        writer.write_sample(sample).map_err(to_io)?;
    }
    writer.flush().map_err(to_io)
}

/// Writes a whole WAV file so that it is there complete or not at all.
pub(super) fn save(
    path: &Path,
    samples: &[i16],
    create: &dyn Fn(&Path) -> io::Result<Box<dyn Medium>>,
) -> Result<(), SpoolError> {
    let part = match path.file_name().and_then(|n| n.to_str()).and_then(Name::read) {
        Some(name) => path.with_file_name(Name { what: What::Part, ..name }.write()),
        None => path.with_extension("part"),
    };
    let written = create(&part).and_then(|medium| {
        let mut writer = hound::WavWriter::new(BufWriter::new(medium), spec()).map_err(to_io)?;
        append(&mut writer, samples)?;
        writer.finalize().map_err(to_io)?;
        File::open(&part)?.sync_all()?;
        fs::rename(&part, path)?;
        // The new name itself must survive a power cut; not every file system can promise that.
        let _ = path.parent().map(|folder| File::open(folder).and_then(|f| f.sync_all()));
        Ok(())
    });
    written.map_err(|source| {
        let _ = remove(&part);
        SpoolError::write(path, source)
    })
}

pub(super) fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
        _ => Ok(()),
    }
}

/// Reads the samples of a WAV file written here, by its size rather than its header.
pub(super) fn read_samples(path: &Path) -> io::Result<Vec<i16>> {
    let mut bytes = Vec::new();
    File::open(path)?.read_to_end(&mut bytes)?;
    let sound = bytes.get(HEADER as usize..).unwrap_or_default();
    Ok(sound.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect())
}

/// Makes the header of a file given up agree with what the file holds; needs no room.
pub(super) fn mend(path: &Path) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).open(path)?;
    let length = file.metadata()?.len();
    let Some(sound) = length.checked_sub(HEADER) else {
        // Not even a header fitted: an empty file says nothing.
        return remove(path);
    };
    let sound = sound - sound % 2;
    file.set_len(HEADER + sound)?;
    let too_long = |_| io::Error::other("file too long");
    file.seek(SeekFrom::Start(4))?;
    file.write_all(&u32::try_from(sound + HEADER - 8).map_err(too_long)?.to_le_bytes())?;
    file.seek(SeekFrom::Start(HEADER - 4))?;
    file.write_all(&u32::try_from(sound).map_err(too_long)?.to_le_bytes())
}
