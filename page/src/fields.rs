//! The form that changes an entry, and the reading of what was typed into it.

use crate::say;
use chrono::{DateTime, FixedOffset, NaiveDateTime, TimeZone};
use maud::{Markup, html};
use note::{
    BEHAVIOURS, Behaviour, Condition, Degree, EQUIPMENT, Entry, Equipment, EquipmentAction, FOODS, Flights,
    Food, Grade, Kind, MassUnit, Outcome, PARTS, Quarry, QuarryOutcome, Remark, Response, Sign, Sky, Step,
    StepOutcome, To, Training, Units, Value, Weather, Weight, Wind,
};
use std::collections::BTreeMap;

/// What was typed, by field name.
pub type Typed = BTreeMap<String, String>;

/// Draws the fields of an entry; `id` keeps their labels apart on a page.
pub fn inputs(entry: &Entry, id: &str, birds: &[String], units: Units) -> Markup {
    html! {
        div.fields {
            @match &entry.value {
                Value::Weight(w) => (text(id, "mass", mass_label(units), &say::mass(w.grams.get(), units), None)),
                Value::Food(f) => {
                    (text(id, "item", "Food", &f.item, Some("foods")))
                    (text(id, "count", "How many", &number(f.count), None))
                    (choice(id, "part", "Part", PARTS.iter().copied(), f.part.as_deref(), Some("the whole")))
                    (text(id, "grams", "Grams, if weighed", &number(f.grams), None))
                    (choice(id, "outcome", "What became of it", Outcome::ALL.iter().map(|o| o.word()), Some(f.outcome.word()), None))
                }
                Value::Flights(f) => {
                    (text(id, "count", "How many", &number(f.count.map(f64::from)), None))
                    (text(id, "longest", if units == Units::Metric { "Longest, metres" } else { "Longest, yards" },
                        &number(f.longest_m.map(|m| if units == Units::Metric { m } else { (m / 0.9144).round() })), None))
                    (choice(id, "line", "Line", note::Line::ALL.iter().map(|o| o.word()), f.line.map(note::Line::word), Some("not said")))
                    (choice(id, "to", "Flown to", To::ALL.iter().map(|o| o.word()), f.to.map(To::word), Some("not said")))
                }
                Value::Response(r) => (grades(id, r.grade.get())),
                Value::Behaviour(b) => {
                    (text(id, "word", "Behaviour", &b.word, Some("behaviours")))
                    (choice(id, "present", "Seen", ["yes", "no"].into_iter(), Some(if b.present { "yes" } else { "no" }), None))
                    (choice(id, "degree", "How strongly", Degree::ALL.iter().map(|o| o.word()), Some(b.degree.word()), None))
                }
                Value::Condition(c) => {
                    (choice(id, "sign", "Sign", Sign::ALL.iter().map(|o| o.word()), Some(c.sign.word()), None))
                    (text(id, "reading", "Reading", &c.reading, None))
                }
                Value::Weather(w) => {
                    (text(id, "temperature", "Degrees Celsius", &number(w.temperature_c), None))
                    (choice(id, "wind", "Wind", Wind::ALL.iter().map(|o| o.word()), w.wind.map(Wind::word), Some("not said")))
                    (choice(id, "sky", "Sky", Sky::ALL.iter().map(|o| o.word()), w.sky.map(Sky::word), Some("not said")))
                }
                Value::Quarry(q) => {
                    (text(id, "species", "Quarry", &q.species, None))
                    (text(id, "count", "How many", &q.count.to_string(), None))
                    (choice(id, "outcome", "What became of it", QuarryOutcome::ALL.iter().map(|o| o.word()), Some(q.outcome.word()), None))
                }
                Value::Equipment(e) => {
                    (text(id, "item", "Item", &e.item, Some("equipment")))
                    (choice(id, "action", "What was done", EquipmentAction::ALL.iter().map(|o| o.word()), Some(e.action.word()), None))
                }
                Value::Training(t) => {
                    (choice(id, "step", "Step", Step::ALL.iter().map(|o| o.word()), Some(t.step.word()), None))
                    (choice(id, "outcome", "What became of it", StepOutcome::ALL.iter().map(|o| o.word()), Some(t.outcome.word()), None))
                }
                Value::Remark(r) => {
                    div { label for={ (id) "-text" } { "Remark" } textarea id={ (id) "-text" } name="text" maxlength="2000" { (r.text) } }
                }
            }
            (choice(id, "bird", "Bird", birds.iter().map(String::as_str), entry.bird.as_deref(), Some("no bird")))
            div {
                label for={ (id) "-at" } { "When" }
                input id={ (id) "-at" } name="at" type="datetime-local" value=(entry.at.format("%Y-%m-%dT%H:%M"));
            }
        }
    }
}

