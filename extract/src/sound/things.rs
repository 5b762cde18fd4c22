//! Whether a step, a piece of kit, a food or a word of the grammar may stand at a place.

use super::Place;
use crate::lexicon::Cue;
use crate::tokens::Break;
use note::Step;

impl<'s, 'a> Place<'s, 'a> {
    pub(super) fn step(&self, step: Step) -> bool {
        let sheet = self.sheet;
        let training = |reach: usize| {
            self.near(reach, |k| {
                sheet.any(k, &[Cue::First, Cue::Start, Cue::Plan])
                    && !sheet.is(k, &["could", "might", "will", "'ll", "could", "first"])
                    || sheet.words(k).contains("first")
                    || sheet.is(k, &["planning", "started"])
            })
        };
        let ends = self.closes()
            || self.n_any(&[
                Cue::And,
                Cue::But,
                Cue::Fist,
                Cue::ToLure,
                Cue::ToPerch,
                Cue::Today,
                Cue::Flight,
                Cue::Free,
            ])
            || self.n_is(&["longest", "all", "furthest", "out"])
            || self.n_is(&[
                "for",
                "to",
                "with",
                "at",
                "in",
                "next",
                "this",
                "today",
                "tonight",
                "on",
                "yesterday",
                "tomorrow",
                "work",
                "flights",
                "line",
                "again",
            ])
            || self.n.is_some_and(|n| sheet.bird(n).is_some());
        match step {
            Step::Creance => {
                let on = self.p_is(&["the", "a"])
                    && self.i > 1
                    && (sheet.is(self.i - 2, &["on", "with", "onto", "planning", "off"])
                        || sheet.words(self.i - 2).ends_with("on")
                        || sheet.any(self.i - 2, &[Cue::Plan, Cue::Start]))
                    || self.p_is(&["on"])
                    || self.p.is_some_and(|p| matches!(sheet.words(p), "on to" | "back on" | "on the"));
                // "four flights, creans, to the fist"
                let told = self.single && !self.ordinary && self.opens() && self.closes() && self.flying();
                // "refused the crance altogether"
                let spurned = !self.ordinary
                    && self.p_is(&["the", "a"])
                    && self.i > 1
                    && sheet.any(self.i - 2, &[Cue::Refused])
                    && (ends || self.n_is(&["altogether", "outright", "flat", "completely", "point"]));
                told || spurned
                    || on && ends && (training(14) || self.flying() || self.flying_next() || !self.single)
            }
            Step::Hood => self.p_is(&["the", "a"]) && ends && training(10),
            Step::Telemetry => (self.p_is(&["with", "the"]) || self.opens()) && training(8),
            Step::Manning => {
                (training(5) || self.n_is(&["done", "finished"]))
                    && (ends || self.n_any(&[Cue::Her, Cue::He, Cue::Done]))
            }
            Step::Whistle | Step::TravelBox | Step::Lure => {
                (self.p_is(&["the", "a", "on"]) || self.p.is_some()) && ends && training(10)
            }
            Step::PerchToPerch
            | Step::FeedingOnTheFist
            | Step::SteppingToTheFist
            | Step::JumpingToTheFist => true,
            Step::FreeFlight => training(8) && !self.single,
            Step::Entering | Step::Hunting => false,
        }
    }

