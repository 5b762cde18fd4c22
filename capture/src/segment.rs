//! Where a spoken note begins and ends in endless sound.
//!
//! Two detectors must agree before anything counts as a voice: earshot, a small network that is sure
//! of speech but takes wind and traffic for it, and the one inside RNNoise, which ignores wind but
//! takes crickets and a crackling fire for speech. Earshot is fed at a level set by the background,
//! since loud noise alone raises its score. A note opens once a voice stood clear of the background
//! for [`Settings::voice_s`] within [`Settings::window_s`], reaches back to where the voice began,
//! and closes after a pause.
//!
//! Absent on purpose: files, devices, clocks and words. Sound goes in as 16 kHz samples, positions
//! come out as sample counts since the start, and the same samples always give the same cuts
//! however they are parcelled.

use std::collections::VecDeque;

use nnnoiseless::DenoiseState;

/// Samples a second of all sound in this module.
pub const RATE: u32 = 16_000;

/// Samples in one frame, 16 ms, the unit in which decisions are made.
pub const FRAME: usize = 256;

/// Frames a second.
const FRAMES_PER_S: f64 = RATE as f64 / FRAME as f64;

/// Level to which the background is brought down before earshot hears it, in dB below full scale.
///
/// Chosen by measurement: at -50 quiet speech in noise was missed, without it loud rain and crickets
/// passed for speech. See `docs/listening.md`.
const EARSHOT_BACKGROUND_DBFS: f32 = -42.0;

/// Level assumed for a background not heard yet, in dB below full scale.
const UNHEARD_DBFS: f32 = -70.0;

/// Digital silence counts as no louder than this, in dB below full scale.
const SILENCE_DBFS: f32 = -90.0;

/// How a note is told from the background and where it is cut; all times in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Time over which voice is counted before a note opens.
    pub window_s: f64,
    /// Voice needed within the window for a note to open.
    pub voice_s: f64,
    /// Pause that ends a note. People pause over a second between sentences.
    pub pause_s: f64,
    /// Sound kept before the first voice.
    pub lead_s: f64,
    /// Sound kept after the last voice.
    pub tail_s: f64,
    /// Length from which a short pause is enough to end a note.
    pub long_s: f64,
    /// Pause that ends a long note.
    pub long_pause_s: f64,
    /// Length at which a note is cut in any case; the next begins at the same sample.
    pub longest_s: f64,
    /// How far the loudest tenth of a note must stand above the background, in dB.
    ///
    /// Voices at the next table are speech too; this is what tells them from the keeper's.
    pub stands_out_db: f32,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            window_s: 1.5,
            voice_s: 0.42,
            pause_s: 2.0,
            lead_s: 0.7,
            tail_s: 0.5,
            long_s: 60.0,
            long_pause_s: 0.5,
            longest_s: 90.0,
            stands_out_db: 7.5,
        }
    }
}

/// A stretch of sound, in samples since the start: from the first to one past the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Segment {
    /// First sample.
    pub start: u64,
    /// One past the last sample.
    pub end: u64,
}

impl Segment {
    /// Returns the length in samples.
    pub fn len(&self) -> u64 {
        self.end.saturating_sub(self.start)
    }

    /// Returns whether nothing lies between start and end.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Returns the length in seconds.
    pub fn seconds(&self) -> f64 {
        self.len() as f64 / f64::from(RATE)
    }
}

/// What the cutter has decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// A note has begun at this sample and is going on.
    Opened(u64),
    /// A note is complete.
    Closed(Segment),
    /// What seemed a note never stood out from the background.
    Dropped(Segment),
}

/// What one frame of 16 ms sounded like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Earshot's score for speech, 0 to 1, with the background brought to a fixed level.
    pub speech: f32,
    /// RNNoise's probability of a voice, 0 to 1, the highest within the frame.
    pub voice: f32,
    /// Level between 180 Hz and 3600 Hz, in dB below full scale: wind rumble lies below.
    pub level_db: f32,
}

impl Frame {
    /// Returns whether both detectors are sure of a voice.
    fn is_voice(&self) -> bool {
        self.voice > 0.6 && self.speech > 0.65
    }

    /// Returns whether this could be part of a voice already heard.
    fn may_be_voice(&self) -> bool {
        self.voice > 0.4 && self.speech > 0.5
    }
}

/// Cuts endless sound into spoken notes.
pub struct Segmenter {
    ear: Ear,
    cutter: Cutter,
}

impl Segmenter {
    /// Makes a segmenter that has heard nothing yet.
    pub fn new(settings: Settings) -> Self {
        Self { ear: Ear::new(), cutter: Cutter::new(settings) }
    }

