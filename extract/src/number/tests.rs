//! The number reader against reference libraries and the cases of public projects.

use super::*;
use crate::tokens::tokens;
use std::collections::BTreeMap;

/// Reads a whole text as one number.
fn whole(text: &str) -> Option<f64> {
    let tokens = tokens(text);
    let nums = Reader { tokens: &tokens, end: tokens.len() }.run(0, &|_| false, &|_| false);
    match nums.as_slice() {
        [one] if one.last + 1 == tokens.len() => Some(one.value),
        _ => None,
    }
}

/// Number words by num2words 0.5.14 and inflect 7.5.0, written by `tools/reference_numbers.py`.
const REFERENCE: &str = include_str!("../../corpus/numbers/reference.tsv");

#[test]
fn reference_libraries_strings_read_back() {
    let (mut count, mut wrong) = (0, Vec::new());
    for line in REFERENCE.lines() {
        let cells: Vec<&str> = line.split('\t').collect();
        let [style, number, words] = cells.as_slice() else { panic!("{line}") };
        let number: f64 = number.parse().unwrap();
        count += 1;
        let read = whole(words);
        if read.is_none_or(|v| (v - number).abs() > 1e-9) {
            wrong.push(format!("{style}: {words} is {number}, not {read:?}"));
        }
    }
    assert!(count > 6000);
    assert!(wrong.is_empty(), "{} of {count}:\n{}", wrong.len(), wrong[..wrong.len().min(40)].join("\n"));
}

/// All numbers from 0 to 9,999, built from the libraries' words for 0 to 99, in every spoken style.
#[test]
fn every_number_to_9999_reads_back_in_every_style() {
    let pairs: BTreeMap<u32, &str> = REFERENCE
        .lines()
        .filter_map(|l| l.strip_prefix("pair\t")?.split_once('\t'))
        .map(|(n, words)| (n.parse().unwrap(), words))
        .collect();
    let mut wrong = Vec::new();
    let mut check = |n: u32, words: String| {
        let read = whole(&words);
        if read != Some(f64::from(n)) {
            wrong.push(format!("{words} is {n}, not {read:?}"));
        }
    };
    for n in 0..10_000_u32 {
        let (thousands, hundreds, rest) = (n / 1000, n / 100 % 10, n % 100);
        let mut british = Vec::new();
        if thousands > 0 {
            british.push(format!("{} thousand", pairs[&thousands]));
        }
        if hundreds > 0 {
            british.push(format!("{} hundred", pairs[&hundreds]));
        }
        let head = british.join(" ");
        let tail = pairs[&rest];
        if head.is_empty() {
            check(n, tail.to_owned());
            continue;
        }
        if rest == 0 {
            check(n, head.clone());
        } else {
            check(n, format!("{head} and {tail}"));
            check(n, format!("{head} {tail}"));
            check(n, format!("{head} and {}", tail.replace('-', " ")));
        }
        // "twelve hundred and six", "nine forty-two", "ten oh five"
        let pair = n / 100;
        if pair < 100 && pair % 10 > 0 {
            if rest > 0 {
                check(n, format!("{} hundred and {tail}", pairs[&pair]));
            }
            if rest >= 10 {
                check(n, format!("{} {tail}", pairs[&pair]));
            } else if rest > 0 {
                check(n, format!("{} oh {tail}", pairs[&pair]));
            }
        }
        check(n, n.to_string());
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong[..wrong.len().min(40)].join("\n"));
}

/// Cases of public projects, rewritten as data: see the file's head.
#[test]
fn cases_of_public_projects() {
    let mut wrong = Vec::new();
    for line in include_str!("../../corpus/numbers/projects.tsv")
        .lines()
        .filter(|l| !l.starts_with('#') && !l.is_empty())
    {
        let cells: Vec<&str> = line.split('\t').collect();
        let [project, words, number] = cells.as_slice() else { panic!("{line}") };
        let want: Vec<f64> = number.split(' ').map(|n| n.parse().unwrap()).collect();
        let tokens = tokens(words);
        let mut nums = Vec::new();
        let reader = Reader { tokens: &tokens, end: tokens.len() };
        let mut at = 0;
        while at < tokens.len() {
            let run = if reader.starts(at) { reader.run(at, &|_| false, &|_| false) } else { Vec::new() };
            match run.last().map(|n| n.last + 1).filter(|e| *e > at) {
                Some(end) => {
                    nums.extend(run.iter().map(|n| n.value));
                    at = end;
                }
                None => at += 1,
            }
        }
        let same = nums.len() == want.len() && nums.iter().zip(&want).all(|(a, b)| (a - b).abs() < 1e-9);
        if !same {
            wrong.push(format!("{project}: {words} is {want:?}, not {nums:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}
