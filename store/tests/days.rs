//! From confirmed entries to days.

use crate::common::*;
use note::*;
use store::*;

fn days(entries: Vec<Entry>) -> Vec<Day> {
    let home = home();
    let id = home.store.add_bird(bird("Sedge"), &ada()).unwrap();
    for entry in entries {
        home.store.enter(entry, &ada()).unwrap();
    }
    home.store.days(&id, Span::ALL).unwrap()
}

fn sedge(when: &str, value: Value) -> Entry {
    entry(Some("Sedge"), when, [0, 0], value)
}

fn eaten(day: &Day) -> Option<Vec<(&str, f64)>> {
    day.food.as_ref().map(|f| f.iter().map(|f| (f.item.as_str(), f.count.unwrap())).collect())
}

#[test]
fn a_day_runs_from_weigh_in_to_weigh_in() {
    let days = days(vec![
        sedge("2026-03-14T08:00:00Z", weight(642.0)),
        sedge("2026-03-14T15:00:00Z", answered(4)),
        sedge(
            "2026-03-14T15:00:00Z",
            Value::Flights(Flights { count: Some(3), longest_m: Some(20.0), ..Flights::default() }),
        ),
        sedge(
            "2026-03-14T16:00:00Z",
            Value::Flights(Flights {
                count: Some(2),
                longest_m: Some(50.0),
                line: Some(Line::Creance),
                to: None,
            }),
        ),
        sedge("2026-03-14T18:00:00Z", ate("day-old chick", 2.0)),
        // Early next morning, before the weigh-in: still the day before.
        sedge("2026-03-15T07:00:00Z", ate("quail", 0.5)),
        sedge("2026-03-15T08:00:00Z", weight(640.0)),
        sedge("2026-03-15T18:00:00Z", food("rabbit", 1.0, Outcome::Offered)),
        sedge("2026-03-16T08:00:00Z", weight(638.0)),
        sedge("2026-03-16T18:00:00Z", food("rabbit", 1.0, Outcome::Refused)),
    ]);
    assert_eq!(days.len(), 3);
    assert_eq!(days.iter().map(|d| d.grams.unwrap()).collect::<Vec<_>>(), [642.0, 640.0, 638.0]);
    assert_eq!(eaten(&days[0]).unwrap(), [("day-old chick", 2.0), ("quail", 0.5)]);
    let flights = days[0].flights.unwrap();
    assert_eq!((flights.count, flights.longest_m, flights.line), (Some(5), Some(50.0), Some(Line::Creance)));
    assert_eq!(days[0].response, Grade::new(4));
    assert_eq!(eaten(&days[1]), None, "offered is not eaten: unknown");
    assert_eq!(eaten(&days[2]).unwrap(), [], "refused: nothing eaten");
}

#[test]
fn a_day_without_a_weigh_in_stands_by_itself() {
    let days = days(vec![
        sedge("2026-03-14T08:00:00Z", weight(642.0)),
        sedge("2026-03-15T18:00:00Z", ate("quail", 1.0)),
        sedge("2026-03-16T08:00:00Z", weight(645.0)),
    ]);
    assert_eq!(days.iter().map(|d| d.grams).collect::<Vec<_>>(), [Some(642.0), None, Some(645.0)]);
    assert_eq!(eaten(&days[1]).unwrap(), [("quail", 1.0)]);
}

#[test]
fn the_same_weight_said_and_photographed_is_one_weigh_in_but_after_flying_is_another() {
    let days = days(vec![
        sedge("2026-03-14T08:00:00Z", weight(642.0)),
        sedge("2026-03-14T08:05:00Z", weight(642.0)),
        sedge("2026-03-14T08:10:00Z", weight(630.0)),
    ]);
    assert_eq!(days.iter().map(|d| d.grams.unwrap()).collect::<Vec<_>>(), [642.0, 630.0]);
}

