//! What phones write, read back and compared sample by sample with the formula of the tone in it.

use capture::sound::{Limits, SAMPLE_RATE, Sound, SoundError, read, read_bytes, read_bytes_within};
use note::TakenSource;
use std::f64::consts::{PI, TAU};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const SECONDS: f64 = 1.5;

/// The tone of `sounds/README.md` at time `t`.
fn tone(t: f64) -> f64 {
    0.5 * (PI * t / SECONDS).sin() * (TAU * (200.0 * t + 600.0 * t * t)).sin()
}

fn clip(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sounds").join(name)
}

fn bytes(name: &str) -> Vec<u8> {
    fs::read(clip(name)).unwrap()
}

/// How alike the first `seconds` of a recording and the tone are: 1 for the same, at the best shift of up to 69 ms,
/// which is returned with it. The best whole sample is refined to a tenth of one: an encoder's delay is whole at the
/// recording's rate and not at ours.
fn likeness(samples: &[f32], seconds: f64) -> (f64, f64) {
    let rate = f64::from(SAMPLE_RATE);
    let len = ((seconds * rate) as usize).min(samples.len());
    let at = |shift: f64| {
        let (mut both, mut heard, mut wanted) = (0.0, 0.0, 0.0);
        for (i, sample) in samples[..len].iter().enumerate() {
            let t = i as f64 / rate + shift / rate;
            let (s, w) = (f64::from(*sample), if (0.0..SECONDS).contains(&t) { tone(t) } else { 0.0 });
            both += s * w;
            heard += s * s;
            wanted += w * w;
        }
        both / (heard * wanted).sqrt().max(1e-12)
    };
    let best = |shifts: &mut dyn Iterator<Item = f64>| {
        shifts.map(|shift| (at(shift), shift)).max_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
    };
    let whole = best(&mut (-1100..=1100).map(f64::from)).1;
    let (alike, shift) = best(&mut (-10..=10).map(|tenth| whole + f64::from(tenth) / 10.0));
    (alike, shift / rate)
}

fn wav(rate: u32, channels: u16, bits: u16, seconds: f64, sound: impl Fn(f64) -> f64) -> Vec<u8> {
    let mut data = Vec::new();
    for i in 0..(f64::from(rate) * seconds) as usize {
        let value = sound(i as f64 / f64::from(rate));
        for _ in 0..channels {
            let scaled = (value * f64::from(1u32 << (bits - 1))) as i32;
            data.extend_from_slice(&scaled.to_le_bytes()[..usize::from(bits / 8)]);
        }
    }
    let block = channels * bits / 8;
    let mut file = b"RIFF".to_vec();
    file.extend((36 + data.len() as u32).to_le_bytes());
    file.extend(b"WAVEfmt \x10\0\0\0\x01\0");
    file.extend(channels.to_le_bytes());
    file.extend(rate.to_le_bytes());
    file.extend((rate * u32::from(block)).to_le_bytes());
    file.extend(block.to_le_bytes());
    file.extend(bits.to_le_bytes());
    file.extend(b"data");
    file.extend((data.len() as u32).to_le_bytes());
    file.extend(data);
    file
}