/// A field of an entry, for who is asked in a terminal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Its name, as [`read`] takes it.
    pub name: &'static str,
    /// What to ask.
    pub label: &'static str,
    /// What it holds now.
    pub now: String,
}

/// Lists the fields of an entry with what they hold, as the form shows them.
pub fn lines(entry: &Entry, units: Units) -> Vec<Line> {
    let metric = units == Units::Metric;
    let word = |w: Option<&str>| w.unwrap_or_default().to_owned();
    let mut fields: Vec<(&'static str, &'static str, String)> = match &entry.value {
        Value::Weight(w) => vec![("mass", mass_label(units), say::mass(w.grams.get(), units))],
        Value::Food(f) => vec![
            ("item", "Food", f.item.clone()),
            ("count", "How many", number(f.count)),
            ("part", "Part", word(f.part.as_deref())),
            ("grams", "Grams, if weighed", number(f.grams)),
            ("outcome", "Eaten, offered, refused or left", f.outcome.word().into()),
        ],
        Value::Flights(f) => vec![
            ("count", "How many", number(f.count.map(f64::from))),
            (
                "longest",
                if metric { "Longest, metres" } else { "Longest, yards" },
                number(f.longest_m.map(|m| if metric { m } else { (m / 0.9144).round() })),
            ),
            ("line", "Creance or free", word(f.line.map(note::Line::word))),
            ("to", "To fist, perch or lure", word(f.to.map(To::word))),
        ],
        Value::Response(r) => vec![("grade", "How she answered, 1 to 5", r.grade.get().to_string())],
        Value::Behaviour(b) => vec![
            ("word", "Behaviour", b.word.clone()),
            ("present", "Seen, yes or no", if b.present { "yes".into() } else { "no".into() }),
            ("degree", "Slight, plain or strong", b.degree.word().into()),
        ],
        Value::Condition(c) => {
            vec![("sign", "Sign", c.sign.word().into()), ("reading", "Reading", c.reading.clone())]
        }
        Value::Weather(w) => vec![
            ("temperature", "Degrees Celsius", number(w.temperature_c)),
            ("wind", "Calm, light, moderate or strong", word(w.wind.map(Wind::word))),
            ("sky", "Clear, cloud, fog, rain, snow or frost", word(w.sky.map(Sky::word))),
        ],
        Value::Quarry(q) => vec![
            ("species", "Quarry", q.species.clone()),
            ("count", "How many", q.count.to_string()),
            ("outcome", "Taken, missed or chased", q.outcome.word().into()),
        ],
        Value::Equipment(e) => {
            vec![("item", "Item", e.item.clone()), ("action", "What was done", e.action.word().into())]
        }
        Value::Training(t) => {
            vec![("step", "Step", t.step.word().into()), ("outcome", "Outcome", t.outcome.word().into())]
        }
        Value::Remark(r) => vec![("text", "Remark", r.text.clone())],
    };
    fields.push(("bird", "Bird", entry.bird.clone().unwrap_or_default()));
    fields.into_iter().map(|(name, label, now)| Line { name, label, now }).collect()
}

