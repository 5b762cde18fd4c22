//! The page in the hand: confirm, day book, birds, evidence, words, settings.
//!
//! Server-rendered, one style sheet, one script; confirming works without the script. Absent on
//! purpose: hearing, reading displays, and anything that knows of them. What is uploaded goes to the
//! spool, then into the record as evidence, then onto the record's queue of work; a [`Workshop`] that
//! the caller brings is woken and does the rest.

mod assets;
mod birds;
mod book;
mod confirm;
mod evidence;
pub mod fields;
mod gather;
mod guard;
mod intake;
mod intake_form;
mod lan;
mod pair;
mod phone;
mod quote;
mod report;
mod ring;
pub mod say;
mod serve;
mod settings;
mod shell;
mod today;
mod words;

pub use gather::advice_settings;
pub use guard::Door;
pub use lan::{Tls, home_address};
pub use pair::qr_text;
pub use serve::{Config, Lan, Listening, serve};

use axum::{
    Router,
    extract::DefaultBodyLimit,
    middleware,
    routing::{get, post, put},
};
use note::TakenSource;
use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};
use store::{EvidenceKind, Moment, Place, Store};
use tower_http::compression::{
    CompressionLayer, Predicate,
    predicate::{DefaultPredicate, NotForContentType},
};

/// What a file tells of itself, read by who knows sound and pictures.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Sound or photo, by content and not by what it was sent as.
    pub kind: EvidenceKind,
    /// Media type by content, if known.
    pub media_type: Option<String>,
    /// When it was recorded or taken.
    pub at: Moment,
    /// How that is known.
    pub taken: TakenSource,
    /// EXIF orientation, 1 to 8; 1 for sound.
    pub orientation: u8,
    /// Where, if the camera wrote it.
    pub place: Option<Place>,
}

/// A report to be printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Report {
    /// Every day with all that was noted.
    DayBook,
    /// One bird on one page.
    Vet,
    /// Identity, papers, equipment, dated events.
    Inspector,
}

/// What is to be printed.
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// Which report.
    pub report: Report,
    /// Of which bird; of all when left out.
    pub bird: Option<note::BirdId>,
    /// First day; `None` for the first on record.
    pub from: Option<chrono::NaiveDate>,
    /// Last day, inside; `None` for today.
    pub to: Option<chrono::NaiveDate>,
    /// Whose record it is.
    pub keeper: String,
    /// What the keeper would ask the vet.
    pub question: Option<String>,
}

/// Who does the work that the page only queues: hears notes, drafts entries, reads displays.
///
/// Jobs are queued in the record under the kinds `hear` (a note with sound), `draft` (a typed note)
/// and `read-scale` (a photo), each with the id of the note or photo as its subject.
pub trait Workshop: Send + Sync + 'static {
    /// Is told that there is new work in the record's queue; returns at once.
    fn wake(&self);

    /// Reads what a file tells of itself; `made` is the moment that the device gave.
    ///
    /// # Errors
    /// A sentence for the keeper when the file is neither sound nor picture that can be used.
    fn look(&self, file: &Path, made: Moment) -> Result<Told, String> {
        let _ = file;
        Ok(Told {
            kind: EvidenceKind::Sound,
            media_type: None,
            at: made,
            taken: TakenSource::File,
            orientation: 1,
            place: None,
        })
    }

    /// Makes an upright JPEG of a photo that browsers cannot show; `None` when it cannot.
    fn preview(&self, file: &Path) -> Option<Vec<u8>> {
        let _ = file;
        None
    }

    /// Prints a report as PDF.
    ///
    /// # Errors
    /// A sentence for the keeper when it cannot be made.
    fn print(&self, order: &Order) -> Result<Vec<u8>, String> {
        let _ = order;
        Err("No PDF can be made here; the page for reading can be printed by the browser".into())
    }

    /// Holds up the reading of what is queued after the piece in hand, or lets it go on.
    fn hold(&self, held: bool) {
        let _ = held;
    }

    /// Whether reading is held up.
    fn held(&self) -> bool {
        false
    }

    /// Asks to have a note read again, after the words that it knows have changed.
    fn words_changed(&self) {}
}

