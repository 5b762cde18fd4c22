//! Reminders as a calendar file (iCalendar, RFC 5545).

use crate::Result;
use chrono::{Datelike, NaiveTime, TimeDelta, Timelike, Utc};
use store::{Moment, Span, Store};

/// How often a reminder comes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Repeats {
    /// Not at all.
    Once,
    /// Every day.
    Daily,
    /// Every week.
    Weekly,
    /// Every month.
    Monthly,
}

/// A reminder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reminder {
    /// The same for the same reminder each time, so that a calendar replaces it.
    pub uid: String,
    /// When it is due; a daily one stays at this hour of the clock.
    pub at: Moment,
    /// What to do.
    pub text: String,
    /// How often.
    pub repeats: Repeats,
}

/// Makes reminders from the record: each bird's weigh-in at her usual hour, and the next check of the scale.
pub fn reminders(store: &Store, now: Moment) -> Result<Vec<Reminder>> {
    let mut out = Vec::new();
    for bird in store.birds()? {
        let days = store.days(&bird.id, Span::since(now - TimeDelta::days(30)))?;
        let mut minutes: Vec<u32> = days
            .iter()
            .filter(|day| day.grams.is_some())
            .map(|day| day.at.hour() * 60 + day.at.minute())
            .collect();
        if minutes.is_empty() {
            continue;
        }
        minutes.sort_unstable();
        let usual = minutes[minutes.len() / 2];
        let time = NaiveTime::from_hms_opt(usual / 60, usual % 60, 0).unwrap_or_default();
        let Some(mut at) = now.with_time(time).single() else { continue };
        if at <= now {
            at += TimeDelta::days(1);
        }
        out.push(Reminder {
            uid: format!("weigh-{}@varvel", bird.id),
            at,
            text: format!("Weigh {}", bird.details.name),
            repeats: Repeats::Daily,
        });
    }
    if let Some(last) = store.scale_checks(1)?.first() {
        let at = (last.at + TimeDelta::days(30)).max(now);
        out.push(Reminder {
            uid: "scale-check@varvel".into(),
            at,
            text: "Lay the known weight on the scale and tell what it shows".into(),
            repeats: Repeats::Monthly,
        });
    }
    Ok(out)
}

/// Writes reminders as a calendar file.
pub fn calendar(reminders: &[Reminder], now: Moment) -> String {
    let mut out = String::new();
    for text in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Varvel//Reminders//EN", "CALSCALE:GREGORIAN"] {
        line(&mut out, text);
    }
    for reminder in reminders {
        line(&mut out, "BEGIN:VEVENT");
        line(&mut out, &format!("UID:{}", escaped(&reminder.uid)));
        line(&mut out, &format!("DTSTAMP:{}", utc(now)));
        // A local time without a zone stays at the same hour of the clock, summer and winter.
        line(&mut out, &format!("DTSTART:{}", reminder.at.format("%Y%m%dT%H%M%S")));
        line(&mut out, "DURATION:PT15M");
        line(&mut out, &format!("SUMMARY:{}", escaped(&reminder.text)));
        match reminder.repeats {
            Repeats::Once => {}
            Repeats::Daily => line(&mut out, "RRULE:FREQ=DAILY"),
            Repeats::Weekly => line(&mut out, "RRULE:FREQ=WEEKLY"),
            // The 31st does not come every month.
            Repeats::Monthly => {
                line(&mut out, &format!("RRULE:FREQ=MONTHLY;BYMONTHDAY={}", reminder.at.day().min(28)))
            }
        }
        line(&mut out, "BEGIN:VALARM");
        line(&mut out, "ACTION:DISPLAY");
        line(&mut out, &format!("DESCRIPTION:{}", escaped(&reminder.text)));
        line(&mut out, "TRIGGER:PT0S");
        line(&mut out, "END:VALARM");
        line(&mut out, "END:VEVENT");
    }
    line(&mut out, "END:VCALENDAR");
    out
}

fn utc(at: Moment) -> String {
    at.with_timezone(&Utc).format("%Y%m%dT%H%M%SZ").to_string()
}

/// Section 3.3.11: backslash, semicolon, comma and line feed are escaped.
fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Section 3.1: lines end with CR LF and are folded before 75 octets.
fn line(out: &mut String, text: &str) {
    let mut room = 75;
    for c in text.chars() {
        if c.len_utf8() > room {
            out.push_str("\r\n ");
            room = 74;
        }
        room -= c.len_utf8();
        out.push(c);
    }
    out.push_str("\r\n");
}
