//! The reports from the samples' story, read back with poppler where it is installed.

mod story;

use std::path::Path;
use std::process::Command;

/// Runs a tool of poppler-utils over a PDF; `None`, with a line that says so, when it is not installed.
fn poppler(tool: &str, args: &[&str], pdf: &[u8]) -> Option<String> {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("report.pdf");
    std::fs::write(&file, pdf).unwrap();
    let mut command = Command::new(tool);
    command.args(args).arg(&file);
    if tool == "pdftotext" {
        command.arg("-");
    }
    match command.output() {
        Ok(out) => {
            assert!(out.status.success(), "{tool}: {}", String::from_utf8_lossy(&out.stderr));
            // Older poppler wants the tree's /Suspects to be no boolean; ISO 32000-1, table 321, says that it is one.
            let complaints = String::from_utf8_lossy(&out.stderr).into_owned();
            let complaints: Vec<&str> = complaints
                .lines()
                .filter(|l| !l.trim().is_empty() && !l.contains("Suspects object is wrong type"))
                .collect();
            assert!(complaints.is_empty(), "{tool}: {complaints:?}");
            Some(String::from_utf8(out.stdout).unwrap())
        }
        Err(_) => {
            eprintln!("skipped: {tool} is not installed (poppler-utils)");
            None
        }
    }
}

fn pages(pdf: &[u8]) -> Option<usize> {
    let info = poppler("pdfinfo", &[], pdf)?;
    info.lines().find_map(|l| l.strip_prefix("Pages:"))?.trim().parse().ok()
}

/// Keeps what was made when REPORT_OUT names a folder, to look at.
fn keep(name: &str, bytes: &[u8]) {
    if let Some(folder) = std::env::var_os("REPORT_OUT") {
        std::fs::write(Path::new(&folder).join(name), bytes).unwrap();
    }
}

#[test]
fn the_day_book_tells_days_proof_and_corrections() {
    let book = story::day_book();
    let pdf = report::day_book(&book).unwrap();
    keep("day-book.pdf", &pdf);
    let html = report::day_book_html(&book);
    keep("day-book.html", html.as_bytes());
    let mut told = vec![("HTML", html)];
    told.extend(poppler("pdftotext", &["-layout"], &pdf).map(|text| ("PDF", text)));
    for (form, text) in told {
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for want in [
            "Day book",
            "Wren Aldous",
            "Sedge, Harris",
            "2 lb 2½ oz",
            "983 g",
            "938 g",
            "withdrawn",
            "limping on the left",
            "closed ring 17 WA 25",
            "1204",
        ] {
            assert!(
                flat.contains(want) || flat.contains(&want.replace('\'', "&#39;")),
                "{form} lacks {want}"
            );
        }
        let hash = story::hash(11).to_string();
        assert!(text.replace(char::is_whitespace, "").contains(&hash[..20]), "{form} lacks the photo's hash");
    }
}

#[test]
fn the_vets_sheet_is_one_page_however_much_there_is_to_tell() {
    let mut vet = story::vet_sheet();
    keep("vet.pdf", &report::vet_sheet(&vet).unwrap());
    keep("vet.html", report::vet_sheet_html(&vet).as_bytes());
    for n in 0..200i64 {
        let text = format!(
            "vet: long remark number {n}, with words enough to fill more than one line of the table, and then some more of them"
        );
        let value = note::Value::Remark(note::Remark { text });
        vet.record.records.push(report::Record::new(story::confirmed(story::entry(
            Some("Teal"),
            story::at(-(n % 28), "12:00"),
            value,
        ))));
    }
    let pdf = report::vet_sheet(&vet).unwrap();
    keep("vet-full.pdf", &pdf);
    let Some(n) = pages(&pdf) else { return };
    assert_eq!(n, 1);
    let text = poppler("pdftotext", &["-layout"], &pdf).unwrap();
    assert!(text.contains("earlier ones stand in the day book"), "what was left out is said");
}

#[test]
fn the_inspectors_sheet_names_birds_papers_checks_and_the_law() {
    let inspection = story::inspector_sheet();
    let pdf = report::inspector_sheet(&inspection).unwrap();
    keep("inspector.pdf", &pdf);
    keep("inspector.html", report::inspector_sheet_html(&inspection).as_bytes());
    let Some(text) = poppler("pdftotext", &["-layout"], &pdf) else { return };
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for want in [
        "local law",
        "closed ring 08 WA 24",
        "acquired",
        "transmitter fitted",
        "scale checked",
        "past",
        "jesses changed",
        "Inspector, date",
    ] {
        assert!(flat.contains(want), "lacks {want}");
    }
}

