//! Listening: the desk's door always, the phones' doors when asked for.

use crate::{
    Door, Limits, PageError, State, Workshop, gather, intake,
    lan::{self, Tls},
    pair::Phones,
    router,
};
use axum_server::{Handle, tls_rustls::RustlsConfig};
use hyper_util::rt::TokioTimer;
use std::{
    net::{IpAddr, SocketAddr, TcpListener},
    path::PathBuf,
    sync::Arc,
    time::Duration,
};
use store::Store;

/// How the page is to be served.
pub struct Config {
    /// The desk's address; must be a loopback one.
    pub addr: SocketAddr,
    /// The record.
    pub store: Store,
    /// Who does the queued work.
    pub workshop: Arc<dyn Workshop>,
    /// Bounds on visitors.
    pub limits: Limits,
    /// The phones' doors, if wanted.
    pub lan: Option<Lan>,
}

/// How phones are let in.
#[derive(Clone, Debug)]
pub struct Lan {
    /// Where phones come in, over TLS.
    pub addr: SocketAddr,
    /// Where a phone learns to trust this machine, plain; nothing else is there.
    pub porch: SocketAddr,
    /// Names and addresses of this machine, the first of which stands in the QR picture; found when empty.
    pub names: Vec<String>,
    /// Folder of the certificate authority.
    pub folder: PathBuf,
}

/// Where the page is, once it listens.
#[derive(Clone, Debug)]
pub struct Listening {
    /// Address for the desk, "http://127.0.0.1:7468".
    pub desk: String,
    /// Address for phones, "https://192.168.1.20:7469".
    pub phones: Option<String>,
    /// Address of the page on trusting this machine.
    pub porch: Option<String>,
    /// Fingerprint of this keeper's authority.
    pub fingerprint: Option<String>,
}

/// Serves the page until the process is asked to end; then finishes what is under way, for five seconds at most.
///
/// # Errors
/// When an address is taken, is no loopback address, or a certificate cannot be made.
pub fn serve(config: Config, ready: impl FnOnce(&Listening)) -> Result<(), PageError> {
    if !config.addr.ip().is_loopback() {
        return Err(PageError::Start(format!(
            "{} can be reached from outside; the desk's page stays on this machine. For phones use --lan",
            config.addr
        )));
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|e| PageError::Start(e.to_string()))?;
    runtime.block_on(run(config, ready))
}

async fn run(config: Config, ready: impl FnOnce(&Listening)) -> Result<(), PageError> {
    let desk = bind(config.addr)?;
    let desk_at = address(&desk, config.addr)?;
    let phones = match config.lan {
        None => None,
        Some(lan) => Some(doors(lan)?),
    };
    let told = phones.as_ref().map(|d| d.told.clone());
    let state = State::with_phones(config.store, config.workshop, config.limits, told.clone());
    let recovering = state.clone();
    tokio::task::spawn_blocking(move || intake::recover(&recovering))
        .await
        .map_err(|e| PageError::Start(e.to_string()))?;

    // Works every bird out before anybody asks: with many birds and years the first page would wait for all of them.
    // A thread of its own, so that closing down does not wait for it.
    let warming = state.clone();
    std::thread::spawn(move || {
        if let Err(error) = gather::birds_now(&warming) {
            tracing::warn!("the birds could not be looked through beforehand: {error}");
        }
    });

    ready(&Listening {
        desk: format!("http://{desk_at}"),
        phones: told.as_ref().map(|t| t.url.clone()),
        porch: told.as_ref().map(|t| t.porch_url.clone()),
        fingerprint: told.map(|t| t.fingerprint),
    });

    let handle = Handle::new();
    tokio::spawn(leave(handle.clone()));
    let limits = config.limits;
    let at_desk = plain(desk, state.through(Door::Desk), limits, handle.clone());
    match phones {
        None => at_desk.await,
        Some(doors) => {
            let tls =
                RustlsConfig::from_pem(doors.tls.chain_pem.into_bytes(), doors.tls.key_pem.into_bytes())
                    .await
                    .map_err(PageError::certificate)?;
            // HTTP/1.1 only: the guard and the time limits are made for its heads.
            let mut plain_http = (*tls.get_inner()).clone();
            plain_http.alpn_protocols = vec![b"http/1.1".to_vec()];
            let tls = RustlsConfig::from_config(Arc::new(plain_http));
            let at_porch = plain(doors.porch, state.through(Door::Porch), limits, handle.clone());
            let at_phones = async {
                let mut server = axum_server::from_tcp_rustls(doors.phones, tls)
                    .map_err(|e| PageError::Start(e.to_string()))?
                    .handle(handle)
                    .http1_only();
                patient(server.http_builder(), limits);
                server
                    .serve(router(state.through(Door::Phones)).into_make_service())
                    .await
                    .map_err(|e| PageError::Start(e.to_string()))
            };
            let (a, b, c) = tokio::join!(at_desk, at_porch, at_phones);
            a.and(b).and(c)
        }
    }
}

