//! The microphone: which there are, sound from one of them, its level, and a soft tone back.
//!
//! [`Input`] is all that the rest of the crate knows of a microphone, so that files can stand in for
//! one. Absent on purpose: what is done with the sound.

use std::{
    sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel},
    time::{Duration, Instant},
};

use cpal::{
    ErrorKind, SampleFormat, StreamConfig,
    traits::{DeviceTrait, HostTrait, StreamTrait},
};

use crate::segment::RATE;

/// Time without a single sample after which a microphone counts as gone.
const SILENT_TOO_LONG: Duration = Duration::from_secs(3);

/// Blocks of sound that may wait while the reader is busy; each holds some 10 to 100 ms.
const WAITING_BLOCKS: usize = 3000;

/// Why there is no sound from a microphone.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MicError {
    /// There is no microphone at all.
    #[error("there is no microphone. Plug one in, or switch the headset on, then try again")]
    None,
    /// There is none of the name asked for.
    #[error("there is no microphone called \"{asked}\". There are: {}", list_or_none(.present))]
    NoSuch {
        /// The name asked for.
        asked: String,
        /// The names of those present.
        present: Vec<String>,
    },
    /// Another program has it.
    #[error(
        "the microphone \"{0}\" is in use by another program. Close that program, or choose another microphone"
    )]
    Busy(String),
    /// The system does not allow it.
    #[error(
        "this computer does not let the program use the microphone \"{0}\". Allow it in the system's settings for sound and privacy"
    )]
    Forbidden(String),
    /// It went away while in use.
    #[error("the microphone \"{0}\" is gone: unplugged, switched off or out of range")]
    Gone(String),
    /// It is there but cannot be used.
    #[error("the microphone \"{name}\" cannot be used: {why}")]
    Unusable {
        /// Its name.
        name: String,
        /// What the system said.
        why: String,
    },
}

fn list_or_none(names: &[String]) -> String {
    if names.is_empty() { "none".into() } else { names.join("; ") }
}

impl MicError {
    fn told(name: &str, error: &cpal::Error) -> Self {
        match error.kind() {
            ErrorKind::DeviceBusy => Self::Busy(name.into()),
            ErrorKind::PermissionDenied => Self::Forbidden(name.into()),
            ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable | ErrorKind::StreamInvalidated => {
                Self::Gone(name.into())
            }
            _ => Self::Unusable { name: name.into(), why: error.to_string() },
        }
    }
}

/// One microphone that could be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MicInfo {
    /// Its name as a person would know it.
    pub name: String,
    /// The system's own name, which stays the same.
    pub id: String,
    /// Whether it is the one used when none is chosen.
    pub usual: bool,
}

/// What came of waiting for sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// Sound was added.
    Sound,
    /// None came in the time given.
    Nothing,
    /// The input is at its end; a microphone has none.
    End,
}

/// Where sound comes from: a microphone, or in tests a file.
pub trait Input {
    /// Returns what to call it.
    fn name(&self) -> &str;

    /// Adds new 16 kHz samples to the end of `into`, waiting no longer than `wait` for them.
    ///
    /// # Errors
    ///
    /// Fails when the input is gone; what was added before is good.
    fn read(&mut self, into: &mut Vec<i16>, wait: Duration) -> Result<Flow, MicError>;
}

/// Lists the microphones, the usual one first.
///
/// # Errors
///
/// Fails if the system cannot say.
pub fn list() -> Result<Vec<MicInfo>, MicError> {
    let host = cpal::default_host();
    let usual = host.default_input_device().and_then(|d| d.id().ok()).map(|id| id.to_string());
    let devices = host.input_devices().map_err(|e| MicError::told("any", &e))?;
    let mut found: Vec<MicInfo> = devices
        .filter_map(|device| {
            let id = device.id().ok()?.to_string();
            if is_plumbing(&id) {
                return None;
            }
            Some(MicInfo { name: device.to_string(), usual: usual.as_ref() == Some(&id), id })
        })
        .collect();
    found.sort_by_key(|mic| !mic.usual);
    Ok(found)
}

/// A microphone in use.
pub struct Microphone {
    name: String,
    blocks: Receiver<Result<Vec<f32>, MicError>>,
    resampler: Option<Resampler>,
    last_sound: Instant,
    // Sound stops when this goes.
    _stream: cpal::Stream,
}

