//! Weight against time.

use super::*;
use crate::record::Record;
use crate::{Settings, trend};
use plotters::element::Polygon;
use plotters::series::DashedLineSeries;

/// Draws weight against time with its band, the target, the floor, the flights and the next weigh-in foreseen.
///
/// `links` stands beside `days`: where a day's point leads to, if anywhere; it may be shorter.
pub fn weight(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
    sheet: Sheet,
) -> String {
    let unit = if bird.units == Units::Metric { "grams" } else { "pounds and ounces" };
    let mut words = Words::new(bird, sheet, "weight", "weight", ["day", unit]);
    let record = match Record::new(bird, days, settings) {
        Ok(record) => record,
        Err(why) => return blank(&words, &why.to_string()),
    };
    let levels = trend::smoothed(&record, sheet.days());
    let Some(&(_, last_level)) = levels.last() else { return blank(&words, "No weights on record yet.") };
    let advice = crate::whole(&record, settings);
    let from = (record.last().time - sheet.days()).max(record.rows[0].time);
    let shown: Vec<_> = record.rows.iter().filter(|r| r.time >= from).collect();
    let first = record.rows[0].at;
    let units = bird.units;

    let lines = [
        ("fed-up", bird.fed_up_g, INK),
        ("target", bird.target_g, GREEN),
        ("floor", bird.floor_g, VERMILION),
    ];
    let forecast = advice.forecast.map(|f| ((f.at - first).num_seconds() as f64 / 86_400.0, f));
    let last_x = forecast.map_or(record.last().time, |f| f.0);
    let near = |g: &f64| (*g / last_level.mean - 1.0).abs() < 0.4;
    let drawn = shown.iter().filter_map(|r| r.grams).chain(levels.iter().flat_map(|(_, l)| {
        let half = 1.645 * l.var.sqrt();
        [l.mean - half, l.mean + half]
    }));
    let drawn = drawn
        .chain(lines.iter().filter_map(|l| l.1).filter(near))
        .chain(forecast.iter().flat_map(|(_, f)| [f.low_g, f.high_g]));
    let y = roomy(drawn, 0.08, 0.01 * last_level.mean);
    // Room under the weights for the flights.
    let y = y.start - 0.16 * (y.end - y.start)..y.end;
    let x = from - 0.5..last_x.max(from + 6.0) + 0.5;

    let trend_words = advice.trend.map_or(String::new(), |t| {
        format!(" Smoothed now {}, changing by {:+.1} g a day.", mass(t.grams, units), t.per_day_g)
    });
    let forecast_words = advice.forecast.map_or(String::new(), |f| {
        format!(" Next weigh-in foreseen {} to {}.", mass(f.low_g, units), mass(f.high_g, units))
    });
    words.description = format!(
        "{} weigh-ins from {} to {}.{trend_words}{forecast_words} Triangles below are flights, hollow on the line, filled when loose, with the grade of the answer.",
        shown.iter().filter(|r| r.grams.is_some()).count(),
        date(first, from),
        date(first, record.last().time),
    );
    draw(&words, x.clone(), y.clone(), &|x| date(first, *x), &|g| mass(*g, units), |chart, over| {
        if let Some(flying) = advice.flying_weight {
            let band =
                Rectangle::new([(x.start, flying.low_g), (x.end, flying.high_g)], AMBER.mix(0.18).filled());
            chart.draw_series([band])?;
            chart.draw_series(DashedLineSeries::new(
                [(x.start, flying.best_g), (x.end, flying.best_g)],
                2,
                4,
                ShapeStyle::from(&AMBER).stroke_width(2),
            ))?;
            // Above the band: inside it stand the points.
            let at = chart.backend_coord(&(x.start, flying.high_g));
            over.text((at.0 + 4, at.1 - 3), "start", "flying weight");
        }
        let edge = |sign: f64| {
            let at = |(i, l): &(usize, crate::solve::local_level::Level)| {
                (record.rows[*i].time, l.mean + sign * 1.645 * l.var.sqrt())
            };
            levels.iter().map(at).collect::<Vec<_>>()
        };
        let outline: Vec<_> = edge(1.0).into_iter().chain(edge(-1.0).into_iter().rev()).collect();
        chart.draw_series([Polygon::new(outline, BLUE.mix(0.15))])?;
        let middle = levels.iter().map(|(i, l)| (record.rows[*i].time, l.mean));
        chart.draw_series(LineSeries::new(middle, ShapeStyle::from(&BLUE).stroke_width(2)))?;
        for (name, grams, colour) in lines {
            let Some(grams) = grams.filter(near) else { continue };
            let ends = [(x.start, grams), (x.end, grams)];
            let style = ShapeStyle::from(&colour).stroke_width(if name == "floor" { 3 } else { 2 });
            match name {
                "floor" => drop(chart.draw_series(LineSeries::new(ends, style))?),
                "target" => drop(chart.draw_series(DashedLineSeries::new(ends, 8, 4, style))?),
                _ => drop(chart.draw_series(DashedLineSeries::new(ends, 2, 5, style))?),
            }
            let at = chart.backend_coord(&(x.end, grams));
            over.text((at.0 - 2, at.1 - 4), "end", &format!("{name} {}", mass(grams, units)));
        }
        if let Some((time, f)) = forecast {
            chart.draw_series([PathElement::new(
                [(time, f.low_g), (time, f.high_g)],
                ShapeStyle::from(&INK).stroke_width(2),
            )])?;
            let says = format!(
                "foreseen {}: {} to {}",
                date(first, time),
                mass(f.low_g, units),
                mass(f.high_g, units)
            );
            over.mark(chart.backend_coord(&(time, f.grams)), Shape::Diamond, INK, &says, None);
        }
        let foot = y.start + 0.09 * (y.end - y.start);
        for row in &shown {
            let link = link_of(links, row.index);
            if let Some(grams) = row.grams {
                let says = format!("{}: {}", date(first, row.time), mass(grams, units));
                over.mark(chart.backend_coord(&(row.time, grams)), Shape::Disc, INK, &says, link);
            }
            if row.flown.any || row.grade.is_some() {
                let at = chart.backend_coord(&(row.time, foot));
                let loose = row.flown.line == Some(note::Line::Free);
                let grade = row.grade.map_or(String::new(), |g| format!(", answer {g}"));
                let says = format!("{}: {} flights{grade}", date(first, row.time), row.flown.count);
                over.mark(at, Shape::Up(loose), BLUE, &says, link);
                if let Some(grade) = row.grade {
                    over.text((at.0, at.1 + 18), "middle", &grade.to_string());
                }
            }
        }
        Ok(())
    })
}