/// The lists of words that the forms offer; once a page.
pub fn lists() -> Markup {
    html! {
        @for (id, words) in [("foods", FOODS), ("behaviours", BEHAVIOURS), ("equipment", EQUIPMENT)] {
            datalist id=(id) { @for word in words { option value=(word) {} } }
        }
    }
}

fn mass_label(units: Units) -> &'static str {
    match units {
        Units::Metric => "Weight, grams",
        Units::Avoirdupois => "Weight, pounds and ounces",
    }
}

fn number(value: Option<f64>) -> String {
    value.map(|v| say::trim(v, 2)).unwrap_or_default()
}

fn text(id: &str, name: &str, label: &str, value: &str, list: Option<&str>) -> Markup {
    html! { div {
        label for={ (id) "-" (name) } { (label) }
        input id={ (id) "-" (name) } name=(name) value=(value) list=[list] autocomplete="off" maxlength="200";
    } }
}

fn choice<'a>(
    id: &str,
    name: &str,
    label: &str,
    words: impl Iterator<Item = &'a str>,
    chosen: Option<&str>,
    none: Option<&str>,
) -> Markup {
    html! { div {
        label for={ (id) "-" (name) } { (label) }
        select id={ (id) "-" (name) } name=(name) {
            @if let Some(none) = none { option value="" selected[chosen.is_none()] { (none) } }
            @for word in words { option value=(word) selected[chosen == Some(word)] { (word) } }
        }
    } }
}

fn grades(id: &str, chosen: u8) -> Markup {
    html! { div {
        label for={ (id) "-grade" } { "How she answered" }
        select id={ (id) "-grade" } name="grade" {
            @for grade in 1..=5u8 { option value=(grade) selected[grade == chosen] { (say::grade(grade)) } }
        }
    } }
}

/// Reads a changed entry from what was typed; what the form does not show stays as it was.
///
/// # Errors
/// A sentence for the keeper that names the field and what it takes.
pub fn read(entry: &Entry, typed: &Typed, birds: &[String], units: Units) -> Result<Entry, String> {
    let value = read_value(&entry.value, typed, units)?;
    let bird = match typed.get("bird").map(String::as_str) {
        None => entry.bird.clone(),
        Some("") => None,
        Some(name) if birds.iter().any(|b| b == name) => Some(name.to_owned()),
        Some(name) => return Err(format!("There is no bird called {name} here.")),
    };
    if bird.is_none() && value.kind() != Kind::Weather {
        return Err("Choose the bird that this belongs to.".into());
    }
    let at = match typed.get("at").map(|t| t.trim()).filter(|t| !t.is_empty()) {
        Some(text) => read_moment(text, entry.at)?,
        None => entry.at,
    };
    Ok(Entry { value, bird, at, ..entry.clone() })
}

/// Reads the time of a form, "2026-11-24T08:10"; to the minute as shown it stays exactly what it was.
fn read_moment(text: &str, was: DateTime<FixedOffset>) -> Result<DateTime<FixedOffset>, String> {
    if text == was.format("%Y-%m-%dT%H:%M").to_string() {
        return Ok(was);
    }
    ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
        .iter()
        .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
        .and_then(|local| was.offset().from_local_datetime(&local).single())
        .ok_or_else(|| format!("“{text}” is no date and time."))
}

