//! Containers apart, packets to samples.

use super::resample::Resampler;
use super::{Limits, SoundError};
use chrono::{DateTime, FixedOffset};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::LazyLock;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::meta::{MetadataOptions, StandardTag};
use symphonia_adapter_libopus::OpusDecoder;

/// What came out of a recording.
pub(super) struct Decoded {
    pub(super) samples: Vec<f32>,
    pub(super) container: String,
    pub(super) codec: String,
    pub(super) broken_off: bool,
    /// The time of recording that its tags tell.
    pub(super) tagged: Option<DateTime<FixedOffset>>,
}

static CODECS: LazyLock<CodecRegistry> = LazyLock::new(|| {
    let mut codecs = CodecRegistry::new();
    symphonia::default::register_enabled_codecs(&mut codecs);
    codecs.register_audio_decoder::<OpusDecoder>();
    codecs
});

/// Sample rates of anything that is meant to be listened to, hertz.
const RATES: std::ops::RangeInclusive<u32> = 4_000..=192_000;

/// Decodes a recording; a decoder that panics on foreign bytes counts as damage.
pub(super) fn decode(source: Box<dyn MediaSource>, limits: &Limits) -> Result<Decoded, SoundError> {
    catch_unwind(AssertUnwindSafe(|| decode_inner(source, limits)))
        .unwrap_or_else(|_| Err(SoundError::Damaged { why: "it cannot be taken apart".to_owned() }))
}

fn decode_inner(source: Box<dyn MediaSource>, limits: &Limits) -> Result<Decoded, SoundError> {
    let stream = MediaSourceStream::new(source, Default::default());
    let probe = symphonia::default::get_probe();
    let mut format = probe
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(cannot_open)?;
    let container = format.format_info().short_name.to_owned();
    let mut open = open_track(&*format)?;
    let tagged = time_in_tags(&mut *format);
    let mut out = Output {
        resampler: None,
        samples: Vec::new(),
        limit: (limits.seconds * f64::from(super::SAMPLE_RATE)) as usize,
    };
    let (mut broken_off, mut damage, mut scratch) = (false, None, Vec::new());
    loop {
        let packet = match format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => break,
            Err(Error::ResetRequired) => {
                // A chained Ogg: the next stream begins.
                open = open_track(&*format)?;
                continue;
            }
            Err(why) => {
                // A recorder in a browser never writes the proper end, so only a damaged stream is news.
                broken_off = !matches!(&why, Error::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof && container == "matroska");
                damage = Some(why.to_string());
                break;
            }
        };
        if packet.track_id != open.track {
            continue;
        }
        match open.decoder.decode(&packet) {
            Ok(buffer) => {
                let (rate, channels) = (buffer.spec().rate(), buffer.spec().channels().count());
                if !RATES.contains(&rate) || channels == 0 {
                    return Err(SoundError::Damaged { why: "its sample rate makes no sense".to_owned() });
                }
                buffer.copy_to_vec_interleaved::<f32>(&mut scratch);
                out.push(&scratch, channels, rate)?;
                if out.samples.len() > out.limit {
                    return Err(SoundError::TooLong { limit_s: limits.seconds });
                }
            }
            // One packet lost; what follows may be whole.
            Err(why @ (Error::DecodeError(_) | Error::IoError(_))) => damage = Some(why.to_string()),
            Err(Error::Unsupported(_)) => return Err(unsupported(&open.codec)),
            Err(why) => {
                broken_off = true;
                damage = Some(why.to_string());
                break;
            }
        }
    }
    let samples = out.finish()?;
    if samples.is_empty() {
        return Err(damage.map_or(SoundError::NoSamples, |why| SoundError::Damaged { why }));
    }
    Ok(Decoded { samples, container, codec: open.codec, broken_off, tagged })
}

struct Open {
    track: u32,
    codec: String,
    decoder: Box<dyn AudioDecoder>,
}

fn open_track(format: &dyn FormatReader) -> Result<Open, SoundError> {
    let track = format.default_track(TrackType::Audio).ok_or(SoundError::NoSamples)?;
    let parameters =
        track.codec_params.as_ref().and_then(|p| p.audio()).ok_or_else(|| unsupported("unknown"))?;
    let parameters = with_right_pre_skip(parameters, format.format_info().short_name);
    let codec =
        CODECS.get_audio_decoder(parameters.codec).map_or("unknown", |d| d.codec.info.short_name).to_owned();
    let decoder = CODECS
        .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
        .map_err(|_| unsupported(&codec))?;
    Ok(Open { track: track.id, codec, decoder })
}

/// In MP4 the Opus header's numbers stand big-endian (`dOps`, Opus in ISOBMFF 4.3.2), in Ogg little-endian
/// (RFC 7845, 5.1); symphonia 0.6 hands the former on as the latter.
fn with_right_pre_skip(parameters: &AudioCodecParameters, container: &str) -> AudioCodecParameters {
    let mut parameters = parameters.clone();
    if container == "isomp4"
        && let Some(extra) =
            parameters.extra_data.as_mut().filter(|e| e.starts_with(b"OpusHead") && e.len() >= 12)
    {
        extra.swap(10, 11);
    }
    parameters
}

/// The whole recording so far, at our rate and in one channel.
struct Output {
    resampler: Option<Resampler>,
    samples: Vec<f32>,
    limit: usize,
}

impl Output {
    fn push(&mut self, interleaved: &[f32], channels: usize, rate: u32) -> Result<(), SoundError> {
        let mono: Vec<f32> = interleaved
            .chunks_exact(channels)
            .map(|frame| frame.iter().sum::<f32>() / channels as f32)
            .collect();
        // Variable rate: each stretch of one rate is resampled by itself.
        if self.resampler.as_ref().is_none_or(|r| r.rate() != rate) {
            if let Some(before) = self.resampler.take() {
                before.finish(&mut self.samples)?;
            }
            self.resampler = Some(Resampler::new(rate)?);
        }
        match &mut self.resampler {
            Some(resampler) => resampler.push(&mono, &mut self.samples),
            None => Ok(()),
        }
    }

    fn finish(mut self) -> Result<Vec<f32>, SoundError> {
        if let Some(resampler) = self.resampler.take() {
            resampler.finish(&mut self.samples)?;
        }
        Ok(self.samples)
    }
}

fn time_in_tags(format: &mut dyn FormatReader) -> Option<DateTime<FixedOffset>> {
    let mut metadata = format.metadata();
    let revision = metadata.skip_to_latest()?;
    let tags =
        revision.media.tags.iter().chain(revision.per_track.iter().flat_map(|t| t.metadata.tags.iter()));
    tags.filter_map(|tag| match tag.std.as_ref()? {
        StandardTag::RecordingDate(text)
        | StandardTag::OriginalRecordingDate(text)
        | StandardTag::DigitizedDate(text)
        | StandardTag::EncodingDate(text)
        | StandardTag::ReleaseDate(text) => super::clock::written_time(text),
        _ => None,
    })
    .next()
}

fn cannot_open(why: Error) -> SoundError {
    match why {
        Error::Unsupported(_) => SoundError::NotSound,
        Error::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => SoundError::NotSound,
        other => SoundError::Damaged { why: other.to_string() },
    }
}

fn unsupported(codec: &str) -> SoundError {
    SoundError::Unsupported {
        codec: codec.to_owned(),
        hint: "install ffmpeg and take it in again, or record as m4a, ogg, flac or wav",
    }
}
