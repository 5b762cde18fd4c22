//! What in the record should make the keeper look, worry or stop, each with its reason and what to do.
//!
//! Signs: common practice of the trade and veterinary texts (Merck Veterinary Manual on keel and muscle;
//! J. Fish Wildl. Manage. 8:465 on lead). An accelerating loss at constant food: phase III of fasting, Robin
//! et al.; Cherel, Robin & Le Maho 1988. The numbers are in [`crate::Alarms`]. Absent: any diagnosis.

use crate::flying::{Answering, GOOD, sessions};
use crate::record::{Meal, Record, Row};
use crate::weight::{Check, Weighing};
use crate::{Settings, species};
use note::{Alert, Severity, Sign};

/// What to do when the flying must stop.
const STOP: &str = "Stop flying, keep warm, call an avian vet.";

/// Makes an alert.
pub(crate) fn alert(code: &str, severity: Severity, why: impl Into<String>) -> Alert {
    Alert { code: code.into(), severity, why: why.into() }
}

/// Collects what the record gives reason for, the gravest first.
pub(crate) fn raise(
    record: &Record<'_>,
    weighing: Option<&Weighing<'_>>,
    answering: Option<&Answering>,
    settings: &Settings,
) -> Vec<Alert> {
    let mut alerts = Vec::new();
    let light = weighing.is_some_and(|w| is_light(record, w, answering, settings));
    body(&mut alerts, record, light);
    casting_and_crop(&mut alerts, record);
    appetite(&mut alerts, record, settings);
    if let Some(weighing) = weighing {
        limits(&mut alerts, record, weighing, answering, settings);
        changes(&mut alerts, record, weighing, light, settings);
    }
    unweighed(&mut alerts, record, settings);
    answers(&mut alerts, record, settings);
    alerts.sort_by_key(|a| std::cmp::Reverse(a.severity));
    alerts
}

/// Rows of the last day and a half.
fn lately<'a>(record: &'a Record<'_>, days: f64) -> impl DoubleEndedIterator<Item = &'a Row> {
    let from = record.last().time - days;
    record.rows.iter().filter(move |r| r.time >= from)
}

/// A weight at which she surely still answers well, grams: an alarm must not hang on a guess above all she was flown at.
fn good_weight(record: &Record<'_>, answering: Option<&Answering>) -> Option<f64> {
    answering.map(|a| a.quantile(0.1).max(a.lowest_good())).or(record.bird.target_g)
}

fn is_light(
    record: &Record<'_>,
    weighing: &Weighing<'_>,
    answering: Option<&Answering>,
    settings: &Settings,
) -> bool {
    let now = weighing.now;
    let under = |limit: Option<f64>, share: f64| limit.is_some_and(|l| now < l * (1.0 - share));
    under(record.bird.floor_g, 0.0)
        || under(good_weight(record, answering), settings.alarms.under_flying)
        || under(record.bird.fed_up_g, settings.alarms.under_fed_up)
}