    /// Hears more samples and returns what they decided.
    pub fn push(&mut self, samples: &[i16]) -> Vec<Cut> {
        let mut cuts = Vec::new();
        let cutter = &mut self.cutter;
        self.ear.hear(samples, |frame| cutter.push(frame, &mut cuts));
        cuts
    }

    /// Ends the sound here and returns the note that was open, if one was.
    pub fn finish(&mut self) -> Option<Cut> {
        self.cutter.finish(self.ear.heard)
    }

    /// Returns the first sample that may still become part of a note: all before it can go.
    pub fn needed_from(&self) -> u64 {
        self.cutter.needed_from()
    }

    /// Returns whether a note is open.
    pub fn in_note(&self) -> bool {
        self.cutter.open.is_some()
    }

    /// Returns whether a voice was heard lately that has not (yet) opened a note.
    pub fn voice_pending(&self) -> bool {
        self.cutter.open.is_none() && self.cutter.recent.iter().filter(|&&v| v).count() >= 4
    }

    /// Returns the first sample of the voice that has not opened a note, with its lead.
    pub fn pending_from(&self) -> Option<u64> {
        self.voice_pending().then(|| self.cutter.pending_start())
    }
}

/// Turns samples into frames.
struct Ear {
    heard: u64,
    frame: Vec<i16>,
    rnnoise: Box<DenoiseState<'static>>,
    rn_block: Vec<f32>,
    rn_last: f32,
    rn_max: f32,
    rn_out: [f32; DenoiseState::FRAME_SIZE],
    earshot: Box<earshot::Detector>,
    band: [Biquad; 4],
    levels: VecDeque<f32>,
    floor_db: f32,
    frames: u64,
}

impl Ear {
    /// Seconds of levels from which the background is told.
    const FLOOR_OVER_S: f64 = 8.0;

    fn new() -> Self {
        Self {
            heard: 0,
            frame: Vec::with_capacity(FRAME),
            rnnoise: DenoiseState::new(),
            rn_block: Vec::with_capacity(DenoiseState::FRAME_SIZE),
            rn_last: 0.0,
            rn_max: 0.0,
            rn_out: [0.0; DenoiseState::FRAME_SIZE],
            earshot: earshot::Detector::default_boxed(),
            // Two second-order sections each make a fourth-order Butterworth edge.
            band: [
                Biquad::high_pass(180.0, 0.541),
                Biquad::high_pass(180.0, 1.307),
                Biquad::low_pass(3600.0, 0.541),
                Biquad::low_pass(3600.0, 1.307),
            ],
            levels: VecDeque::new(),
            floor_db: UNHEARD_DBFS,
            frames: 0,
        }
    }

    fn hear(&mut self, samples: &[i16], mut tell: impl FnMut(Frame)) {
        for &sample in samples {
            self.heard += 1;
            self.hear_rnnoise(f32::from(sample));
            self.frame.push(sample);
            if self.frame.len() == FRAME {
                tell(self.frame_done());
            }
        }
    }

    /// Feeds RNNoise, which wants 48 kHz in the range of 16-bit samples.
    ///
    /// Straight lines between the samples are enough: only its opinion is used, never its sound.
    fn hear_rnnoise(&mut self, sample: f32) {
        let step = (sample - self.rn_last) / 3.0;
        self.rn_block.extend([self.rn_last + step, self.rn_last + 2.0 * step, sample]);
        self.rn_last = sample;
        if self.rn_block.len() == DenoiseState::FRAME_SIZE {
            let p = self.rnnoise.process_frame(&mut self.rn_out, &self.rn_block);
            self.rn_max = self.rn_max.max(p);
            self.rn_block.clear();
        }
    }

    fn frame_done(&mut self) -> Frame {
        let mut energy = 1e-10_f32;
        for &sample in &self.frame {
            let mut x = f32::from(sample) / 32768.0;
            for section in &mut self.band {
                x = section.run(x);
            }
            energy += x * x / FRAME as f32;
        }
        let level_db = 10.0 * energy.log10();
        self.levels.push_back(level_db);
        if self.levels.len() > (Self::FLOOR_OVER_S * FRAMES_PER_S) as usize {
            self.levels.pop_front();
        }
        if self.frames.is_multiple_of(8) {
            self.floor_db = self.quiet_level().unwrap_or(UNHEARD_DBFS);
        }
        self.frames += 1;
        let gain = 10_f32.powf((EARSHOT_BACKGROUND_DBFS - self.floor_db).min(0.0) / 20.0);
        let scaled: Vec<f32> = self.frame.iter().map(|&s| f32::from(s) / 32768.0 * gain).collect();
        let speech = self.earshot.predict_f32(&scaled);
        let voice = std::mem::take(&mut self.rn_max);
        self.frame.clear();
        Frame { speech, voice, level_db }
    }

