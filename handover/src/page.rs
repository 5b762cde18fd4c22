//! The history as one page to read: no scripts, nothing fetched, prints well.

use crate::give::{EntryLine, Manifest, OriginalLine};
use crate::open_data::eaten;
use crate::redact::Others;
use note::{Day, Entry, Value};
use std::collections::HashMap;
use std::fmt::Write;
use store::{BirdEvent, Record};

pub(crate) struct History<'a> {
    pub(crate) manifest: &'a Manifest,
    pub(crate) furniture_g: Option<f64>,
    pub(crate) days: &'a [Day],
    pub(crate) lines: &'a [EntryLine],
    pub(crate) records: &'a [Record],
    pub(crate) events: &'a [BirdEvent],
    pub(crate) originals: &'a [OriginalLine],
    pub(crate) others: &'a Others,
}

const STYLE: &str = "body{font:1rem/1.5 Georgia,serif;color:#1d1b16;background:#fffdf7;max-width:60rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.8rem}h2{border-bottom:2px solid #5a4a2a;margin-top:2.5rem}\
table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.3rem .6rem;border-bottom:1px solid #cfc6b0;vertical-align:top}\
td.n{text-align:right;font-variant-numeric:tabular-nums}code{font-size:.8rem;overflow-wrap:anywhere}\
del{color:#6a5f4a}.note{background:#f3ecd9;padding:.6rem 1rem}\
@media print{body{margin:0;max-width:none;background:none}h2{break-after:avoid}tr{break-inside:avoid}}";

/// Makes text harmless between tags and in attributes.
fn esc(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() && c != '\n' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn when(at: store::Moment) -> String {
    at.format("%Y-%m-%d %H:%M").to_string()
}

fn row(out: &mut String, cells: &[String]) {
    out.push_str("<tr>");
    for cell in cells {
        let _ = write!(out, "<td>{cell}</td>");
    }
    out.push_str("</tr>\n");
}

fn table(out: &mut String, header: &[&str], rows: impl Iterator<Item = Vec<String>>) {
    out.push_str("<table><thead><tr>");
    for name in header {
        let _ = write!(out, "<th scope=\"col\">{name}</th>");
    }
    out.push_str("</tr></thead><tbody>\n");
    for cells in rows {
        row(out, &cells);
    }
    out.push_str("</tbody></table>\n");
}

/// Writes the page.
pub(crate) fn history(h: &History<'_>) -> String {
    let d = &h.manifest.details;
    let name = esc(&d.name);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{name}: her history</title><style>{STYLE}</style></head><body>\n\
         <h1>{name}</h1>\n<p>Written on {} from the record of {}. Every line here was confirmed by a keeper; \
         it is another keeper's record, to be weighed by whoever reads it. It replaces no vet and no law.</p>\n",
        when(h.manifest.written),
        esc(&h.manifest.keeper)
    );
    identity(&mut out, h);
    if !h.events.is_empty() {
        out.push_str("<h2>Events</h2>\n");
        table(
            &mut out,
            &["When", "What", "Remarks", "Entered by"],
            h.events.iter().map(|e| vec![when(e.at), esc(e.kind.word()), esc(&e.text), esc(&e.by)]),
        );
    }
    days(&mut out, h);
    entries(&mut out, h);
    originals(&mut out, h);
    out.push_str("<h2>How to check this file</h2>\n<p>The file <code>SHA256SUMS</code> lists the sum of every other file; \
         any <code>sha256sum -c SHA256SUMS</code> checks them. <code>journal.jsonl</code> holds the chain of her record: \
         each line bears the hash of the line before it, so none can be changed, taken out or put in unseen.</p>\n");
    if let Some(head) = &h.manifest.head {
        let _ = writeln!(
            out,
            "<p>Last hash of her chain, after {} lines: <code>{}</code>. Written down elsewhere, it proves that the whole chain was not exchanged.</p>",
            h.manifest.chain_lines,
            esc(head.as_str())
        );
    }
    for sentence in &h.manifest.left_out {
        let _ = writeln!(out, "<p class=\"note\">{}</p>", esc(sentence));
    }
    out.push_str("</body></html>\n");
    out
}

fn identity(out: &mut String, h: &History<'_>) {
    let d = &h.manifest.details;
    let grams = |g: Option<f64>| g.map(|g| format!("{g} g"));
    let furniture = (!d.furniture.is_empty()).then(|| {
        let items: Vec<String> = d
            .furniture
            .iter()
            .map(|f| {
                format!("{} {} g{}", esc(&f.item), f.grams, if f.worn { "" } else { " (not on the scale)" })
            })
            .collect();
        items.join(", ")
    });
    let rows = [
        ("Species", d.species.as_deref().map(esc)),
        ("Sex", d.sex.as_deref().map(esc)),
        ("Hatched", d.hatched.as_deref().map(esc)),
        ("Ring", d.ring.as_deref().map(esc)),
        ("Chip", d.chip.as_deref().map(esc)),
        ("Origin", d.origin.as_deref().map(esc)),
        ("Permits", d.permits.as_deref().map(esc)),
        ("Never below", grams(d.floor_g)),
        ("Weight aimed for", grams(d.target_g)),
        ("Weight when fed freely", grams(d.fed_up_g)),
        ("Furniture", furniture),
        ("Remarks", d.remarks.as_deref().map(esc)),
    ];
    out.push_str("<table><tbody>\n");
    for (what, value) in rows {
        if let Some(value) = value {
            let _ = writeln!(out, "<tr><th scope=\"row\">{what}</th><td>{value}</td></tr>");
        }
    }
    out.push_str("</tbody></table>\n");
}