fn body(alerts: &mut Vec<Alert>, record: &Record<'_>, light: bool) {
    let seen = |words: &[&str]| {
        lately(record, 1.5).flat_map(|r| &r.behaviours).find(|b| words.contains(&b.as_str())).cloned()
    };
    const WEAK: &[&str] = &[
        "weak",
        "drooping",
        "wings drooped",
        "lethargic",
        "unsteady",
        "slit-eyed",
        "sunken eyes",
        "not standing",
        "collapsed",
        "fitting",
        "open-mouth breathing",
        "tail bobbing",
    ];
    const POORLY: &[&str] = &["fluffed", "sleeping", "sneezing", "low", "vomiting", "flicking food"];
    let poorly: Vec<&str> =
        POORLY.iter().copied().filter(|w| lately(record, 1.5).any(|r| r.shows(w))).collect();
    if let Some(word) = seen(WEAK) {
        alerts.push(alert(
            "weak",
            Severity::Stop,
            format!("Noted \u{201c}{word}\u{201d}: a bird shows weakness late. {STOP}"),
        ));
    } else if poorly.len() > 1 || (light && !poorly.is_empty()) {
        let also = if light { " in a light bird" } else { "" };
        alerts.push(alert("weak", Severity::Stop, format!("Noted {}{also}. {STOP}", poorly.join(" and "))));
    } else if let Some(word) = poorly.first() {
        alerts.push(alert(
            "poorly",
            Severity::Warn,
            format!("Noted \u{201c}{word}\u{201d}. Watch from a distance, feel the breastbone, look at mutes and eyes; do not fly until it has passed, and call a vet if it stays."),
        ));
    }
    if let Some(word) = seen(&["limping", "panting", "gripping"]) {
        alerts.push(alert(
            "watch",
            Severity::Look,
            format!("Noted \u{201c}{word}\u{201d}. Look at feet, legs and breathing at rest before flying."),
        ));
    }
    if lately(record, 3.5).filter(|r| r.shows("drinking")).count() >= 2 {
        alerts.push(alert("drinking", Severity::Look, "Drinking noted more than once in three days. In a raptor that can be illness: look at the mutes, ask a vet if it goes on."));
    }
    let keel = lately(record, 2.5).filter_map(|r| r.sign(Sign::Keel)).next_back();
    if keel.is_some_and(|k| k == "sharp" || k.starts_with("1/") || k == "1") {
        let severity = if light { Severity::Stop } else { Severity::Warn };
        let doing =
            if light { STOP } else { "Do not lower the weight; feed up, check the floor with a vet." };
        alerts.push(alert("keel-sharp", severity, format!("The breastbone was felt sharp. {doing}")));
    }
    let bad: Vec<&str> = lately(record, 3.5)
        .filter_map(|r| r.sign(Sign::Mutes))
        .filter(|m| matches!(*m, "green" | "dark"))
        .collect();
    if let Some(colour) = bad.last() {
        let again = bad.len() > 1 || light;
        let severity = if again { Severity::Stop } else { Severity::Warn };
        let doing = if again {
            STOP.to_string()
        } else {
            "An empty gut does this; so do illness and lead. Feed, look again at the next mute, and if it stays call an avian vet. Bright green after shot food: call now.".into()
        };
        alerts.push(alert("mutes", severity, format!("{} mutes. {doing}", capital(colour))));
    } else if lately(record, 2.5).any(|r| matches!(r.sign(Sign::Mutes), Some("watery" | "none"))) {
        alerts.push(alert(
            "mutes",
            Severity::Look,
            "Mutes watery or missing. Look again at the next; if it goes on, ask a vet.",
        ));
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn casting_and_crop(alerts: &mut Vec<Alert>, record: &Record<'_>) {
    let missing: Vec<&Row> = lately(record, 3.5).filter(|r| r.sign(Sign::Casting).is_some()).collect();
    let run = missing.iter().rev().take_while(|r| r.casting_missing()).count();
    match run {
        0 => {}
        1 => alerts.push(alert("no-casting", Severity::Look, "No casting yet. Wait for it before feeding and before flying; a pellet is due 12 to 24 hours after food with fur or feather.")),
        _ => alerts.push(alert("no-casting", Severity::Warn, "No casting for more than one day. Do not feed anything with fur or feather, do not fly; call an avian vet if it is not up today.")),
    }
    let full = |r: &&Row| r.sign(Sign::Crop).is_some();
    let held = lately(record, 2.5).filter(full).rev().take_while(|r| r.crop() > 0.0).count();
    match held {
        0 => {}
        1 => alerts.push(alert("crop-not-empty", Severity::Look, "The crop was not empty. If this was at the weigh-in, the weight is too high by what is in it; feed only when it is empty.")),
        _ => alerts.push(alert("crop-not-empty", Severity::Warn, "The crop was not empty on two notes running. Food that stays in the crop sours within a day: do not feed, call an avian vet today.")),
    }
}

fn appetite(alerts: &mut Vec<Alert>, record: &Record<'_>, settings: &Settings) {
    if lately(record, 1.5).any(|r| r.shows("refused food") || r.shows("not eating") || r.shows("off food")) {
        alerts.push(alert("refused-food", Severity::Warn, "Refused food. A bird at flying weight that does not eat is ill or frightened: do not fly, weigh again tonight, call an avian vet if it refuses once more."));
        return;
    }
    // The last day may not be over; the ones before are.
    let before: Vec<&Row> = record.rows.iter().rev().skip(1).take(3).collect();
    let nothing =
        |r: &&&Row| matches!(&r.meal, Meal::Known(eaten) if eaten.iter().map(|e| e.kcal).sum::<f64>() == 0.0);
    let hungry = before.iter().take_while(nothing).count();
    let small = record.rows.iter().rev().find_map(|r| r.grams).is_some_and(|g| g < settings.limits.small_g);
    if hungry >= 2 || (small && hungry >= 1) {
        alerts.push(alert(
            "ate-nothing",
            Severity::Warn,
            "Nothing eaten by the record for a day or more. If it refused, call an avian vet; if it was not noted, note it. Do not fast a bird to sharpen it.",
        ));
    }
}

fn limits(
    alerts: &mut Vec<Alert>,
    record: &Record<'_>,
    weighing: &Weighing<'_>,
    answering: Option<&Answering>,
    settings: &Settings,
) {
    let now = weighing.now;
    let reading = record.rows[weighing.weighed].grams.unwrap_or(now);
    let share = |of: f64| 100.0 * (1.0 - now / of);
    if let Some(floor) = record.bird.floor_g {
        if now.min(reading) < floor {
            alerts.push(alert("under-floor", Severity::Stop, format!("Weight under the floor of {}. {STOP} Feed small easy meals without casting, as the vet says.", crate::in_words(floor, record.bird.units))));
        } else if now < floor * 1.015 {
            alerts.push(alert(
                "near-floor",
                Severity::Warn,
                "Weight within 1.5 % of the floor. Do not fly; feed up today and weigh again tonight.",
            ));
        }
    }
    if let Some(fed_up) = record.bird.fed_up_g.filter(|f| now <= f * (1.0 - settings.alarms.under_fed_up)) {
        alerts.push(alert(
            "far-under-fed-up",
            Severity::Stop,
            format!(
                "Weight {:.0} % under the fed-up weight. {STOP} Feed up, and settle the floor with the vet.",
                share(fed_up)
            ),
        ));
    }
    if let Some(good) =
        good_weight(record, answering).filter(|g| now < g * (1.0 - settings.alarms.under_flying))
    {
        alerts.push(alert("under-flying-weight", Severity::Warn, format!("Weight {:.0} % under the good flying weight. Do not fly; feed up over the next days, feel the breastbone.", share(good))));
    }
}

fn changes(
    alerts: &mut Vec<Alert>,
    record: &Record<'_>,
    weighing: &Weighing<'_>,
    light: bool,
    settings: &Settings,
) {
    let checks = &weighing.checks;
    let Some(last) = checks.last().filter(|c| record.last().time - record.rows[c.row].time < 1.0) else {
        return;
    };
    let range =
        record.bird.species.as_deref().and_then(|s| species::plausible(s, record.bird.sex.as_deref()));
    let outside = range.is_some_and(|(low, high)| !(low..=high).contains(&last.actual));
    let off = (last.actual / last.expected - 1.0).abs();
    let implausible = outside || (off > settings.alarms.implausible && last.days < 4.0);
    if implausible {
        let why = if outside { "far from any bird of its kind" } else { "far from what was expected" };
        alerts.push(alert("implausible-weight", Severity::Warn, format!("The last weight is {why}. Weigh again: unit, furniture, scale at nought, glove or hood. If it is right, see the other alarms and call a vet.")));
    }
    let unexplained = (last.expected - last.actual) / last.expected / last.days.max(0.5);
    if unexplained >= settings.alarms.loss {
        let grave =
            unexplained >= 2.0 * settings.alarms.loss || light || last.actual < settings.limits.small_g;
        let severity = if grave && !implausible { Severity::Stop } else { Severity::Warn };
        alerts.push(alert(
            "falling-fast",
            severity,
            format!(
                "Lost {:.1} % a day more than the food explains. Weigh again. If it is right: {STOP}",
                100.0 * unexplained
            ),
        ));
        return;
    }
    if faster_at_same_food(checks) {
        let severity = if light { Severity::Stop } else { Severity::Warn };
        alerts.push(alert("falling-at-same-food", severity, format!("Losing more each day than the food explains, several days running. That is illness, worms, cold or food that was not eaten; a loss that quickens is an emergency. {}", if light { STOP } else { "Feed more, feel the breastbone, take a mute to the vet." })));
        return;
    }
    let miss = last.actual - last.expected;
    if !last.food_known || implausible || miss.abs() < (1.645 * last.sd).max(0.004 * last.actual) {
        return;
    }
    let (change, expected) =
        (percent(last.expected_change + miss, last), percent(last.expected_change, last));
    if miss > 0.0 {
        alerts.push(alert("lost-less", Severity::Look, format!("Changed by {change:+.1} % where the food explains {expected:+.1} %: carrying fat, or ate more than was noted. Trust the bird\u{2019}s answer before the scale.")));
    } else {
        alerts.push(alert("lost-more", Severity::Look, format!("Changed by {change:+.1} % where the food explains {expected:+.1} %: ate less than was noted, a cold night, or the start of illness. Look at crop, mutes and breastbone.")));
    }
}

fn percent(grams: f64, check: &Check) -> f64 {
    100.0 * grams / check.actual
}

/// Whether the last weigh-ins together fell well short of what the food explains.
fn faster_at_same_food(checks: &[Check]) -> bool {
    let last: Vec<&Check> = checks.iter().rev().take(4).collect();
    if last.len() < 4 || last.iter().any(|c| !c.food_known || c.days > 2.0) {
        return false;
    }
    let together =
        last.iter().map(|c| (c.actual - c.expected) / c.sd).sum::<f64>() / (last.len() as f64).sqrt();
    let short = last.iter().map(|c| (c.expected - c.actual) / c.expected).sum::<f64>();
    together < -2.6 && short > 0.015 && last.iter().filter(|c| c.actual < c.expected).count() >= 3
}

fn unweighed(alerts: &mut Vec<Alert>, record: &Record<'_>, settings: &Settings) {
    let weighed = record.rows.iter().rev().find(|r| r.grams.is_some());
    match weighed {
        None => alerts.push(alert(
            "no-weight",
            Severity::Look,
            "No weight on record. Weigh the bird at the same hour each day, crop empty and casting up.",
        )),
        Some(row) => {
            let days = record.last().time - row.time;
            if days >= settings.alarms.days_unweighed {
                let severity = if days >= 2.0 * settings.alarms.days_unweighed {
                    Severity::Warn
                } else {
                    Severity::Look
                };
                alerts.push(alert(
                    "days-without-weight",
                    severity,
                    format!(
                        "{days:.0} days without a weight. Weigh before feeding or flying by these numbers."
                    ),
                ));
            }
        }
    }
}

fn answers(alerts: &mut Vec<Alert>, record: &Record<'_>, settings: &Settings) {
    let all = sessions(record);
    let now = record.last().time;
    if all.len() < 7 || now - all[all.len() - 1].time > 3.0 {
        return;
    }
    let (before, last) = all.split_at(all.len() - 3);
    let weight = last.iter().map(|s| s.grams).sum::<f64>() / 3.0;
    let mean = |grades: &[u8]| grades.iter().map(|g| f64::from(*g)).sum::<f64>() / grades.len() as f64;
    let at_weight: Vec<u8> = before
        .iter()
        .filter(|s| (s.grams / weight - 1.0).abs() < 0.01 && now - s.time < 45.0)
        .map(|s| s.grade)
        .collect();
    let lately: Vec<u8> = last.iter().map(|s| s.grade).collect();
    if at_weight.len() >= 4 && mean(&at_weight) - mean(&lately) >= settings.alarms.answer_fall {
        alerts.push(alert("answer-falling", Severity::Warn, "Answers have fallen at the same weight. That is not hunger: look for illness, sore feet, weather, a fright, a new thing on the bird, or too much asked. Rest a day, do not cut the food."));
    }
    let good = last.iter().all(|s| s.grade >= GOOD);
    let poor = lately.iter().all(|g| *g <= 2);
    if poor && !good {
        alerts.push(alert("poor-answers", Severity::Look, "Three poor answers running. Shorten the distance, end on a large reward, and look for the cause before touching the food."));
    }
}
