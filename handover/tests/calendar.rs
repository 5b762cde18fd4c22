//! Reminders, read back by a calendar reader of others (external check) and set against RFC 5545.

use chrono::DateTime;
use handover::{Reminder, Repeats, calendar};

#[test]
fn another_program_reads_the_calendar() {
    let at = DateTime::parse_from_rfc3339("2026-03-14T08:10:00+01:00").unwrap();
    let text = "Weigh Sedge; then feed, as told\\said: ünter the long ledge where the scale stands, and look at her feet";
    let out = calendar(
        &[
            Reminder { uid: "a@varvel".into(), at, text: text.into(), repeats: Repeats::Daily },
            Reminder { uid: "b@varvel".into(), at, text: "once".into(), repeats: Repeats::Once },
        ],
        at,
    );
    // Section 3.1: CR LF after every line, none longer than 75 octets.
    assert!(out.ends_with("\r\n") && !out.replace("\r\n", "").contains(['\r', '\n']));
    assert!(out.split("\r\n").all(|line| line.len() <= 75));
    let calendars: Vec<_> = ical::IcalParser::new(out.as_bytes()).collect();
    let read = calendars[0].as_ref().unwrap();
    assert_eq!(read.events.len(), 2);
    let value = |n: usize, name: &str| {
        read.events[n].properties.iter().find(|p| p.name == name).and_then(|p| p.value.clone())
    };
    let unescaped =
        value(0, "SUMMARY").unwrap().replace("\\;", ";").replace("\\,", ",").replace("\\\\", "\\");
    assert_eq!(unescaped, text);
    assert_eq!(value(0, "DTSTART").unwrap(), "20260314T081000");
    assert_eq!(value(0, "DTSTAMP").unwrap(), "20260314T071000Z");
    assert_eq!(value(0, "RRULE").unwrap(), "FREQ=DAILY");
    assert_eq!(value(1, "RRULE"), None);
}
