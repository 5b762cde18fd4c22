//! The weight over time as a handful of shapes, which HTML draws as SVG and PDF as paths.

use crate::words;
use chrono::{DateTime, Datelike, Days, FixedOffset, NaiveDate, NaiveTime};
use note::{Bird, Units};

/// Colours by their part in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ink {
    Text,
    Faint,
    Rule,
    Line,
    Band,
    Floor,
}

/// Where a text stands to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A shape in points, from the picture's top left.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shape {
    Area { left: f32, top: f32, width: f32, height: f32, ink: Ink },
    Line { points: Vec<(f32, f32)>, ink: Ink, width: f32, dashed: bool },
    Dot { x: f32, y: f32, radius: f32, ink: Ink },
    Text { x: f32, y: f32, size: f32, anchor: Anchor, ink: Ink, text: String },
}

/// Weights over days, with the lines that matter.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plot {
    pub title: String,
    pub units: Units,
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// Moments and grams, oldest first.
    pub points: Vec<(DateTime<FixedOffset>, f64)>,
    /// What is added to the bird's own weights to compare them with the scale's: its furniture.
    pub furniture: f64,
    pub floor: Option<f64>,
    pub target: Option<f64>,
    pub band: Option<(f64, f64)>,
}

/// Returns a step of 1, 2 or 5 times a power of ten that divides a span into at most so many parts.
fn nice_step(span: f64, parts: f64) -> f64 {
    let raw = span / parts;
    let power = 10f64.powf(raw.log10().floor());
    [1.0, 2.0, 5.0, 10.0].iter().map(|m| m * power).find(|step| *step >= raw).unwrap_or(10.0 * power)
}

impl Plot {
    /// Takes a bird's weights; `None` when there are fewer than two.
    pub fn new(
        bird: &Bird,
        from: NaiveDate,
        to: NaiveDate,
        points: Vec<(DateTime<FixedOffset>, f64)>,
        band: Option<(f64, f64)>,
    ) -> Option<Self> {
        (points.len() > 1).then(|| Self {
            title: format!("Weight of {} on the scale", bird.bird),
            units: bird.units,
            from,
            to,
            points,
            furniture: bird.furniture_g.unwrap_or(0.0),
            floor: bird.floor_g,
            target: bird.target_g,
            band,
        })
    }

    /// Returns what the picture shows, for those who do not see it.
    pub fn says(&self) -> String {
        let first = self.points.first().map_or(0.0, |p| p.1);
        let last = self.points.last().map_or(0.0, |p| p.1);
        let low = self.points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let high = self.points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
        format!(
            "{} from {} to {}: {} weights, first {}, last {}, lowest {}, highest {}.",
            self.title,
            words::long_day(self.from),
            words::long_day(self.to),
            self.points.len(),
            words::mass(first, self.units),
            words::mass(last, self.units),
            words::mass(low, self.units),
            words::mass(high, self.units)
        )
    }

    /// Returns the levels to draw with their names: those of the bird itself are moved to where the scale shows them.
    fn levels(&self, low: f64, high: f64) -> Vec<(f64, &'static str, Ink)> {
        let room = (high - low) * 0.6;
        [(self.target, "target", Ink::Faint), (self.floor, "floor", Ink::Floor)]
            .into_iter()
            .filter_map(|(grams, name, ink)| Some((grams? + self.furniture, name, ink)))
            // A floor far below would press the weights flat; the facts name it anyway.
            .filter(|(grams, _, _)| *grams > low - room && *grams < high + room)
            .collect()
    }