fn read_value(was: &Value, typed: &Typed, units: Units) -> Result<Value, String> {
    let get = |name: &str| typed.get(name).map(|t| t.trim()).unwrap_or_default();
    let word = |name: &str, what: &str| match get(name) {
        "" => Err(format!("{what} is empty.")),
        text => Ok(text.to_owned()),
    };
    let optional = |name: &str, what: &str, most: f64| -> Result<Option<f64>, String> {
        match get(name) {
            "" => Ok(None),
            text => read_number(text, what, most).map(Some),
        }
    };
    let whole = |name: &str, what: &str| -> Result<Option<u32>, String> {
        match get(name) {
            "" => Ok(None),
            text => text
                .parse()
                .ok()
                .filter(|n| *n <= 1000)
                .map(Some)
                .ok_or(format!("{what}: “{text}” is no whole number.")),
        }
    };
    Ok(match was {
        Value::Weight(weight) => {
            let grams = say::read_mass(get("mass"), units)?;
            let unit = if units == Units::Avoirdupois { Some(MassUnit::LbOz) } else { Some(MassUnit::G) };
            // What is shown is rounded: typed back unchanged, it is the same weight.
            let same = get("mass") == say::mass(weight.grams.get(), units);
            Value::Weight(if same { *weight } else { Weight { grams, unit } })
        }
        Value::Food(_) => Value::Food(Food {
            item: word("item", "Food")?.to_lowercase(),
            count: optional("count", "How many", 500.0)?,
            part: Some(get("part").to_owned()).filter(|p| !p.is_empty()),
            grams: optional("grams", "Grams", 20_000.0)?,
            outcome: one(get("outcome"), Outcome::from_word)?,
        }),
        Value::Flights(flights) => {
            let longest = optional("longest", "Longest", 20_000.0)?;
            let shown =
                flights.longest_m.map(|m| if units == Units::Metric { m } else { (m / 0.9144).round() });
            let longest_m = match longest {
                Some(l) if shown.is_some_and(|s| say::trim(s, 2) == say::trim(l, 2)) => flights.longest_m,
                Some(l) if units == Units::Avoirdupois => Some((l * 9.144).round() / 10.0),
                other => other,
            };
            Value::Flights(Flights {
                count: whole("count", "How many")?,
                longest_m,
                line: maybe(get("line"), note::Line::from_word)?,
                to: maybe(get("to"), To::from_word)?,
            })
        }
        Value::Response(_) => {
            let grade = get("grade")
                .parse()
                .ok()
                .and_then(Grade::new)
                .ok_or("The answer is a number from 1 to 5.")?;
            Value::Response(Response { grade })
        }
        Value::Behaviour(_) => Value::Behaviour(Behaviour {
            word: word("word", "Behaviour")?.to_lowercase(),
            present: get("present") != "no",
            degree: one(get("degree"), Degree::from_word)?,
        }),
        Value::Condition(_) => Value::Condition(Condition {
            sign: one(get("sign"), Sign::from_word)?,
            reading: word("reading", "Reading")?,
        }),
        Value::Weather(_) => Value::Weather(Weather {
            temperature_c: match get("temperature") {
                "" => None,
                text => Some(signed(text, "Degrees")?),
            },
            wind: maybe(get("wind"), Wind::from_word)?,
            sky: maybe(get("sky"), Sky::from_word)?,
        }),
        Value::Quarry(_) => Value::Quarry(Quarry {
            species: word("species", "Quarry")?.to_lowercase(),
            count: whole("count", "How many")?.unwrap_or(1),
            outcome: one(get("outcome"), QuarryOutcome::from_word)?,
        }),
        Value::Equipment(_) => Value::Equipment(Equipment {
            item: word("item", "Item")?.to_lowercase(),
            action: one(get("action"), EquipmentAction::from_word)?,
        }),
        Value::Training(_) => Value::Training(Training {
            step: one(get("step"), Step::from_word)?,
            outcome: one(get("outcome"), StepOutcome::from_word)?,
        }),
        Value::Remark(_) => Value::Remark(Remark { text: word("text", "Remark")? }),
    })
}

/// Reads a number that may be written with a fraction or a comma.
fn read_number(text: &str, what: &str, most: f64) -> Result<f64, String> {
    let plain = text.replace(',', ".").replace('½', ".5").replace('¼', ".25").replace('¾', ".75");
    match plain.parse::<f64>() {
        Ok(n) if n.is_finite() && (0.0..=most).contains(&n) => Ok(n),
        _ => Err(format!("{what}: “{text}” is no number from 0 to {most}.")),
    }
}

