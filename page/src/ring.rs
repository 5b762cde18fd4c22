//! The varvel: a ring that shows a weight against its band, the same for every bird.
//!
//! Straight up is the weight she flies best at; left is lighter, right is heavier, a degree for each
//! 0.09 % of it. So two birds of different size are read the same way at a glance. The jess hangs
//! from the foot of the ring.

use crate::say;
use maud::{Markup, html};
use note::Units;
use std::f64::consts::PI;

/// Half the ring's scale: this share of the best weight is a turn of [`HALF_TURN`].
const HALF_SPAN: f64 = 0.12;
/// Degrees from straight up to either end of the scale; below is the jess.
const HALF_TURN: f64 = 138.0;
const OUTER: f64 = 92.0;
const INNER: f64 = 72.0;
const AHEAD: f64 = 98.0;

/// What the ring shows; masses in grams.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ring {
    /// The last weight, furniture taken off.
    pub grams: Option<f64>,
    /// The middle of the scale: best flying weight, else the target, else the last weight.
    pub middle: Option<f64>,
    /// The flying-weight band.
    pub band: Option<(f64, f64)>,
    /// Whether there are answers enough for a band, but they do not tell it well.
    pub unsure: bool,
    /// Never below.
    pub floor: Option<f64>,
    /// The next weigh-in: expected, low, high.
    pub ahead: Option<(f64, f64, f64)>,
}

impl Ring {
    fn angle(&self, grams: f64) -> f64 {
        let middle = self.middle.or(self.grams).unwrap_or(grams).max(1.0);
        ((grams / middle - 1.0) / HALF_SPAN).clamp(-1.0, 1.0) * HALF_TURN
    }

    /// Says where the weight stands, in words.
    pub fn verdict(&self, units: Units) -> Option<String> {
        let grams = self.grams?;
        if let Some(floor) = self.floor
            && grams < floor
        {
            return Some(format!(
                "{} under the floor of {}",
                say::mass(floor - grams, units),
                say::mass(floor, units)
            ));
        }
        let (low, high) = self.band?;
        let band = format!("{} to {}", say::about(low, units), say::about(high, units));
        Some(if grams < low {
            format!("{} under the band, {band}", say::change(low - grams, units).trim_start_matches('+'))
        } else if grams > high {
            format!("{} over the band, {band}", say::change(grams - high, units).trim_start_matches('+'))
        } else {
            format!("In the band, {band}")
        })
    }

    /// The verdict set in two lines: where the weight stands, and the band or floor it is set against.
    pub fn standing(&self, units: Units) -> Markup {
        let Some(words) = self.verdict(units) else {
            let (head, why) = if self.unsure {
                ("No sure band yet", "Her answers so far do not tell which weight is too high.")
            } else {
                ("No band yet", "It grows out of about ten answered flights.")
            };
            return html! { p.verdict { (head) } p.small { (why) } };
        };
        let (head, band) = words.split_once(", ").unwrap_or((&words, ""));
        html! { p.verdict { (head) @if !band.is_empty() { span.aside { ", " } span.set { (band) } } } }
    }

    /// Draws the ring.
    pub fn draw(&self, units: Units) -> Markup {
        let (big, unit) = match self.grams {
            Some(grams) => say::mass_parts(grams, units),
            None => ("—".into(), "no weight yet"),
        };
        let floor = self.floor.map(|floor| self.angle(floor));
        html! {
            svg.ring viewBox="-4 -6 208 222" aria-hidden="true" focusable="false" {
                path.jess d="M93 190 L91 216 M107 190 L109 216" {}
                circle.face cx="100" cy="100" r=(mid()) stroke-width=(OUTER - INNER) {}
                @if let Some(end) = floor { path.low d=(sector(-HALF_TURN, end)) {} }
                @if let Some((low, high)) = self.band { path.band d=(sector(self.angle(low), self.angle(high).max(self.angle(low) + 1.0))) {} }
                @for step in -12..=12 {
                    @let at = f64::from(step) / 12.0 * HALF_TURN;
                    @let long = step % 4 == 0;
                    @let (x1, y1) = spot(at, INNER);
                    @let (x2, y2) = spot(at, INNER + if long { 8.0 } else { 4.5 });
                    line class=(if long { "tick long" } else { "tick" }) x1=(n(x1)) y1=(n(y1)) x2=(n(x2)) y2=(n(y2)) {}
                }
                circle.metal cx="100" cy="100" r=(OUTER) stroke-width="2.5" {}
                circle.metal cx="100" cy="100" r=(INNER) stroke-width="1.5" {}
                @if let Some((expected, low, high)) = self.ahead {
                    @let (x, y) = spot(self.angle(expected), AHEAD);
                    path.ahead d=(arc(self.angle(low), self.angle(high), AHEAD)) {}
                    circle.ahead-dot cx=(n(x)) cy=(n(y)) r="4" {}
                }
                @if let Some(grams) = self.grams {
                    @let at = self.angle(grams);
                    @let (x, y) = spot(at, mid());
                    @let (x1, y1) = spot(at, INNER - 9.0);
                    line.hand x1=(n(x1)) y1=(n(y1)) x2=(n(x)) y2=(n(y)) {}
                    circle.bead cx=(n(x)) cy=(n(y)) r="8.5" {}
                }
                text.big x="100" y="110" { (big) }
                text.unit x="100" y="131" { (unit) }
            }
        }
    }
}

