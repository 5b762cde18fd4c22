//! Serves the page on a made-up record: `cargo run -p page --example preview -- [--empty] [--lan] [PHOTO]`.

#[path = "../tests/support/mod.rs"]
#[allow(dead_code)]
mod support;

use std::{net::SocketAddr, path::PathBuf, sync::Arc};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let folder = tempfile::tempdir()?;
    let store = store::Store::open(folder.path())?;
    let photo = words.iter().map(PathBuf::from).find(|w| w.is_file());
    if !words.iter().any(|w| w == "--empty") {
        support::four_weeks(&store, photo.as_deref());
    }
    let port = std::env::var("PORT").ok().and_then(|p| p.parse().ok()).unwrap_or(7468);
    // With any free port for the desk, any free ports for phones.
    let any = |usual| SocketAddr::from(([0, 0, 0, 0], if port == 0 { 0 } else { usual }));
    let lan = words.iter().any(|w| w == "--lan").then(|| page::Lan {
        addr: any(7469),
        porch: any(7470),
        names: vec!["127.0.0.1".into(), "localhost".into()],
        folder: folder.path().join("authority"),
    });
    let config = page::Config {
        addr: SocketAddr::from(([127, 0, 0, 1], port)),
        store: store.clone(),
        workshop: Arc::new(support::Bench::new(store)),
        limits: page::Limits::default(),
        lan,
    };
    page::serve(config, |at| {
        println!("{}", serde_json::json!({ "desk": at.desk, "phones": at.phones, "porch": at.porch }))
    })?;
    Ok(())
}
