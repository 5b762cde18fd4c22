//! A real model on a real (synthetic) voice: the words, their times, long recordings, silence and noise.
//!
//! Needs espeak-ng and the model field-q8, in the folder that VARVEL_MODELS names or the usual one; without
//! either each test says so and passes.

use speech::{Ear, Options, Prompt, SAMPLE_RATE, SpeechError, Times};
use std::path::PathBuf;
use std::process::Command;

fn model() -> Option<PathBuf> {
    let named = std::env::var_os("VARVEL_MODELS").map(PathBuf::from);
    let usual =
        || std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share/varvel/models"));
    let file = named.or_else(usual)?.join("field-q8.bin");
    if !file.exists() {
        println!("skipped: no field-q8 here (varvel models get field-q8)");
        return None;
    }
    Some(file)
}

fn ear(times: Times) -> Option<Ear> {
    Some(
        Ear::load(
            &model()?,
            Options {
                model: "field-q8".into(),
                threads: 1,
                times,
                knows_silence: true,
                ..Options::default()
            },
        )
        .unwrap(),
    )
}

/// Says a text with espeak-ng; samples at 16 kHz.
fn say(text: &str) -> Option<Vec<f32>> {
    // Into a file: what it writes to a pipe does not tell its length.
    let file = tempfile::NamedTempFile::new().unwrap();
    let said = Command::new("espeak-ng")
        .args(["-v", "en-gb", "-s", "145", "-w"])
        .arg(file.path())
        .arg(text)
        .status();
    if said.is_err() {
        println!("skipped: no espeak-ng here");
        return None;
    }
    let reader = hound::WavReader::open(file.path()).unwrap();
    let rate = f64::from(reader.spec().sample_rate);
    let wav: Vec<f32> = reader.into_samples::<i16>().map(|s| f32::from(s.unwrap()) / 32768.0).collect();
    let len = (wav.len() as f64 * SAMPLE_RATE as f64 / rate) as usize;
    let at = |i: usize| {
        let x = i as f64 * rate / SAMPLE_RATE as f64;
        let (n, part) = (x as usize, x.fract() as f32);
        wav[n] * (1.0 - part) + wav.get(n + 1).copied().unwrap_or(0.0) * part
    };
    Some((0..len).map(at).collect())
}

fn pause(seconds: f64) -> Vec<f32> {
    vec![0.0; (seconds * SAMPLE_RATE as f64) as usize]
}

/// Wind: noise whose low notes are loud.
fn wind(seconds: f64, loudness: f32) -> Vec<f32> {
    let (mut state, mut slow) = (88_172_645_463_325_252u64, 0.0f32);
    (0..(seconds * SAMPLE_RATE as f64) as usize)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let white = (state >> 40) as f32 / (1u64 << 23) as f32 - 1.0;
            slow = 0.98 * slow + 0.02 * white;
            (slow * 12.0 * loudness).clamp(-1.0, 1.0)
        })
        .collect()
}

#[test]
fn a_note_is_heard_with_its_words_in_their_places() {
    for times in [Times::Attention, Times::Loudness] {
        let (Some(mut ear), Some(first), Some(second)) =
            (ear(times), say("Six hundred and forty two grams."), say("And two chicks."))
        else {
            return;
        };
        let gap = first.len() as f64 / SAMPLE_RATE as f64;
        let sound = [first, pause(1.5), second].concat();
        let heard = ear.hear(&sound, &Prompt::none()).unwrap();
        assert!(heard.text.contains("642") && heard.text.to_lowercase().contains("chicks"), "{}", heard.text);
        assert!((heard.audio_s - sound.len() as f64 / SAMPLE_RATE as f64).abs() < 0.01);
        assert_eq!(heard.model, "field-q8");
        assert!(heard.engine.starts_with("whisper.cpp 1."), "{}", heard.engine);
        let joined = heard.words.iter().map(|w| w.word.as_str()).collect::<Vec<_>>().join(" ");
        assert_eq!(joined, heard.text, "the words are the text");
        for word in &heard.words {
            assert!(
                (0.0..=1.0).contains(&word.p)
                    && word.start_s <= word.end_s
                    && word.end_s <= heard.audio_s + 0.01,
                "{word:?}"
            );
        }
        let chicks = heard.words.iter().find(|w| w.word.to_lowercase().contains("chicks")).unwrap();
        assert!(chicks.end_s > gap + 1.4, "{times:?}: chicks come after the pause, {chicks:?}, {gap}");
    }
}