/// Draws the hatchings once a page; the ring and the calls refer to them.
pub fn hatches() -> Markup {
    html! {
        svg.hatches aria-hidden="true" focusable="false" {
            defs {
                pattern.hatch-vert #hatch-vert width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="6" height="6" {} line x1="0" y1="0" x2="0" y2="6" stroke-width="3.4" {}
                }
                pattern.hatch-gules #hatch-gules width="5" height="5" patternUnits="userSpaceOnUse" {
                    rect width="5" height="5" {} line x1="1" y1="0" x2="1" y2="5" stroke-width="2.4" {}
                }
                pattern.hatch-azure #hatch-azure width="5" height="5" patternUnits="userSpaceOnUse" {
                    rect width="5" height="5" {} line x1="0" y1="1" x2="5" y2="1" stroke-width="2.4" {}
                }
                pattern.hatch-or #hatch-or width="6" height="6" patternUnits="userSpaceOnUse" {
                    rect width="6" height="6" {} circle cx="3" cy="3" r="1.5" {}
                }
            }
        }
    }
}

/// A patch of hatched enamel: the sign before a call.
pub fn enamel(name: &str) -> Markup {
    html! {
        svg viewBox="0 0 28 28" aria-hidden="true" focusable="false" {
            circle cx="14" cy="14" r="12" fill={ "url(#hatch-" (name) ")" } stroke="currentColor" stroke-width="2" {}
            circle cx="14" cy="14" r="5" fill="none" stroke="currentColor" stroke-width="2" {}
        }
    }
}

fn mid() -> f64 {
    (OUTER + INNER) / 2.0
}
fn n(number: f64) -> String {
    say::trim(number, 1)
}
fn spot(degrees: f64, radius: f64) -> (f64, f64) {
    let turn = degrees * PI / 180.0;
    (100.0 + radius * turn.sin(), 100.0 - radius * turn.cos())
}
fn arc(from: f64, to: f64, radius: f64) -> String {
    let ((x1, y1), (x2, y2)) = (spot(from, radius), spot(to, radius));
    let large = u8::from(to - from > 180.0);
    format!("M{} {} A{radius} {radius} 0 {large} 1 {} {}", n(x1), n(y1), n(x2), n(y2))
}
fn sector(from: f64, to: f64) -> String {
    let ((x1, y1), (x2, y2)) = (spot(to, INNER), spot(from, INNER));
    let large = u8::from(to - from > 180.0);
    format!(
        "{} L{} {} A{INNER} {INNER} 0 {large} 0 {} {} Z",
        arc(from, to, OUTER),
        n(x1),
        n(y1),
        n(x2),
        n(y2)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(grams: f64) -> Ring {
        Ring {
            unsure: false,
            grams: Some(grams),
            middle: Some(915.0),
            band: Some((905.0, 925.0)),
            floor: Some(850.0),
            ahead: None,
        }
    }

    #[test]
    fn the_verdict_says_where_the_weight_stands() {
        for (grams, words) in [
            (912.0, "In the band, 905 g to 925 g"),
            (905.0, "In the band, 905 g to 925 g"),
            (900.0, "5 g under the band, 905 g to 925 g"),
            (931.5, "6.5 g over the band, 905 g to 925 g"),
            (600.0, "250 g under the floor of 850 g"),
        ] {
            assert_eq!(ring(grams).verdict(Units::Metric).as_deref(), Some(words));
        }
        assert_eq!(Ring::default().verdict(Units::Metric), None);
    }

    #[test]
    fn the_best_weight_is_straight_up_and_the_ends_hold() {
        assert_eq!(ring(915.0).angle(915.0), 0.0);
        assert!(ring(915.0).angle(905.0) < 0.0);
        assert_eq!(ring(915.0).angle(9_150.0), HALF_TURN);
        assert_eq!(ring(915.0).angle(0.0), -HALF_TURN);
    }

    #[test]
    fn a_ring_without_anything_still_draws() {
        let drawn = Ring::default().draw(Units::Metric).into_string();
        assert!(drawn.contains("no weight yet") && !drawn.contains("NaN"));
    }
}
