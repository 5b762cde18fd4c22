//! An entry as a rule proposes it, before the note is looked at as a whole.

use crate::sheet::Sheet;
use note::{Flag, Value};

/// A proposed entry over the atoms it came from.
#[derive(Clone, Debug)]
pub(crate) struct Draft {
    pub(crate) value: Value,
    /// The atom whose owner and time it takes.
    pub(crate) head: usize,
    /// First and last atom of the words it came from.
    pub(crate) from: usize,
    pub(crate) to: usize,
    /// How sure the rule is, 0 to 1, before calibration.
    pub(crate) score: f64,
    pub(crate) flags: Vec<Flag>,
    /// Not happened yet: keeps the note's time.
    pub(crate) planned: bool,
}

impl Draft {
    /// Proposes a value over atoms `from..=to`, with the flags that the words carry.
    pub(crate) fn new(sheet: &Sheet, value: Value, from: usize, to: usize, score: f64) -> Self {
        let mut draft = Draft { value, head: from, from, to, score, flags: Vec::new(), planned: false };
        let reach = (from..=to).filter_map(|k| sheet.corrected.get(k).copied().flatten()).max();
        if let Some(reach) = reach {
            draft.to = draft.to.max(reach);
            draft.flag(Flag::CorrectedInSpeech);
        }
        if (from..=to).any(|k| sheet.atoms[k].heard && !sheet.dead[k]) {
            draft.flag(Flag::MisheardWord);
        }
        draft
    }
    /// Takes owner and time from another atom.
    pub(crate) fn at(mut self, head: usize) -> Self {
        self.head = head;
        self
    }
    /// Adds a flag once.
    pub(crate) fn flag(&mut self, flag: Flag) {
        if !self.flags.contains(&flag) {
            self.flags.push(flag);
        }
    }
}
