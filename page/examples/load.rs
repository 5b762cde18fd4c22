//! Times every page on a record: `cargo run --release -p page --example load -- FOLDER [TIMES]`.
//!
//! The first asking works every bird out; the later ones are what a keeper meets. `store`'s example `decade` makes a large record.

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use std::{
    error::Error,
    path::Path,
    sync::Arc,
    time::{Duration, Instant},
};
use store::{Store, Who};
use tower::ServiceExt;

/// What is asked for where nothing is to be compressed.
const PLAIN: &str = "identity";

/// Nobody works here: pages only.
struct Nobody;
impl page::Workshop for Nobody {
    fn wake(&self) {}
}

#[tokio::main]
async fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let folder = words.next().ok_or("tell the folder of a record")?;
    let times: usize = words.next().map_or(Ok(9), |n| n.parse())?;
    let store = Store::open(Path::new(&folder))?;
    let birds = store.birds()?;
    let bird = birds.get(birds.len() / 2).ok_or("the record has no bird")?.clone();
    println!("{} birds, {} lines in the journal", birds.len(), store.counts()?.journal_lines);
    // The first asking works every bird out, as the program does in the background when it starts.
    let limits = page::Limits { page: Duration::from_secs(3600), ..page::Limits::default() };
    let state = page::State::new(store.clone(), Arc::new(Nobody), limits);
    let router = page::router(state.clone());
    let ask = async |path: &str, takes: &str| -> Result<(Duration, usize), Box<dyn Error>> {
        let began = Instant::now();
        let request = Request::get(path).header("host", "localhost").header("accept-encoding", takes);
        let request = request.body(Body::empty())?;
        let answer = router.clone().oneshot(request).await?;
        if !answer.status().is_success() {
            return Err(format!("{path}: {}", answer.status()).into());
        }
        let size = to_bytes(answer.into_body(), usize::MAX).await?.len();
        Ok((began.elapsed(), size))
    };
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let first = ask("/", PLAIN).await?;
    println!("first today after a start: {:.0} ms, {} birds worked out", ms(first.0), state.worked_out());
    store.add_bird_event(
        &bird.id,
        store::BirdEventKind::Other,
        chrono::Local::now().fixed_offset(),
        "",
        &Who::new("Ada", "desk"),
    )?;
    let (before, after) = (state.worked_out(), ask("/", PLAIN).await?);
    println!(
        "today after one bird changed: {:.0} ms, {} worked out",
        ms(after.0),
        state.worked_out() - before
    );
    println!("| page | median, ms | slowest, ms | KB | KB, compressed |\n|---|---|---|---|---|");
    for path in [
        "/".into(),
        "/confirm".into(),
        "/note".into(),
        format!("/book?bird={}", bird.id),
        "/birds".into(),
        format!("/birds/{}", bird.id),
        "/evidence".into(),
        "/words".into(),
        "/reports".into(),
        format!("/reports/vet?bird={}", bird.id),
        format!("/reports/inspector?bird={}", bird.id),
        "/settings".into(),
    ] as [String; 12]
    {
        let (mut all, mut size) = (Vec::new(), 0);
        for _ in 0..times {
            let (time, bytes) = ask(&path, "gzip").await?;
            all.push(time);
            size = bytes;
        }
        let (_, plain) = ask(&path, PLAIN).await?;
        all.sort();
        let name = path.replace(bird.id.as_str(), "…");
        println!(
            "| `{name}` | {:.0} | {:.0} | {:.0} | {:.0} |",
            ms(all[times / 2]),
            ms(all[times - 1]),
            plain as f64 / 1e3,
            size as f64 / 1e3
        );
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    if let Some(peak) = status.lines().find_map(|l| l.strip_prefix("VmHWM:")) {
        println!("most memory: {}", peak.trim());
    }
    Ok(())
}