impl Microphone {
    /// Opens the microphone whose name or id holds `wanted`, or the usual one.
    ///
    /// # Errors
    ///
    /// Fails if there is none, none of that name, or it cannot be used, and says which.
    pub fn open(wanted: Option<&str>) -> Result<Self, MicError> {
        let host = cpal::default_host();
        let device = match wanted {
            None => host.default_input_device().ok_or(MicError::None)?,
            Some(wanted) => find(&host, wanted)?,
        };
        let name = device.to_string();
        let (config, format) = best_config(&device, &name)?;
        let (sender, blocks) = sync_channel(WAITING_BLOCKS);
        let stream = build(&device, config, format, &sender, &name)?;
        stream.play().map_err(|e| MicError::told(&name, &e))?;
        let resampler = if config.sample_rate == RATE {
            None
        } else {
            Some(
                Resampler::new(config.sample_rate)
                    .map_err(|why| MicError::Unusable { name: name.clone(), why })?,
            )
        };
        Ok(Self { name, blocks, resampler, last_sound: Instant::now(), _stream: stream })
    }
}

impl Input for Microphone {
    fn name(&self) -> &str {
        &self.name
    }

    fn read(&mut self, into: &mut Vec<i16>, wait: Duration) -> Result<Flow, MicError> {
        let before = into.len();
        let mut next = self.blocks.recv_timeout(wait);
        loop {
            match next {
                Ok(Ok(block)) => {
                    self.last_sound = Instant::now();
                    match &mut self.resampler {
                        None => into.extend(block.iter().map(|&x| to_i16(x))),
                        Some(resampler) => resampler.run(&block, into),
                    }
                }
                Ok(Err(why)) => return Err(why),
                Err(RecvTimeoutError::Disconnected) => return Err(MicError::Gone(self.name.clone())),
                Err(RecvTimeoutError::Timeout) => break,
            }
            next = self.blocks.try_recv().map_err(|_| RecvTimeoutError::Timeout);
        }
        if into.len() > before {
            return Ok(Flow::Sound);
        }
        // Some systems just stop sending when a headset goes out of range.
        if self.last_sound.elapsed() > SILENT_TOO_LONG {
            return Err(MicError::Gone(self.name.clone()));
        }
        Ok(Flow::Nothing)
    }
}

/// Returns whether an ALSA device is no microphone but a part for making one: converters, other sound
/// systems' doors, and the one that hears nothing.
fn is_plumbing(id: &str) -> bool {
    const PARTS: [&str; 9] =
        ["null", "lavrate", "samplerate", "speexrate", "speex", "jack", "oss", "upmix", "vdownmix"];
    id.split_once(':').is_some_and(|(host, name)| host == "alsa" && PARTS.contains(&name))
}

fn find(host: &cpal::Host, wanted: &str) -> Result<cpal::Device, MicError> {
    let devices: Vec<cpal::Device> = host
        .input_devices()
        .map_err(|e| MicError::told(wanted, &e))?
        .filter(|d| d.id().is_ok_and(|id| !is_plumbing(&id.to_string())))
        .collect();
    let names: Vec<(String, String)> = devices
        .iter()
        .map(|d| (d.to_string(), d.id().map(|id| id.to_string()).unwrap_or_default()))
        .collect();
    match choose(wanted, &names) {
        Some(at) => devices.into_iter().nth(at).ok_or(MicError::None),
        None if names.is_empty() => Err(MicError::None),
        None => {
            Err(MicError::NoSuch { asked: wanted.into(), present: names.into_iter().map(|n| n.0).collect() })
        }
    }
}

/// Returns which of the (name, id) pairs is wanted: one that is equal, else the first that contains it.
fn choose(wanted: &str, names: &[(String, String)]) -> Option<usize> {
    let wanted = wanted.to_lowercase();
    let by = |test: &dyn Fn(&str) -> bool| {
        names.iter().position(|(name, id)| test(&name.to_lowercase()) || test(&id.to_lowercase()))
    };
    by(&|n| n == wanted).or_else(|| by(&|n| n.contains(&wanted)))
}