/// Bounds on what one visitor can ask of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Largest recording, bytes.
    pub sound: u64,
    /// Largest photo, bytes.
    pub photo: u64,
    /// Longest written note, bytes.
    pub text: u64,
    /// Largest piece of an upload, bytes.
    pub piece: usize,
    /// Largest form, bytes.
    pub form: usize,
    /// Half-done uploads kept at once.
    pub halves: usize,
    /// Requests worked on at once; more wait.
    pub at_once: usize,
    /// Time until a request's head must be here.
    pub head: Duration,
    /// Time that a page may take, waiting included.
    pub page: Duration,
    /// Time that an upload's request may take.
    pub upload: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            sound: 128 << 20,
            photo: 48 << 20,
            text: 32 << 10,
            piece: 1 << 20,
            form: 128 << 10,
            halves: 500,
            at_once: 64,
            head: Duration::from_secs(10),
            page: Duration::from_secs(30),
            upload: Duration::from_secs(300),
        }
    }
}

/// Occurs when the page cannot be served.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PageError {
    /// Occurs when the record cannot be used.
    #[error(transparent)]
    Store(#[from] store::StoreError),
    /// Occurs when the address is taken or not allowed.
    #[error("the page cannot be served on {addr}: {source}; choose another with --port")]
    Address {
        /// Which.
        addr: std::net::SocketAddr,
        /// Why.
        source: std::io::Error,
    },
    /// Occurs when a file of the page's own cannot be read or written.
    #[error("{path}: {source}")]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Occurs when one half of the certificate authority is gone.
    #[error(
        "{0} holds only half of this keeper's certificate authority; remove what is left of authority.pem and authority.key to make a new one (each phone must then trust it anew)"
    )]
    HalfAuthority(PathBuf),
    /// Occurs when a certificate cannot be made or read.
    #[error("the certificate for phones cannot be made: {0}")]
    Certificate(String),
    /// Occurs when the server cannot start for another reason.
    #[error("the page cannot be served: {0}")]
    Start(String),
}

impl PageError {
    fn file(path: impl Into<PathBuf>, source: std::io::Error) -> Self {
        Self::File { path: path.into(), source }
    }
    fn certificate(error: impl std::fmt::Display) -> Self {
        Self::Certificate(error.to_string())
    }
}

/// What every request can reach.
pub struct Shared {
    pub(crate) store: Store,
    pub(crate) workshop: Arc<dyn Workshop>,
    pub(crate) limits: Limits,
    pub(crate) halves: intake::Locks,
    pub(crate) advice: gather::Cache,
    pub(crate) phones: Option<pair::Phones>,
    pub(crate) tries: pair::Tries,
    pub(crate) seen: guard::Seen,
    pub(crate) gate: tokio::sync::Semaphore,
}

/// The state behind the routes: the record, the workshop, and which door a request came through.
#[derive(Clone)]
pub struct State {
    pub(crate) shared: Arc<Shared>,
    pub(crate) door: Door,
}

impl State {
    /// Opens the page's desk door on a record.
    pub fn new(store: Store, workshop: Arc<dyn Workshop>, limits: Limits) -> Self {
        Self::with_phones(store, workshop, limits, None)
    }

    pub(crate) fn with_phones(
        store: Store,
        workshop: Arc<dyn Workshop>,
        limits: Limits,
        phones: Option<pair::Phones>,
    ) -> Self {
        let shared = Shared {
            store,
            workshop,
            limits,
            halves: intake::Locks::default(),
            advice: gather::Cache::default(),
            phones,
            tries: pair::Tries::default(),
            seen: guard::Seen::default(),
            gate: tokio::sync::Semaphore::new(limits.at_once),
        };
        Self { shared: Arc::new(shared), door: Door::Desk }
    }

    /// The same record through another door.
    pub fn through(&self, door: Door) -> Self {
        Self { shared: self.shared.clone(), door }
    }

    /// How often a bird's standing was worked out since the start; it is remembered until the bird changes.
    pub fn worked_out(&self) -> u64 {
        self.shared.advice.worked_out()
    }

    pub(crate) fn store(&self) -> &Store {
        &self.shared.store
    }
}

