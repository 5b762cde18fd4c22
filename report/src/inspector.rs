//! The inspector's sheet: which birds, by what right, with what kit, and what became of them.

use crate::common::{about, called, cell, day_of, identity, in_span, sheet, vouched};
use crate::input::{BirdRecord, InspectorSheet, Permit, Record};
use crate::sheet::{Block, Look, Run, Sheet, Table, column, plain, run};
use crate::words;
use chrono::NaiveDate;
use note::{EquipmentAction, Kind, Units, Value};

/// Puts the sheet together.
pub(crate) fn compose(inspection: &InspectorSheet) -> Sheet {
    let occasion = &inspection.occasion;
    let mut out = sheet("For the inspector", &about(&inspection.birds), occasion);
    out.blocks.push(Block::Caution(
        "This is a keeper's record in general form. Which particulars must be kept, for how long and on which form is for local law \
         and the forms of the authority to decide."
            .to_owned(),
    ));
    out.blocks.push(Block::Heading(2, "Birds kept".to_owned()));
    let rows = inspection.birds.iter().map(|b| {
        let id = identity(b);
        let mut row = vec![vec![run(Look::Strong, &b.bird.bird)]];
        row.extend(id.into_iter().map(|(_, value)| value));
        row
    });
    let columns = vec![
        column("Name", 1.9),
        column("Species", 3.0),
        column("Sex", 1.4),
        column("Hatched", 2.4),
        column("Ring", 3.6),
        column("Chip", 2.5),
        column("Origin", 2.8),
    ];
    table(&mut out, "Birds kept", columns, rows.collect(), "No bird is kept.");
    out.blocks.push(Block::Heading(2, "The keeper's papers".to_owned()));
    permits(
        &mut out,
        &inspection.permits,
        occasion.made_at.date_naive(),
        "No paper of the keeper's is recorded.",
    );
    out.blocks.push(Block::Heading(2, "Checks of the scale".to_owned()));
    let mut scale: Vec<&Record> =
        in_span(&inspection.general, occasion).into_iter().filter(|r| is_scale(r)).collect();
    for bird in &inspection.birds {
        scale.extend(in_span(&bird.records, occasion).into_iter().filter(|r| is_scale(r)));
    }
    scale.sort_by_key(|r| r.entry().at);
    dated(&mut out, &scale, Units::Metric, inspection, "No check of the scale is recorded in these days.");
    for bird in &inspection.birds {
        one_bird(&mut out, bird, inspection);
    }
    out.blocks.extend(vouched(inspection.seal.as_ref()));
    out.blocks.push(Block::Signature(vec!["Keeper, date", "Inspector, date"]));
    out
}

fn is_scale(record: &Record) -> bool {
    matches!(&record.entry().value, Value::Equipment(e) if e.item == "scale")
}

fn one_bird(out: &mut Sheet, bird: &BirdRecord, inspection: &InspectorSheet) {
    out.blocks.push(Block::Heading(2, called(&bird.bird)));
    out.blocks.push(Block::Heading(3, "Papers".to_owned()));
    permits(
        out,
        &bird.identity.permits,
        inspection.occasion.made_at.date_naive(),
        "No paper of this bird is recorded.",
    );
    out.blocks.push(Block::Heading(3, "Dated events".to_owned()));
    let mut events: Vec<_> = bird.events.iter().collect();
    events.sort_by_key(|e| e.on);
    let rows = events
        .into_iter()
        .map(|e| vec![plain(words::day(e.on)), vec![run(Look::Strong, e.kind.word())], plain(&e.detail)])
        .collect();
    let columns = vec![column("Day", 2.5), column("Event", 2.5), column("Particulars", 12.0)];
    table(out, "Dated events", columns, rows, "No event is recorded.");
    out.blocks.push(Block::Heading(3, "Equipment".to_owned()));
    let kit: Vec<&Record> = in_span(&bird.records, &inspection.occasion)
        .into_iter()
        .filter(|r| r.entry().kind() == Kind::Equipment && !is_scale(r))
        .collect();
    dated(
        out,
        &kit,
        bird.bird.units,
        inspection,
        "No change or check of equipment is recorded in these days.",
    );
}

/// Adds a table of entries with their day and the keeper who confirmed them.
fn dated(
    out: &mut Sheet,
    records: &[&Record],
    units: Units,
    inspection: &InspectorSheet,
    none: &'static str,
) {
    let rows = records
        .iter()
        .map(|r| {
            let lost = matches!(&r.entry().value, Value::Equipment(e) if matches!(e.action, EquipmentAction::Lost | EquipmentAction::Broken));
            let mut what = cell(&[r], units, "");
            if lost && r.stands() {
                what.iter_mut().filter(|run| run.look == Look::Plain).for_each(|run| run.look = Look::Strong);
            }
            vec![plain(words::day(day_of(r.entry().at, &inspection.occasion))), what, plain(r.confirmed.by())]
        })
        .collect();
    table(
        out,
        "Equipment",
        vec![column("Day", 2.5), column("What", 9.5), column("Confirmed by", 5.0)],
        rows,
        none,
    );
}

/// Adds a table of papers; those past their day are marked.
fn permits(out: &mut Sheet, permits: &[Permit], today: NaiveDate, none: &'static str) {
    let rows = permits
        .iter()
        .map(|p| {
            let until = match p.until {
                Some(day) if day < today => vec![run(Look::Alarm, format!("{}, past", words::day(day)))],
                Some(day) => plain(words::day(day)),
                None => vec![run(Look::Faint, "no end recorded")],
            };
            vec![plain(&p.what), plain(&p.number), until]
        })
        .collect();
    table(
        out,
        "Papers",
        vec![column("Paper", 8.0), column("Number", 5.0), column("Holds until", 4.0)],
        rows,
        none,
    );
}

/// Adds a table, or the sentence that says that there is nothing to list.
fn table(
    out: &mut Sheet,
    says: &str,
    columns: Vec<crate::sheet::Column>,
    rows: Vec<Vec<Vec<Run>>>,
    none: &'static str,
) {
    if rows.is_empty() {
        out.blocks.push(Block::Text(vec![run(Look::Faint, none)]));
    } else {
        out.blocks.push(Block::Table(Table { says: says.to_owned(), columns, rows }));
    }
}
