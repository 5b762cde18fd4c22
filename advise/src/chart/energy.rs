//! Food energy by day.

use super::*;
use crate::Settings;
use crate::record::{Meal, Record};

/// Draws the food energy of each day beside what is thought to hold the bird.
///
/// `links` stands beside `days`, as for [`super::weight`].
pub fn energy(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
    sheet: Sheet,
) -> String {
    let mut words = Words::new(bird, sheet, "energy", "food energy", ["day", "kcal that the bird can use"]);
    let record = match Record::new(bird, days, settings) {
        Ok(record) => record,
        Err(why) => return blank(&words, &why.to_string()),
    };
    let from = (record.last().time - sheet.days()).max(record.rows[0].time);
    let shown: Vec<_> = record.rows.iter().filter(|r| r.time >= from).collect();
    let known = shown.iter().filter_map(|r| r.meal.kcal());
    let most = known.clone().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return blank(&words, "No food on record yet.");
    }
    let holding = crate::weight::weigh(&record, settings).map(|w| w.need_kcal(record.last().temperature));
    let first = record.rows[0].at;
    words.description = format!(
        "Bars are the energy of each day's food on {} days; a ring marks a day on which it is not known.{}",
        known.count(),
        holding.map_or(String::new(), |h| format!(" About {h:.0} kcal a day hold the bird now."))
    );
    let top = most.max(holding.unwrap_or(0.0)).max(1.0) * 1.15;
    let x = from - 0.7..record.last().time.max(from + 6.0) + 0.7;
    draw(&words, x.clone(), 0.0..top, &|x| date(first, *x), &|k| format!("{k:.0}"), |chart, over| {
        for row in &shown {
            let link = link_of(links, row.index);
            match &row.meal {
                Meal::Known(eaten) => {
                    let kcal: f64 = eaten.iter().map(|e| e.kcal).sum();
                    let (left, up) = chart.backend_coord(&(row.time - 0.35, kcal));
                    let (right, down) = chart.backend_coord(&(row.time + 0.35, 0.0));
                    let list: Vec<String> =
                        eaten.iter().map(|e| format!("{} {:.0} g", e.item, e.grams)).collect();
                    let says = format!("{}: {kcal:.0} kcal; {}", date(first, row.time), list.join(", "));
                    let (width, height) = ((right - left).max(2), (down - up).max(1));
                    let open = format!(
                        "<rect x=\"{left}\" y=\"{up}\" width=\"{width}\" height=\"{height}\" fill=\"#0072b2\"><title>{}</title>",
                        escape(&says)
                    );
                    over.element(&open, "rect", link);
                }
                Meal::Unknown { .. } => {
                    let at = chart.backend_coord(&(row.time, 0.03 * top));
                    over.mark(
                        at,
                        Shape::Ring,
                        INK,
                        &format!("{}: food not known", date(first, row.time)),
                        link,
                    );
                }
            }
        }
        if let Some(holding) = holding {
            // Laid over the bars, which would hide it.
            let ((left, y), (right, _)) =
                (chart.backend_coord(&(x.start, holding)), chart.backend_coord(&(x.end, holding)));
            let open = format!(
                "<path d=\"M{left} {y}H{right}\" stroke=\"#d55e00\" stroke-width=\"2\" stroke-dasharray=\"8 4\" fill=\"none\">"
            );
            over.element(&open, "path", None);
            let at = chart.backend_coord(&(x.end, holding));
            over.text((at.0 - 2, at.1 - 4), "end", &format!("holds the bird: {holding:.0} kcal"));
        }
        Ok(())
    })
}
