//! The samples' story as records: what a keeper would have confirmed.

use chrono::{DateTime, Duration, FixedOffset, NaiveDate};
use note::{
    Bird, Confirmed, DisplayReading, Entry, EntryId, Grams, MassUnit, Proposed, Sha256, Taken, TakenSource,
    Value, Verdict, Weight,
};
use report::{
    BirdRecord, Correction, DayBook, Event, EventKind, Identity, InspectorSheet, Occasion, Permit,
    PhotoProof, Record, Seal, VetSheet, Withdrawal,
};
use serde_json::Value as Json;
use std::path::Path;

pub const KEEPER: &str = "Wren Aldous";

/// Day 0 of the story's files.
pub fn last_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 2, 21).unwrap()
}

pub fn at(day: i64, clock: &str) -> DateTime<FixedOffset> {
    let date = last_day() + Duration::days(day);
    DateTime::parse_from_rfc3339(&format!("{date}T{clock}:00+00:00")).unwrap()
}

pub fn confirmed(entry: Entry) -> Confirmed {
    let when = entry.at + Duration::hours(2);
    Proposed { id: EntryId::new(format!("e-{}", entry.at)), entry }
        .decide(&Verdict::Accept, KEEPER, when)
        .unwrap()
}

pub fn entry(bird: Option<&str>, at: DateTime<FixedOffset>, value: Value) -> Entry {
    Entry {
        value,
        bird: bird.map(str::to_owned),
        at,
        quote: String::new(),
        span: [0, 0],
        confidence: 1.0,
        flags: Vec::new(),
    }
}

pub fn weight(grams: f64) -> Value {
    Value::Weight(Weight { grams: Grams::new(grams).unwrap(), unit: Some(MassUnit::G) })
}

pub fn occasion(from: i64, to: i64) -> Occasion {
    Occasion {
        keeper: KEEPER.to_owned(),
        contact: None,
        made_at: at(0, "18:30"),
        from: last_day() + Duration::days(from),
        to: last_day() + Duration::days(to),
    }
}

pub fn hash(seed: u64) -> Sha256 {
    // Not a hash of anything: 64 hex digits to print.
    Sha256::new(
        (0..4)
            .map(|i| format!("{:016x}", seed.wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(i * 13)))
            .collect::<String>(),
    )
}

pub fn photo(day: i64, clock: &str, grams: f64, seed: u64) -> PhotoProof {
    PhotoProof {
        sha256: hash(seed),
        taken: Taken { at: at(day, clock), source: TakenSource::ExifOffset },
        reading: DisplayReading {
            reading: Some(format!("{grams}")),
            unit: Some(MassUnit::G),
            grams: Grams::new(grams).ok(),
            confidence: 0.98,
            place: None,
        },
    }
}

fn demo() -> Json {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples/demo.json");
    serde_json::from_str(&std::fs::read_to_string(path).expect("samples/demo.json")).expect("JSON")
}

