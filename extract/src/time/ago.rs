//! Times told from now: "two hours ago".

use super::Said;
use crate::sheet::Sheet;
use crate::tokens::Break;
use chrono::Duration;

/// "two hours ago", "half an hour ago", "three days ago".
pub(super) fn ago(sheet: &Sheet, i: usize) -> Option<Said> {
    let (value, mut k) = match sheet.num(i) {
        Some(n) => (n.value, i + 1),
        None if sheet.is(i, &["an", "a"]) => (1.0, i + 1),
        None => return None,
    };
    if sheet.is(k, &["an", "a"]) {
        k += 1;
    }
    let minutes = match sheet.word(k) {
        "minute" | "minutes" | "mins" => 1.0,
        "hour" | "hours" => 60.0,
        "day" | "days" => 1440.0,
        "week" | "weeks" => 10_080.0,
        _ => return None,
    };
    if !sheet.is(k + 1, &["ago"])
        || sheet.before(k) != Break::None
        || sheet.before(k + 1) != Break::None
        || value > 400.0
    {
        return None;
    }
    let moment = sheet.context.at.checked_sub_signed(Duration::minutes((value * minutes) as i64))?;
    Some(Said { to: k + 1, moment: Some(moment), moves: true })
}