#[test]
fn a_long_recording_is_heard_to_its_end() {
    // No sentence comes twice: one that is said over and over is what the guard against loops doubts.
    let said = [
        ("The kestrel weighs two hundred and fifty grams, and she ate a mouse.", "250"),
        ("The big female was nine hundred and eighty this morning, with half a crop.", "980"),
        ("We did eleven flights to the fist, longest forty metres.", "40"),
        ("He had two chicks and a quail wing, and then a drink of water.", "quail"),
        ("It was windy at first, with rain later, about twelve degrees.", "12"),
        ("I changed his jesses and put a new bell on him.", "bell"),
        ("Tomorrow I will weigh them all before breakfast.", "breakfast"),
        ("The small one took his time, but he came in the end.", "time"),
        ("On the lure she came straight in from one hundred and twenty metres.", "120"),
        ("That is all for today, and I am going home for supper.", "supper"),
    ];
    let Some(mut ear) = ear(Times::Attention) else { return };
    let mut sound = Vec::new();
    for (sentence, _) in said {
        let Some(spoken) = say(sentence) else { return };
        sound.extend([spoken, pause(0.8)].concat());
    }
    assert!(sound.len() > 35 * SAMPLE_RATE, "longer than the model's own window");
    let heard = ear.hear(&sound, &Prompt::none()).unwrap();
    let lost: Vec<&str> =
        said.iter().map(|(_, key)| *key).filter(|key| !heard.text.to_lowercase().contains(key)).collect();
    assert!(lost.len() <= 1, "{lost:?} are not in: {}", heard.text);
    let last = heard.words.last().unwrap();
    assert!(last.end_s > heard.audio_s - 3.0, "{last:?} of {}", heard.audio_s);
    assert!(heard.words.windows(2).all(|w| w[0].start_s <= w[1].start_s));
}

#[test]
fn silence_and_wind_are_no_words() {
    let Some(mut ear) = ear(Times::Attention) else { return };
    assert!(matches!(ear.hear(&[], &Prompt::none()), Err(SpeechError::Empty)));
    assert!(matches!(ear.hear(&pause(3.0), &Prompt::none()), Err(SpeechError::NoSpeech)));
    match ear.hear(&wind(6.0, 0.3), &Prompt::none()) {
        Err(SpeechError::NoSpeech) => {}
        other => panic!("wind became {other:?}"),
    }
}

#[test]
fn a_judge_that_is_never_content_costs_a_bounded_number_of_readings() {
    let (Some(mut ear), Some(sound)) = (ear(Times::Attention), say("six hundred and forty two grams")) else {
        return;
    };
    let heard = ear.hear_judged(&sound, &Prompt::none(), &|_| 0.2).unwrap();
    assert!(!heard.text.is_empty());
    assert!((2..=4).contains(&ear.readings()), "{}", ear.readings());
    let before = ear.readings();
    ear.hear(&sound, &Prompt::none()).unwrap();
    assert_eq!(ear.readings(), before + 1, "a clear note is read once, and nothing is carried over");
}

#[test]
fn a_file_that_is_no_model_says_so() {
    let file = std::env::temp_dir().join(format!("no-model-{}.bin", std::process::id()));
    std::fs::write(&file, b"lmgg but not a model").unwrap();
    let said = Ear::load(&file, Options::default()).expect_err("it is none").to_string();
    std::fs::remove_file(&file).unwrap();
    assert!(said.contains("cannot be loaded"), "{said}");
}