    /// Draws the picture into so many points of width and height.
    pub fn draw(&self, width: f32, height: f32) -> Vec<Shape> {
        let (left, right, top, bottom) = (46.0, width - 40.0, 8.0, height - 20.0);
        let grams = self.points.iter().map(|p| p.1);
        let (mut low, mut high) =
            (grams.clone().fold(f64::INFINITY, f64::min), grams.fold(f64::NEG_INFINITY, f64::max));
        let levels = self.levels(low, high.max(low + 1.0));
        for grams in levels.iter().map(|l| l.0) {
            (low, high) = (low.min(grams), high.max(grams));
        }
        let pad = ((high - low) * 0.08).max(0.002 * high).max(0.1);
        (low, high) = (low - pad, high + pad);
        let y = |grams: f64| bottom - ((grams - low) / (high - low)) as f32 * (bottom - top);
        let start = self.from.and_time(NaiveTime::MIN);
        let days = ((self.to - self.from).num_days() + 1).max(1) as f64;
        let x = |hours: f64| left + (hours / 24.0 / days).clamp(0.0, 1.0) as f32 * (right - left);
        let mut shapes = Vec::new();
        if let Some((from, to)) = self.band {
            let (from, to) =
                (y((from + self.furniture).clamp(low, high)), y((to + self.furniture).clamp(low, high)));
            shapes.push(Shape::Area {
                left,
                top: to,
                width: right - left,
                height: (from - to).max(0.1),
                ink: Ink::Band,
            });
        }
        self.grid(&mut shapes, (low, high), (left, right), &y);
        self.dates(&mut shapes, days, bottom, &x);
        for (grams, name, ink) in levels {
            let at = y(grams);
            shapes.push(Shape::Line { points: vec![(left, at), (right, at)], ink, width: 0.9, dashed: true });
            shapes.push(Shape::Text {
                x: right + 4.0,
                y: at + 2.6,
                size: 7.5,
                anchor: Anchor::Start,
                ink,
                text: name.to_owned(),
            });
        }
        let points: Vec<(f32, f32)> = self
            .points
            .iter()
            .map(|(at, grams)| (x((at.naive_local() - start).num_minutes() as f64 / 60.0), y(*grams)))
            .collect();
        let radius = if points.len() > 120 { 0.8 } else { 1.7 };
        shapes.push(Shape::Line { points: points.clone(), ink: Ink::Line, width: 1.1, dashed: false });
        shapes.extend(points.into_iter().map(|(x, y)| Shape::Dot { x, y, radius, ink: Ink::Line }));
        shapes
    }

    /// Draws the lines of equal weight with their numbers.
    fn grid(
        &self,
        shapes: &mut Vec<Shape>,
        (low, high): (f64, f64),
        (left, right): (f32, f32),
        y: &dyn Fn(f64) -> f32,
    ) {
        // Whole or halved ounces read better than odd grams where weights are kept in ounces.
        let unit = if self.units == Units::Avoirdupois { note::GRAMS_PER_OUNCE / 2.0 } else { 1.0 };
        let step = nice_step((high - low) / unit, 5.0) * unit;
        let step = if self.units == Units::Avoirdupois { step.max(unit) } else { step };
        let mut grams = (low / step).ceil() * step;
        while grams <= high {
            let at = y(grams);
            shapes.push(Shape::Line {
                points: vec![(left, at), (right, at)],
                ink: Ink::Rule,
                width: 0.5,
                dashed: false,
            });
            let text = words::mass(grams, self.units);
            shapes.push(Shape::Text {
                x: left - 5.0,
                y: at + 2.6,
                size: 7.5,
                anchor: Anchor::End,
                ink: Ink::Faint,
                text,
            });
            grams += step;
        }
    }

    /// Draws the dates under the picture, at most eight of them.
    fn dates(&self, shapes: &mut Vec<Shape>, days: f64, bottom: f32, x: &dyn Fn(f64) -> f32) {
        let every =
            [1, 2, 7, 14, 28, 91, 182, 364].into_iter().find(|n| days / f64::from(*n) <= 8.0).unwrap_or(728);
        let mut n = 0;
        while f64::from(n) < days {
            if let Some(date) = self.from.checked_add_days(Days::new(n as u64)) {
                let at = x(f64::from(n) * 24.0);
                shapes.push(Shape::Line {
                    points: vec![(at, bottom), (at, bottom + 3.0)],
                    ink: Ink::Rule,
                    width: 0.5,
                    dashed: false,
                });
                let text = if every > 60 { date.format("%b %Y") } else { date.format("%-d %b") }.to_string();
                let text = if n == 0 && every <= 60 && days > 300.0 {
                    format!("{text} {}", date.year())
                } else {
                    text
                };
                shapes.push(Shape::Text {
                    x: at,
                    y: bottom + 12.0,
                    size: 7.5,
                    anchor: Anchor::Middle,
                    ink: Ink::Faint,
                    text,
                });
            }
            n += every;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_one_two_or_five() {
        for (span, parts, step) in
            [(47.0, 5.0, 10.0), (9.0, 5.0, 2.0), (0.9, 5.0, 0.2), (230.0, 5.0, 50.0), (5.0, 5.0, 1.0)]
        {
            assert!((nice_step(span, parts) - step).abs() < 1e-9, "{span}");
        }
    }
}
