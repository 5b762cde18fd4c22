//! The charts as text: well formed, named, linked, and not by colour alone.

use advise::{Settings, chart};
use chrono::{DateTime, Duration};
use note::{Bird, Day, DayFlights, DayFood, Grade, Line};

/// Walks the tags: every one closes, attributes are quoted, no number is broken.
#[track_caller]
pub fn check(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        assert!(!rest[..at].contains('>'), "a stray bracket in {}", &rest[..at]);
        let end = rest[at..].find('>').expect("a tag ends") + at;
        let tag = &rest[at + 1..end];
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name.trim()), "{tag}");
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().expect("a name"));
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "left open: {open:?}");
    assert!(
        svg.starts_with("<svg ")
            && svg.contains("viewBox")
            && svg.contains("<title id=")
            && svg.contains("<desc id=")
    );
    assert!(!svg.contains("NaN") && !svg.contains("inf\""), "a broken number");
}

fn hazel() -> (Bird, Vec<Day>) {
    let start = DateTime::parse_from_rfc3339("2026-03-01T08:00:00+00:00").unwrap();
    let bird = Bird {
        bird: "Hazel & <co>".into(),
        floor_g: Some(590.0),
        target_g: Some(640.0),
        fed_up_g: Some(735.0),
        furniture_g: Some(8.0),
        ..Bird::default()
    };
    let days = (0..24)
        .map(|i| Day {
            at: start + Duration::days(i),
            grams: Some(670.0 - i as f64 + f64::from([0, 2, -3, 1][(i % 4) as usize])),
            response: Grade::new([2, 3, 4, 5][(i / 6) as usize]),
            flights: Some(DayFlights {
                count: Some(6),
                longest_m: Some(20.0),
                line: Some(if i < 12 { Line::Creance } else { Line::Free }),
            }),
            food: (i != 5).then(|| {
                vec![DayFood { item: "day-old chick".into(), count: Some(2.0), ..DayFood::default() }]
            }),
            temperature_c: Some(8.0),
            behaviours: None,
            condition: None,
        })
        .collect();
    (bird, days)
}

#[test]
fn each_chart_says_shows_and_links() {
    let (bird, days) = hazel();
    let links: Vec<Option<String>> = (0..days.len()).map(|i| Some(format!("/day/{i}"))).collect();
    let settings = Settings::default();
    let weight = chart::weight(&bird, &days, &links, &settings, chart::Sheet::Desk);
    let answers = chart::answers(&bird, &days, &links, &settings, chart::Sheet::Desk);
    let energy = chart::energy(&bird, &days, &links, &settings, chart::Sheet::Desk);
    for svg in [&weight, &answers, &energy] {
        check(svg);
        assert!(svg.contains("Hazel &amp; &lt;co&gt;"), "the name is escaped");
        for i in 0..days.len() {
            assert!(svg.contains(&format!("<a href=\"/day/{i}\">")), "day {i}");
        }
    }
    for word in ["floor 590 g", "target 640 g", "fed-up 735 g", "flying weight", "answer 5", "foreseen"] {
        assert!(weight.contains(word), "{word}");
    }
    assert!(answers.contains("80 %") && answers.contains("four times in five"));
    assert!(energy.contains("food not known") && energy.contains("holds the bird"));
    // Line kinds differ by stroke too: dashes are drawn as pieces, so the target has more lines than the floor.
    let strokes = |colour: &str| weight.matches(colour).count();
    assert!(
        strokes("#009E73") > 5 * strokes("#D55E00").max(1) / 2,
        "{} {}",
        strokes("#009E73"),
        strokes("#D55E00")
    );
}

#[test]
fn a_chart_for_the_hand_keeps_its_letters_large_and_its_ids_its_own() {
    let (bird, days) = hazel();
    let settings = Settings::default();
    for draw in [chart::weight, chart::answers, chart::energy] {
        let [desk, hand] =
            [chart::Sheet::Desk, chart::Sheet::Hand].map(|sheet| draw(&bird, &days, &[], &settings, sheet));
        check(&hand);
        // The narrowest phone shows 320 units on some 260 pixels: letters of 13 are still 10 pixels high.
        assert!(hand.contains("viewBox=\"0 0 320 300\""), "{}", &hand[..200]);
        let id =
            |svg: &str| svg.split("title id=\"").nth(1).and_then(|r| r.split('"').next()).map(str::to_owned);
        assert_ne!(id(&desk), id(&hand));
    }
}

#[test]
fn links_stand_beside_days_in_any_order() {
    let (bird, mut days) = hazel();
    days.reverse();
    let links: Vec<Option<String>> =
        days.iter().map(|d| Some(d.at.format("/on/%Y-%m-%d").to_string())).collect();
    let svg = chart::weight(&bird, &days, &links, &Settings::default(), chart::Sheet::Desk);
    // The first of March was 670 g with furniture of 8 g.
    let point = svg.lines().find(|l| l.contains("1 Mar: 662 g")).expect("the first point");
    assert!(point.contains("/on/2026-03-01"), "{point}");
}

#[test]
fn an_empty_record_is_said_in_words() {
    let (bird, days) = hazel();
    let bare: Vec<Day> =
        days.iter().map(|d| Day { grams: None, response: None, food: None, ..d.clone() }).collect();
    let settings = Settings::default();
    for (svg, says) in [
        (chart::weight(&bird, &[], &[], &settings, chart::Sheet::Desk), "no day on record"),
        (chart::weight(&bird, &bare, &[], &settings, chart::Sheet::Desk), "No weights on record yet"),
        (chart::answers(&bird, &bare, &[], &settings, chart::Sheet::Desk), "No graded sessions"),
        (chart::energy(&bird, &bare, &[], &settings, chart::Sheet::Desk), "No food on record"),
    ] {
        check(&svg);
        assert!(svg.contains(says), "{svg}");
    }
}

#[test]
fn a_keeper_in_ounces_reads_ounces() {
    let (mut bird, days) = hazel();
    bird.units = note::Units::Avoirdupois;
    let svg = chart::weight(&bird, &days, &[], &Settings::default(), chart::Sheet::Desk);
    assert!(svg.contains("target 1 lb 6.5 oz"), "640 g is 22.58 oz");
}
