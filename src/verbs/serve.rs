//! `varvel serve`: the page on this machine, and for paired phones in the house when asked.

use crate::home::Home;
use crate::workshop::{Counter, Workshop};
use anyhow::Result;
use serde_json::json;
use std::net::{Ipv4Addr, SocketAddr};
use std::process::ExitCode;
use std::sync::Arc;
use store::Store;

/// Seconds that the code in the terminal's picture is good for.
const CODE_LASTS_S: u32 = 600;

/// Serves the page on this machine; with --lan also to phones that were let in.
#[derive(clap::Args)]
pub struct Args {
    /// Port of the page on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 7468)]
    port: u16,
    /// Open the page to phones in the house, over TLS, by pairing.
    #[arg(long)]
    lan: bool,
    /// Port for phones.
    #[arg(long, default_value_t = 7469)]
    phone_port: u16,
    /// Port of the plain page on trusting this machine, for phones.
    #[arg(long, default_value_t = 7470)]
    trust_port: u16,
    /// Name or address of this machine in the house; found when left out.
    #[arg(long)]
    name: Vec<String>,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let workshop = Workshop::new(store.clone(), home.clone());
    workshop.start();
    let any = |port| SocketAddr::from((Ipv4Addr::UNSPECIFIED, port));
    let lan = args.lan.then(|| page::Lan {
        addr: any(args.phone_port),
        porch: any(args.trust_port),
        names: args.name,
        folder: home.path().join("authority"),
    });
    let config = page::Config {
        addr: SocketAddr::from((Ipv4Addr::LOCALHOST, args.port)),
        store: store.clone(),
        workshop: Arc::new(Counter(workshop)),
        limits: page::Limits::default(),
        lan,
    };
    page::serve(config, |at| {
        println!("{}", json!({"desk": at.desk, "phones": at.phones, "trust": at.porch}));
        eprintln!("The page is at {}; end it with Ctrl-C.", at.desk);
        if let (Some(phones), Some(porch), Some(fingerprint)) = (&at.phones, &at.porch, &at.fingerprint) {
            let_in(&store, phones, porch, fingerprint);
        }
    })?;
    Ok(ExitCode::SUCCESS)
}

/// Shows how to let the first phone in; later ones are let in on the page.
fn let_in(store: &Store, phones: &str, porch: &str, fingerprint: &str) {
    let known = store.devices().is_ok_and(|all| all.iter().any(|device| device.revoked.is_none()));
    if known {
        eprintln!("Phones that were let in find it at {phones}. To let another in: Settings on the page.");
        return;
    }
    match store.new_pairing_code(CODE_LASTS_S) {
        Ok(code) => {
            let (trust, pair) = (format!("{porch}/trust"), format!("{phones}/pair?code={code}"));
            eprintln!("\n1. Trust this machine: point the phone's camera here, or open {trust}");
            eprintln!("{}", page::qr_text(&trust));
            eprintln!("   The phone must show this fingerprint: {fingerprint}");
            eprintln!("\n2. Let the phone in: this picture works once, for ten minutes.");
            eprintln!("{}", page::qr_text(&pair));
        }
        Err(error) => eprintln!("No phone can be let in just now: {error}"),
    }
}