/// Returns the three birds with four weeks of confirmed entries, and the weather.
pub fn birds() -> (Vec<BirdRecord>, Vec<Record>) {
    let demo = demo();
    let ago = |v: &Json| Some((last_day() - Duration::days(v.as_i64()?)).to_string());
    let mut birds: Vec<BirdRecord> = demo["birds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|b| BirdRecord {
            bird: Bird {
                bird: b["name"].as_str().unwrap().to_owned(),
                species: b["species"].as_str().map(str::to_owned),
                sex: b["sex"].as_str().map(str::to_owned),
                hatched: ago(&b["hatched_days_ago"]),
                floor_g: b["floor_g"].as_f64(),
                target_g: b["target_g"].as_f64(),
                fed_up_g: b["fed_up_g"].as_f64(),
                furniture_g: b["furniture_g"].as_f64(),
                units: serde_json::from_value(b["units"].clone()).unwrap(),
            },
            identity: Identity {
                ring: b["identity"]["ring"].as_str().map(str::to_owned),
                chip: None,
                origin: b["identity"]["origin"].as_str().map(str::to_owned),
                permits: vec![Permit {
                    what: "Registration of the bird".to_owned(),
                    number: "REG 0417/26".to_owned(),
                    until: Some(last_day() + Duration::days(300)),
                }],
            },
            records: Vec::new(),
            events: vec![Event {
                on: last_day() - Duration::days(b["identity"]["acquired_days_ago"].as_i64().unwrap()),
                kind: EventKind::Acquired,
                detail: "from the breeder, with papers".to_owned(),
            }],
            photos: Vec::new(),
        })
        .collect();
    let mut general = Vec::new();
    for day in demo["days"].as_array().unwrap() {
        for e in day["entries"].as_array().unwrap() {
            let value: Value =
                serde_json::from_value(serde_json::json!({"kind": e["kind"], "value": e["value"]})).unwrap();
            let name = day["bird"].as_str();
            let record = Record::new(confirmed(entry(
                name,
                at(day["day"].as_i64().unwrap(), e["clock"].as_str().unwrap()),
                value,
            )));
            match name {
                Some(name) => birds.iter_mut().find(|b| b.bird.bird == name).unwrap().records.push(record),
                None => general.push(record),
            }
        }
    }
    (birds, general)
}

/// Returns the story with photos, a correction and a withdrawal.
pub fn day_book() -> DayBook {
    let (mut birds, general) = birds();
    let sedge = &mut birds[0];
    let mut corrected = Record::new(confirmed(entry(Some("Sedge"), at(-1, "08:11"), weight(938.0))));
    corrected.corrections.push(Correction {
        was: entry(Some("Sedge"), at(-1, "08:11"), weight(983.0)),
        by: KEEPER.to_owned(),
        at: at(-1, "19:02"),
    });
    corrected.photo = Some(photo(-1, "08:11", 938.0, 11));
    sedge.records.push(corrected);
    let mut withdrawn = Record::new(confirmed(entry(
        Some("Sedge"),
        at(-3, "16:40"),
        Value::Remark(note::Remark { text: "limping on the left".to_owned() }),
    )));
    withdrawn.withdrawn = Some(Withdrawal { by: "Ida Aldous".to_owned(), at: at(-2, "07:55") });
    sedge.records.push(withdrawn);
    sedge.photos.push(photo(-7, "08:12", 929.0, 12));
    DayBook { occasion: occasion(-28, 0), birds, general, seal: Some(Seal { lines: 1204, hash: hash(5) }) }
}

pub fn vet_sheet() -> VetSheet {
    let mut book = day_book();
    let mut record = book.birds.remove(1);
    record.events.push(Event {
        on: last_day() - Duration::days(2),
        kind: EventKind::VetVisit,
        detail: "telephoned; faeces sample asked for".to_owned(),
    });
    VetSheet {
        occasion: Occasion {
            contact: Some("Alder Mews, telephone 01632 960118".to_owned()),
            ..occasion(-28, 0)
        },
        record,
        trend: Some(note::Trend { grams: 108.6, per_day_g: -0.1 }),
        flying: None,
        question: Some(
            "His mutes were watery on Thursday and he sneezed. Should I bring a sample?".to_owned(),
        ),
    }
}

pub fn inspector_sheet() -> InspectorSheet {
    let mut book = day_book();
    let check = |item: &str, day| {
        Record::new(confirmed(entry(
            None,
            at(day, "08:00"),
            Value::Equipment(note::Equipment {
                item: item.to_owned(),
                action: note::EquipmentAction::Checked,
            }),
        )))
    };
    book.general.push(check("scale", -20));
    book.general.push(check("scale", -6));
    InspectorSheet {
        occasion: occasion(-28, 0),
        birds: book.birds,
        general: book.general,
        permits: vec![Permit {
            what: "Licence to keep birds of prey".to_owned(),
            number: "L 118".to_owned(),
            until: Some(last_day() - Duration::days(3)),
        }],
        seal: book.seal,
    }
}