    pub(super) fn kit(&self, item: &str) -> bool {
        let sheet = self.sheet;
        let verb = self.left(6, |k| {
            sheet.any(k, &[Cue::Fit, Cue::Change, Cue::TakeOff, Cue::Lost, Cue::Broke, Cue::Check])
                && !sheet.is(
                    k,
                    &[
                        "dropped", "missing", "threw", "died", "added", "wearing", "working", "cracked",
                        "bent", "is",
                    ],
                )
                || sheet.is(k, &["new", "put", "took", "cut"])
        });
        let led = self.p_any(&[
            Cue::Fit,
            Cue::Change,
            Cue::TakeOff,
            Cue::Lost,
            Cue::Broke,
            Cue::Check,
            Cue::Old,
            Cue::His,
            Cue::Her,
            Cue::Put,
        ]) || self
            .p_is(&["a", "the", "new", "her", "his", "old", "of", "and", "'s", "both", "leather"])
            || self.p.is_some_and(|p| sheet.num(p).is_some());
        let ends = self.closes()
            || self.n_any(&[Cue::And, Cue::On, Cue::Off, Cue::But, Cue::Today])
            || self.n_is(&[
                "for",
                "on",
                "off",
                "to",
                "with",
                "and",
                "had",
                "has",
                "that",
                "is",
                "'s",
                "today",
                "somewhere",
                "in",
                "near",
                "under",
            ])
            || self.n.is_some_and(|n| sheet.bird(n).is_some());
        match item {
            "lure" => {
                self.flying()
                    && (self.opens() && self.closes()
                        || self.p_is(&["the"])
                            && self.i > 1
                            && sheet.is(self.i - 2, &["to", "at", "gripping"]))
                    || verb && led && ends && !self.ordinary
            }
            "hood" => verb && led && ends && !self.p_is(&["and"]),
            "creance" => false,
            _ => {
                let after = self.near(9, |k| {
                    k > self.i
                        && (sheet.is(
                            k,
                            &["fitted", "snapped", "broke", "broken", "changed", "replaced", "checked"],
                        ) || sheet.words(k) == "is working"
                            || sheet.damage(k) && sheet.has(k, Cue::Old))
                });
                let runs = self.closes()
                    || self.n_any(&[
                        Cue::Be,
                        Cue::On,
                        Cue::Broke,
                        Cue::Check,
                        Cue::Change,
                        Cue::Fit,
                        Cue::Her,
                        Cue::His,
                    ])
                    || self.n_is(&["had", "has", "on", "are", "is", "got", "have", "'s"]);
                // "her old jessies were like card"
                let old = self.p_any(&[Cue::Old]) && self.n_any(&[Cue::Be]) && !self.ordinary;
                old || (verb && led && ends) || after && runs && (led || self.opens()) && !self.ordinary
            }
        }
    }