/// Picks 16 kHz if the device can, with as few channels as it has, else what it likes best.
fn best_config(device: &cpal::Device, name: &str) -> Result<(StreamConfig, SampleFormat), MicError> {
    let told = |e| MicError::told(name, &e);
    let known = |f: SampleFormat| {
        matches!(f, SampleFormat::F32 | SampleFormat::I16 | SampleFormat::I32 | SampleFormat::U8)
    };
    let direct = device
        .supported_input_configs()
        .map_err(told)?
        .filter(|range| known(range.sample_format()))
        .filter_map(|range| range.try_with_sample_rate(RATE))
        .min_by_key(|c| (c.channels(), c.sample_format() != SampleFormat::I16));
    let chosen = match direct {
        Some(config) => config,
        None => device.default_input_config().map_err(told)?,
    };
    Ok((chosen.config(), chosen.sample_format()))
}

fn build(
    device: &cpal::Device,
    config: StreamConfig,
    format: SampleFormat,
    sender: &SyncSender<Result<Vec<f32>, MicError>>,
    name: &str,
) -> Result<cpal::Stream, MicError> {
    let stream = match format {
        SampleFormat::F32 => build_as::<f32>(device, config, sender, name, |x| x),
        SampleFormat::I16 => build_as::<i16>(device, config, sender, name, |x| f32::from(x) / 32768.0),
        SampleFormat::I32 => build_as::<i32>(device, config, sender, name, |x| x as f32 / 2_147_483_648.0),
        SampleFormat::U8 => build_as::<u8>(device, config, sender, name, |x| (f32::from(x) - 128.0) / 128.0),
        other => {
            return Err(MicError::Unusable {
                name: name.into(),
                why: format!("it gives sound as {other}, which is not read here"),
            });
        }
    };
    stream.map_err(|e| MicError::told(name, &e))
}

fn build_as<T: cpal::SizedSample + Send + 'static>(
    device: &cpal::Device,
    config: StreamConfig,
    sender: &SyncSender<Result<Vec<f32>, MicError>>,
    name: &str,
    to_f32: fn(T) -> f32,
) -> Result<cpal::Stream, cpal::Error> {
    let channels = usize::from(config.channels.max(1));
    let sound = sender.clone();
    let errors = sender.clone();
    let name = name.to_string();
    device.build_input_stream::<T, _, _>(
        config,
        move |data, _| {
            let mono = data
                .chunks_exact(channels)
                .map(|frame| frame.iter().map(|&x| to_f32(x)).sum::<f32>() / channels as f32)
                .collect();
            // A reader half a minute behind has stopped for good; the device must not wait for it.
            let _ = sound.try_send(Ok(mono));
        },
        move |error| match error.kind() {
            // The stream goes on after these.
            ErrorKind::Xrun | ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
            _ => {
                let _ = errors.try_send(Err(MicError::told(&name, &error)));
            }
        },
        Some(Duration::from_secs(5)),
    )
}

fn to_i16(x: f32) -> i16 {
    (x * 32768.0).round().clamp(-32768.0, 32767.0) as i16
}

/// Brings sound of any rate to 16 kHz as it comes.
struct Resampler {
    inner: rubato::Fft<f32>,
    waiting: Vec<f32>,
    out: Vec<f32>,
}

impl Resampler {
    fn new(rate: u32) -> Result<Self, String> {
        use rubato::Resampler as _;
        let inner =
            rubato::Fft::new(rate as usize, RATE as usize, rate as usize / 50, 1, rubato::FixedSync::Input)
                .map_err(|e| e.to_string())?;
        let out = vec![0.0; inner.output_frames_max()];
        Ok(Self { inner, waiting: Vec::new(), out })
    }

    fn run(&mut self, block: &[f32], into: &mut Vec<i16>) {
        use audioadapter_buffers::direct::InterleavedSlice;
        use rubato::Resampler as _;
        self.waiting.extend_from_slice(block);
        let mut used = 0;
        loop {
            let want = self.inner.input_frames_next();
            let Some(chunk) = self.waiting.get(used..used + want) else { break };
            let room = self.out.len();
            let (Ok(input), Ok(mut output)) =
                (InterleavedSlice::new(chunk, 1, want), InterleavedSlice::new_mut(&mut self.out, 1, room))
            else {
                break;
            };
            let Ok((_, made)) = self.inner.process_into_buffer(&input, &mut output, None) else { break };
            into.extend(self.out[..made].iter().map(|&x| to_i16(x)));
            used += want;
        }
        self.waiting.drain(..used);
    }
}

