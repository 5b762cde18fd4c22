//! The command's lines.

use advise::lines::run;
use serde_json::Value;

fn answer(input: &str) -> (bool, Value) {
    let mut output = Vec::new();
    let given = run(input.as_bytes(), &mut output).unwrap();
    let text = String::from_utf8(output).unwrap();
    assert_eq!(text.lines().count(), 1, "{text}");
    (given, serde_json::from_str(&text).unwrap())
}

/// The contract's own example lines.
const BIRD: &str = r#"{"bird":"Bramble","species":"red-tailed hawk","sex":"female","hatched":"2024-05-01","floor_g":980.0,"target_g":1060.0,"fed_up_g":1180.0,"furniture_g":12.0,"units":"metric"}"#;
const DAY: &str = r#"{"at":"2026-03-14T08:10:00+00:00","grams":1085.0,"response":4,"flights":{"count":8,"longest_m":60.0,"line":"creance"},"food":[{"item":"day-old chick","count":2.5,"part":null,"grams":null}],"temperature_c":6.0,"behaviours":["keen"],"condition":[{"sign":"casting","reading":"cast"}]}"#;

#[test]
fn one_bird_and_its_days_give_one_advice_with_every_key() {
    let (given, advice) = answer(&format!("{BIRD}\n{DAY}\n"));
    assert!(given);
    for key in ["bird", "as_of", "trend", "flying_weight", "forecast", "ration", "alerts", "training"] {
        assert!(advice.get(key).is_some(), "{key}");
    }
    assert_eq!(advice["bird"], "Bramble");
    // 1085 on the scale is 1073 without 12 g of furniture.
    assert_eq!(advice["trend"]["grams"], 1073.0);
    assert_eq!(advice["flying_weight"], Value::Null);
    let at = |text: &str| chrono::DateTime::parse_from_rfc3339(text).unwrap();
    assert_eq!(at(advice["forecast"]["at"].as_str().unwrap()), at("2026-03-15T08:10:00+00:00"));
    assert_eq!(advice["ration"]["items"][0]["item"], "day-old chick");
    let codes: Vec<&str> =
        advice["alerts"].as_array().unwrap().iter().filter_map(|a| a["code"].as_str()).collect();
    assert!(codes.contains(&"flying-weight-unknown"), "{codes:?}");
}

#[test]
fn missing_fields_are_unknown() {
    let (given, advice) = answer("{\"bird\":\"Bramble\"}\n{\"at\":\"2026-03-14T08:10:00+00:00\"}\n");
    assert!(given);
    for part in ["trend", "flying_weight", "forecast", "ration"] {
        assert_eq!(advice[part], Value::Null, "{part}");
    }
}

#[test]
fn what_cannot_be_is_said_and_nothing_else() {
    for (input, says) in [
        (String::new(), "no bird came in"),
        (format!("{BIRD}\n"), "no day on record"),
        (format!("{BIRD}\nnot json\n"), "line 2 is not a day"),
        (format!("{BIRD}\n{}\n", DAY.replace("1085.0", "-3")), "weight is -3"),
        (format!("{BIRD}\n{}\n", DAY.replace("\"response\":4", "\"response\":9")), "no grade from 1 to 5"),
        (format!("{}\n{DAY}\n", BIRD.replace("980.0", "2980.0")), "above its fed-up weight"),
    ] {
        let (given, answer) = answer(&input);
        assert!(!given, "{input}");
        let error = answer["error"].as_str().unwrap_or_default();
        assert!(error.contains(says), "{error} lacks {says}");
    }
}

/// Odd records: each gives advice, or one clear error; none gives both or neither.
#[test]
fn odd_days_give_advice_or_a_clear_error() {
    let at = |at: &str, rest: &str| format!("{{\"at\":\"{at}\"{rest}}}");
    let noon = "2026-03-14T12:00:00+00:00";
    let years: Vec<String> = (0..3650)
        .map(|i| {
            let day = chrono::NaiveDate::from_ymd_opt(2016, 1, 1).unwrap() + chrono::Days::new(i);
            let grams = 1072.0 + (i % 7) as f64 + 12.0;
            at(&format!("{day}T08:00:00+00:00"), &format!(",\"grams\":{grams},\"response\":{}", 3 + i % 3))
        })
        .collect();
    let cases: Vec<(&str, String, Option<&str>)> = vec![
        ("the same day three times", format!("{DAY}\n{DAY}\n{DAY}"), None),
        ("two weights of one moment", format!("{DAY}\n{}", DAY.replace("1085.0", "1079.0")), None),
        ("a day far ahead", format!("{DAY}\n{}", at("9999-12-31T23:59:59+00:00", ",\"grams\":1080")), None),
        ("a day long ago", format!("{}\n{DAY}", at("0001-01-01T00:00:00+00:00", ",\"grams\":1080")), None),
        ("only weather", at(noon, ",\"temperature_c\":4"), None),
        ("only words", at(noon, ",\"behaviours\":[\"singing\"]"), None),
        ("nothing eaten", at(noon, ",\"grams\":1080,\"food\":[]"), None),
        (
            "a food nobody knows",
            at(noon, ",\"grams\":1080,\"food\":[{\"item\":\"cloud\",\"count\":1}]"),
            None,
        ),
        ("more than the contract says", at(noon, ",\"grams\":1080,\"mood\":\"fine\""), None),
        ("ten years", years.join("\n"), None),
        ("a weight of nothing", at(noon, ",\"grams\":0"), Some("weight is 0")),
        ("a weight beyond measure", at(noon, ",\"grams\":1e300"), Some("weight is 1")),
        (
            "food beyond measure",
            at(noon, ",\"food\":[{\"item\":\"beef\",\"grams\":1e9}]"),
            Some("mass of food"),
        ),
        ("colder than can be", at(noon, ",\"temperature_c\":-300"), Some("temperature is -300")),
        ("a line nobody knows", at(noon, ",\"flights\":{\"line\":\"string\"}"), Some("line 2 is not a day")),
        ("no moment", "{\"grams\":1080}".into(), Some("line 2 is not a day")),
    ];
    for (what, days, error) in cases {
        let (given, answer) = answer(&format!("{BIRD}\n{days}\n"));
        match error {
            None => assert!(given && answer["alerts"].is_array(), "{what}: {answer}"),
            Some(says) => {
                let said = answer["error"].as_str().unwrap_or_default();
                assert!(!given && said.contains(says), "{what}: {answer}");
            }
        }
    }
}
