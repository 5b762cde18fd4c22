//! Whether a behaviour or a sign may stand at a place.

use super::Place;
use crate::lexicon::Cue;
use crate::tokens::Break;
use note::Sign;

impl<'s, 'a> Place<'s, 'a> {
    pub(super) fn behaviour(&self, word: &str) -> bool {
        let sheet = self.sheet;
        if self.first_person() || self.other_subject() || self.named_others() {
            return false;
        }
        // Two words by whose sound this may be one are about as long as it: "sore ring".
        if word == "soaring" && !self.single && sheet.word(self.i).len() > 5 {
            return false;
        }
        match word {
            "yarak" => {
                let inside = self.p_is(&["in", "into"]) || self.p.is_some_and(|p| sheet.words(p) == "full");
                let goes_on = self.n_any(&[Cue::And, Cue::But, Cue::Today, Cue::At])
                    || self.n.is_some_and(|n| {
                        sheet.is(
                            n,
                            &["at last", "again", "already", "from", "this", "all", "by", "the", "right"],
                        )
                    }) && (self.p.is_some_and(|p| sheet.start_of_sentence(p) == p)
                        || self.left(5, |k| sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She])));
                let alone = self.single && !self.ordinary && self.p_is(&["in"]);
                let said_of = self.unbroken
                    && self.left(5, |k| sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]));
                // "no yarak, just looking about"
                let denied = self.p_any(&[Cue::Neg]) && self.closes() && !self.single;
                return denied
                    || inside
                        && (self.closes() || goes_on || alone || said_of)
                        && !(self.ordinary && self.p_is(&["into"]));
            }
            "keen" => {
                return self.opens() && self.closes() || self.subject() && self.closes() && !self.single;
            }
            "hood shy" => {
                return self.subject()
                    || self.opens()
                    || self.p_any(&[Cue::Slight, Cue::Strong, Cue::Neg, Cue::And]);
            }
            "waiting on" => {
                return (self.opens() || self.subject() || self.p_any(&[Cue::And]))
                    && !self.n_is(&["the", "a", "my", "him", "them"]);
            }
            "raking away" | "self hunting" | "overflying" | "landing on ground" | "sitting tight"
            | "fed up" => {
                let lead = self.opens()
                    || self.subject()
                    || self.p_any(&[Cue::And, Cue::Neg, Cue::But, Cue::Or, Cue::Start])
                    || self.p_is(&["then", "no", "was", "to", "and", "kept", "or", "had", "has", "'d"]);
                return lead
                    && (!self.single
                        || self.n_is(&["me", "him", "us", "the"])
                        || self.closes()
                        || self.degree_next());
            }
            _ => {}
        }
        // "beating off her perch", "mangling over it": at what only this is done.
        let object = self.n.is_some_and(|n| {
            let near = |words: &[&str]| (n + 1..n + 4).any(|k| sheet.is(k, words));
            match word {
                "bating" => {
                    sheet.ends(n, &["off", "from"])
                        && near(&[
                            "perch",
                            "glove",
                            "fist",
                            "block",
                            "bow",
                            "bow perch",
                            "the fist",
                            "the glove",
                        ])
                }
                "mantling" => {
                    sheet.is(n, &["over", "on"])
                        && (sheet.is(n + 1, &["it", "the lure"])
                            || near(&["food", "kill", "dinner", "tea", "quarry"])
                            || (n + 1..n + 4).any(|k| sheet.food(k).is_some() || sheet.quarry(k).is_some())
                            || sheet.is(n, &["on"]) && near(&["lure"]))
                }
                _ => false,
            }
        });
        let told_of =
            self.subject() || self.left(4, |k| sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]));
        // "Rook 640. Mangling on the lure": the bird was named in the sentence before.
        let named_before = || {
            self.p.is_none()
                && (self.i.saturating_sub(6)..self.i).any(|k| sheet.bird(k).is_some() && !sheet.dead[k])
        };
        if object && (told_of || named_before()) {
            return true;
        }
        let degree_before = self.p_any(&[Cue::Slight, Cue::Strong])
            || self.p_is(&["of"]) && self.left(3, |k| sheet.any(k, &[Cue::Slight, Cue::Strong]));
        // "not stupid" denies a trait, "not stooping" a doing.
        let trait_denied = self.ordinary
            && self.p_is(&["not"])
            && !sheet.word(self.i).ends_with("ing")
            && !sheet.word(self.i).ends_with("ed");
        let denied = self.p_any(&[Cue::Neg]) && !trait_denied
            || self.p_is(&["n't", "more", "any"]) && self.left(4, |k| sheet.has(k, Cue::Neg));
        let runs_on = self.n_any(&[Cue::And, Cue::Or, Cue::But, Cue::Today])
            || self.n_is(&[
                "at",
                "on",
                "over",
                "in",
                "again",
                "when",
                "off",
                "for",
                "while",
                "from",
                "away",
                "me",
                "all",
                "every",
                "with",
                "because",
                "and",
                "though",
                "by",
                "twice",
                "to",
                "herself",
                "himself",
                "the",
                "round",
                "around",
                "nicely",
                "well",
                "after",
                "tonight",
                "this",
                "whatever",
                "whatsoever",
                "either",
            ]);
        let opened = self.opens() && runs_on && !self.ordinary && self.about_bird();
        let listed = self.p_any(&[Cue::And, Cue::Or])
            || self.p_is(&[
                "started", "kept", "stopped", "then", "began", "some", "still", "just", "also", "was", "were",
            ]);
        let runs_on =
            runs_on || self.n.is_some_and(|n| matches!(sheet.words(n), "at all" | "in the" | "at me"));
        // "she was seeking on the perch"
        const SEATS: [&str; 6] = ["perch", "block", "fist", "glove", "bow", "lawn"];
        let perched = self.n.is_some_and(|n| {
            sheet.word(n) == "on"
                && (sheet.ends(n, &SEATS) || sheet.is(n, &["on"]) && (1..4).any(|d| sheet.is(n + d, &SEATS)))
        });
        if perched && (self.subject() || self.opens()) {
            return true;
        }
        let ends = self.closes() || self.degree_next();
        let sure = self.opens() && ends
            || denied && (ends || runs_on)
            || degree_before && (ends || runs_on)
            || self.degree_next() && (self.subject() || listed);
        if self.ordinary {
            // "she was freezing", "the rising sun": not by being said of her alone.
            let alone = self.opens() && self.closes();
            // "Training. Solo, telemetry started": a heading.
            if alone && self.i == 0 && sheet.before(1) == Break::Stop {
                return false;
            }
            if alone && !self.unbroken {
                // A word by itself counts among other things said of the bird.
                return self.neighbours();
            }
            return sure && !alone
                || alone && self.unbroken
                || self.subject() && self.closes() && self.listed_beside();
        }
        sure || opened
            || self.subject() && (ends || runs_on)
            || listed && (ends || runs_on) && self.about_bird()
    }

    /// "the estate lads were beating the roots": a noun of two words that is no bird of the keeper's.
    fn named_others(&self) -> bool {
        let sheet = self.sheet;
        let Some(be) = self.p.filter(|p| sheet.is(*p, &["were", "are", "was", "'re", "is"])) else {
            return false;
        };
        let plain = |k: usize| {
            sheet.senses(k).is_empty()
                && sheet.bird(k).is_none()
                && sheet.num(k).is_none()
                && sheet.before(k + 1) == Break::None
        };
        be.checked_sub(3).is_some_and(|article| {
            sheet.is(article, &["the", "my", "our", "their", "some", "those", "these"])
                && sheet.before(article + 1) == Break::None
                && plain(be - 1)
                && (plain(be - 2) || sheet.has(be - 2, Cue::Person))
        })
    }

    /// Something else is said of a bird in this sentence or right beside it.
    pub(super) fn neighbours(&self) -> bool {
        let sheet = self.sheet;
        let from = self.i.saturating_sub(8);
        let to = sheet.len().min(self.i + 8);
        (from..to).any(|k| {
            k != self.i
                && (sheet.bird(k).is_some()
                    || sheet.num(k).is_some()
                    || sheet.food(k).is_some()
                    || sheet.sign(k).is_some()
                    || sheet.behaviour(k).is_some())
        })
    }

    pub(super) fn listed_beside(&self) -> bool {
        self.near(6, |k| k != self.i && self.sheet.behaviour(k).is_some())
    }

    pub(super) fn about_bird(&self) -> bool {
        self.left(10, |k| {
            self.sheet.bird(k).is_some()
                || self.sheet.any(k, &[Cue::He, Cue::She])
                || self.sheet.behaviour(k).is_some()
        })
    }

    /// "Rook's malt finished", "malt's started on Rook": whose it is, and that it began or ended.
    fn moult_ends_or_begins(&self) -> bool {
        let sheet = self.sheet;
        const TOLD: [&str; 12] = [
            "started",
            "finished",
            "begun",
            "over",
            "done",
            "starting",
            "finished on",
            "started on",
            "has started",
            "has begun",
            "has finished",
            "is starting",
        ];
        let be = self.n.filter(|n| sheet.any(*n, &[Cue::Be]) || sheet.is(*n, &["'s", "has"]));
        let Some(told) = be.map(|n| n + 1).or(self.n).filter(|k| sheet.is(*k, &TOLD)) else { return false };
        let tight = |k: usize| sheet.before(k) == Break::None;
        let ends = !tight(told + 1) || told + 1 >= sheet.len();
        let whose = self.p.is_some_and(|p| sheet.bird(p).is_some())
            || self.p_is(&["'s"]) && self.i > 1 && sheet.bird(self.i - 2).is_some()
            || self.p_any(&[Cue::His, Cue::Her]);
        // "the malt's started, two primaries down"
        let feathers =
            self.p_is(&["the"]) && !self.ordinary && self.near(8, |k| sheet.sign(k) == Some(Sign::Feather));
        let whose = whose || feathers;
        if sheet.ends(told, &["on"]) {
            return self.p.is_none() && !self.ordinary && tight(told + 1) && sheet.bird(told + 1).is_some();
        }
        let on = sheet.is(told + 1, &["on", "for", "with", "in"]) && tight(told + 1) && tight(told + 2);
        let on_bird = on && (sheet.bird(told + 2).is_some() || sheet.any(told + 2, &[Cue::He, Cue::Her]));
        tight(told) && (whose && ends || self.p.is_none() && !self.ordinary && on_bird)
    }

    pub(super) fn sign(&self, sign: Sign) -> bool {
        let sheet = self.sheet;
        // "crop empty, keel sharp, costing late": its reading and nothing more, among other signs.
        let end = self.i + 2;
        let ends = end >= sheet.len() || sheet.before(end) != Break::None || sheet.unbroken;
        let alone = self.single
            && self.opens()
            && ends
            && self.n.is_some_and(|n| n == self.i + 1 && sheet.reading(n, sign).is_some())
            && self.near(7, |k| k != self.i && sheet.sign(k).is_some_and(|s| s != sign));
        if alone {
            return true;
        }
        let after = |reach: usize, found: &dyn Fn(usize) -> bool| {
            let mut k = self.i + 1;
            while let Some(m) = Some(k)
                .filter(|m| *m < sheet.len() && sheet.before(*m) == Break::None && *m <= self.i + reach)
            {
                if found(m) {
                    return true;
                }
                if !(sheet.any(m, &[Cue::Be, Cue::Slight, Cue::Strong, Cue::Plain, Cue::Approx])
                    || sheet.is(m, &["'s", "all", "still", "look", "a", "bit", "scores", "score"]))
                {
                    return false;
                }
                k += 1;
            }
            false
        };
        let reading_of = |k: usize| sheet.reading(k, sign);
        let owned = self.p_any(&[Cue::Her, Cue::His]) || self.p_is(&["the", "'s"]) || self.opens();
        match sign {
            Sign::Mutes => {
                let strong = |k: usize| {
                    reading_of(k).is_some_and(|r| r != "none")
                        && (!self.ordinary
                            || sheet.is(
                                k,
                                &["normal", "green", "watery", "dark", "runny", "greenish", "black", "loose"],
                            ))
                };
                after(4, &strong)
                    && (owned || self.p_any(&[Cue::And, Cue::Today, Cue::ThisMorning, Cue::LastNight]))
                    || self.p.is_some_and(|p| strong(p) && !self.ordinary)
                    || self.p_is(&["no"])
                        && !self.ordinary
                        && (self.closes()
                            || self.n_is(&["since", "yet", "today", "from", "this", "overnight"]))
            }
            Sign::Keel => {
                let sharp = after(4, &|k| {
                    reading_of(k).is_some_and(|r| r != "good" || !self.ordinary || owned)
                        || sheet.num(k).is_some() && sheet.words(k + 1) == "out of"
                });
                sharp && (owned || !self.ordinary)
            }
            Sign::Crop => {
                (after(3, &|k| sheet.is(k, &["empty", "full", "half"]))
                    || self.p.is_some_and(|p| {
                        sheet.num(p).is_some_and(|n| n.fraction) || sheet.is(p, &["full", "empty"])
                    }))
                    && !self.n_is(&["of"])
            }
            Sign::Casting => {
                self.opens() && after(3, &|k| sheet.is(k, &["late", "poor"]))
                    || self.p_is(&["no"]) && (self.closes() || self.n_is(&["yet", "today", "this", "from"]))
                    || self.p_is(&["late", "poor"]) && self.closes()
            }
            Sign::Moult => {
                let near = self.left(4, |k| {
                    sheet.any(k, &[Cue::MoultStart, Cue::MoultEnd])
                        && !sheet.is(k, &["in", "in the", "over", "done", "starts"])
                });
                near && (self.p_is(&["the", "her", "his", "to", "a"])
                    || self.p_any(&[Cue::MoultStart, Cue::MoultEnd, Cue::His, Cue::Her]))
                    && (self.closes()
                        || self.n_any(&[Cue::And, Cue::But, Cue::Today])
                        || self.n_is(&["now", "early", "properly"]))
                    || (self.p_any(&[Cue::His, Cue::Her]) || self.p_is(&["'s", "the"]))
                        && self.n_any(&[Cue::MoultStart, Cue::MoultEnd, Cue::Be])
                        && self.n.is_some_and(|n| {
                            sheet.is(n, &["has begun", "has started", "is starting"])
                                || sheet.any(n + 1, &[Cue::MoultStart, Cue::MoultEnd])
                                    && sheet.is(
                                        n + 1,
                                        &["started", "finished", "begun", "starting", "over", "done"],
                                    )
                        })
                    || self.moult_ends_or_begins()
            }
            Sign::Talon | Sign::Beak | Sign::Feather => {
                let damaged = self.near(9, |k| {
                    k != self.i
                        && sheet.damage(k)
                        && sheet.is(
                            k,
                            &[
                                "cracked",
                                "chipped",
                                "overgrown",
                                "bent",
                                "frayed",
                                "broken",
                                "split",
                                "snapped",
                                "sheared",
                                "broke",
                            ],
                        )
                });
                let spoilt = self.p.is_some_and(|p| sheet.damage(p));
                damaged
                    && (owned || spoilt || self.p_is(&["one", "hind", "back", "a", "bent", "broken"]))
                    && sign != Sign::Feather
            }
            Sign::Foot => {
                let side = self.p_is(&["left", "right"]);
                side && self
                    .near(7, |k| k > self.i && sheet.damage(k) && !sheet.is(k, &["fine", "clean", "left"]))
            }
        }
    }
}