#[test]
fn in_one_note_the_weigh_in_comes_before_the_meal_told_first() {
    let home = home();
    let id = home.store.add_bird(bird("Sedge"), &ada()).unwrap();
    for (bytes, day, grams) in [(b"a", 14, 642.0), (b"b", 15, 640.0)] {
        let when = format!("2026-03-{day}T17:00:00Z");
        let note = home.spoken(bytes, &when);
        let e = |span, value| entry(Some("Sedge"), &when, span, value);
        let ids = home
            .store
            .propose(
                &note,
                vec![
                    e([0, 4], ate("quail", 1.0)),
                    e([5, 9], weight(grams)),
                    e([10, 14], weight(grams - 9.0)),
                ],
            )
            .unwrap();
        let all: Vec<Decision> = ids.iter().map(Decision::accept).collect();
        home.store.decide(&all, &ada()).unwrap();
    }
    let days = home.store.days(&id, Span::ALL).unwrap();
    assert_eq!(days.iter().map(|d| d.grams.unwrap()).collect::<Vec<_>>(), [642.0, 633.0, 640.0, 631.0]);
    assert_eq!(eaten(&days[0]).unwrap(), [("quail", 1.0)]);
    // A span sees the same days as the whole.
    let one = home.store.days(&id, Span::since(at("2026-03-15T00:00:00Z"))).unwrap();
    assert_eq!(one, days[2..]);
}

#[test]
fn weather_of_the_date_and_signs_are_told() {
    let days = days(vec![
        sedge("2026-03-14T08:00:00Z", weight(642.0)),
        entry(
            None,
            "2026-03-14T12:00:00Z",
            [0, 0],
            Value::Weather(Weather { temperature_c: Some(4.5), ..Weather::default() }),
        ),
        sedge(
            "2026-03-14T12:00:00Z",
            Value::Behaviour(Behaviour { word: "keen".into(), present: true, degree: Degree::Plain }),
        ),
        sedge(
            "2026-03-14T12:00:00Z",
            Value::Behaviour(Behaviour { word: "bating".into(), present: false, degree: Degree::Plain }),
        ),
        sedge(
            "2026-03-14T13:00:00Z",
            Value::Condition(Condition { sign: Sign::Casting, reading: "cast".into() }),
        ),
        sedge("2026-03-15T08:00:00Z", weight(640.0)),
    ]);
    assert_eq!(days[0].temperature_c, Some(4.5));
    assert_eq!(days[0].behaviours.as_deref(), Some(&["keen".to_owned()][..]));
    assert_eq!(days[0].condition.as_ref().unwrap().len(), 1);
    assert_eq!(days[1].temperature_c, None);
}

#[test]
fn what_is_written_of_a_bird_grows_with_hers_alone() {
    let home = home();
    let store = &home.store;
    let when = "2026-03-01T08:00:00+00:00";
    let (sedge_id, teal_id) =
        (store.add_bird(bird("Sedge"), &ada()).unwrap(), store.add_bird(bird("Teal"), &ada()).unwrap());
    let before = store.written().unwrap();
    let id = store.enter(sedge(when, weight(640.0)), &ada()).unwrap();
    let weighed = store.written().unwrap();
    assert!(weighed.birds[&sedge_id] > before.birds[&sedge_id]);
    assert_eq!((weighed.birds[&teal_id], weighed.weather), (before.birds[&teal_id], before.weather));

    store.set_setting("units", &serde_json::json!("metric"), &ada()).unwrap();
    assert_eq!(store.written().unwrap(), weighed, "what is no bird's changes no bird");

    // Moved to another bird: both have changed.
    let moved = Entry { bird: Some("Teal".into()), ..sedge(when, weight(640.0)) };
    store.amend(&id, moved, "the other bird", &ada()).unwrap();
    let after = store.written().unwrap();
    assert!(
        after.birds[&sedge_id] > weighed.birds[&sedge_id] && after.birds[&teal_id] > weighed.birds[&teal_id]
    );
    store.strike(&id, "not weighed at all", &ada()).unwrap();
    assert!(store.written().unwrap().birds[&teal_id] > after.birds[&teal_id]);

    let cold = Value::Weather(Weather { temperature_c: Some(-4.0), wind: None, sky: None });
    store.enter(Entry { bird: None, ..sedge(when, cold) }, &ada()).unwrap();
    assert_ne!(store.written().unwrap().weather, after.weather);
}