/// How loud a stretch of sound was, in dB below full scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The highest single sample.
    pub peak_db: f32,
    /// The mean over the stretch.
    pub mean_db: f32,
}

impl Level {
    /// The level of silence.
    pub const SILENCE: Self = Self { peak_db: -96.0, mean_db: -96.0 };

    /// Measures samples.
    pub fn of(samples: &[i16]) -> Self {
        if samples.is_empty() {
            return Self::SILENCE;
        }
        let peak = samples.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0);
        let mean = samples.iter().map(|&s| f64::from(s).powi(2)).sum::<f64>() / samples.len() as f64;
        let db = |x: f64| (20.0 * (x / 32768.0).max(1e-5).log10()).max(-96.0) as f32;
        Self { peak_db: db(f64::from(peak)), mean_db: db(mean.sqrt()) }
    }

    /// Draws the level as a bar of the given number of characters, from -60 dB to full scale.
    pub fn bar(self, width: usize) -> String {
        let at = |db: f32| (((db + 60.0) / 60.0).clamp(0.0, 1.0) * width as f32).round() as usize;
        let (mean, peak) = (at(self.mean_db), at(self.peak_db));
        (0..width)
            .map(|i| match i {
                i if i < mean => '#',
                i if i + 1 == peak => '|',
                _ => '.',
            })
            .collect()
    }

    /// Returns a word of advice when the level is of no use.
    pub fn advice(self) -> Option<&'static str> {
        if self.peak_db >= -0.5 {
            Some("too loud: turn the microphone down or hold it farther away")
        } else if self.peak_db <= -80.0 {
            Some("nothing is heard: is the microphone switched off or muted?")
        } else {
            None
        }
    }
}

/// Plays one or more soft tones through the usual loudspeaker and waits until they are out.
///
/// # Errors
///
/// Fails if there is no loudspeaker or it cannot be used.
pub fn tones(count: u32) -> Result<(), MicError> {
    let host = cpal::default_host();
    let device = host.default_output_device().ok_or(MicError::Gone("loudspeaker".into()))?;
    let name = device.to_string();
    let told = |e| MicError::told(&name, &e);
    let range = device
        .supported_output_configs()
        .map_err(told)?
        .filter(|r| r.sample_format() == SampleFormat::F32 || r.sample_format() == SampleFormat::I16)
        .min_by_key(|r| (r.sample_format() != SampleFormat::F32, r.channels().abs_diff(2)));
    let range = range
        .ok_or_else(|| MicError::Unusable { name: name.clone(), why: "no known form of sound".into() })?;
    let format = range.sample_format();
    let rate = 48_000.clamp(range.min_sample_rate(), range.max_sample_rate());
    let config = range.with_sample_rate(rate).config();
    let wave = tone_wave(count, rate);
    let seconds = wave.len() as f32 / rate as f32;
    // How long after its hand-over the last of the wave will be out; a sound server may take seconds.
    let (out, is_out) = std::sync::mpsc::channel();
    let stream = match format {
        SampleFormat::F32 => play_as::<f32>(&device, config, wave, |x| x, out),
        _ => play_as::<i16>(&device, config, wave, to_i16, out),
    }
    .map_err(told)?;
    stream.play().map_err(told)?;
    let on_its_way = is_out.recv_timeout(Duration::from_secs_f32(seconds + 5.0)).unwrap_or_default();
    // Stopping sooner would cut what has been handed over and not been played.
    std::thread::sleep(on_its_way.min(Duration::from_secs(4)) + Duration::from_millis(600));
    Ok(())
}

fn play_as<T: cpal::SizedSample + Send + 'static>(
    device: &cpal::Device,
    config: StreamConfig,
    wave: Vec<f32>,
    from_f32: fn(f32) -> T,
    out: std::sync::mpsc::Sender<Duration>,
) -> Result<cpal::Stream, cpal::Error> {
    let channels = usize::from(config.channels.max(1));
    let mut wave = wave.into_iter();
    device.build_output_stream::<T, _, _>(
        config,
        move |data, info| {
            for frame in data.chunks_mut(channels) {
                frame.fill(from_f32(wave.next().unwrap_or(0.0)));
            }
            if wave.len() == 0 {
                let times = info.timestamp();
                // Nobody listens any more when the tones are long out.
                let _ = out.send(times.playback.duration_since(times.callback));
            }
        },
        |_| {},
        Some(Duration::from_secs(2)),
    )
}