    /// Returns the level exceeded six sevenths of the time, digital silence aside.
    fn quiet_level(&self) -> Option<f32> {
        let mut levels: Vec<f32> = self.levels.iter().copied().filter(|&l| l > SILENCE_DBFS).collect();
        let at = levels.len() * 15 / 100;
        (at < levels.len()).then(|| *levels.select_nth_unstable_by(at, f32::total_cmp).1)
    }
}

/// Second-order filter section, by the formulas of R. Bristow-Johnson's "Audio EQ Cookbook" (W3C Note, 2021).
struct Biquad {
    b: [f32; 3],
    a: [f32; 2],
    z: [f32; 2],
}

impl Biquad {
    fn high_pass(hz: f32, q: f32) -> Self {
        Self::design(hz, q, |c| [(1.0 + c) / 2.0, -(1.0 + c), (1.0 + c) / 2.0])
    }

    fn low_pass(hz: f32, q: f32) -> Self {
        Self::design(hz, q, |c| [(1.0 - c) / 2.0, 1.0 - c, (1.0 - c) / 2.0])
    }

    fn design(hz: f32, q: f32, top: impl Fn(f32) -> [f32; 3]) -> Self {
        let w = 2.0 * std::f32::consts::PI * hz / RATE as f32;
        let alpha = w.sin() / (2.0 * q);
        let a0 = 1.0 + alpha;
        Self { b: top(w.cos()).map(|b| b / a0), a: [-2.0 * w.cos() / a0, (1.0 - alpha) / a0], z: [0.0; 2] }
    }