/// Lays out every route behind the guard of the state's door.
pub fn router(state: State) -> Router {
    let limits = state.shared.limits;
    Router::new()
        .route("/", get(today::page))
        .route("/alive", get(phone::alive))
        .route("/confirm", get(confirm::page))
        .route("/confirm/note/{note}", post(confirm::accept_note))
        .route("/confirm/entry/{entry}/accept", post(confirm::accept))
        .route("/confirm/entry/{entry}/reject", post(confirm::reject))
        .route("/confirm/entry/{entry}/correct", post(confirm::correct))
        .route("/confirm/entry/{entry}/scale", post(confirm::take_scale))
        .route("/undo", post(confirm::undo))
        .route("/book", get(book::page))
        .route("/birds", get(birds::list).post(birds::add))
        .route("/birds/new", get(birds::new))
        .route("/birds/{bird}", get(birds::page).post(birds::change))
        .route("/birds/{bird}/edit", get(birds::edit))
        .route("/birds/{bird}/event", post(birds::event))
        .route("/evidence", get(evidence::page))
        .route("/evidence/entry/{entry}", get(evidence::entry))
        .route("/evidence/note/{note}", get(evidence::note))
        .route("/evidence/photo/{photo}", get(evidence::photo))
        .route("/evidence/photo/{photo}/pair", post(evidence::pair))
        .route("/evidence/photo/{photo}/part", post(evidence::part))
        .route("/evidence/again/{kind}/{id}", post(evidence::again_route))
        .route("/evidence/entry/{entry}/amend", post(evidence::amend))
        .route("/sound/{note}", get(evidence::sound))
        .route("/picture/{photo}", get(evidence::picture))
        .route("/original/{sha256}", get(evidence::original))
        .route("/words", get(words::page).post(words::learn))
        .route("/words/forget", post(words::forget))
        .route("/reports", get(report::page))
        .route("/reports/day-book", get(report::day_book))
        .route("/reports/vet", get(report::vet))
        .route("/reports/inspector", get(report::inspector))
        .route("/reports/{name}", get(report::pdf))
        .route("/work", post(phone::hold))
        .route("/settings", get(settings::page).post(settings::change))
        .route("/settings/scale", post(settings::scale_check))
        .route("/settings/phone", post(pair::show_code))
        .route("/settings/phone/{device}/revoke", post(pair::revoke))
        .route("/pair", get(pair::page).post(pair::exchange))
        .route("/trust", get(pair::trust))
        .route("/trust/varvel.crt", get(pair::authority))
        .route("/more", get(phone::more))
        .route("/note", get(phone::note))
        .route("/birds.json", get(phone::birds))
        .route("/waiting.json", get(phone::waiting))
        .route("/manifest.webmanifest", get(assets::manifest))
        .route("/sw.js", get(assets::worker))
        .route("/icon.svg", get(assets::icon))
        .route("/icon-192.png", get(assets::icon_192))
        .route("/icon-512.png", get(assets::icon_512))
        .route("/a/{tag}/{name}", get(assets::file))
        .layer(DefaultBodyLimit::max(limits.form))
        .route(
            "/intake/{sha256}",
            put(intake::piece).get(intake::standing).layer(DefaultBodyLimit::max(limits.piece)),
        )
        .route("/intake", post(intake_form::form).layer(DefaultBodyLimit::disable()))
        .fallback(guard::nothing_here)
        .layer(middleware::from_fn_with_state(state.clone(), guard::guard))
        .layer(smaller())
        .with_state(state)
}

/// Sends words compressed, so that a list of two hundred birds comes quickly over a weak signal.
///
/// Sound and originals are left alone: they are compressed already, and are asked for in parts. A page holds no
/// secret beside what a stranger could put into it, so that its size tells nothing.
fn smaller() -> CompressionLayer<impl Predicate> {
    let words = DefaultPredicate::new()
        .and(NotForContentType::const_new("audio/"))
        .and(NotForContentType::const_new("application/octet-stream"))
        .and(NotForContentType::const_new("application/pdf"));
    CompressionLayer::new().compress_when(words)
}

/// Which routes there are, for tests that walk through all of them.
pub const PAGES: &[&str] = &[
    "/",
    "/confirm",
    "/note",
    "/book",
    "/birds",
    "/birds/new",
    "/evidence",
    "/words",
    "/reports",
    "/settings",
    "/more",
    "/trust",
];