async fn plain(
    listener: TcpListener,
    state: State,
    limits: Limits,
    handle: Handle<SocketAddr>,
) -> Result<(), PageError> {
    let mut server = axum_server::from_tcp(listener)
        .map_err(|e| PageError::Start(e.to_string()))?
        .handle(handle)
        .http1_only();
    patient(server.http_builder(), limits);
    server.serve(router(state).into_make_service()).await.map_err(|e| PageError::Start(e.to_string()))
}

/// Bounds how long and how large the head of a request may be, so that slow or endless ones hold nothing.
fn patient(
    builder: &mut hyper_util::server::conn::auto::Builder<hyper_util::rt::TokioExecutor>,
    limits: Limits,
) {
    builder
        .http1()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head)
        .max_buf_size(64 << 10)
        .keep_alive(true);
}

async fn leave(handle: Handle<SocketAddr>) {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut end) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = end.recv() => {}
            }
            handle.graceful_shutdown(Some(Duration::from_secs(5)));
            return;
        }
    }
    if tokio::signal::ctrl_c().await.is_ok() {
        handle.graceful_shutdown(Some(Duration::from_secs(5)));
    }
}

struct Doors {
    phones: TcpListener,
    porch: TcpListener,
    tls: Tls,
    told: Phones,
}

fn doors(lan: Lan) -> Result<Doors, PageError> {
    let names = if lan.names.is_empty() { house_names() } else { lan.names.clone() };
    let Some(first) = names.first().cloned() else {
        return Err(PageError::Start(
            "this machine has no address in the house: join a network, or give --name".into(),
        ));
    };
    let tls = Tls::open(&lan.folder, &names)?;
    let (phones, porch) = (bind(lan.addr)?, bind(lan.porch)?);
    let (at, porch_at) = (address(&phones, lan.addr)?.port(), address(&porch, lan.porch)?.port());
    let host =
        if first.parse::<IpAddr>().is_ok_and(|ip| ip.is_ipv6()) { format!("[{first}]") } else { first };
    let told = Phones {
        url: format!("https://{host}:{at}"),
        porch_url: format!("http://{host}:{porch_at}"),
        ca_pem: tls.ca_pem.clone(),
        fingerprint: tls.fingerprint.clone(),
        names,
    };
    Ok(Doors { phones, porch, tls, told })
}

/// The address in the house and the name that other machines there may know this one by.
fn house_names() -> Vec<String> {
    let address = lan::home_address().map(|ip| ip.to_string());
    let host = std::fs::read_to_string("/etc/hostname").ok().map(|h| h.trim().to_ascii_lowercase());
    let plain = |h: &String| {
        !h.is_empty() && h.len() <= 63 && h.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
    };
    address.into_iter().chain(host.filter(plain).map(|h| format!("{h}.local"))).collect()
}

fn bind(addr: SocketAddr) -> Result<TcpListener, PageError> {
    let listener = TcpListener::bind(addr).map_err(|source| PageError::Address { addr, source })?;
    listener.set_nonblocking(true).map_err(|source| PageError::Address { addr, source })?;
    Ok(listener)
}

fn address(listener: &TcpListener, asked: SocketAddr) -> Result<SocketAddr, PageError> {
    listener.local_addr().map_err(|source| PageError::Address { addr: asked, source })
}
