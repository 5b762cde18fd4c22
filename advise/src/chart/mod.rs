//! Charts of one bird as SVG text, readable in print, in grey and by colour-blind eyes.
//!
//! Drawn with `plotters`; the points, their links and the words for screen readers are laid over its
//! drawing. Meaning never hangs on colour alone: lines differ in stroke and carry their names, points in
//! shape. The colours are those of Okabe & Ito, Color Universal Design (2008). Absent: HTML, and any number
//! that the advice does not also give.

mod answers;
mod energy;
mod weight;

pub use answers::answers;
pub use energy::energy;
pub use weight::weight;

use chrono::Duration;
use note::{GRAMS_PER_OUNCE, Units};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use std::fmt::Write;
use std::ops::Range;

/// What a chart is drawn for: its letters stay readable on either.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sheet {
    /// A screen or a sheet of paper, 720 by 360 units, three months.
    #[default]
    Desk,
    /// A phone held upright, 320 by 300 units, two weeks.
    Hand,
}

impl Sheet {
    fn size(self) -> (u32, u32) {
        if self == Self::Hand { (320, 300) } else { (720, 360) }
    }
    /// Days that a chart over time shows.
    fn days(self) -> f64 {
        if self == Self::Hand { 14.0 } else { DAYS_SHOWN }
    }
}

/// Days that a chart over time shows at a desk.
const DAYS_SHOWN: f64 = 90.0;
const BLUE: RGBColor = RGBColor(0, 114, 178);
const VERMILION: RGBColor = RGBColor(213, 94, 0);
const GREEN: RGBColor = RGBColor(0, 158, 115);
const AMBER: RGBColor = RGBColor(230, 159, 0);
const INK: RGBColor = RGBColor(34, 34, 34);

type Context<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;
type Drawn = Result<(), Box<dyn std::error::Error>>;

/// The words of a chart.
struct Words {
    sheet: Sheet,
    /// Short, without spaces: makes the ids unique on a page.
    kind: &'static str,
    bird: String,
    title: String,
    /// What the chart shows, for who cannot see it.
    description: String,
    x_axis: &'static str,
    y_axis: &'static str,
}

impl Words {
    /// Begins the words of a chart: its kind, its title and what its two axes are called.
    fn new(
        bird: &note::Bird,
        sheet: Sheet,
        kind: &'static str,
        title: &str,
        axes: [&'static str; 2],
    ) -> Self {
        Self {
            sheet,
            kind,
            bird: bird.bird.clone(),
            title: format!("{}: {title}", bird.bird),
            description: String::new(),
            x_axis: axes[0],
            y_axis: axes[1],
        }
    }
}

/// What is laid over the drawing: it knows where the drawing put its points.
#[derive(Default)]
struct Overlay {
    marks: String,
    /// Laid over the marks, so that no point hides the name of a line.
    words: String,
}

#[derive(Clone, Copy)]
enum Shape {
    Disc,
    Ring,
    /// A triangle, filled or not.
    Up(bool),
    Diamond,
}

impl Overlay {
    /// Lays a mark at a place of the drawing, named, and linked if there is somewhere to go.
    fn mark(&mut self, (x, y): (i32, i32), shape: Shape, colour: RGBColor, says: &str, link: Option<&str>) {
        let colour = format!("#{:02x}{:02x}{:02x}", colour.0, colour.1, colour.2);
        let body = match shape {
            Shape::Disc => format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"{colour}\""),
            Shape::Ring => format!(
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"#fff\" stroke=\"{colour}\" stroke-width=\"1.5\""
            ),
            Shape::Up(filled) => format!(
                "<path d=\"M{x} {}l6 11h-12z\" fill=\"{}\" stroke=\"{colour}\" stroke-width=\"1.5\"",
                y - 6,
                if filled { &colour } else { "#fff" }
            ),
            Shape::Diamond => format!(
                "<path d=\"M{x} {}l6 6-6 6-6-6z\" fill=\"#fff\" stroke=\"{colour}\" stroke-width=\"2\"",
                y - 6
            ),
        };
        self.element(
            &format!("{body}><title>{}</title>", escape(says)),
            if body.starts_with("<c") { "circle" } else { "path" },
            link,
        );
    }

    fn element(&mut self, open: &str, tag: &str, link: Option<&str>) {
        let _ = match link {
            Some(to) => writeln!(self.marks, "<a href=\"{}\">{open}</{tag}></a>", escape(to)),
            None => writeln!(self.marks, "{open}</{tag}>"),
        };
    }

    /// Writes words at a place of the drawing.
    fn text(&mut self, (x, y): (i32, i32), anchor: &str, words: &str) {
        let _ = writeln!(
            self.words,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"12\" text-anchor=\"{anchor}\" fill=\"#222\" paint-order=\"stroke\" stroke=\"#fff\" stroke-width=\"3\">{}</text>",
            escape(words)
        );
    }
}

fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            // Control characters may not stand in XML at all.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Sets up the axes, lets `series` draw, lays the overlay on top and adds the words.
fn draw(
    words: &Words,
    x: Range<f64>,
    y: Range<f64>,
    x_label: &dyn Fn(&f64) -> String,
    y_label: &dyn Fn(&f64) -> String,
    series: impl FnOnce(&mut Context<'_, '_>, &mut Overlay) -> Drawn,
) -> String {
    let mut svg = String::new();
    let mut overlay = Overlay::default();
    let drawn = (|| -> Drawn {
        let root = SVGBackend::with_string(&mut svg, words.sheet.size()).into_drawing_area();
        root.fill(&WHITE)?;
        let hand = words.sheet == Sheet::Hand;
        // Room beside the axis for the widest weight: "2 lb 6.25 oz" is wider than "950 g".
        let longest = [0.0, 0.25, 0.5, 0.75, 1.0]
            .map(|at| y_label(&(y.start + at * (y.end - y.start))).chars().count());
        let beside = 18 + 7 * longest.into_iter().max().unwrap_or(0) as u32;
        let mut chart = ChartBuilder::on(&root)
            .margin(if hand { 4 } else { 8 })
            .margin_right(if hand { 14 } else { 24 })
            .margin_top(28)
            .x_label_area_size(if hand { 26 } else { 40 })
            .y_label_area_size(if hand { beside } else { (beside + 16).max(64) })
            .build_cartesian_2d(x, y)?;
        let (x_desc, y_desc) = if hand { ("", "") } else { (words.x_axis, words.y_axis) };
        chart
            .configure_mesh()
            .disable_x_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(BLACK.mix(0.12))
            .axis_style(INK)
            .label_style(("sans-serif", 13).into_font().color(&INK))
            .x_labels(if hand { 4 } else { 8 })
            .y_labels(6)
            .x_label_formatter(x_label)
            .y_label_formatter(y_label)
            .x_desc(x_desc)
            .y_desc(y_desc)
            .draw()?;
        series(&mut chart, &mut overlay)?;
        root.present()?;
        Ok(())
    })();
    match drawn {
        Ok(()) => finish(words, &svg, &(overlay.marks + &overlay.words)),
        // Writing to a string does not fail; if the library ever says so, the words still stand.
        Err(error) => blank(words, &error.to_string()),
    }
}

/// Replaces the library's opening tag by one that scales and says what the chart is.
fn finish(words: &Words, svg: &str, overlay: &str) -> String {
    let inner = svg.find("<svg").and_then(|at| svg[at..].find('>').map(|end| &svg[at + end + 1..]));
    let inner = inner.and_then(|i| i.rfind("</svg>").map(|end| &i[..end])).unwrap_or_default();
    let (title, (width, height)) = (escape(&words.title), words.sheet.size());
    format!(
        "{}{inner}<text x=\"8\" y=\"20\" font-size=\"15\" font-weight=\"bold\" fill=\"#222\">{title}</text>\n{overlay}</svg>\n",
        opening(words, width, height)
    )
}

fn opening(words: &Words, width: u32, height: u32) -> String {
    let slug: String = words.bird.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let hand = if words.sheet == Sheet::Hand { "-hand" } else { "" };
    let id = format!("chart-{}{hand}-{slug}", words.kind);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" class=\"chart\" font-family=\"sans-serif\" aria-labelledby=\"{id}-title {id}-desc\">\n<title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-desc\">{}</desc>\n",
        escape(&words.title),
        escape(&words.description)
    )
}

/// A chart with nothing to draw says so.
fn blank(words: &Words, why: &str) -> String {
    format!(
        "{}<rect width=\"{w}\" height=\"120\" fill=\"#fff\"/><text x=\"8\" y=\"20\" font-size=\"15\" font-weight=\"bold\" fill=\"#222\">{}</text><text x=\"8\" y=\"64\" font-size=\"14\" fill=\"#222\">{}</text></svg>\n",
        opening(words, words.sheet.size().0, 120),
        escape(&words.title),
        escape(why),
        w = words.sheet.size().0
    )
}

/// Writes a weight in the keeper's units.
pub(crate) fn mass(grams: f64, units: Units) -> String {
    match units {
        Units::Metric if grams < 250.0 => format!("{grams:.1} g"),
        Units::Metric => format!("{grams:.0} g"),
        Units::Avoirdupois => {
            let quarters = (grams / GRAMS_PER_OUNCE * 4.0).round() / 4.0;
            let (pounds, ounces) = ((quarters / 16.0).floor(), quarters % 16.0);
            if pounds > 0.0 { format!("{pounds:.0} lb {ounces} oz") } else { format!("{ounces} oz") }
        }
    }
}

/// Writes the date so many days after a moment.
fn date(first: chrono::DateTime<chrono::FixedOffset>, days: f64) -> String {
    let moment = first.checked_add_signed(Duration::seconds((days * 86_400.0) as i64)).unwrap_or(first);
    moment.format("%-d %b").to_string()
}

/// Widens a range a little, so that no point sits on the frame.
fn roomy(values: impl Iterator<Item = f64>, share: f64, least: f64) -> Range<f64> {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let room = ((high - low) * share).max(least);
    low - room..high + room
}

/// Finds where a day's point leads.
fn link_of(links: &[Option<String>], index: usize) -> Option<&str> {
    links.get(index).and_then(|l| l.as_deref())
}
