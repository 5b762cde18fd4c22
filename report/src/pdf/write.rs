//! From marks on pages to the bytes of a PDF.

use super::flow::{Child, Laid, Mark, Meaning, PAGE, lay};
use super::font::{Cut, Faces, cut};
use crate::ReportError;
use crate::html::colour;
use crate::plot::{Anchor, Ink, Shape};
use crate::sheet::Sheet;
use chrono::{Datelike, Timelike};
use krilla::color::rgb;
use krilla::configure::ConfigurationBuilder;
use krilla::configure::validate::{Accessibility, Archival};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, SpanTag, TableHeaderScope, Tag, TagGroup, TagKind,
    TagTree,
};
use krilla::{Document, SerializeSettings};
use std::collections::HashMap;
use std::num::NonZeroU16;

/// Returns how many pages a report takes.
pub(crate) fn pages(sheet: &Sheet) -> Result<usize, ReportError> {
    let faces = Faces::new().ok_or(ReportError::Typeface)?;
    Ok(lay(sheet, &faces).pages.len())
}

/// Returns a report as PDF.
pub(crate) fn write(sheet: &Sheet) -> Result<Vec<u8>, ReportError> {
    let faces = Faces::new().ok_or(ReportError::Typeface)?;
    let laid = lay(sheet, &faces);
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|_| ReportError::Refused)?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    document.set_metadata(metadata(sheet));
    let mut identifiers: HashMap<(usize, usize), Identifier> = HashMap::new();
    for (p, marks) in laid.pages.iter().enumerate() {
        let settings = PageSettings::from_wh(PAGE.0, PAGE.1).ok_or(ReportError::Refused)?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for (m, mark) in marks.iter().enumerate() {
            if let Some(identifier) = draw(&mut surface, mark, &faces) {
                identifiers.insert((p, m), identifier);
            }
        }
        surface.finish();
        page.finish();
    }
    document.set_outline(outline(&laid));
    let mut tree = TagTree::new();
    for child in &laid.nodes[0].children {
        if let Child::Node(id) = child {
            tree.push(group(&laid, *id, &mut identifiers));
        }
    }
    document.set_tag_tree(tree);
    document.finish().map_err(|_| ReportError::Refused)
}

fn metadata(sheet: &Sheet) -> Metadata {
    let at = sheet.made_at;
    let zone = at.offset().local_minus_utc();
    let made = DateTime::new(at.year().clamp(0, 9999) as u16)
        .month(at.month() as u8)
        .day(at.day() as u8)
        .hour(at.hour() as u8)
        .minute(at.minute() as u8)
        .second(at.second() as u8)
        .utc_offset_hour((zone / 3600) as i8)
        .utc_offset_minute((zone.abs() % 3600 / 60) as u8);
    Metadata::new()
        .title(format!("{}: {}", sheet.title, sheet.subtitle))
        .authors(vec![sheet.keeper.clone()])
        .creator("Varvel".to_owned())
        .language("en-GB".to_owned())
        .creation_date(made)
}

fn outline(laid: &Laid) -> Outline {
    let mut out = Outline::new();
    let mut open: Option<OutlineNode> = None;
    let place = |page: usize, y: f32| XyzDestination::new(page, Point::from_xy(0.0, (y - 10.0).max(0.0)));
    for (level, text, page, y) in &laid.headings {
        let node = OutlineNode::new(text.clone(), place(*page, *y));
        match &mut open {
            Some(parent) if *level > 2 => parent.push_child(node),
            _ => {
                if let Some(done) = open.replace(node) {
                    out.push_child(done);
                }
            }
        }
    }
    match open {
        Some(last) => out.push_child(last),
        None => out.push_child(OutlineNode::new("Report".to_owned(), place(0, 0.0))),
    }
    out
}

/// Returns a part of the document with its meaning.
fn group(laid: &Laid, id: usize, identifiers: &mut HashMap<(usize, usize), Identifier>) -> TagGroup {
    let node = &laid.nodes[id];
    let level = |n: u16| NonZeroU16::new(n).unwrap_or(NonZeroU16::MIN);
    let tag: TagKind = match &node.meaning {
        Meaning::Whole => Tag::Div.into(),
        Meaning::Title(text) => Tag::Hn(level(1), Some(text.clone())).into(),
        Meaning::Heading(n, text) => Tag::Hn(level(*n), Some(text.clone())).into(),
        Meaning::Paragraph => Tag::P.into(),
        Meaning::Table(says) => Tag::Table.with_summary(Some(says.clone())).into(),
        Meaning::HeadRow | Meaning::Row => Tag::TR.into(),
        Meaning::HeadCell => Tag::TH(TableHeaderScope::Column).into(),
        Meaning::Cell => Tag::TD.into(),
        Meaning::Figure(says) => Tag::Figure(Some(says.clone())).into(),
    };
    let mut out = TagGroup::new(tag);
    if let Meaning::Table(_) = node.meaning {
        // Heads and body are parts of their own.
        let (mut heads, mut body) = (TagGroup::new(Tag::THead), TagGroup::new(Tag::TBody));
        for child in &node.children {
            if let Child::Node(row) = child {
                let made = group(laid, *row, identifiers);
                if matches!(laid.nodes[*row].meaning, Meaning::HeadRow) {
                    heads.push(made)
                } else {
                    body.push(made)
                }
            }
        }
        out.push(heads);
        out.push(body);
        return out;
    }
    for child in &node.children {
        match child {
            Child::Node(id) => out.push(group(laid, *id, identifiers)),
            Child::Mark(page, mark) => {
                if let Some(identifier) = identifiers.remove(&(*page, *mark)) {
                    out.push(identifier);
                }
            }
        }
    }
    out
}

