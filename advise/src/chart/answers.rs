//! Answer against weight.

use super::*;
use crate::Settings;
use crate::flying::{learn, sessions};
use crate::record::Record;
use plotters::element::Polygon;
use plotters::series::DashedLineSeries;

/// Sessions in a row from the last that are drawn filled.
const FRESH: usize = 15;

/// Draws each answer against the weight it was given at, with the fitted curve.
///
/// `links` stands beside `days`, as for [`super::weight`].
pub fn answers(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
    sheet: Sheet,
) -> String {
    let mut words =
        Words::new(bird, sheet, "answers", "answer against weight", ["weight that day", "answer, 1 to 5"]);
    let record = match Record::new(bird, days, settings) {
        Ok(record) => record,
        Err(why) => return blank(&words, &why.to_string()),
    };
    let sessions = sessions(&record);
    if sessions.is_empty() {
        return blank(&words, "No graded sessions with a weight yet.");
    }
    let learned = learn(&record, settings);
    let units = bird.units;
    let first = record.rows[0].at;
    let middle = sessions.iter().map(|s| s.grams).sum::<f64>() / sessions.len() as f64;
    let band = learned.as_ref().map(|l| l.band(&settings.flying));
    let edges = band.iter().flat_map(|b| [b.0, b.2]).filter(|g| (g / middle - 1.0).abs() < 0.2);
    let x = roomy(sessions.iter().map(|s| s.grams).chain(edges), 0.08, 0.01 * middle);
    words.description = format!(
        "{} graded sessions; filled discs are the last {FRESH}.{}",
        sessions.len(),
        band.map_or(" Too few for a curve.".into(), |b| format!(
            " The curve is the chance of a good answer, 4 or 5, read on the right. Highest weight with a good answer four times in five: {}, between {} and {}.",
            mass(b.1, units),
            mass(b.0, units),
            mass(b.2, units)
        ))
    );
    let y_label =
        |g: &f64| if g.fract() == 0.0 && (1.0..=5.0).contains(g) { format!("{g:.0}") } else { String::new() };
    draw(&words, x.clone(), 0.7..5.3, &|g| mass(*g, units), &y_label, |chart, over| {
        // Chance 0 stands at grade 1, chance 1 at grade 5.
        let height = |chance: f64| 1.0 + 4.0 * chance;
        if let (Some(learned), Some((low, best, high))) = (&learned, band) {
            chart.draw_series([Rectangle::new(
                [(low.max(x.start), 0.7), (high.min(x.end), 5.3)],
                AMBER.mix(0.18).filled(),
            )])?;
            let steps = (0..=60).map(|i| x.start + (x.end - x.start) * f64::from(i) / 60.0);
            let curve: Vec<(f64, (f64, f64, f64))> = steps.map(|g| (g, learned.chance(g, 0.8))).collect();
            let upper = curve.iter().map(|(g, c)| (*g, height(c.2)));
            let lower = curve.iter().rev().map(|(g, c)| (*g, height(c.1)));
            chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), BLUE.mix(0.15))])?;
            let line = curve.iter().map(|(g, c)| (*g, height(c.0)));
            chart.draw_series(LineSeries::new(line, ShapeStyle::from(&BLUE).stroke_width(2)))?;
            let wanted = height(settings.flying.wanted);
            chart.draw_series(DashedLineSeries::new(
                [(x.start, wanted), (x.end, wanted)],
                6,
                4,
                ShapeStyle::from(&GREEN).stroke_width(1),
            ))?;
            chart.draw_series(DashedLineSeries::new(
                [(best, 0.7), (best, 5.3)],
                2,
                4,
                ShapeStyle::from(&AMBER).stroke_width(2),
            ))?;
            let at = chart.backend_coord(&(best, 5.3));
            over.text((at.0, at.1 + 12), "middle", &mass(best, units));
            for share in [0.0, 0.5, settings.flying.wanted, 1.0] {
                let at = chart.backend_coord(&(x.end, height(share)));
                over.text((at.0 - 2, at.1 - 3), "end", &format!("{:.0} %", 100.0 * share));
            }
        }
        for (i, session) in sessions.iter().enumerate() {
            let row = &record.rows[session.row];
            let says = format!(
                "{}: {}, answer {}",
                date(first, session.time),
                mass(session.grams, units),
                session.grade
            );
            let shape = if i + FRESH >= sessions.len() { Shape::Disc } else { Shape::Ring };
            let at = chart.backend_coord(&(session.grams, f64::from(session.grade)));
            over.mark(at, shape, INK, &says, link_of(links, row.index));
        }
        Ok(())
    })
}