#[test]
fn every_container_and_codec_gives_the_same_tone() {
    for (name, container, codec, likest) in [
        ("plain.m4a", "isomp4", "aac", 0.99),
        ("fragmented.mp4", "isomp4", "aac", 0.99),
        ("lossless.m4a", "isomp4", "alac", 0.9999),
        ("opus.mp4", "isomp4", "opus", 0.97),
        ("flac.flac", "flac", "flac", 0.9999),
        ("mp3.mp3", "mp3", "mp3", 0.99),
        ("voice.ogg", "ogg", "opus", 0.97),
        ("vorbis.ogg", "ogg", "vorbis", 0.99),
        ("browser.webm", "matroska", "opus", 0.97),
        ("live.webm", "matroska", "opus", 0.97),
        ("adpcm.wav", "wave", "adpcm_ima_wav", 0.99),
        ("raw.aac", "aac", "aac", 0.99),
    ] {
        let sound = read(&clip(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (alike, shift) = likeness(&sound.samples, SECONDS);
        assert!(alike > likest, "{name}: {alike:.4} alike at a shift of {shift:.3} s");
        // A bare AAC stream does not tell how long its encoder took to begin: one frame of 1024 samples, 64 ms here.
        let (late, longer) = if name == "raw.aac" { (0.066, 0.13) } else { (0.05, 0.1) };
        assert!(shift.abs() < late, "{name} starts {shift:.3} s off");
        assert!((sound.seconds - SECONDS).abs() < longer, "{name} has {:.2} s", sound.seconds);
        if name.ends_with(".m4a") {
            assert!(shift.abs() < 0.001, "{name}: its edit list tells where it starts, {shift:.4} s off");
        }
        assert_eq!((sound.container.as_str(), sound.codec.as_str()), (container, codec), "{name}");
    }
}

#[test]
fn the_content_decides_and_not_the_name() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["note.mp3", "note.txt", "note", "note.jpg"] {
        let file = folder.path().join(name);
        fs::write(&file, bytes("flac.flac")).unwrap();
        assert_eq!(read(&file).unwrap().codec, "flac", "{name}");
    }
}

#[test]
fn every_rate_and_both_channels_come_out_alike() {
    for rate in [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000] {
        for channels in [1, 2] {
            let sound = read_bytes(&wav(rate, channels, 16, SECONDS, tone), "").unwrap();
            let (alike, shift) = likeness(&sound.samples, SECONDS);
            assert!(
                alike > 0.999 && shift.abs() < 0.001,
                "{rate} Hz, {channels}: {alike:.4} at {shift:.4} s"
            );
            // At 11,025 Hz a second and a half ends between two samples.
            let recorded = (f64::from(rate) * SECONDS).floor() / f64::from(rate);
            let wanted = (recorded * f64::from(SAMPLE_RATE)).round() as usize;
            assert_eq!(sound.samples.len(), wanted, "{rate} Hz");
        }
    }
    let deep = read_bytes(&wav(48_000, 2, 24, SECONDS, tone), "").unwrap();
    assert!(likeness(&deep.samples, SECONDS).0 > 0.999);
}

/// Cut short, a recording that writes as it goes keeps what came before; one that writes its index last is lost.
///
/// Ogg is written by the page, and the page that breaks is lost: both clips have one of a second and one of half a
/// second, so they are cut within the last.
#[test]
fn a_recording_that_breaks_off_keeps_what_came_before() {
    for (name, tenths) in [
        ("fragmented.mp4", 6),
        ("flac.flac", 6),
        ("mp3.mp3", 6),
        ("voice.ogg", 9),
        ("vorbis.ogg", 9),
        ("live.webm", 6),
        ("adpcm.wav", 6),
        ("raw.aac", 6),
    ] {
        let whole = bytes(name);
        let sound: Sound =
            read_bytes(&whole[..whole.len() * tenths / 10], name).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!((0.25..1.35).contains(&sound.seconds), "{name}: {:.2} s", sound.seconds);
        let (alike, _) = likeness(&sound.samples, sound.seconds);
        assert!(alike > 0.95, "{name}: {alike:.3}");
    }
    let whole = bytes("plain.m4a");
    let said =
        read_bytes(&whole[..whole.len() * 6 / 10], "").expect_err("its index stood at the end").to_string();
    assert!(said.contains("damaged"), "{said}");
}

#[test]
fn what_cannot_be_used_says_why() {
    let silent = wav(16_000, 1, 16, 1.0, |_| 0.0);
    let nothing = wav(16_000, 1, 16, 0.0, |_| 0.0);
    let noise: Vec<u8> = (0..5000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    let photo = [&[0xff, 0xd8, 0xff, 0xe0, 0, 16][..], b"JFIF\0", &[7; 3000]].concat();
    for (what, file, says) in [
        ("an empty file", Vec::new(), "empty"),
        ("a silent recording", silent, "silent"),
        ("a recording of nothing", nothing, "no sound"),
        ("noise", noise, "not a sound recording"),
        ("a photo", photo, "not a sound recording"),
        ("a text", b"Bramble, 642 grams, and half a quail.".to_vec(), "not a sound recording"),
    ] {
        let said = read_bytes(&file, "note.m4a").expect_err(what).to_string();
        assert!(said.contains(says), "{what}: {said}");
    }
    assert!(matches!(read(Path::new("/nowhere/at/all.wav")), Err(SoundError::Disk { .. })));
    assert!(matches!(read(&clip("")), Err(SoundError::Disk { .. })));
}

#[test]
fn what_is_too_long_or_too_large_says_so() {
    let file = bytes("plain.m4a");
    let short = Limits { seconds: 0.5, ..Limits::default() };
    assert!(matches!(read_bytes_within(&file, "", &short), Err(SoundError::TooLong { .. })));
    let small = Limits { bytes: 1000, ..Limits::default() };
    assert!(matches!(
        read_bytes_within(&file, "", &small),
        Err(SoundError::TooLarge { bytes: _, limit: 1000 })
    ));
}

#[test]
fn mangled_recordings_never_panic() {
    for name in [
        "plain.m4a",
        "fragmented.mp4",
        "opus.mp4",
        "voice.ogg",
        "browser.webm",
        "mp3.mp3",
        "flac.flac",
        "adpcm.wav",
    ] {
        let whole = bytes(name);
        for round in 0..24u64 {
            let mut file = whole.clone();
            let mut state = round.wrapping_mul(0x9e37_79b9_7f4a_7c15) + 1;
            for _ in 0..8 {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                let at = state as usize % file.len();
                file[at] = (state >> 32) as u8;
            }
            if let Ok(sound) = read_bytes_within(&file, name, &Limits { seconds: 60.0, ..Limits::default() })
            {
                assert!(!sound.samples.is_empty(), "{name}: no sound is no success");
            }
        }
    }
}

#[test]
fn the_container_tells_when_it_was_recorded() {
    for name in ["plain.m4a", "fragmented.mp4", "lossless.m4a", "opus.mp4", "browser.webm"] {
        let taken = read(&clip(name)).unwrap().recorded.unwrap_or_else(|| panic!("{name} tells no time"));
        assert_eq!(taken.source, TakenSource::Container, "{name}");
        assert_eq!(taken.at.to_utc().to_rfc3339(), "2026-03-14T08:10:07+00:00", "{name}");
    }
    let named = read_bytes(&bytes("voice.ogg"), "audio_2026-03-14_08-10-07.ogg").unwrap().recorded.unwrap();
    assert_eq!(named.source, TakenSource::FileName);
    assert_eq!(named.at.naive_local().to_string(), "2026-03-14 08:10:07");
    assert_eq!(read_bytes(&bytes("voice.ogg"), "note.ogg").unwrap().recorded, None);
    assert_eq!(read(&clip("voice.ogg")).unwrap().recorded.unwrap().source, TakenSource::File);
}

fn has_ffmpeg() -> bool {
    Command::new("ffmpeg").arg("-version").output().is_ok()
}

/// AMR, as old Android recorders write it (RFC 4867, 5.1): a magic number, then frames of 12.2 kbit/s.
#[test]
#[allow(clippy::same_item_push)] // every frame begins with the same byte
fn amr_goes_to_the_systems_ffmpeg() {
    let mut file = b"#!AMR\n".to_vec();
    let mut state = 7u32;
    for _ in 0..50 {
        file.push(0x3c);
        for _ in 0..31 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            file.push((state >> 24) as u8);
        }
    }
    match read_bytes(&file, "note.amr") {
        Ok(sound) => {
            assert_eq!(sound.codec, "ffmpeg");
            assert!((sound.seconds - 1.0).abs() < 0.1, "50 frames of 20 ms, {:.2} s", sound.seconds);
        }
        Err(why) => {
            assert!(!has_ffmpeg(), "{why}");
            println!("no ffmpeg here: AMR is refused: {why}");
        }
    }
}

/// Against ffmpeg's own decoding, on files it makes now, at rates and in shapes that are not committed.
#[test]
fn other_files_of_ffmpegs_making_match_the_tone() {
    if !has_ffmpeg() {
        println!("skipped: no ffmpeg here to make more recordings with");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let tone_file = folder.path().join("tone.wav");
    fs::write(&tone_file, wav(48_000, 1, 16, SECONDS, tone)).unwrap();
    for (name, args) in [
        ("low.ogg", "-c:a libopus -b:a 8k -application voip"),
        ("long-packets.webm", "-c:a libopus -b:a 16k -frame_duration 60"),
        ("float.webm", "-c:a pcm_f32le -f matroska"),
        ("stereo.m4a", "-ac 2 -ar 22050 -c:a aac -b:a 48k"),
        ("first.m4a", "-c:a aac -b:a 48k -movflags +faststart"),
        ("telephone.3gp", "-ar 8000 -c:a aac -b:a 16k"),
        ("apple.caf", "-c:a alac"),
        ("variable.mp3", "-c:a libmp3lame -q:a 5"),
        ("float.wav", "-c:a pcm_f32le"),
        ("deep.flac", "-ar 96000 -sample_fmt s32"),
    ] {
        let file = folder.path().join(name);
        let mut ffmpeg = Command::new("ffmpeg");
        ffmpeg.args(["-nostdin", "-v", "error", "-y", "-i"]).arg(&tone_file).args(args.split(' ')).arg(&file);
        if !ffmpeg.status().is_ok_and(|s| s.success()) {
            println!("skipped {name}: this ffmpeg cannot make it");
            continue;
        }
        let sound = read(&file).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (alike, shift) = likeness(&sound.samples, SECONDS);
        assert!(alike > 0.9 && shift.abs() < 0.06, "{name}: {alike:.3} at {shift:.3} s");
        assert_ne!(sound.codec, "ffmpeg", "{name} needs no help");
    }
}