fn days(out: &mut String, h: &History<'_>) {
    out.push_str("<h2>Days</h2>\n");
    if h.days.is_empty() {
        out.push_str("<p>No day was confirmed.</p>\n");
        return;
    }
    let furniture = h.furniture_g.unwrap_or(0.0);
    let rows = h.days.iter().map(|day| {
        let flights = day.flights.map(|f| {
            let mut words = Vec::new();
            words.extend(f.count.map(|n| n.to_string()));
            words.extend(f.longest_m.map(|m| format!("to {m} m")));
            words.extend(f.line.map(|l| {
                if l == note::Line::Free { "free".to_owned() } else { "on the creance".to_owned() }
            }));
            words.join(" ")
        });
        let food = day.food.as_ref().map(|food| {
            if food.is_empty() {
                "nothing".into()
            } else {
                food.iter().map(eaten).collect::<Vec<_>>().join(", ")
            }
        });
        vec![
            when(day.at),
            day.grams.map(|g| format!("{g} g")).unwrap_or_default(),
            day.grams.map(|g| format!("{:.1} g", g - furniture)).unwrap_or_default(),
            day.response.map(|g| format!("{} of 5", g.get())).unwrap_or_default(),
            esc(&flights.unwrap_or_default()),
            esc(&food.unwrap_or_else(|| "not known".into())),
        ]
    });
    table(out, &["When", "Scale", "Without furniture", "Answered", "Flights", "Eaten"], rows);
}

fn entries(out: &mut String, h: &History<'_>) {
    out.push_str("<h2>Everything confirmed</h2>\n");
    let records: HashMap<_, _> = h.records.iter().map(|record| (&record.id, record)).collect();
    let rows = h.lines.iter().map(|line| {
        let record = records.get(&line.id);
        let before = record.and_then(|r| r.proposed.as_ref()).map(|proposed| {
            let mut proposed = proposed.clone();
            h.others.take_out(&mut proposed);
            format!(" <del>{}</del>", esc(&words(&proposed)))
        });
        let reason =
            record.and_then(|r| r.reason.as_ref()).map(|r| format!(" ({})", esc(&h.others.without(r))));
        let quote = if line.entry.quote.is_empty() {
            String::new()
        } else {
            format!("“{}”", esc(&line.entry.quote))
        };
        vec![
            when(line.entry.at),
            format!(
                "{}{}{}",
                esc(&words(&line.entry)),
                before.unwrap_or_default(),
                reason.unwrap_or_default()
            ),
            quote,
            format!("{}, {}", esc(&line.by), when(line.decided_at)),
        ]
    });
    table(out, &["When", "What (as read before it was corrected)", "Words", "Confirmed by"], rows);
}

fn originals(out: &mut String, h: &History<'_>) {
    if h.originals.is_empty() {
        return;
    }
    out.push_str("<h2>Originals</h2>\n");
    let rows = h.originals.iter().map(|o| {
        let place = match (&o.file, &o.remark) {
            (Some(file), remark) => {
                format!("<a href=\"{0}\">{0}</a> {1}", esc(file), esc(remark.as_deref().unwrap_or("")))
            }
            (None, Some(remark)) => esc(remark),
            (None, None) => "kept by the keeper before".to_owned(),
        };
        vec![when(o.at), esc(&o.of), format!("<code>{}</code>", esc(o.sha256.as_str())), place]
    });
    table(out, &["When", "What", "SHA-256 of the original", "Where"], rows);
}

/// Tells an entry in a few words.
pub(crate) fn words(entry: &Entry) -> String {
    let join = |parts: Vec<Option<String>>| parts.into_iter().flatten().collect::<Vec<_>>().join(" ");
    match &entry.value {
        Value::Weight(w) => format!("weight {}", w.grams),
        Value::Food(f) => join(vec![
            Some(f.outcome.word().to_owned()),
            f.count.map(|n| n.to_string()),
            f.grams.map(|g| format!("{g} g")),
            Some(f.item.clone()),
            f.part.clone(),
        ]),
        Value::Flights(f) => join(vec![
            Some("flights".into()),
            f.count.map(|n| n.to_string()),
            f.longest_m.map(|m| format!("to {m} m")),
            f.line.map(|l| l.word().to_owned()),
            f.to.map(|t| format!("to the {t}")),
        ]),
        Value::Response(r) => format!("answered {} of 5", r.grade.get()),
        Value::Behaviour(b) if b.present => format!("{} ({})", b.word, b.degree),
        Value::Behaviour(b) => format!("no {}", b.word),
        Value::Condition(c) => format!("{} {}", c.sign, c.reading),
        Value::Weather(w) => join(vec![
            Some("weather".into()),
            w.temperature_c.map(|t| format!("{t} °C")),
            w.wind.map(|w| format!("{w} wind")),
            w.sky.map(|s| s.word().to_owned()),
        ]),
        Value::Quarry(q) => format!("{} {} {}", q.species, q.count, q.outcome),
        Value::Equipment(e) => format!("{} {}", e.item, e.action),
        Value::Training(t) => format!("{} {}", t.step, t.outcome),
        Value::Remark(r) => r.text.clone(),
    }
}