fn signed(text: &str, what: &str) -> Result<f64, String> {
    match text.replace(',', ".").replace('−', "-").parse::<f64>() {
        Ok(n) if (-60.0..=60.0).contains(&n) => Ok((n * 10.0).round() / 10.0),
        _ => Err(format!("{what}: “{text}” is no number from −60 to 60.")),
    }
}

fn one<T>(text: &str, from: impl Fn(&str) -> Option<T>) -> Result<T, String> {
    from(text).ok_or_else(|| format!("“{text}” is not one of the words to choose from."))
}

fn maybe<T>(text: &str, from: impl Fn(&str) -> Option<T>) -> Result<Option<T>, String> {
    if text.is_empty() { Ok(None) } else { one(text, from).map(Some) }
}

/// The word a keeper might want remembered: what the entry is called, when a correction changed just that.
pub fn learnable(was: &Entry, now: &Entry) -> Option<String> {
    match (&was.value, &now.value) {
        (Value::Food(a), Value::Food(b)) if a.item != b.item => Some(b.item.clone()),
        (Value::Behaviour(a), Value::Behaviour(b)) if a.word != b.word => Some(b.word.clone()),
        (Value::Equipment(a), Value::Equipment(b)) if a.item != b.item => Some(b.item.clone()),
        (Value::Quarry(a), Value::Quarry(b)) if a.species != b.species => Some(b.species.clone()),
        (Value::Training(a), Value::Training(b)) if a.step != b.step => Some(b.step.word().to_owned()),
        _ if was.bird != now.bird => now.bird.clone(),
        _ => None,
    }
}

