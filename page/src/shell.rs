//! The frame of every page: head, strap of links, skip link, hatchings.

use crate::{assets, ring};
use maud::{DOCTYPE, Markup, html};
use note::Severity;

/// A place in the strap of links.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Place {
    Today,
    Confirm,
    Note,
    Book,
    Birds,
    Evidence,
    Words,
    Reports,
    Settings,
    More,
    /// No link's own page, such as one that says what went wrong.
    None,
    /// A page for a phone that is not let in yet: it has no links, for none would open.
    Stranger,
}

/// What the frame needs to know.
#[derive(Clone, Debug)]
pub struct Frame {
    /// Which link is here.
    pub place: Place,
    /// Title of the page.
    pub title: String,
    /// Entries that wait for the keeper's word.
    pub waiting: usize,
}

struct Link {
    place: Place,
    href: &'static str,
    word: &'static str,
    /// Drawn on a 24 by 24 grid.
    path: &'static str,
    narrow: bool,
    wide: bool,
}

const RING: &str = "M12 4a8 8 0 1 0 .01 0M12 8a4 4 0 1 0 .01 0";
const LINKS: &[Link] = &[
    Link {
        place: Place::Today,
        href: "/",
        word: "Today",
        path: "M12 3v3M12 18v3M3 12h3M18 12h3M12 8a4 4 0 1 0 .01 0",
        narrow: true,
        wide: true,
    },
    Link {
        place: Place::Confirm,
        href: "/confirm",
        word: "Confirm",
        path: "M4 13l5 5L20 6",
        narrow: true,
        wide: true,
    },
    Link { place: Place::Note, href: "/note", word: "Note", path: RING, narrow: true, wide: true },
    Link {
        place: Place::Book,
        href: "/book",
        word: "Day book",
        path: "M4 5h7v15H4zM13 5h7v15h-7M11 5l1 1.5L13 5",
        narrow: true,
        wide: true,
    },
    Link {
        place: Place::Birds,
        href: "/birds",
        word: "Birds",
        path: "M3 15c5 0 7-2 9-9 2 7 4 9 9 9-4 1-6 2-9 5-3-3-5-4-9-5z",
        narrow: false,
        wide: true,
    },
    Link {
        place: Place::Evidence,
        href: "/evidence",
        word: "Evidence",
        path: "M4 7h4l2-3h4l2 3h4v12H4zM12 10a3 3 0 1 0 .01 0",
        narrow: false,
        wide: true,
    },
    Link {
        place: Place::Words,
        href: "/words",
        word: "Words",
        path: "M4 5h16v11H11l-4 4v-4H4z",
        narrow: false,
        wide: true,
    },
    Link {
        place: Place::Reports,
        href: "/reports",
        word: "Reports",
        path: "M6 3h9l4 4v14H6zM9 11h7M9 15h7",
        narrow: false,
        wide: true,
    },
    Link {
        place: Place::Settings,
        href: "/settings",
        word: "Settings",
        path: "M4 7h9M17 7h3M15 5v4M4 12h3M11 12h9M9 10v4M4 17h11M19 17h1M17 15v4",
        narrow: false,
        wide: true,
    },
    Link {
        place: Place::More,
        href: "/more",
        word: "More",
        path: "M4 7h16M4 12h16M4 17h16",
        narrow: true,
        wide: false,
    },
];

/// Draws a line icon on a 24 by 24 grid.
pub fn icon(path: &str) -> Markup {
    html! {
        svg viewBox="0 0 24 24" fill="none" stroke="currentColor" stroke-width="2" stroke-linecap="round" stroke-linejoin="round"
            aria-hidden="true" focusable="false" { path d=(path) {} }
    }
}

/// Draws the mark: a ring with its jess.
pub fn mark() -> Markup {
    html! {
        svg viewBox="0 0 48 48" aria-hidden="true" focusable="false" fill="none" stroke="currentColor" {
            circle cx="24" cy="20" r="16" stroke-width="2.5" {}
            circle cx="24" cy="20" r="9.5" stroke-width="2" {}
            path d="M24 4v6.5M24 29.5V36M8 20h6.5M33.5 20H40" stroke-width="1.6" {}
            path d="M20.5 35.5L19 48M27.5 35.5L29 48" stroke-width="2.5" {}
        }
    }
}