/// Makes soft tones of a tenth of a second, an eighth of a second apart, with rounded ends.
fn tone_wave(count: u32, rate: u32) -> Vec<f32> {
    let (sound, gap) = (rate / 10, rate / 8);
    let mut wave = Vec::new();
    for _ in 0..count {
        wave.extend((0..sound).map(|i| {
            let t = i as f32 / rate as f32;
            let swell = (std::f32::consts::PI * i as f32 / sound as f32).sin();
            0.12 * swell * (2.0 * std::f32::consts::PI * 660.0 * t).sin()
        }));
        wave.extend(std::iter::repeat_n(0.0, gap as usize));
    }
    wave
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_microphone_is_chosen_by_name_or_part_of_it() {
        let names: Vec<(String, String)> =
            [("Headset", "alsa:hs"), ("Headset Pro", "alsa:pro"), ("Built-in", "alsa:hw")]
                .map(|(n, i)| (n.into(), i.into()))
                .into();
        for (wanted, expect) in [
            ("headset", Some(0)),
            ("pro", Some(1)),
            ("Headset Pro", Some(1)),
            ("alsa:hw", Some(2)),
            ("webcam", None),
        ] {
            assert_eq!(choose(wanted, &names), expect, "{wanted}");
        }
    }

    #[test]
    fn parts_of_the_sound_system_are_no_microphones() {
        for (id, plumbing) in [
            ("alsa:null", true),
            ("alsa:speexrate", true),
            ("alsa:default", false),
            ("alsa:pulse", false),
            ("alsa:hw:CARD=0,DEV=0", false),
            ("wasapi:null", false),
        ] {
            assert_eq!(is_plumbing(id), plumbing, "{id}");
        }
    }

    #[test]
    fn levels_are_those_of_known_waves() {
        // A full-scale sine has its mean 3.01 dB below its peak (20 log10 of the root of two).
        let sine: Vec<i16> =
            (0..16_000).map(|i| (32767.0 * (i as f64 * 0.05 * std::f64::consts::PI).sin()) as i16).collect();
        let level = Level::of(&sine);
        assert!(level.peak_db.abs() < 0.05 && (level.mean_db + 3.01).abs() < 0.05, "{level:?}");
        assert!(level.advice().is_some_and(|a| a.contains("too loud")));
        assert_eq!(Level::of(&[]), Level::SILENCE);
        assert!(Level::of(&[0; 100]).advice().is_some_and(|a| a.contains("nothing is heard")));
        assert_eq!(Level { peak_db: -12.0, mean_db: -30.0 }.bar(20), "##########.....|....");
        assert_eq!(Level::SILENCE.bar(4), "....");
    }

    #[test]
    fn other_rates_come_out_at_sixteen_thousand() {
        for rate in [8_000, 22_050, 44_100, 48_000, 96_000] {
            let mut resampler = Resampler::new(rate).expect("a common rate");
            let mut out = Vec::new();
            let sine: Vec<f32> = (0..rate * 2)
                .map(|i| 0.5 * (2.0 * std::f32::consts::PI * 440.0 * i as f32 / rate as f32).sin())
                .collect();
            // Odd block sizes, as devices give them.
            for block in sine.chunks(777) {
                resampler.run(block, &mut out);
            }
            assert!((out.len() as i64 - 32_000).abs() < 1000, "{rate}: {}", out.len());
            let crossings = out[8_000..24_000].windows(2).filter(|w| (w[0] < 0) != (w[1] < 0)).count();
            assert!(
                (crossings as i64 - 880).abs() <= 2,
                "{rate}: {crossings} zero crossings in a second of 440 Hz"
            );
            let level = Level::of(&out[8_000..24_000]);
            assert!((level.mean_db + 9.03).abs() < 0.1, "{rate}: {level:?}");
        }
    }

    #[test]
    fn tones_are_soft_and_counted() {
        for count in [1, 2] {
            let wave = tone_wave(count, 48_000);
            assert!(wave.iter().all(|x| x.abs() <= 0.12));
            let starts =
                wave.windows(4800).filter(|w| w[..4799].iter().all(|x| *x == 0.0) && w[4799] != 0.0).count();
            assert_eq!(starts as u32 + 1, count);
        }
    }
}