    fn run(&mut self, x: f32) -> f32 {
        let y = self.b[0] * x + self.z[0];
        self.z[0] = self.b[1] * x - self.a[0] * y + self.z[1];
        self.z[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// Decides from frames alone where notes begin and end.
struct Cutter {
    settings: Settings,
    at: u64,
    /// No note may begin before this frame: it belongs to the one before.
    free_from: u64,
    open: Option<Open>,
    /// Whether each frame of the window was a voice clear of the background.
    recent: VecDeque<bool>,
    /// Whether each frame lately might have been voice, for reaching back.
    faint: VecDeque<bool>,
    /// Levels of the window, not yet part of the background.
    waiting: VecDeque<f32>,
    /// Levels of the background: outside notes, older than the window.
    background: VecDeque<f32>,
    background_db: Option<f32>,
}

/// A note going on, in frames.
struct Open {
    start: u64,
    last_voice: u64,
    background_db: Option<f32>,
    levels: Vec<f32>,
}

impl Cutter {
    /// Level above the background that a voice must have to open a note, in dB.
    const CLEAR_DB: f32 = 5.0;
    /// Level above the background that a voice must have to go on, in dB.
    const FAINT_DB: f32 = 3.0;
    /// Seconds of levels that make the background.
    const BACKGROUND_S: f64 = 10.0;
    /// Seconds a note may reach back from where it was recognised.
    const REACH_S: f64 = 6.0;
    /// Sound at a session's beginning that is never cut off from a note, seconds.
    const AT_ONCE_S: f64 = 0.5;
    /// Longest gap in seconds bridged when reaching back.
    const REACH_GAP_S: f64 = 0.5;

    fn new(settings: Settings) -> Self {
        Self {
            settings,
            at: 0,
            free_from: 0,
            open: None,
            recent: VecDeque::new(),
            faint: VecDeque::new(),
            waiting: VecDeque::new(),
            background: VecDeque::new(),
            background_db: None,
        }
    }

    fn push(&mut self, frame: Frame, cuts: &mut Vec<Cut>) {
        let above = frame.level_db - self.background_db.unwrap_or(UNHEARD_DBFS);
        let faint = frame.may_be_voice() && above > Self::FAINT_DB;
        self.faint.push_back(faint);
        if self.faint.len() > frames(Self::REACH_S) {
            self.faint.pop_front();
        }
        let now = self.at;
        self.at += 1;
        let Some(open) = &mut self.open else {
            self.listen_for_start(frame, above, cuts);
            return;
        };
        open.levels.push(frame.level_db);
        if faint {
            open.last_voice = now;
        }
        let length = now - open.start;
        let quiet = now - open.last_voice;
        let pause = if length > frames(self.settings.long_s) as u64 {
            self.settings.long_pause_s
        } else {
            self.settings.pause_s
        };
        if length >= frames(self.settings.longest_s) as u64 {
            // Whoever is still speaking goes on in the next note, without a gap.
            let end = self.at;
            let next = Open {
                start: end,
                last_voice: open.last_voice,
                background_db: open.background_db,
                levels: Vec::new(),
            };
            cuts.extend(self.close(end));
            self.open = Some(next);
            cuts.push(Cut::Opened(end * FRAME as u64));
        } else if quiet > frames(pause) as u64 {
            let end = open.last_voice + 1 + frames(self.settings.tail_s.min(pause)) as u64;
            cuts.extend(self.close(end.min(self.at)));
        }
    }

    fn listen_for_start(&mut self, frame: Frame, above: f32, cuts: &mut Vec<Cut>) {
        self.recent.push_back(frame.is_voice() && above > Self::CLEAR_DB);
        self.waiting.push_back(frame.level_db.max(SILENCE_DBFS));
        if self.recent.len() > frames(self.settings.window_s) {
            self.recent.pop_front();
            self.background.extend(self.waiting.pop_front());
        }
        if self.background.len() > frames(Self::BACKGROUND_S) {
            self.background.pop_front();
        }
        if self.at.is_multiple_of(8) && self.background.len() > frames(0.5) {
            self.background_db = Some(middle(self.background.make_contiguous()));
        }
        if self.recent.iter().filter(|&&v| v).count() < frames(self.settings.voice_s).max(1) {
            return;
        }
        let start = self.start_of_voice();
        let levels = self.waiting.iter().copied().collect();
        self.open = Some(Open { start, last_voice: self.at - 1, background_db: self.background_db, levels });
        self.recent.clear();
        self.waiting.clear();
        cuts.push(Cut::Opened(start * FRAME as u64));
    }

    /// Returns the frame at which the voice in the window began, reaching back over fainter voice, with its lead.
    fn start_of_voice(&self) -> u64 {
        let first = self.recent.iter().position(|&v| v).unwrap_or(0);
        let mut start = self.at - (self.recent.len() - first) as u64;
        let oldest = self.at - self.faint.len() as u64;
        let mut at = start;
        while at > oldest.max(self.free_from) && start - at < frames(Self::REACH_GAP_S) as u64 {
            at -= 1;
            if self.faint[(at - oldest) as usize] {
                start = at;
            }
        }
        let start = start.saturating_sub(frames(self.settings.lead_s) as u64).max(self.free_from);
        // Before the background is known a soft beginning is not told from it: a note that begins almost with the
        // session begins with it.
        if self.free_from == 0 && start < frames(Self::AT_ONCE_S) as u64 { 0 } else { start }
    }

    fn pending_start(&self) -> u64 {
        self.start_of_voice() * FRAME as u64
    }

    /// Closes the open note at a frame and lets the background start afresh from there.
    fn close(&mut self, end: u64) -> Option<Cut> {
        let open = self.open.take()?;
        self.free_from = end;
        self.recent.clear();
        self.waiting.clear();
        let segment = Segment { start: open.start * FRAME as u64, end: end.max(open.start) * FRAME as u64 };
        let stands_out = open.last_voice >= open.start
            && open.background_db.is_none_or(|background| {
                loud_level(&open.levels).is_some_and(|loud| loud - background >= self.settings.stands_out_db)
            });
        Some(if stands_out { Cut::Closed(segment) } else { Cut::Dropped(segment) })
    }

    /// Ends everything at a sample, which may lie within a frame.
    fn finish(&mut self, samples: u64) -> Option<Cut> {
        let open = self.open.as_ref()?;
        let end = open.last_voice + 1 + frames(self.settings.tail_s) as u64;
        let cut = self.close(end.min(self.at))?;
        Some(match cut {
            Cut::Closed(segment) if end >= self.at => Cut::Closed(Segment { end: samples, ..segment }),
            cut => cut,
        })
    }

    fn needed_from(&self) -> u64 {
        let start = match &self.open {
            Some(open) => open.start,
            None => {
                let back = frames(Self::REACH_S + self.settings.lead_s) as u64;
                self.at.saturating_sub(back).max(self.free_from)
            }
        };
        start * FRAME as u64
    }
}

/// Returns how many frames fill a time in seconds.
fn frames(seconds: f64) -> usize {
    (seconds * FRAMES_PER_S) as usize
}

/// Returns the median.
fn middle(levels: &[f32]) -> f32 {
    let mut sorted = levels.to_vec();
    let at = sorted.len() / 2;
    *sorted.select_nth_unstable_by(at, f32::total_cmp).1
}

/// Returns the level exceeded a tenth of the time.
fn loud_level(levels: &[f32]) -> Option<f32> {
    let mut sorted = levels.to_vec();
    let at = sorted.len() * 9 / 10;
    (at < sorted.len()).then(|| *sorted.select_nth_unstable_by(at, f32::total_cmp).1)
}