fn fill(ink: Ink) -> Fill {
    let [r, g, b] = colour(ink);
    Fill { paint: rgb::Color::new(r, g, b).into(), ..Fill::default() }
}

fn stroke(ink: Ink, width: f32, dashed: bool) -> Stroke {
    let [r, g, b] = colour(ink);
    let dash = dashed.then(|| StrokeDash { array: vec![4.0, 3.0], offset: 0.0 });
    Stroke { paint: rgb::Color::new(r, g, b).into(), width, dash, ..Stroke::default() }
}

/// Draws a mark and returns its name in the tree, if it has a meaning.
fn draw(surface: &mut Surface<'_>, mark: &Mark, faces: &Faces) -> Option<Identifier> {
    let decoration = ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout));
    match mark {
        Mark::Text { x, y, size, look, ink, text, node } => {
            if text.is_empty() {
                return None;
            }
            let tag = match node {
                Some(_) => ContentTag::Span(SpanTag::empty()),
                None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::PaginationOther)),
            };
            let identifier = surface.start_tagged(tag);
            letters(surface, (*x, *y), *size, cut(*look), *ink, text, faces);
            surface.end_tagged();
            node.map(|_| identifier)
        }
        Mark::Area { left, top, width, height, ink } => {
            surface.start_tagged(decoration);
            area(surface, (*left, *top), (*width, *height), *ink);
            surface.end_tagged();
            None
        }
        Mark::Line { points, ink, width, dashed } => {
            surface.start_tagged(decoration);
            line(surface, points, (0.0, 0.0), *ink, *width, *dashed);
            surface.end_tagged();
            None
        }
        Mark::Figure { left, top, shapes, .. } => {
            let identifier = surface.start_tagged(ContentTag::Other);
            for shape in shapes {
                draw_shape(surface, shape, (*left, *top), faces);
            }
            surface.end_tagged();
            Some(identifier)
        }
    }
}

fn letters(
    surface: &mut Surface<'_>,
    (x, y): (f32, f32),
    size: f32,
    cut: Cut,
    ink: Ink,
    text: &str,
    faces: &Faces,
) {
    surface.set_stroke(None);
    surface.set_fill(Some(fill(ink)));
    surface.draw_glyphs(Point::from_xy(x, y), &faces.glyphs(text, cut), faces.font(cut), text, size, false);
}

fn area(surface: &mut Surface<'_>, (left, top): (f32, f32), (width, height): (f32, f32), ink: Ink) {
    let mut path = PathBuilder::new();
    if let Some(rect) = Rect::from_xywh(left, top, width, height) {
        path.push_rect(rect);
    }
    if let Some(path) = path.finish() {
        surface.set_stroke(None);
        surface.set_fill(Some(fill(ink)));
        surface.draw_path(&path);
    }
}

fn line(
    surface: &mut Surface<'_>,
    points: &[(f32, f32)],
    (left, top): (f32, f32),
    ink: Ink,
    width: f32,
    dashed: bool,
) {
    let mut path = PathBuilder::new();
    for (i, (x, y)) in points.iter().enumerate() {
        if i == 0 { path.move_to(left + x, top + y) } else { path.line_to(left + x, top + y) }
    }
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(stroke(ink, width, dashed)));
        surface.draw_path(&path);
    }
}

fn draw_shape(surface: &mut Surface<'_>, shape: &Shape, (left, top): (f32, f32), faces: &Faces) {
    match shape {
        Shape::Area { left: x, top: y, width, height, ink } => {
            area(surface, (left + x, top + y), (*width, *height), *ink)
        }
        Shape::Line { points, ink, width, dashed } => {
            line(surface, points, (left, top), *ink, *width, *dashed)
        }
        Shape::Dot { x, y, radius, ink } => {
            // Four curves make a circle; 0.5523 places their handles (from 4/3 (√2 − 1)).
            let (x, y, r, k) = (left + x, top + y, *radius, 0.5523 * radius);
            let mut path = PathBuilder::new();
            path.move_to(x + r, y);
            path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
            path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
            path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
            path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
            path.close();
            if let Some(path) = path.finish() {
                surface.set_stroke(None);
                surface.set_fill(Some(fill(*ink)));
                surface.draw_path(&path);
            }
        }
        Shape::Text { x, y, size, anchor, ink, text } => {
            let width = faces.width(text, Cut::Regular, *size);
            let x = left
                + match anchor {
                    Anchor::Start => *x,
                    Anchor::Middle => x - width / 2.0,
                    Anchor::End => x - width,
                };
            letters(surface, (x, top + y), *size, Cut::Regular, *ink, text, faces);
        }
    }
}