    pub(super) fn food(&self) -> bool {
        let sheet = self.sheet;
        let number = self.p.is_some_and(|p| {
            sheet.num(p).is_some_and(|n| n.value <= 12.0 && !n.money)
                || sheet.any(p, &[Cue::Grams, Cue::Ounces])
                || sheet.is(p, &["free", "tree"])
        });
        let half = self.p_is(&["a", "an"]) && self.i > 1 && sheet.num(self.i - 2).is_some_and(|n| n.fraction)
            || self.p_is(&["of"])
                && self.i > 1
                && (sheet.any(self.i - 2, &[Cue::Grams, Cue::Ounces, Cue::Slight])
                    || sheet.is(self.i - 2, &["pieces", "piece", "bits", "lumps", "stones", "strips"]));
        let article = self.p_is(&["a", "an", "some", "one", "another", "washed"])
            || self.p_any(&[Cue::Slight])
                && self.p.is_some_and(|p| {
                    matches!(sheet.words(p), "some" | "a little" | "little" | "bit of" | "a bit of")
                });
        let verb = self.left(7, |k| {
            sheet.any(k, &[Cue::Ate, Cue::Gave, Cue::Refused, Cue::Offered, Cue::Left])
                && !sheet.is(k, &["for", "on", "into", "just", "only", "got", "had"])
                || sheet.is(k, &["had"])
        });
        // "gave him wrangle"
        let handed = !self.ordinary
            && (self.p_any(&[Cue::Her, Cue::He]) || self.p.is_some_and(|p| sheet.bird(p).is_some()))
            && self.i > 1
            && sheet.is(self.i - 2, &["gave", "fed", "offered", "given", "give"]);
        // "Bruno had wrangle as well"
        let had = !self.ordinary
            && self.p_is(&["had"])
            && self.left(4, |k| sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]));
        let handed = handed || had;
        let part = self.n.is_some_and(|n| sheet.part(n).is_some());
        if part && (article || number || half) {
            return true;
        }
        let ends = self.closes()
            || self.n_any(&[
                Cue::And,
                Cue::But,
                Cue::Today,
                Cue::Or,
                Cue::LastNight,
                Cue::Yesterday,
                Cue::ThisMorning,
            ])
            || self.n.is_some_and(|n| {
                sheet.part(n).is_some()
                    || sheet.bird(n).is_some()
                    || sheet.is(n, &["for", "into", "in", "then", "today", "tonight", "left", "straight"])
            });
        let list = self.left(5, |k| sheet.food(k).is_some())
            || self.near(6, |k| k > self.i && sheet.food(k).is_some());
        if !ends {
            return false;
        }
        if self.ordinary {
            // "no baiting, three docks last night": an amount by itself among things said of a bird.
            let joined =
                self.p.is_some_and(|p| p > 1 && sheet.has(p - 1, Cue::And) && sheet.num(p - 2).is_some());
            let alone = number
                && (self.opens_before() || joined)
                && (self.closes()
                    || self.n_is(&["straight"])
                    || self.n_any(&[Cue::LastNight, Cue::Yesterday, Cue::ThisMorning, Cue::Today]))
                && self.near(8, |k| {
                    sheet.bird(k).is_some() || sheet.behaviour(k).is_some() || sheet.sign(k).is_some()
                });
            return half && !self.p_is(&["of"]) || number && (verb || list) || alone;
        }
        // "a rabbit leg and wrangle"
        let joined = self.p_any(&[Cue::And])
            && self.i > 1
            && self.closes()
            && (sheet.food(self.i - 2).is_some() || sheet.part(self.i - 2).is_some())
            && (verb || list);
        number
            || half
            || handed
            || joined
            || article && (verb || list || self.opens_before())
            || self.opens() && self.closes() && list
    }

    pub(super) fn opens_before(&self) -> bool {
        self.p.is_some_and(|p| p == 0 || self.sheet.before(p) != Break::None)
    }

    pub(super) fn cue(&self, cue: Cue) -> bool {
        let sheet = self.sheet;
        let number = self.p.is_some_and(|p| sheet.num(p).is_some());
        match cue {
            Cue::ToLure | Cue::ToPerch | Cue::Fist => {
                self.near(8, |k| {
                    k < self.i && sheet.has(k, Cue::Flight) && sheet.is(k, &["flight", "flights", "fights"])
                        || sheet.is(k, &["flew", "flown", "flying", "free", "creance", "longest"])
                            && k < self.i
                }) && !sheet.is(self.i + 1, &["of"])
                    || self.left(6, |k| {
                        sheet.has(k, Cue::Start) && !sheet.is(k, &["onto"])
                            || sheet.words(k).contains("first time")
                    }) && cue == Cue::ToLure
            }
            Cue::Flight => {
                number
                    && self.near(10, |k| {
                        k > self.i
                            && (sheet.any(k, &[Cue::ToLure, Cue::ToPerch])
                                || sheet.is(k, &["longest", "free"])
                                || sheet.has(k, Cue::Fist) && sheet.words(k).starts_with("to"))
                    })
            }
            Cue::Flew => {
                self.n_any(&[Cue::Her, Cue::He])
                    && self.near(8, |k| {
                        k > self.i
                            && (sheet.is(k, &["free", "lure", "fist"])
                                || sheet.any(k, &[Cue::ToLure, Cue::Free]))
                    })
            }
            Cue::Missed => {
                (self.p_any(&[Cue::And, Cue::But, Cue::She, Cue::He]) || self.opens())
                    && (1..4).any(|d| {
                        self.n.is_some_and(|n| sheet.quarry(n + d).is_some())
                            || self.i + d < sheet.len() && self.sounds_like_quarry(self.i + d)
                    })
            }
            Cue::Longest => {
                self.n.is_some_and(|n| {
                    (0..3).any(|d| {
                        sheet.num(n + d).is_some()
                            && sheet.any(n + d + 1, &[Cue::Metres, Cue::Yards, Cue::Feet])
                    })
                }) && self.flying()
            }
            Cue::Grams | Cue::Kilos | Cue::Ounces => number,
            Cue::Metres | Cue::Yards => {
                number
                    && self.left(5, |k| sheet.has(k, Cue::Longest) && sheet.is(k, &["longest", "furthest"]))
            }
            Cue::Weigh => self.n.is_some_and(|n| {
                sheet.num(n).is_some() || sheet.num(n + 1).is_some() && sheet.is(n, &["at", "is", "'s", "in"])
            }),
            _ => false,
        }
    }
}
