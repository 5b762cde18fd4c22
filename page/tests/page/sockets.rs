//! Over a real socket: slow, crowded, crooked and endless visitors.

use crate::support::{self, Bench};
use page::{Config, Limits};
use std::{
    io::{Read, Write},
    net::{SocketAddr, TcpStream},
    sync::{Arc, mpsc},
    time::{Duration, Instant},
};
use store::Store;

/// Serves a record of its own for as long as the tests run.
fn house(limits: Limits) -> SocketAddr {
    let (told, heard) = mpsc::channel();
    std::thread::spawn(move || {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        support::birds(&store);
        let config = Config {
            addr: SocketAddr::from(([127, 0, 0, 1], 0)),
            store: store.clone(),
            workshop: Arc::new(Bench::new(store)),
            limits,
            lan: None,
        };
        page::serve(config, |at| told.send(at.desk.trim_start_matches("http://").parse().unwrap()).unwrap())
            .unwrap();
    });
    heard.recv_timeout(Duration::from_secs(60)).unwrap()
}

/// Says something and hears all that is answered until the line is closed.
fn say(at: SocketAddr, words: &[u8]) -> String {
    let mut line = TcpStream::connect(at).unwrap();
    line.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    // A refused visitor may be hung up on while still speaking.
    let _ = line.write_all(words);
    let mut heard = Vec::new();
    let _ = line.read_to_end(&mut heard);
    String::from_utf8_lossy(&heard).into_owned()
}

fn status(answer: &str) -> &str {
    answer.get(9..12).unwrap_or("none")
}

#[test]
fn whoever_dawdles_is_hung_up_on_and_others_go_on() {
    let at = house(Limits {
        head: Duration::from_millis(700),
        page: Duration::from_secs(2),
        upload: Duration::from_secs(2),
        ..Limits::default()
    });
    // Forty that open a line and say half a word (a slow head), forty that promise a body and never send it.
    let halves: Vec<TcpStream> = (0..80)
        .map(|i| {
            let mut line = TcpStream::connect(at).unwrap();
            let words = if i % 2 == 0 { "GET / HTTP/1.1\r\nHost: local".to_owned() } else { format!("POST /undo HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 50\r\n\r\nact=") };
            line.write_all(words.as_bytes()).unwrap();
            line
        })
        .collect();
    let start = Instant::now();
    let answer =
        say(at, format!("GET /alive HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n").as_bytes());
    assert_eq!(status(&answer), "204", "{answer}");
    assert!(start.elapsed() < Duration::from_secs(20), "answered after {:?}", start.elapsed());
    for mut line in halves {
        line.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let mut rest = Vec::new();
        line.read_to_end(&mut rest).expect("the line is closed from the other end");
    }
}

#[test]
fn crooked_requests_are_refused_and_the_house_stands() {
    let at = house(Limits::default());
    let long = "x".repeat(200 << 10);
    for (words, right) in [
        ("GET /../../../../etc/passwd HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n".to_owned(), &["404", "400"][..]),
        ("GET /a/x/%2e%2e%2f%2e%2e%2fvarvel.db HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n".into(), &["404"]),
        ("GET http://evil.example/ HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n".into(), &["421"]),
        ("GET / HTTP/1.1\r\nConnection: close\r\n\r\n".into(), &["421", "400"]),
        (format!("GET / HTTP/1.1\r\nHost: HOST\r\nX-Long: {long}\r\n\r\n"), &["431"]),
        (format!("GET /{long} HTTP/1.1\r\nHost: HOST\r\n\r\n"), &["414", "431", "400"]),
        (format!("GET / HTTP/1.1\r\nHost: HOST\r\n{}\r\n", "A: b\r\n".repeat(500)), &["431", "400"]),
        ("GET / HTTP/1.1\r\nHost: HOST\r\nBad Header: x\r\n\r\n".into(), &["400"]),
        ("\u{0}\u{1}\u{2} rubbish\r\n\r\n".into(), &["400", "none"]),
        // RFC 9112, 6.1: a length beside a transfer coding "ought to be handled as an error".
        ("POST /undo HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\n".into(), &["400", "415", "422"]),
        ("POST /undo HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Length: -1\r\n\r\n".into(), &["400"]),
    ] {
        let answer = say(at, words.replace("HOST", &at.to_string()).as_bytes());
        assert!(right.contains(&status(&answer)), "{:?} got {:?}", &words[..words.len().min(90)], &answer[..answer.len().min(120)]);
    }
    let answer = say(at, format!("GET / HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n").as_bytes());
    assert_eq!(status(&answer), "200");
}

#[test]
fn a_crowd_is_served_in_turn() {
    const CROWD: usize = 10_000;
    const LINES: usize = 250;
    let at = house(Limits { at_once: 8, ..Limits::default() });
    let each = CROWD / LINES;
    let visitors: Vec<_> = (0..LINES)
        .map(|_| {
            std::thread::spawn(move || {
                // Each visitor asks many times without waiting for the answers.
                let ask = format!("GET /alive HTTP/1.1\r\nHost: {at}\r\n\r\n").repeat(each - 1);
                let last = format!("GET /alive HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n");
                say(at, (ask + &last).as_bytes()).matches("HTTP/1.1 204").count()
            })
        })
        .collect();
    let answered: usize = visitors.into_iter().map(|v| v.join().unwrap()).sum();
    assert_eq!(answered, CROWD);
}

#[test]
fn the_desks_page_never_listens_to_the_house() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let config = Config {
        addr: SocketAddr::from(([0, 0, 0, 0], 0)),
        store: store.clone(),
        workshop: Arc::new(Bench::new(store)),
        limits: Limits::default(),
        lan: None,
    };
    let error = page::serve(config, |_| panic!("it listens")).unwrap_err();
    assert!(error.to_string().contains("--lan"), "{error}");
}