/// The words to remember it by: what was taken for the thing, if it was said like that, else the whole quote.
pub fn heard(was: &Entry) -> String {
    let quote = was.quote.to_lowercase();
    let taken_for = match &was.value {
        Value::Food(f) => &f.item,
        Value::Behaviour(b) => &b.word,
        Value::Equipment(e) => &e.item,
        Value::Quarry(q) => &q.species,
        _ => &quote,
    };
    if quote.contains(taken_for.as_str()) { taken_for.clone() } else { quote.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use note::Grams;

    fn entry(json: &str) -> Entry {
        let mut whole: serde_json::Value = serde_json::from_str(json).unwrap();
        for (field, value) in [("bird", "Sedge"), ("at", "2026-11-24T08:10:23+00:00"), ("quote", "words")] {
            whole[field] = value.into();
        }
        whole["span"] = serde_json::json!([0, 5]);
        whole["confidence"] = 0.9.into();
        whole["flags"] = serde_json::json!([]);
        serde_json::from_value(whole).unwrap()
    }

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    /// Every kind, drawn as a form and sent back untouched, is the entry that it was.
    #[test]
    fn a_form_sent_back_untouched_changes_nothing() {
        for json in [
            r#"{"kind":"weight","value":{"grams":912.3,"unit":"lb oz"}}"#,
            r#"{"kind":"food","value":{"item":"day-old chick","count":2.5,"part":"leg","grams":30.5,"outcome":"left"}}"#,
            r#"{"kind":"flights","value":{"count":8,"longest_m":54.9,"line":"creance","to":"fist"}}"#,
            r#"{"kind":"response","value":{"grade":4}}"#,
            r#"{"kind":"behaviour","value":{"word":"bating","present":false,"degree":"slight"}}"#,
            r#"{"kind":"condition","value":{"sign":"crop","reading":"half"}}"#,
            r#"{"kind":"weather","value":{"temperature_c":-4.5,"wind":"light","sky":"rain"}}"#,
            r#"{"kind":"quarry","value":{"species":"rabbit","count":2,"outcome":"missed"}}"#,
            r#"{"kind":"equipment","value":{"item":"bell","action":"fitted"}}"#,
            r#"{"kind":"training","value":{"step":"creance","outcome":"done"}}"#,
            r#"{"kind":"remark","value":{"text":"a <b> & \"c\""}}"#,
        ] {
            let was = entry(json);
            for units in [Units::Metric, Units::Avoirdupois] {
                let drawn = inputs(&was, "e", &["Sedge".into(), "Teal".into()], units).into_string();
                assert_eq!(
                    read(&was, &filled(&drawn), &["Sedge".into()], units).as_ref(),
                    Ok(&was),
                    "{json}"
                );
                let asked =
                    lines(&was, units).into_iter().map(|line| (line.name.to_owned(), line.now)).collect();
                assert_eq!(
                    read(&was, &asked, &["Sedge".into()], units).as_ref(),
                    Ok(&was),
                    "{json} in a terminal"
                );
            }
        }
    }

    /// Reads back what a browser would send for a drawn form.
    fn filled(html: &str) -> Typed {
        let plain = |t: &str| {
            t.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
        };
        let attribute = |tag: &str, name: &str| {
            tag.split_once(&format!("{name}=\""))
                .map(|(_, rest)| plain(rest.split('"').next().unwrap_or_default()))
        };
        let mut out = Typed::new();
        for piece in html.split('<').filter(|p| p.starts_with("input ")) {
            out.insert(attribute(piece, " name").unwrap(), attribute(piece, " value").unwrap());
        }
        for piece in html.split("<select").skip(1) {
            let body = piece.split("</select>").next().unwrap();
            let chosen = body.split("<option").find(|o| o.contains(" selected")).unwrap();
            out.insert(attribute(body, " name").unwrap(), attribute(chosen, " value").unwrap());
        }
        for piece in html.split("<textarea").skip(1) {
            let body = piece.split_once('>').unwrap().1.split("</textarea>").next().unwrap();
            out.insert("text".into(), plain(body));
        }
        out
    }

    #[test]
    fn what_is_typed_is_taken_or_refused_with_a_sentence() {
        let weight = entry(r#"{"kind":"weight","value":{"grams":912.0,"unit":"g"}}"#);
        let birds = ["Sedge".to_owned(), "Teal".to_owned()];
        let changed = read(
            &weight,
            &typed(&[("mass", "921"), ("bird", "Teal"), ("at", "2026-11-23T07:00")]),
            &birds,
            Units::Metric,
        )
        .unwrap();
        assert_eq!(
            changed.value,
            Value::Weight(Weight { grams: Grams::new(921.0).unwrap(), unit: Some(MassUnit::G) })
        );
        assert_eq!(
            (changed.bird.as_deref(), changed.at.to_rfc3339().as_str()),
            (Some("Teal"), "2026-11-23T07:00:00+00:00")
        );
        for (pairs, part) in [
            (&[("mass", "much")][..], "no weight"),
            (&[("mass", "912"), ("bird", "Nobody")], "no bird called Nobody"),
            (&[("mass", "912"), ("bird", "")], "Choose the bird"),
            (&[("mass", "912"), ("at", "noon")], "no date"),
        ] {
            let told = read(&weight, &typed(pairs), &birds, Units::Metric).unwrap_err();
            assert!(told.contains(part), "{told}");
        }
        let food = entry(
            r#"{"kind":"food","value":{"item":"quail","count":1.0,"part":null,"grams":null,"outcome":"eaten"}}"#,
        );
        let now = read(
            &food,
            &typed(&[("item", "Mouse"), ("count", "2½"), ("outcome", "eaten")]),
            &birds,
            Units::Metric,
        )
        .unwrap();
        assert_eq!((learnable(&food, &now).as_deref(), heard(&food).as_str()), (Some("mouse"), "words"));
        assert!(
            read(
                &food,
                &typed(&[("item", "quail"), ("count", "-1"), ("outcome", "eaten")]),
                &birds,
                Units::Metric
            )
            .is_err()
        );
        assert!(
            read(&food, &typed(&[("item", "quail"), ("outcome", "burnt")]), &birds, Units::Metric).is_err()
        );
    }
}