/// Wraps a page's content in the frame.
pub fn page(frame: &Frame, content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
                meta name="color-scheme" content="light dark";
                meta name="theme-color" content="#f7f6f0" media="(prefers-color-scheme: light)";
                meta name="theme-color" content="#101418" media="(prefers-color-scheme: dark)";
                title { (frame.title) " · Varvel" }
                link rel="stylesheet" href=(assets::css_url());
                link rel="icon" href="/icon.svg" type="image/svg+xml";
                link rel="apple-touch-icon" href="/icon-192.png";
                link rel="manifest" href="/manifest.webmanifest";
                script src=(assets::js_url()) defer {}
            }
            body data-ear=(assets::ear_url()) {
                a.skip href="#main" { "Skip to the page" }
                (ring::hatches())
                header.mast { a href="/" { (mark()) span { "Varvel" } } }
                @if frame.place != Place::Stranger { (strap(frame)) }
                main #main tabindex="-1" { (content) }
                div.aside #told role="status" aria-live="polite" {}
            }
        }
    }
}

fn strap(frame: &Frame) -> Markup {
    html! {
        nav.strap aria-label="Pages" {
            ul {
                @for link in LINKS {
                    li class=[class(link)] {
                        a href=(link.href) aria-current=[current(link, frame.place)] {
                            (icon(link.path))
                            span { (link.word) }
                            @if link.place == Place::Confirm && frame.waiting > 0 {
                                span.count { (frame.waiting) span.aside { " waiting" } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn class(link: &Link) -> Option<&'static str> {
    match (link.narrow, link.wide) {
        (true, true) => None,
        (true, false) => Some("narrow"),
        _ => Some("wide"),
    }
}

fn current(link: &Link, here: Place) -> Option<&'static str> {
    let under_more =
        matches!(here, Place::Birds | Place::Evidence | Place::Words | Place::Reports | Place::Settings);
    if link.place == here {
        Some("page")
    } else if link.place == Place::More && under_more {
        Some("true")
    } else {
        None
    }
}

/// The page of links that do not fit in the hand's strap.
pub fn more() -> Markup {
    html! {
        header { h1 { "More" } }
        div.leaf {
            @for link in LINKS.iter().filter(|l| !l.narrow) {
                p { a.press.grow href=(link.href) { (icon(link.path)) (link.word) } }
            }
        }
    }
}

/// A call for a look: hatched patch, word, sentence.
pub fn call(severity: Severity, head: &str, why: &str) -> Markup {
    let (class, enamel) = match severity {
        Severity::Stop => ("stop", "gules"),
        Severity::Warn => ("warn", "or"),
        Severity::Look => ("look", "azure"),
    };
    html! {
        li class={ "call " (class) } {
            (ring::enamel(enamel))
            div { strong { (head) } p { (why) } }
        }
    }
}

/// Says how much is being read now, with the button that holds it up or lets it go on.
pub fn reading(busy: u64, held: bool) -> Markup {
    html! {
        li.call.look.act data-busy {
            (ring::enamel("azure"))
            div {
                div {
                    strong { (busy) @if held { " held up" } @else { " being read now" } }
                    @if held { p { "Nothing is read until you let it go on. The originals are safe." } }
                    @else { p { "What is found in them appears here by itself." } progress aria-label="Being read" {} }
                }
                form method="post" action="/work" data-quick { button name="hold" value=(if held { "no" } else { "yes" }) { @if held { "Go on" } @else { "Hold" } } }
            }
        }
    }
}

/// What an empty page says: what will be here and how it comes here.
pub fn empty(head: &str, steps: Markup) -> Markup {
    html! { section.empty { (mark()) h2 { (head) } (steps) } }
}