/// ISO 14289-1 and ISO 19005-2 ask for tags, a title, a language and embedded fonts; poppler sees these from outside.
#[test]
fn the_pdf_is_tagged_titled_and_carries_its_letters() {
    let pdf = report::day_book(&story::day_book()).unwrap();
    let Some(info) = poppler("pdfinfo", &[], &pdf) else { return };
    assert!(
        info.contains("Tagged:") && info.lines().any(|l| l.starts_with("Tagged:") && l.ends_with("yes")),
        "{info}"
    );
    assert!(info.contains("Title:"), "{info}");
    let fonts = poppler("pdffonts", &[], &pdf).unwrap();
    for line in fonts.lines().skip(2) {
        let fields: Vec<&str> = line.split_whitespace().collect();
        // The columns from the right: object, generation, to unicode, subset, embedded.
        assert_eq!(fields[fields.len() - 5..fields.len() - 2], ["yes", "yes", "yes"], "{line}");
    }
    let tree = poppler("pdfinfo", &["-struct-text"], &pdf).unwrap();
    for want in ["H1", "H2", "Table", "TH", "TD", "Figure"] {
        assert!(tree.lines().any(|l| l.trim_start().starts_with(want)), "no {want} in the tree");
    }
}

#[test]
fn the_same_records_give_the_same_bytes() {
    let book = story::day_book();
    assert_eq!(report::day_book(&book).unwrap(), report::day_book(&book).unwrap());
    let mut shuffled = book.clone();
    shuffled.birds.iter_mut().for_each(|b| b.records.reverse());
    assert_eq!(report::day_book_html(&book).len(), report::day_book_html(&shuffled).len());
}

#[test]
fn nothing_confirmed_is_said_and_not_printed() {
    let mut book = story::day_book();
    book.occasion.from = story::last_day() + chrono::Duration::days(10);
    book.occasion.to = book.occasion.from;
    assert_eq!(report::day_book(&book), Err(report::ReportError::Empty));
}

#[test]
fn html_keeps_what_a_keeper_wrote_as_words() {
    let mut book = story::day_book();
    let text = "<script>alert('x')</script> & \"so on\"";
    let value = note::Value::Remark(note::Remark { text: text.to_owned() });
    book.birds[0].records.push(report::Record::new(story::confirmed(story::entry(
        Some("Sedge"),
        story::at(-2, "12:00"),
        value,
    ))));
    let html = report::day_book_html(&book);
    assert!(
        html.contains("aria-label=\"Weight of Sedge on the scale from 24 January 2026"),
        "the figure says what it shows"
    );
    assert!(!html.contains("<script"));
    assert!(html.contains("&lt;script&gt;"));
    assert!(
        !html.contains("http://")
            || html.matches("http://").count() == html.matches("http://www.w3.org/2000/svg").count(),
        "nothing is fetched"
    );
}

#[test]
fn ten_years_of_a_bird_come_out_in_seconds() {
    let mut book = story::day_book();
    book.birds.truncate(1);
    let begun = book.birds[0].records.clone();
    for year in 1..=9i64 {
        for month in 0..13i64 {
            let back = chrono::Duration::days(year * 364 + month * 28);
            for record in &begun {
                let mut e = record.entry().clone();
                e.at -= back;
                book.birds[0].records.push(report::Record::new(story::confirmed(e)));
            }
        }
    }
    book.occasion.from = story::last_day() - chrono::Duration::days(3700);
    let started = std::time::Instant::now();
    let pdf = report::day_book(&book).unwrap();
    eprintln!("{} records, {} bytes, {:?}", book.birds[0].records.len(), pdf.len(), started.elapsed());
    assert!(started.elapsed().as_secs() < 60);
    if let Some(n) = pages(&pdf) {
        assert!(n > 100, "{n} pages");
    }
}

mod any_text {
    use super::story;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
        /// Whatever a keeper wrote, in whatever script and however long, a PDF comes out.
        #[test]
        fn any_words_can_be_printed(text in "\\PC{1,60}", repeat in 1usize..120, name in "\\PC{1,40}") {
            let mut book = story::day_book();
            book.birds.truncate(1);
            book.birds[0].records.truncate(6);
            book.birds[0].bird.bird = name.clone();
            book.occasion.keeper = name;
            let value = note::Value::Remark(note::Remark { text: text.repeat(repeat) });
            book.birds[0].records.push(report::Record::new(story::confirmed(story::entry(None, story::at(-28, "12:00"), value))));
            prop_assert!(report::day_book(&book).is_ok());
        }
    }
}
